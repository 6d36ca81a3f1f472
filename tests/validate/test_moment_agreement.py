"""Several stills of an angle, followed by what pairs say of each moment."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.model import Match, PairedColours
from huemend.options import DriftOptions
from huemend.validate.moment_agreement import left_by_moment, moment_reasons
from tests.solve.made_pairs import make_pairs

OPTIONS = DriftOptions()


def stills(exposure: list[float], red: float = 0.0, places: int = 20) -> PairedColours:
    """Pairs of stills whose angle is darker than the hero by so many stops; the last one may be tinted."""
    random = np.random.default_rng(4)
    parts = []
    for moment, stops in enumerate(exposure):
        hero = 0.18 * np.exp2(random.normal(0, 1, (4 * places, 3)))
        shading = np.exp(random.normal(0, 0.1, (4 * places, 1)))
        tint = np.array([red if moment == len(exposure) - 1 else 0.0, 0.0, 0.0])
        pairs = make_pairs(hero, hero * shading * np.exp2(-stops - tint))
        parts.append(replace(pairs, moment=np.full(len(pairs), moment)))
    return PairedColours.concat(parts, apart=True)


def test_a_ramp_of_half_a_stop_is_named_with_its_stills_and_its_angle() -> None:
    pairs = stills([-0.25, -0.15, -0.05, 0.05, 0.15, 0.25])
    (reason,) = moment_reasons(pairs, Match(), OPTIONS)
    assert reason.code == "drift"
    assert "stills 1, 6 of left" in reason.text and "in still 1" in reason.text and "in still 6" in reason.text
    moments, left, error = left_by_moment(pairs, Match())
    assert moments.tolist() == list(range(6))
    assert left[:, 0] == pytest.approx([-0.25, -0.15, -0.05, 0.05, 0.15, 0.25], abs=0.06)
    assert (error[:, 0] < 0.06).all()


@pytest.mark.parametrize("stops", [[0.0] * 6, [0.1, 0.12, 0.08, 0.1], [0.5]])
def test_stills_that_agree_are_not_doubted(stops: list[float]) -> None:
    assert not moment_reasons(stills(stops), Match(), OPTIONS)


def test_a_white_balance_that_was_set_again_is_told_as_such() -> None:
    (reason,) = moment_reasons(stills([0.0] * 5, red=0.3), Match(), OPTIONS)
    assert "still 5 of left" in reason.text and "red against green" in reason.text
    assert "exposure" not in reason.text


def test_a_still_that_shares_next_to_nothing_says_nothing() -> None:
    many, few = stills([0.0, 0.0, 0.0]), stills([0.0, 0.0, 0.0, 0.6], places=3)
    pairs = PairedColours.concat([many, few.take(few.moment == 3)], apart=True)
    assert not moment_reasons(pairs, Match(), OPTIONS)
