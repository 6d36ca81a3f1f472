"""What a proof shows of a match's errors is told, and never makes a match look surer than its fit has it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scipy import stats

from huemend.model import Interval
from huemend.validate.observed_errors import with_observed_errors
from tests.solve.certain import NO_UNCERTAINTY
from tests.validate.made_fits import a_proof

TOLD = replace(NO_UNCERTAINTY, exposure_stops=Interval(low=-0.1, high=0.3), skin_error=1.2)


def test_without_evidence_nothing_changes() -> None:
    assert with_observed_errors(TOLD, None) == TOLD
    assert with_observed_errors(TOLD, a_proof(areas={"shirt": 3.0, "skin": 1.1})) == TOLD


def test_skin_is_told_to_be_off_by_as_much_as_a_face_shows() -> None:
    proof = a_proof(areas={"skin of person 1": 0.4, "skin of person 2": 1.7})
    told = with_observed_errors(TOLD, proof)
    assert told.skin_error == 1.7
    assert replace(told, skin_error=TOLD.skin_error) == TOLD


def test_what_light_and_dark_disagree_by_adds_to_the_interval_as_an_independent_error() -> None:
    # Two independent normal errors: the 90 % interval of their sum, by scipy.
    own = 0.2 / stats.norm.ppf(0.95)
    low, high = stats.norm.interval(0.9, loc=0.1, scale=(own**2 + 0.15**2) ** 0.5)
    told = with_observed_errors(TOLD, a_proof(), 0.15)
    assert (told.exposure_stops.low, told.exposure_stops.high) == pytest.approx((low, high))
    assert told.red_green_stops == TOLD.red_green_stops
