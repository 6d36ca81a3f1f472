"""Errors of a chain add up, and what nothing has proven is never trusted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.model import Angle, AngleResult, HeldOut, Match, Rung, Uncertainty, Verdict
from huemend.model.learnt import Learnt
from huemend.model.match import Interval
from huemend.options import ValidateOptions
from huemend.solve.chain import chain_order, in_hero_light, with_errors_of
from huemend.validate.proof import measure
from tests.solve.certain import NO_UNCERTAINTY
from tests.solve.made_pairs import make_pairs, surfaces

PAIRS = make_pairs(surfaces(80), surfaces(80))


def camera(name: str, through: str | None = None) -> Angle:
    return Angle(name=name, media=(), encoding="ACEScct", through=through)


def held(upper: float) -> HeldOut:
    used = np.ones(len(PAIRS), bool)
    return replace(
        measure(PAIRS, np.asarray(PAIRS.angle_rgb), used, ValidateOptions(), view_stops=0.0), upper=upper
    )


def result(name: str, upper: float | None, width: float = 0.1) -> AngleResult:
    known: Uncertainty = replace(NO_UNCERTAINTY, exposure_stops=Interval(low=-width, high=width), skin_error=width)
    return AngleResult(
        angle=camera(name),
        verdict=Verdict.MATCHED,
        reasons=(),
        match=Match(exposure_stops=0.5),
        rung=Rung.EXPOSURE,
        explained="",
        uncertainty=known,
        held_out=None if upper is None else held(upper),
        pairs=PAIRS,
        agrees=np.ones(len(PAIRS), bool),
    )


def test_angles_come_after_those_that_they_go_through() -> None:
    angles = [camera("close", "left"), camera("left"), camera("hand", "close"), camera("right")]
    steps = [[angle.name for angle in step] for step in chain_order(angles)]
    assert steps == [["left", "right"], ["close"], ["hand"]]


def test_errors_add_as_squares_do() -> None:
    # Independent errors: their variances add (common practice, no source).
    both = with_errors_of(result("close", 0.8, 0.3), result("left", 0.6, 0.4))
    assert both.held_out and both.held_out.upper == pytest.approx(1.0)
    assert both.uncertainty and both.uncertainty.exposure_stops.high == pytest.approx(0.5)
    assert both.uncertainty.skin_error == pytest.approx(0.5)


def test_what_nothing_has_proven_adds_nothing_and_teaches_nothing() -> None:
    learnt = Learnt(theta=np.zeros(9), covariance=np.eye(9))
    own = replace(result("close", 0.8), learnt=learnt)
    found = with_errors_of(own, result("left", None))
    assert found.held_out == own.held_out and found.learnt is None


def test_the_reference_of_a_chain_is_what_the_hero_would_have_shot() -> None:
    lit = in_hero_light(PAIRS, Match(exposure_stops=1.0))
    np.testing.assert_allclose(lit.reference_rgb, 2 * PAIRS.reference_rgb)
    np.testing.assert_array_equal(lit.angle_rgb, PAIRS.angle_rgb)
