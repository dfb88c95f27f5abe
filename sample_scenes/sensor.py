"""The sensor of a simulated camera: light to levels, with shot and read noise and a level that clips."""

import numpy as np

from sample_scenes.card import Sensor

Q = 0.65  # focal-plane exposure H = q·L·t/N² [lx·s]; ISO 12232, far focus, by way of reference texts
MID_TONE = 0.18  # linear output level of H = 10/S, ISO 12232 standard output sensitivity (memory)


def level_per_luminance(f_number: float, time_s: float, iso: float) -> float:
    """The linear level that 1 cd/m² gets: `0.18 · q·t/N² · S/10`, with the real values, not the stated ones."""
    return MID_TONE * Q * time_s / f_number**2 * iso / 10


def crosstalk_matrix(share: float) -> np.ndarray:
    """Linear sRGB to the sensor's own R, G, B: each channel also sees its neighbours. Rows sum to 1. (3, 3)"""
    half = share / 2
    return np.array([[1 - half, half, 0], [half, 1 - share, half], [0, half, 1 - half]])


def expose(levels: np.ndarray, sensor: Sensor, iso: float, rng: np.random.Generator) -> np.ndarray:
    """The sensor's answer to light, black level taken off.

    levels: noiseless linear levels, float32, (rows, columns, 3), in sRGB primaries. iso: the real sensitivity.
    Returns levels in the sensor's own channels, float32, same shape, 0 to headroom; red and blue are `balance` dimmer.
    Shot noise has the variance of the mean (Poisson, drawn as a Gaussian); a picture of fewer pixels than the sensor
    averages them. Not modelled: the colour filter array (neighbours share no noise) and fixed pattern.
    """
    mixed = levels @ (crosstalk_matrix(sensor.crosstalk) * np.array(sensor.balance)[:, None]).T.astype(np.float32)
    binned = max(1.0, sensor.megapixels * 1e6 / (levels.shape[0] * levels.shape[1]))
    electrons_per_level = electrons_at_clip(sensor, iso) * binned / sensor.headroom
    mixed *= np.float32(electrons_per_level)
    noise = rng.standard_normal(mixed.shape, dtype=np.float32)
    noise *= np.sqrt(np.maximum(mixed, 0) + np.float32(sensor.read_noise_e**2 * binned))
    mixed += noise
    mixed /= np.float32(electrons_per_level)
    return np.clip(mixed, 0, sensor.headroom, out=mixed)


def electrons_at_clip(sensor: Sensor, iso: float) -> float:
    """Electrons in one sensor pixel when the picture clips; gain above base ISO uses less of the well."""
    return sensor.full_well_e * min(1.0, sensor.base_iso / iso)
