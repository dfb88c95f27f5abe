"""The lens of a simulated camera: natural fall-off and veiling glare, on linear light."""

import cv2
import numpy as np

FULL_FRAME_DIAGONAL_MM = 43.267  # 36 mm x 24 mm; what a 35 mm-equivalent focal length refers to
GLARE_WIDTH = 240  # pixels: the width at which local spread is computed; it has no detail finer than that


def cos4(shape: tuple[int, int], focal_35mm: float) -> np.ndarray:
    """Natural fall-off of a lens, `cos⁴ θ`, θ the angle from the optical axis; 1 in the centre.

    shape: rows, columns. focal_35mm: equivalent focal length by the diagonal. [mm]
    Returns float32, (rows, columns). Source: the cosine-fourth law, as in ISO 12232's focal-plane exposure.
    """
    rows, columns = shape
    y = np.arange(rows, dtype=np.float32)[:, None] - (rows - 1) / 2
    x = np.arange(columns, dtype=np.float32)[None, :] - (columns - 1) / 2
    mm_per_pixel = FULL_FRAME_DIAGONAL_MM / np.hypot(rows, columns)
    tan2 = (x * x + y * y) * (mm_per_pixel / focal_35mm) ** 2
    return (1 / (1 + tan2) ** 2).astype(np.float32)


def veil(light: np.ndarray, wide: float, local: float, local_width: float) -> np.ndarray:
    """Add veiling glare: a share `wide` of all light spreads evenly, a share `local` around where it belongs.

    light: linear, float32, (rows, columns, 3). local_width: sigma of the local spread [frame diagonals].
    Light is moved, not made: the mean stays, and an even field stays as it is.
    """
    spread = light * np.float32(1 - wide - local)
    spread += (wide * light.mean(axis=(0, 1))).astype(np.float32)
    if local > 0:
        spread += np.float32(local) * _blurred(light, local_width)
    return spread


def _blurred(light: np.ndarray, width: float) -> np.ndarray:
    """A wide Gaussian, computed at a small size."""
    rows, columns = light.shape[:2]
    small_columns = min(columns, GLARE_WIDTH)
    small_rows = max(1, round(rows * small_columns / columns))
    small = cv2.resize(light, (small_columns, small_rows), interpolation=cv2.INTER_AREA)
    sigma = max(width * float(np.hypot(small_rows, small_columns)), 1e-3)
    small = cv2.GaussianBlur(small, (0, 0), sigma, borderType=cv2.BORDER_REFLECT)
    return cv2.resize(small, (columns, rows), interpolation=cv2.INTER_LINEAR)
