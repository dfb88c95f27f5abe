"""Photos of one scene put in register and sampled."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from calibration.exposure_series import Frame
from calibration.from_bracket import fit_response, leave_one_out
from meter.errors import BadInput
from meter.pixels import bracket
from meter.pixels.decode import open_photo
from tests.calibration import simulated

STOPS = (-2.0, -1.0, 0.0, 1.0, 2.0)
LIGHT = cv2.resize(simulated.scene(4), (640, 480), interpolation=cv2.INTER_NEAREST)


def photos(camera: simulated.Camera = simulated.STILL[1], light: np.ndarray = LIGHT) -> list[np.ndarray]:
    """Five exposures, blue-green-red."""
    return [np.ascontiguousarray(f.rgb[:, :, ::-1]) for f in simulated.series(light, camera, STOPS, seed=4)]


def hand_held(frames: list[np.ndarray], moves: list[tuple[int, int]]) -> list[np.ndarray]:
    """Windows of larger photos, displaced by (right, down)."""
    return [f[20 + down : 460 + down, 20 + right : 620 + right] for f, (right, down) in zip(frames, moves, strict=True)]


def exposure(tags: dict) -> float:
    """Stops of exposure that EXIF states, from an arbitrary zero."""
    return float(np.log2(tags["ExposureTime"] * tags["PhotographicSensitivity"] / tags["FNumber"] ** 2))


def test_small_shifts_are_found_and_undone():
    moves = [(5, -3), (-2, 4), (0, 0), (7, 7), (-9, 1)]
    frames = hand_held(photos(), moves)

    shifts = bracket.shifts_of(frames, STOPS)
    cut = bracket.shared(frames, shifts)

    off = np.array(shifts) - np.array(moves)
    assert np.abs(off - off[2]).max() <= 1  # one pixel: bitmaps have no finer steps
    assert len({one.shape for one in cut}) == 1
    assert cut[0].shape[0] >= 440 - 11 - 1 and cut[0].shape[1] >= 600 - 16 - 2


def test_the_order_in_which_photos_are_given_does_not_matter():
    moves = [(5, -3), (-2, 4), (0, 0), (7, 7), (-9, 1)]
    frames, order = hand_held(photos(), moves), [3, 0, 4, 2, 1]

    straight = bracket.shifts_of(frames, STOPS)
    mixed = bracket.shifts_of([frames[i] for i in order], [STOPS[i] for i in order])

    assert mixed == [straight[i] for i in order]


def test_photos_too_far_apart_are_refused():
    frames = photos()
    with pytest.raises(BadInput, match="too far apart to be put in register; support the phone"):
        bracket.shared(frames, [(0, 0), (0, 0), (0, 0), (0, 0), (400, 0)])


def test_different_sizes_are_refused():
    with pytest.raises(BadInput, match="need one size and one way up; these are 640 x 470 and 640 x 480"):
        bracket.sample_grids([photos()[0], photos()[1][:470]], STOPS[:2])


def test_cells_are_means_in_red_green_blue():
    frame = np.zeros((600, 900, 3), np.uint8)
    frame[:] = (30, 60, 90)
    frame[::2] = (31, 61, 91)

    (grid,) = bracket.sample_grids([frame], [0.0])

    assert max(grid.rgb.shape) <= bracket.LONGEST_SIDE_CELLS
    assert grid.usable.all()
    assert np.allclose(
        grid.rgb.mean(axis=(0, 1)), (90.5, 60.5, 30.5), atol=0.1
    )  # a fifth of the step that rounding loses


def test_edges_blown_and_black_places_are_left_out():
    frame = np.full((600, 900, 3), 90, np.uint8)
    frame[:, 450:] = 140
    frame[:100, :100] = 255
    frame[500:, :100] = 0

    (grid,) = bracket.sample_grids([frame], [0.0])

    rows, columns = grid.usable.shape
    assert not grid.usable[: rows // 7, : columns // 10].any()
    assert not grid.usable[-rows // 7 :, : columns // 10].any()
    assert not grid.usable[rows // 2, columns // 2 - 1 : columns // 2 + 1].all()
    assert grid.usable[rows // 3 : rows // 2, columns // 4 : columns // 3].all()


def test_what_moved_is_left_out_and_little_else():
    still = bracket.sample_grids(photos(), STOPS)
    frames = photos()
    for number, frame in enumerate(frames):
        frame[200:300, 100 * number : 100 * number + 80] = 200 if number < 2 else 25

    grids = bracket.sample_grids(frames, STOPS)

    rows, columns = grids[0].usable.shape
    in_boats, before, elsewhere = [], [], []
    for number, (grid, calm) in enumerate(zip(grids, still, strict=True)):
        left = columns * (100 * number + 6) // 640
        boat = np.s_[rows * 206 // 480 : rows * 294 // 480, left : left + columns * 68 // 640]
        in_boats.append(grid.usable[boat].mean())
        before.append(calm.usable[boat].mean())
        elsewhere.append(grid.usable[: rows * 190 // 480].mean() / calm.usable[: rows * 190 // 480].mean())
    assert np.mean(in_boats) < 0.2 * np.mean(before)
    assert min(elsewhere) > 0.9


def test_a_hand_held_series_with_a_boat_gives_the_response():
    camera = simulated.STILL[1]
    frames = hand_held(photos(camera), [(5, -3), (-2, 4), (0, 0), (7, 7), (-9, 1)])
    for number, frame in enumerate(frames):
        frame[200:280, 90 * number : 90 * number + 70] = (170, 190, 200)

    cut = bracket.shared(frames, bracket.shifts_of(frames, STOPS))
    grids = bracket.sample_grids(cut, STOPS)
    found = fit_response([[Frame(g.rgb, s, g.usable) for g, s in zip(grids, STOPS, strict=True)]])

    off = np.log2(found.response.green) - np.log2(camera.response())
    assert np.abs(off[30:220]).max() < 0.1  # a tenth of a stop


def test_a_real_bracket_agrees_with_itself_after_calibration(real_photos):
    files = sorted((real_photos / "bracket").glob("*.jpg"))
    found = [open_photo(file, full_size=True) for file in files]
    stops = [exposure(photo.tags) for photo in found]
    frames = bracket.shared([p.pixels for p in found], bracket.shifts_of([p.pixels for p in found], stops))
    grids = bracket.sample_grids(frames, stops)
    series = [Frame(g.rgb, s, g.usable, f.name) for g, s, f in zip(grids, stops, files, strict=True)]

    calibrated = fit_response([series])

    # Measured: 0.52 stop before, 0.12 after, 0.13 to 0.20 for a frame that took no part.
    assert calibrated.spread_before > 0.4
    assert calibrated.spread_after < 0.15
    assert max(leave_one_out(series)) < 0.25
    assert calibrated.disagreeing == ()


def test_frames_of_float_codes_are_taken_as_they_are():
    frames = simulated.series(simulated.scene(1), simulated.STILL[1], STOPS, seed=1)
    floats = [replace(frame, rgb=frame.rgb.astype(np.float32)) for frame in frames]

    assert fit_response([frames]).response == fit_response([floats]).response
