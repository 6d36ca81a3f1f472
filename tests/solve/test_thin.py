"""A match that few surfaces carry is held against the colours of the whole pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.model import AngleResult, ErrorSummary, HeldOut, Match, Reason, Rung, Verdict
from huemend.model.regions import Regions
from huemend.options import ColourOptions, SolveOptions
from huemend.solve.prior import theta_to_matrix
from huemend.solve.thin import is_thin, unless_ruled_out
from huemend.solve.uncertainty import NO_UNCERTAINTY
from tests.solve.made_pairs import make_pairs, surfaces
from tests.solve.test_colours import ANGLE, BLUE_GREEN, COLD, EXPOSURE, HERO, RED_GREEN, WARM, unsolved


def thin(
    exposure: float, red: float = RED_GREEN, blue: float = BLUE_GREEN, code: str = "uncertain"
) -> AngleResult:
    match = Match.from_matrix(theta_to_matrix(np.array([exposure, red, blue, 0, 0, 0, 0, 0, 0])))
    return replace(
        unsolved(),
        verdict=Verdict.REVIEW,
        match=match,
        rung=Rung.BALANCE,
        reasons=(Reason(code=code, text="something is in doubt"),),
    )


def held_against(result: AngleResult, hero: Regions = HERO, angle: Regions = ANGLE) -> AngleResult:
    return unless_ruled_out(result, lambda: (hero, angle), ColourOptions(), SolveOptions())


@pytest.mark.parametrize("code", ["few-surfaces", "divided", "uncertain"])
def test_doubts_about_the_pairs_themselves_make_a_match_thin(code: str) -> None:
    assert is_thin(thin(EXPOSURE, code=code))


@pytest.mark.parametrize("code", ["loose", "uncovered", "area", "rendered"])
def test_other_doubts_do_not(code: str) -> None:
    assert not is_thin(thin(EXPOSURE, code=code))


def test_what_somebody_named_by_hand_is_not_doubted_and_no_match_is_not_thin() -> None:
    result = thin(EXPOSURE)
    assert not is_thin(replace(result, reasons=(*result.reasons, Reason(code="by-hand", text="by hand"))))
    assert not is_thin(replace(result, match=None, verdict=Verdict.UNSOLVED))


def test_a_match_that_the_colours_allow_stays_as_it_is() -> None:
    for off in (0.0, -0.3, 0.3):
        result = thin(EXPOSURE + off)
        assert held_against(result) is result


@pytest.mark.parametrize("off", [-1.5, 1.5])
def test_one_that_they_rule_out_is_unsolved_with_a_candidate(off: float) -> None:
    result = thin(EXPOSURE + off)
    found = held_against(result)
    assert found.verdict is Verdict.UNSOLVED and found.match is None
    assert found.candidate is result.match and found.learnt is None
    assert found.held_out is None and not found.used.any()
    assert [reason.code for reason in found.reasons] == ["ruled-out"]
    assert f"{EXPOSURE + off:+.2f} stop" in found.reasons[0].text


def test_few_colours_at_odds_that_leave_room_for_error_decide_nothing() -> None:
    """Even where the colours allow the match; what is known of the camera itself is still told."""
    said = [
        Reason(code=code, text="...") for code in ("few-surfaces", "divided", "rendered", "loose", "uncertain")
    ]
    result = replace(thin(EXPOSURE), reasons=tuple(said))
    found = held_against(result)
    assert found.verdict is Verdict.UNSOLVED and found.match is None
    assert [reason.code for reason in found.reasons] == ["too-thin", "rendered"]
    for left_out in ("few-surfaces", "divided", "uncertain"):
        two = replace(result, reasons=tuple(reason for reason in said if reason.code != left_out))
        assert held_against(two) is two


def test_balance_is_left_to_the_pairs() -> None:
    result = thin(EXPOSURE, RED_GREEN + 0.4, BLUE_GREEN - 0.5)
    assert held_against(result) is result


def test_colours_that_the_hero_does_not_show_rule_nothing_out_by_themselves() -> None:
    result = thin(0.0)
    assert held_against(result, WARM, COLD) is result


def test_a_picture_of_too_few_colours_rules_nothing_out() -> None:
    one = Regions(angle="side", rgb=np.full((40, 3), 0.2), area=np.full(40, 0.025))
    result = thin(2.0)
    assert held_against(result, HERO, one) is result


def test_hundreds_of_places_are_not_overruled() -> None:
    """A bracket of exposures shows thousands of places that agree, and whole pictures whose colours mislead."""
    rgb = surfaces(300)
    pairs = make_pairs(rgb, rgb)
    for places, overruled in ((4, True), (300, False)):
        result = replace(thin(EXPOSURE + 1.5), pairs=pairs, used=np.arange(300) < places)
        assert (held_against(result).verdict is Verdict.UNSOLVED) is overruled


def test_a_loose_match_that_may_be_further_off_than_as_shot_decides_nothing() -> None:
    unsure = replace(NO_UNCERTAINTY, skin_error=4.7, neutral_error=5.2, saturated_error=6.0)
    before = ErrorSummary(mean=4.2, p95=8.0, n=10)
    proof = HeldOut(
        before=before,
        after=replace(before, mean=3.1),
        upper=4.1,
        error_before=np.zeros(0),
        error_after=np.zeros(0),
        fold=np.zeros(0, int),
        clipped_share=0.0,
    )
    loose = (Reason(code="loose", text="..."), Reason(code="uncertain", text="..."))
    result = replace(thin(EXPOSURE), uncertainty=unsure, held_out=proof, reasons=loose)
    assert [reason.code for reason in held_against(result).reasons] == ["too-thin"]
    for kinder in (
        replace(result, reasons=loose[1:]),
        replace(result, uncertainty=replace(unsure, skin_error=4.0)),
    ):
        assert held_against(kinder) is kinder
