"""The scenes against exposure guides, and the renderer against what can be worked out by hand."""

from dataclasses import replace
from math import hypot, log2, pi

import numpy as np
import pytest
from click.testing import CliRunner

from sample_scenes.__main__ import PLACES, main
from sample_scenes.board import CARD, COLOURS, GREYS, sheet
from sample_scenes.daylight import direction, sky_horizontal_lux, sun_normal_lux
from sample_scenes.materials import Material
from sample_scenes.render import render
from sample_scenes.scene import Camera, Lamp, Place, Spot, Sun
from sample_scenes.shapes import Ball, Carved, Convex, Post, Quad, box
from sample_scenes.sky import Sky, upper_half
from sample_scenes.truth import disc, load_truth, measure
from tests.sample_scenes.spots import NEEDED

K = 12.5  # reflected-light meter constant [cd s / m2], usual value


def ev100(luminance: float) -> float:
    """What a meter with K = 12.5 reads."""
    return log2(luminance * 100 / K)


# Exposure guide: ANSI PH2.7-1973/-1986 by way of secondary texts. Half a stop is the step of its lists.


def test_sunny_16_on_the_front_lit_card_of_the_quay():
    assert ev100(load_truth("quay").find("card").luminance) == pytest.approx(15, abs=0.5)


def test_heavy_overcast_on_the_card_of_the_moor():
    assert ev100(load_truth("moor").find("card").luminance) == pytest.approx(12, abs=0.5)


def test_snow_in_sun_reads_16_over_the_whole_picture():
    assert ev100(load_truth("snowfield").luminance.mean()) == pytest.approx(16, abs=0.5)


def test_lane_before_sunset_reads_12_to_14_less_two_stops_of_back_light():
    assert 12 - 2 - 0.5 <= ev100(load_truth("lane").find("card").luminance) <= 14 - 2 + 0.5


def test_lit_window_of_the_inn_is_a_night_street_with_window_displays():
    assert 7 - 0.5 <= ev100(load_truth("bridge").find("highlight").luminance) <= 8 + 0.5


def test_open_shade_under_a_clear_sky():
    """An upright surface that faces away from the sun: half the sky, and grass or stone of 0.15 lit by sun and sky."""
    altitude = 42
    sun = direction(altitude, 0)
    sky = Sky(12, sun, sky_horizontal_lux(altitude))
    d, solid = upper_half()
    from_sky = (sky.luminance(d) * np.maximum(-d[1], 0)).sum() * solid
    level = sky.lux + sun_normal_lux(altitude) * sun[2]

    assert log2((from_sky + 0.15 * level / 2) * 100 / 250) == pytest.approx(12, abs=0.5)  # C = 250 lx s, flat receptor


def test_shed_holds_ten_stops():
    low, high = np.percentile(load_truth("shed").luminance, [1, 99.5])

    assert log2(high / low) >= 10


def test_bridge_runs_from_minus_2_to_8():
    low, high = np.percentile(load_truth("bridge").luminance, [2, 99.8])

    assert ev100(low) <= -2
    assert ev100(high) >= 8


@pytest.mark.parametrize("name", PLACES)
def test_shadow_middle_and_highlight_are_in_order(name):
    light = [load_truth(name).find(n).luminance for n in ("shadow", "middle", "highlight")]

    assert light == sorted(light)
    assert log2(light[2] / light[0]) > 3


@pytest.mark.parametrize("name", PLACES)
def test_spots_lie_on_texture_and_the_card_is_even(name):
    truth = load_truth(name)
    spread = {}
    for spot in truth.spots:
        light = truth.luminance[disc(truth.luminance.shape, spot.x, spot.y, spot.degrees, truth.focal_35mm)]
        spread[spot.name] = np.log2(light).std()

    assert spread["card"] < 0.12  # stops: it is matte and flat, what is left is the fall of the light
    assert min(spread[n] for n in NEEDED - {"card"}) > 0.02


# The renderer against geometry and Lambert's law.

CARD_MATERIAL = Material(np.full(3, CARD, np.float32))
DOWN = Camera((0, 0, 2), (0, 0.02, 0))


def level_card(**changes) -> Place:
    """A large grey plane from above under a uniform sky of 10000 lx."""
    plane = Quad((-50, -50, 0), (100, 0, 0), (0, 100, 0), CARD_MATERIAL)
    place = Place(
        "card", "", "", [plane], DOWN, Sky(5, direction(50, 0), 10_000), volume=((-2, -2, 0.1), (2, 2, 2), (3, 3, 3))
    )
    return replace(place, **changes)


def middle_luminance(place: Place) -> float:
    """Luminance of the middle of a small picture. [cd/m2]"""
    return measure(render(place, 64, 48, 2, 96), [Spot("middle", 0.5, 0.5, 8)], 26.0)[0].luminance


def test_card_under_a_uniform_sky_has_rho_e_over_pi():
    # 96 jittered directions over the sphere carry about 1 % of noise.
    assert middle_luminance(level_card()) == pytest.approx(CARD * 10_000 / pi, rel=0.03)


def test_sun_adds_its_share_by_the_sine_of_its_altitude():
    sun = direction(30, 40)
    added = middle_luminance(level_card(sun=Sun(sun, np.full(3, 80_000, np.float32)))) - middle_luminance(level_card())

    assert added == pytest.approx(CARD * 80_000 * 0.5 / pi, rel=0.01)


def test_lamp_follows_the_inverse_square():
    """600 lm over 3 pi steradians, straight above: E = I / d2."""
    light = {}
    for height in (3.0, 6.0):
        lamp = Lamp((0, 0, height), 600, 4000, 0.02)
        dark = Sky(5, direction(50, 0), 1e-6)
        light[height] = middle_luminance(level_card(lamps=[lamp], sky=dark))

    assert light[3.0] == pytest.approx(CARD / pi * 600 / (3 * pi) / 9, rel=0.02)
    assert light[3.0] / light[6.0] == pytest.approx(4, rel=0.03)  # the disc is 8 degrees wide


def test_shadow_hides_the_sun_and_its_edge_is_as_soft_as_the_sun_is_wide():
    sun = Sun(direction(90, 0), np.full(3, 80_000, np.float32))
    roof = box((0, -40, 20), (40, 40, 20.2), CARD_MATERIAL)
    place = level_card(sun=sun, sky=Sky(5, direction(50, 0), 1e-3), camera=Camera((0, 0, 1.0), (0, 0.02, 0)))
    place = replace(place, shapes=[*place.shapes, roof])
    row = measure_row(render(place, 160, 120, 4, 16))
    x = ((np.arange(160) + 0.5) / 80 - 1) * place.camera.half_width()

    edge = (row > 0.1 * row.max()) & (row < 0.9 * row.max())
    # From 10 to 90 % of a disc's area takes 0.687 of its width: 20 m * 2 tan 0.2665 degrees = 0.186 m.
    assert np.ptp(x[edge]) == pytest.approx(0.687 * 0.186, abs=0.03)
    assert row[x > 0.15].max() < 0.01 * row.max()


def measure_row(picture):
    """Luminance along the middle of a picture, averaged over some rows."""
    return picture[50:70, :, 1].mean(axis=0)


def test_second_surface_sends_light_back():
    """A white wall beside the card brightens it; a black one only takes sky away."""
    light = {}
    for reflectance in (0.0, 0.9):
        wall = box((0.6, -20, 0), (0.8, 20, 6), Material(np.full(3, reflectance, np.float32)))
        place = level_card()
        light[reflectance] = middle_luminance(replace(place, shapes=[*place.shapes, wall]))

    assert light[0.0] < 0.75 * CARD * 10_000 / pi
    assert light[0.9] > 1.15 * light[0.0]


@pytest.mark.parametrize(
    "shape",
    [
        box((-1, 4, -1), (1, 6, 1), CARD_MATERIAL, yaw=20),
        Convex([(1, 0, 0), (-1, 0, 0), (0, 1, 1), (0, -1, 0), (0, 0, -1)], [1, 1, 5, -4, 0.5], CARD_MATERIAL),
        Post((0, 5, -1), (0.3, 5.5, 1), 0.6, 0.3, CARD_MATERIAL),
        Ball((0, 5, 0), (1, 0.5, 0.7), CARD_MATERIAL),
        Carved((-1, 4, -1), (1, 6, 1), lambda p: np.sqrt(p[0] ** 2 + (p[1] - 5) ** 2 + p[2] ** 2) - 0.8, CARD_MATERIAL),
    ],
    ids=["box", "wedge", "post", "ball", "carved"],
)
def test_rays_that_hit_end_inside_the_bounds_on_a_face_towards_them(shape):
    rng = np.random.default_rng(3)
    d = np.stack([rng.uniform(-0.3, 0.3, 500), np.ones(500), rng.uniform(-0.3, 0.3, 500)])
    d = (d / np.linalg.norm(d, axis=0)).astype(np.float32)
    o = np.zeros_like(d)

    t = shape.hit(o, d)
    on = np.isfinite(t)
    p = o[:, on] + t[on] * d[:, on]
    n, *_ = shape.surface(p, d[:, on])

    assert 20 < on.sum() < 500
    assert np.all(p > shape.low[:, None] - 0.01) and np.all(p < shape.high[:, None] + 0.01)
    assert np.linalg.norm(n, axis=0) == pytest.approx(1, abs=1e-4)
    assert ((n * d[:, on]).sum(axis=0) < 0.05).mean() > 0.99  # all but rays that graze an edge


def test_camera_has_the_field_of_26_mm():
    camera = Camera((0, 0, 0), (0, 1, 0))
    corner = camera.rays(np.array([0.0]), np.array([0.0]))[:, 0]

    assert hypot(corner[0], corner[2]) / corner[1] == pytest.approx(43.2666 / 2 / 26, rel=1e-4)


def test_what_is_projected_is_where_its_ray_goes():
    camera = Camera((1, 2, 3), (2, 9, 2.5))
    x, y = camera.project((1.7, 6.0, 3.4))

    way = np.array([1.7, 6.0, 3.4]) - camera.position
    assert camera.rays(np.array([x]), np.array([y]))[:, 0] == pytest.approx(way / np.linalg.norm(way), abs=1e-5)


def test_sheet_holds_the_card_the_greys_and_the_colours():
    rgb = sheet(400)

    for value in (CARD, *GREYS):
        assert (np.abs(rgb - value).max(axis=2) < 1e-6).any()
    assert len(np.unique(rgb.reshape(-1, 3), axis=0)) == 1 + 1 + len(GREYS) + len(COLOURS)
    assert np.diff(np.log2(GREYS)) == pytest.approx(-0.6, abs=0.01)


# The command.


def test_render_is_repeatable_and_says_what_the_card_reads(tmp_path):
    pictures = []
    for folder in ("first", "again"):
        out = ["--out", str(tmp_path / folder), "--preview", str(tmp_path / folder)]
        done = CliRunner().invoke(main, ["render", "lane", "--size", "32x24", "--rays", "1", "--directions", "4", *out])
        assert done.exit_code == 0, done.output
        assert done.output.startswith("lane: card ")
        pictures.append((tmp_path / folder / "lane.truth.png").read_bytes())

    assert pictures[0] == pictures[1]
    assert (tmp_path / "first/lane.png").exists()


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["render", "mill"], "there is no scene 'mill'; there are bridge, lane"),
        (["render", "quay", "--size", "huge"], "'huge' is not a size; write it like 1600x1200"),
        (["render", "quay", "--size", "300x300"], "300x300 is not 4:3 or too small"),
    ],
)
def test_misuse_gets_one_sentence(arguments, sentence):
    done = CliRunner().invoke(main, arguments)

    assert done.exit_code == 2
    assert sentence in done.output
