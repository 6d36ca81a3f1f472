"""Light that falls off towards the corners is told; noise and a few wrong pairs are not."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from huemend.model import LinearStill, Match, PairedColours
from huemend.options import ValidateOptions
from huemend.validate.vignetting import corner_loss, vignetting_doubts
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
        loss, error = corner_loss(pairs, match, still())
        assert loss == pytest.approx(expected, abs=0.1 * expected + 2 * error)
        assert error < 0.05


def test_a_lens_that_falls_off_is_doubted_from_its_limit_on() -> None:
    def doubts(degrees: float, match: Match | None = None) -> list[str]:
        pairs = seen_through(degrees)
        found = vignetting_doubts(still(), pairs, a_fit(400, match or Match()), OPTIONS)
        return [f"{each.code}: {each.text}" for each in found]

    (told,) = doubts(30.0)
    assert told.startswith("vignetting") and re.search(r"loses 0\.[89] stop", told)
    # 4 log2 of the cosine: a quarter of a stop in the corners at 17 degrees.
    assert doubts(17.0) == []


def test_a_picture_that_was_made_smaller_is_measured_at_its_full_width() -> None:
    pairs = seen_through(30.0)
    assert corner_loss(pairs, Match(), still(2.0)) == pytest.approx(corner_loss(pairs, Match(), still()))


def test_what_says_little_of_light_or_is_marked_says_nothing_of_corners() -> None:
    pairs = seen_through(30.0)
    for silent in (
        replace(pairs, light_spread=np.full(400, 0.3)),
        replace(pairs, by_hand=np.ones(400, bool)),
        pairs.take(np.arange(40)),
    ):
        assert vignetting_doubts(still(), silent, a_fit(len(silent), Match()), OPTIONS) == ()


def test_pairs_in_one_spot_tell_no_slope() -> None:
    pairs = replace(seen_through(30.0), angle_xy=np.full((400, 2), 100.0))
    assert vignetting_doubts(still(), pairs, a_fit(400, Match()), OPTIONS) == ()
