"""White balance and colour matrix of a simulated camera, on linear levels."""

import numpy as np

from sample_scenes.card import Colour, Sensor
from sample_scenes.sensor import crosstalk_matrix

LUMINANCE = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)  # IEC 61966-2-1
RED_SHARE = 0.4  # a black body of 2500-3500 K moves red/green by two when it moves green/blue by three (computed)


def render(raw: np.ndarray, sensor: Sensor, colour: Colour) -> np.ndarray:
    """Sensor channels to linear sRGB levels with the camera's white balance and colour.

    raw: float32, (rows, columns, 3), from `sensor.expose`, fall-off corrected. Returns the same shape, 0 to headroom.
    """
    white = raw / np.array(sensor.balance, dtype=np.float32)
    white *= balance_gains(white, sensor, colour)
    np.minimum(white, np.float32(sensor.headroom), out=white)
    levels = white @ colour_matrix(sensor, colour).T.astype(np.float32)
    return np.clip(levels, 0, sensor.headroom, out=levels)


def balance_gains(white: np.ndarray, sensor: Sensor, colour: Colour) -> np.ndarray:
    """The camera's guess of the light's colour, turned into gains of R, G, B (green 1 before the bias). float32, (3,)

    Grey world along amber-blue: the mean of what is neither dark nor clipped is taken for grey, as far as
    `balance_strength` and `balance_limit` allow.
    """
    sample = white[::8, ::8].reshape(-1, 3)
    middle = sample[(sample.max(axis=1) < 0.95 * sensor.headroom) & (sample[:, 1] > 0.02)]
    blue_over_red = 0.0
    if len(middle):
        red, _, blue = np.maximum(middle.mean(axis=0), 1e-6)
        blue_over_red = float(np.clip(np.log2(blue / red), -colour.balance_limit, colour.balance_limit))
    shift = colour.balance_strength * blue_over_red
    gains = np.array([2 ** (RED_SHARE * shift), 1, 2 ** ((RED_SHARE - 1) * shift)]) * np.array(colour.balance_bias)
    return gains.astype(np.float32)


def colour_matrix(sensor: Sensor, colour: Colour) -> np.ndarray:
    """White-balanced sensor channels to linear sRGB, with the matrix error and the saturation of the card. (3, 3)"""
    undo = np.linalg.inv(crosstalk_matrix(sensor.crosstalk * (1 - colour.matrix_error)))
    grey = np.tile(LUMINANCE.astype(float), (3, 1))
    return (grey + colour.saturation * (np.eye(3) - grey)) @ undo
