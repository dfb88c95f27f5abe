"""Response calibrators of other libraries on the same frames, as log2 tables (3, 256), to compare ours with."""

import warnings
from collections.abc import Sequence

import cv2
import numpy as np
from threadpoolctl import threadpool_limits

from calibration.exposure_series import Frame
from calibration.tone_curve import base_stops

LAMBDA = 30.0  # smoothness that Debevec & Malik 1997 leave to the user


def srgb(frames: Sequence[Frame]) -> np.ndarray:
    """No calibration at all."""
    return np.broadcast_to(base_stops(), (3, 256))


def opencv_debevec(frames: Sequence[Frame]) -> np.ndarray:
    """Debevec & Malik 1997 as OpenCV has it, with a sample in each 130 pixels."""
    return _log2(cv2.createCalibrateDebevec(samples=150, lambda_=LAMBDA).process(*_stack(frames))[:, 0, :].T)


def opencv_robertson(frames: Sequence[Frame]) -> np.ndarray:
    """Robertson, Borman & Stevenson 2003 as OpenCV has it."""
    return _log2(cv2.createCalibrateRobertson(max_iter=30).process(*_stack(frames))[:, 0, :].T)


def colour_hdri_debevec(frames: Sequence[Frame]) -> np.ndarray:
    """Debevec & Malik 1997 as colour-hdri has it."""
    with warnings.catch_warnings(), threadpool_limits(1):  # many threads make it ten times slower on a busy machine
        warnings.simplefilter("ignore")  # it warns of plotting libraries that we do not need
        import colour_hdri

        images = [
            colour_hdri.Image("", frame.rgb.astype(float) / 255, colour_hdri.Metadata(1.0, 2.0**frame.stops, 100.0))
            for frame in frames
        ]
        stack = colour_hdri.ImageStack()
        for image in images:
            stack.append(image)
        curves = colour_hdri.camera_response_functions_Debevec1997(stack, l_s=LAMBDA)
    return _log2(np.asarray(curves).T)


def _stack(frames: Sequence[Frame]) -> tuple[list[np.ndarray], np.ndarray]:
    return [np.ascontiguousarray(frame.rgb) for frame in frames], np.array([2.0**frame.stops for frame in frames], "f")


def _log2(tables: np.ndarray) -> np.ndarray:
    """log2, codes that a calibrator left at 0 or below filled from their neighbours."""
    codes = np.arange(256)
    good = np.isfinite(tables) & (tables > 0)
    return np.stack([
        np.interp(codes, codes[kept], np.log2(row[kept])) for row, kept in zip(tables.astype(float), good, strict=True)
    ])  # fmt: skip
