"""Tone rendering of a simulated camera: linear levels to code values, fixed or adapting to the picture.

A curve is a table over log2(level / 0.18), so that adapting to a histogram and the fixed curve join into one table.
"""

import cv2
import numpy as np

from sample_scenes.card import Tone
from sample_scenes.sensor import MID_TONE
from sample_scenes.white_balance import LUMINANCE

STOPS = np.linspace(-12.0, 5.0, 1361)  # table positions: stops from mid-tone, eighty to the stop
LEVELS = MID_TONE * 2.0**STOPS
TOE = 1e-3  # level under which the lifted curve is straight, so that noise around black is not blown up
SLOPES = (0.55, 1.7)  # limits of the slope that histogram equalisation may ask for
KEPT_EDGE = 1.7  # edges of more stops than this stay sharp in the large-scale brightness
SMALL = 200  # pixels: width at which a picture's histogram and large-scale brightness are computed


def srgb_encode(level: np.ndarray) -> np.ndarray:
    """Linear level 0-1 to encoded 0-1 (IEC 61966-2-1)."""
    level = np.clip(level, 0, 1)
    return np.where(level <= 0.0031308, 12.92 * level, 1.055 * np.maximum(level, 1e-9) ** (1 / 2.4) - 0.055)


def fixed_curve(tone: Tone, headroom: float) -> np.ndarray:
    """The encoded value, 0-1, of each of LEVELS by the camera's fixed curve. headroom: the level that clips."""
    gain = 2.0**tone.brighten
    encoded = srgb_encode(_shaped(LEVELS * gain, headroom * gain, tone))
    if tone.curve == "contrast":
        encoded = encoded - tone.s_depth * np.sin(2 * np.pi * encoded) / (2 * np.pi)
    return np.maximum(encoded - tone.black, 0) / (1 - tone.black)


def _shaped(level: np.ndarray, top: float, tone: Tone) -> np.ndarray:
    """The linear part of the fixed curve: level to level, `top` to 1 for the curves that have a shoulder."""
    if tone.curve == "lifted":
        return _shoulder(_power(level, tone.slope), tone.knee, float(_power(top, tone.slope)))
    if tone.curve == "film":
        hill, hill_top = (value**tone.slope / (value**tone.slope + tone.knee**tone.slope) for value in (level, top))
        return hill / hill_top
    return level


def _power(level: np.ndarray | float, slope: float) -> np.ndarray | float:
    """A power law through mid-tone, straight at the very dark end."""
    scale = (MID_TONE + TOE) ** slope - TOE**slope
    return MID_TONE * ((level + TOE) ** slope - TOE**slope) / scale


def _shoulder(level: np.ndarray, knee: float, top: float) -> np.ndarray:
    """Straight up to the knee, then bent so that `top` becomes 1, without a corner (a rational curve)."""
    if top <= 1:
        return level
    steep = (top - knee) / (1 - knee)
    along = np.maximum(level - knee, 0) / (top - knee)
    bent = knee + (1 - knee) * steep * along / (1 + (steep - 1) * along)
    return np.where(level > knee, bent, level)


def adapted_stops(stops: np.ndarray, tone: Tone) -> np.ndarray:
    """Where the adaptive part sends each of STOPS, from the picture's own brightness.

    stops: log2(luminance level / 0.18) of the picture, any shape. Returns a rising table, same shape as STOPS.
    """
    inside = np.clip(stops, -8, 4).ravel()
    counts, edges = np.histogram(inside, bins=96, range=(-8, 4))
    spread = cv2.GaussianBlur(counts.astype(np.float64)[None, :], (0, 0), 6, borderType=cv2.BORDER_CONSTANT)[0]
    wanted = np.clip(spread / spread[spread > spread.max() * 0.05].mean(), *SLOPES)
    slope = 1 + tone.adapt_slope * (np.interp(STOPS, (edges[:-1] + edges[1:]) / 2, wanted) - 1)
    risen = np.concatenate([[0], np.cumsum((slope[1:] + slope[:-1]) / 2 * np.diff(STOPS))])
    middle = float(np.median(inside))
    return risen - np.interp(middle, STOPS, risen) + middle * (1 - tone.adapt_level)


def large_scale(luminance: np.ndarray) -> np.ndarray:
    """Large-scale brightness of a picture that stays sharp at strong edges (guided filter, He et al. 2010). [stops]

    luminance: levels, float32 (rows, columns). Returns float32 of the same shape.
    """
    rows, columns = luminance.shape
    width = min(columns, SMALL)
    small = cv2.resize(luminance, (width, max(1, round(rows * width / columns))), interpolation=cv2.INTER_AREA)
    guide = np.log2(np.maximum(small, 1e-4) / MID_TONE)
    window = (max(3, width // 5) | 1,) * 2
    mean = cv2.blur(guide, window, borderType=cv2.BORDER_REFLECT)
    variance = np.maximum(cv2.blur(guide * guide, window, borderType=cv2.BORDER_REFLECT) - mean * mean, 0)
    share = variance / (variance + KEPT_EDGE**2)
    share_mean = cv2.blur(share, window, borderType=cv2.BORDER_REFLECT)
    rest_mean = cv2.blur((1 - share) * mean, window, borderType=cv2.BORDER_REFLECT)
    guide_full = np.log2(np.maximum(luminance, 1e-4) / MID_TONE)
    return cv2.resize(share_mean, (columns, rows)) * guide_full + cv2.resize(rest_mean, (columns, rows))


def develop(levels: np.ndarray, tone: Tone, headroom: float) -> np.ndarray:
    """Linear levels to 8-bit code values.

    levels: float32, (rows, columns, 3), sRGB primaries, 0 to headroom. Returns uint8, same shape, RGB.
    """
    luminance = levels @ LUMINANCE
    if tone.local > 0:
        base = large_scale(luminance)
        gain = np.exp2(np.clip(-tone.local * (base - float(base.mean())), -2, 2)).astype(np.float32)
        levels, luminance = levels * gain[..., None], luminance * gain
    table = fixed_curve(tone, headroom)
    if tone.adapt_slope > 0 or tone.adapt_level > 0:
        small = luminance[:: max(1, luminance.shape[1] // SMALL), :: max(1, luminance.shape[1] // SMALL)]
        sent_to = adapted_stops(np.log2(np.maximum(small, 1e-5) / MID_TONE), tone)
        table = np.interp(sent_to, STOPS, table)
    encoded = _through(levels, luminance, table, tone.applied)
    if tone.sharpen > 0:
        encoded += np.float32(tone.sharpen) * (encoded - cv2.GaussianBlur(encoded, (0, 0), 1.0))
    return np.clip(encoded * 255 + 0.5, 0, 255).astype(np.uint8)


def _through(levels: np.ndarray, luminance: np.ndarray, table: np.ndarray, applied: str) -> np.ndarray:
    """Apply the table to each channel, or to luminance with the colour's ratios kept (then clipped). float32, 0-1"""
    positions, values = np.concatenate([[0], LEVELS]), np.concatenate([[0], table])
    if applied == "channels":
        return np.interp(levels, positions, values).astype(np.float32)
    wanted = np.interp(luminance, positions, srgb_decode(values)).astype(np.float32)
    scaled = levels * (wanted / np.maximum(luminance, 1e-6))[..., None]
    return np.interp(scaled, positions, np.concatenate([[0], srgb_encode(LEVELS)])).astype(np.float32)


def srgb_decode(encoded: np.ndarray) -> np.ndarray:
    """Encoded 0-1 to linear level 0-1 (IEC 61966-2-1)."""
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
