"""What an angle shows that the pairs say nothing about."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.model import LinearStill, Match, Reason
from huemend.options import ValidateOptions
from huemend.validate.coverage import picture_lost, turned_by, uncovered_share
from tests.solve.made_pairs import make_pairs
from tests.validate.made_fits import a_fit, a_proof

OPTIONS = ValidateOptions()
GREY, RED = np.array([0.2, 0.2, 0.2]), np.array([0.6, 0.1, 0.05])


def a_still(share_red: float, dark: bool = False) -> LinearStill:
    rgb = np.tile(GREY, (120, 240, 1))
    rgb[:, : round(240 * share_red)] = RED
    if dark:
        rgb[:, : round(240 * share_red)] *= 0.01
    nothing = np.zeros((120, 240), bool)
    return LinearStill(
        rgb=rgb.astype(np.float32),
        valid=~nothing,
        clipped=nothing,
        angle="left",
        moment=0,
        source="left.png",
        full_size=(120, 240),
    )


def share(still: LinearStill, colours: list[np.ndarray], used: np.ndarray | None = None) -> float:
    pairs = make_pairs(np.array(colours), np.array(colours))
    fitted = a_fit(len(colours), Match(), used=used)
    return uncovered_share(still, pairs, fitted, OPTIONS)


@pytest.mark.parametrize("red", [0.0, 0.25, 0.5, 1.0])
def test_the_share_of_a_colour_that_no_pair_shows(red: float) -> None:
    assert share(a_still(red), [GREY] * 4) == pytest.approx(red, abs=0.03)


def test_two_pairs_cover_a_colour_and_one_does_not() -> None:
    assert share(a_still(0.5), [GREY, GREY, RED]) == pytest.approx(0.5, abs=0.03)
    assert share(a_still(0.5), [GREY, GREY, RED, RED]) == 0


def test_brightness_does_not_matter() -> None:
    # A surface in the shade is the same surface: only the ratios of the channels count.
    assert share(a_still(0.5), [GREY * 3, GREY * 3, RED / 3, RED / 3]) == 0


def test_pairs_that_do_not_agree_cover_nothing() -> None:
    used = np.array([True, True, False, False])
    assert share(a_still(0.5), [GREY, GREY, RED, RED], used) == pytest.approx(0.5, abs=0.03)
    assert share(a_still(0.5), [GREY, GREY], np.array([True, False])) == 1


def test_near_black_asks_for_nothing() -> None:
    assert share(a_still(0.5, dark=True), [GREY] * 4) == 0


def lost(red: float = 0.6, after: float = 5.0) -> tuple[Reason, ...]:
    """Half of all pairs are red and lose by the match, as flare leaves them; the others gain."""
    pairs = make_pairs(*2 * [np.array([GREY, RED] * 20)])
    errors = {"error_before": np.array([5.0, 1.0] * 20), "error_after": np.array([1.0, after] * 20)}
    return picture_lost(a_still(red), pairs, replace(a_proof(), **errors), view_stops=0.0)


def test_a_picture_is_lost_where_most_of_it_has_colours_whose_pairs_lose() -> None:
    assert "further off after the best match (3.4 CIEDE2000) than as shot (2.6)" in lost()[0].text
    assert lost(red=0.4) == ()
    # What clips says nothing.
    assert lost(after=np.nan) == ()


def turned(red: np.ndarray, light: float = 1.0) -> float:
    """A grey picture whose 96 places, four pairs each, are off in red over green so, and in light."""
    hero = np.tile(GREY, (384, 1)) * light
    hero[:, 0] *= red
    pairs = make_pairs(hero, np.tile(GREY, (384, 1)))
    still = a_still(0.0)
    wide = replace(still, rgb=np.tile(still.rgb, (2, 4, 1))[:160])
    return turned_by(wide, pairs, a_fit(384, Match(), used=red == 1), view_stops=0.0)


def test_a_part_of_the_picture_whose_pairs_are_off_alike_is_turned() -> None:
    across = np.arange(384) // 4 % 24 / 24
    half, third = (turned(np.where(across < part, 1.3, 1.0)) for part in (1 / 2, 1 / 3))
    assert turned(np.full(384, 1.3)) > half > third > 1.0
    assert half == pytest.approx(turned(np.full(384, 1.3)) / 2, rel=0.1)


def test_pairs_that_show_two_surfaces_turn_nothing() -> None:
    rng = np.random.default_rng(0)
    # A third of all places lies on other surfaces, each on its own.
    wrong = np.repeat(rng.random(96) < 1 / 3, 4)
    assert turned(np.where(wrong, np.exp2(rng.normal(size=384)), 1.0)) < 0.3
    # Nor does a whole part that is stops away from what it is paired with.
    assert turned(np.where(np.arange(384) // 4 % 24 < 12, 1.3, 1.0), light=4.0) == 0
