"""A part of the picture that is lit otherwise is told; wrong pairs and what says little of light are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.model import Match, PairedColours
from huemend.options import ValidateOptions
from huemend.validate.second_exposure import second_exposure
from tests.solve.made_pairs import make_pairs, surfaces
from tests.validate.made_fits import a_fit
from tests.validate.test_shading import HEIGHT, WIDTH, still

OPTIONS = ValidateOptions()


def flashed(stops: float, share: float = 0.3, *, wrong: float = 0.0) -> PairedColours:
    """Pairs all over an angle, a share of which, at its top, a flash lights by so many stops more."""
    rng = np.random.default_rng(1)
    places = rng.uniform(0, [WIDTH, HEIGHT], (400, 2))
    lit = places[:, 1] < share * HEIGHT
    off = np.where(rng.random(400) < wrong, rng.uniform(-3, 3, 400), 0.1 * rng.normal(size=400))
    light = surfaces(400)
    shot = light * np.exp2(stops * lit + off)[:, None]
    return replace(make_pairs(light, shot, group=np.arange(400)), angle_xy=places)


def told(pairs: PairedColours, match: Match | None = None) -> list[str]:
    return [each.text for each in second_exposure(still().extent, pairs, a_fit(400, match or Match()), OPTIONS)]


@pytest.mark.parametrize("stops", [1.5, -1.0])
@pytest.mark.parametrize("exposure", [0.0, 0.9])
def test_a_part_that_is_lit_otherwise_is_told_with_its_side(stops: float, exposure: float) -> None:
    (text,) = told(flashed(stops), Match(exposure_stops=exposure))
    how = "brighter" if stops > 0 else "darker"
    assert f"mostly in the upper part of this angle, is {abs(stops):.1f} stop {how}" in text


def one_sided(stops: float, scatter: float = 0.1) -> PairedColours:
    """Pairs all over an angle that a lamp on the right lights by so many stops more."""
    pairs, rng = flashed(0.0), np.random.default_rng(2)
    across = pairs.angle_xy[:, 0] / WIDTH
    off = stops * across**2 + scatter * rng.normal(size=400)
    return replace(pairs, angle_rgb=pairs.reference_rgb * np.exp2(off)[:, None])


def test_light_that_runs_over_the_picture_is_told_and_less_of_it_or_among_much_else_is_not() -> None:
    (text,) = told(one_sided(1.2), Match(exposure_stops=-0.4))
    assert "runs over this angle by 1.0 stop (most of it mostly on the right of it) and" in text
    assert told(one_sided(0.3)) == []
    assert told(one_sided(0.8, scatter=0.5)) == []
    assert told(replace(one_sided(1.2), group=np.arange(400) // 16)) == []


def test_a_match_that_is_off_all_over_has_one_exposure_all_the_same() -> None:
    # As one is that is held to how something was shot.
    assert told(flashed(0.0), Match(exposure_stops=0.8)) == []


def test_wrong_pairs_shading_and_a_small_part_are_no_second_exposure() -> None:
    assert told(flashed(0.0, wrong=0.5)) == []
    assert told(flashed(0.3)) == []
    assert told(flashed(1.5, share=0.02)) == []


def test_what_says_little_of_light_or_has_another_colour_says_nothing() -> None:
    pairs = flashed(1.5)
    assert told(replace(pairs, light_spread=np.full(400, 0.3))) == []
    assert told(replace(pairs, by_hand=np.ones(400, bool))) == []
    assert told(replace(pairs, angle_rgb=pairs.angle_rgb * [1.3, 1.0, 0.8])) == []


def test_the_side_is_that_of_the_angle_however_large_its_picture_was_worked_on() -> None:
    pairs = flashed(1.5)
    turned = replace(
        pairs, angle_xy=np.column_stack([WIDTH - pairs.angle_xy[:, 1] * WIDTH / HEIGHT, pairs.angle_xy[:, 0]])
    )
    for reduced in (1.0, 2.0):
        (reason,) = second_exposure(still(reduced).extent, turned, a_fit(400, Match()), OPTIONS)
        assert "mostly on the right of this angle" in reason.text
