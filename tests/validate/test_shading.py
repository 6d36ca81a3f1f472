"""Light that falls off towards the corners, and colour on one side, are told; noise and wrong pairs are not."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from huemend.model import LinearStill, Match, PairedColours
from huemend.options import ValidateOptions
from huemend.validate.shading import banding, measure_shading, shading_doubts
from tests.solve.made_pairs import make_pairs, surfaces
from tests.validate.made_fits import a_fit

OPTIONS = ValidateOptions()
HEIGHT, WIDTH = 540, 960


def still(reduced: float = 1.0) -> LinearStill:
    rgb = np.zeros((round(HEIGHT / reduced), round(WIDTH / reduced), 3), np.float32)
    blank = np.zeros(rgb.shape[:2], bool)
    return LinearStill(
        rgb=rgb, valid=~blank, clipped=blank, angle="left", moment=0, source="", full_size=(HEIGHT, WIDTH),
        reduced=reduced,
    )  # fmt: skip


def seen_through(degrees: float, *, wrong: float = 0.0, seed: int = 1) -> PairedColours:
    """Pairs all over an angle whose lens sees so far off its axis in the corners, and falls off by the cos^4 law.

    The law: Kingslake, Optical System Design, 1983, chapter 6 (from memory). Shading adds a tenth.
    """
    rng = np.random.default_rng(seed)
    places = rng.uniform(0, [WIDTH, HEIGHT], (400, 2))
    away = np.hypot(*(places - np.array([WIDTH, HEIGHT]) / 2).T) / np.hypot(WIDTH / 2, HEIGHT / 2)
    fallen = np.cos(np.arctan(away * np.tan(np.radians(degrees)))) ** 4
    light = surfaces(400, seed)
    shot = light * (fallen * np.exp(0.1 * rng.normal(size=400)))[:, None]
    off = rng.random(400) < wrong
    shot[off] *= np.exp(rng.normal(size=(int(off.sum()), 1)))
    return replace(make_pairs(light, shot, group=np.arange(400)), angle_xy=places)


@pytest.mark.parametrize("degrees", [15.0, 25.0, 35.0])
@pytest.mark.parametrize("wrong", [0.0, 0.15])
def test_the_cos4_law_is_found_whatever_the_exposure(degrees: float, wrong: float) -> None:
    pairs = seen_through(degrees, wrong=wrong)
    expected = -4 * np.log2(np.cos(np.radians(degrees)))
    for match in (Match(), Match(exposure_stops=1.3)):
        seen = measure_shading(pairs, match, still().extent)
        assert seen.corners == pytest.approx(expected, abs=0.1 * expected + 2 * seen.corners_error)
        assert seen.corners_error < 0.05
        assert (np.abs(seen.sides) < 0.05).all()


def test_a_lens_that_falls_off_is_doubted_from_its_limit_on() -> None:
    def doubts(degrees: float, match: Match | None = None) -> list[str]:
        pairs = seen_through(degrees)
        found = shading_doubts(still().extent, pairs, a_fit(400, match or Match()), OPTIONS)
        return [f"{each.code}: {each.text}" for each in found]

    (told,) = doubts(30.0)
    assert told.startswith("vignetting") and re.search(r"loses 0\.[67]\d stop .* to 0\.[89] in the corners", told)
    # 4 log2 of the cosine: a quarter of a stop in the corners at 17 degrees.
    assert doubts(17.0) == []


def test_what_no_pair_reaches_is_not_told_in_stops() -> None:
    # Light that falls to one side and off the axis, seen in the middle fifth of the picture alone.
    pairs = seen_through(60.0)
    middle = np.array([WIDTH, HEIGHT]) / 2
    near = replace(pairs, angle_xy=middle + 0.2 * (pairs.angle_xy - middle))
    seen = measure_shading(near, Match(), still().extent)
    across = (near.angle_xy[:, 0] / still().extent[0]) * 2 - 1
    span = np.subtract(*np.quantile(across, (0.95, 0.05))) / 2
    assert seen.sides_reached[0] == pytest.approx(seen.sides[0] * span)
    (told,) = shading_doubts(still().extent, near, a_fit(400, Match()), OPTIONS)
    assert told.code == "vignetting" and "corners" not in told.text.partition(":")[0]


def test_noise_in_the_dark_is_no_colour_on_one_side() -> None:
    # The logarithm of a single patch without light is worth ten stops; the mean of a place is not.
    rng = np.random.default_rng(4)
    places = rng.uniform(0, [WIDTH, HEIGHT], (3000, 2))
    light = np.full((3000, 3), 0.1) * np.where(places[:, :1] < WIDTH / 2, 0.1, 1.0)
    shot = light + [0.0, 0.0, 0.008] * rng.normal(size=(3000, 3))
    column, row = (places // 80).astype(int).T
    pairs = replace(make_pairs(light, shot, group=100 * row + column), angle_xy=places)
    assert not shading_doubts(still().extent, pairs, a_fit(3000, Match()), OPTIONS)


def test_a_picture_that_was_made_smaller_is_measured_at_its_full_width() -> None:
    pairs = seen_through(30.0)
    small, large = (measure_shading(pairs, Match(), still(reduced).extent) for reduced in (2.0, 1.0))
    assert small.corners == pytest.approx(large.corners)


def test_what_says_little_of_light_or_is_marked_says_nothing_of_corners() -> None:
    pairs = seen_through(30.0)
    for silent in (
        replace(pairs, light_spread=np.full(400, 0.3)),
        replace(pairs, by_hand=np.ones(400, bool)),
        pairs.take(np.arange(40)),
    ):
        assert shading_doubts(still().extent, silent, a_fit(len(silent), Match()), OPTIONS) == ()


def test_pairs_in_one_spot_tell_no_slope() -> None:
    pairs = replace(seen_through(30.0), angle_xy=np.full((400, 2), 100.0))
    assert shading_doubts(still().extent, pairs, a_fit(400, Match()), OPTIONS) == ()


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize(("stops", "told"), [(0.4, True), (0.15, False)])
def test_a_tint_of_one_side_is_told_with_its_stops(axis: int, stops: float, told: bool) -> None:
    pairs = seen_through(0.0, wrong=0.1)
    along = pairs.angle_xy[:, axis] / (WIDTH, HEIGHT)[axis] - 0.5
    pairs = replace(pairs, angle_rgb=pairs.angle_rgb * np.exp2(stops * along[:, None] * [1, 0, -1]))
    seen = measure_shading(pairs, Match(), still().extent)
    assert seen.sides[axis] == pytest.approx([stops, -stops], abs=0.05)
    assert seen.sides[1 - axis] == pytest.approx([0, 0], abs=0.05)
    doubts = shading_doubts(still().extent, pairs, a_fit(400, Match()), OPTIONS)
    assert [each.code for each in doubts] == ["colour-shading"] * told
    if told:
        assert ("the leftmost to the rightmost", "the topmost to the lowest")[axis] in doubts[0].text
        assert re.search(r"\+0\.[34]\d stop of red and -0\.[34]\d of blue", doubts[0].text)


@pytest.mark.parametrize(("stops", "told"), [(0.3, True), (0.08, False)])
@pytest.mark.parametrize("count", [2.3, 3.0, 6.2, 11.0])
def test_bands_of_lamps_that_pulse_are_told_with_their_stops_and_number(
    count: float, stops: float, told: bool
) -> None:
    pairs = seen_through(20.0, wrong=0.1)
    bands = stops * np.sin(2 * np.pi * count * pairs.angle_xy[:, 1:] / HEIGHT + 1)
    doubts = banding(
        still().extent, replace(pairs, angle_rgb=pairs.angle_rgb * np.exp2(bands)), a_fit(400, Match()), OPTIONS
    )
    assert [each.code for each in doubts] == ["banding"] * told
    if told:
        assert re.search(
            rf"0\.[23]\d stop brighter and darker than the hero, about {count:.0f} from", doubts[0].text
        )


def test_bands_that_few_rows_of_places_show_are_not_told() -> None:
    pairs = seen_through(20.0)
    row = np.floor(4 * pairs.angle_xy[:, 1:] / HEIGHT)
    few = replace(
        pairs,
        angle_rgb=pairs.angle_rgb * np.exp2(0.3 * (-1) ** row),
        angle_xy=pairs.angle_xy * [1, 0] + row * [0, HEIGHT / 4],
    )
    assert banding(still().extent, few, a_fit(400, Match()), OPTIONS) == ()


def test_a_set_that_is_lit_from_above_has_no_bands() -> None:
    pairs = seen_through(0.0)
    down = pairs.angle_xy[:, 1:] / HEIGHT
    for light in (down, np.square(down), np.sin(np.pi * down)):
        lit = replace(pairs, angle_rgb=pairs.angle_rgb * np.exp2(light))
        assert banding(still().extent, lit, a_fit(400, Match()), OPTIONS) == ()
    assert banding(still().extent, pairs.take(np.arange(40)), a_fit(40, Match()), OPTIONS) == ()
