"""What an angle shows that the pairs say nothing about."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.model import LinearStill, Match, Reason
from huemend.options import ValidateOptions
from huemend.validate.coverage import picture_lost, uncovered_share
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
