"""What it takes to be called matched, and every reason that forbids it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.model import HeldOut, Match, Reason, Verdict
from huemend.options import ValidateOptions
from huemend.validate.verdict import judge
from tests.solve.made_pairs import make_pairs, surfaces
from tests.validate.made_fits import a_fit, a_proof

OPTIONS = ValidateOptions()
PAIRS = make_pairs(surfaces(40), surfaces(40))
FIT = a_fit(40, Match(exposure_stops=1.0))
ALIKE = a_fit(40, Match())


def codes(reasons: tuple[Reason, ...]) -> list[str]:
    return [reason.code for reason in reasons]


def test_a_good_proof_is_a_match() -> None:
    verdict, reasons = judge(PAIRS, FIT, a_proof(), OPTIONS)
    assert verdict is Verdict.MATCHED
    assert codes(reasons) == ["proven"]
    assert "0.8 CIEDE2000" in reasons[0].text


def test_a_camera_that_agrees_as_shot_is_a_match() -> None:
    verdict, reasons = judge(PAIRS, ALIKE, a_proof(before=0.6, after=0.6), OPTIONS)
    assert verdict is Verdict.MATCHED
    assert "as shot" in reasons[0].text


@pytest.mark.parametrize("after", [6.01, 9.0])
def test_a_match_that_does_no_good_is_unsolved(after: float) -> None:
    verdict, reasons = judge(PAIRS, FIT, a_proof(before=6.0, after=after), OPTIONS)
    assert verdict is Verdict.UNSOLVED
    assert codes(reasons) == ["no-gain"]


@pytest.mark.parametrize(
    ("proof", "code"),
    [
        (a_proof(after=1.51), "loose"),
        (a_proof(upper=1.51), "loose"),
        (a_proof(n=7), "few-surfaces"),
        (a_proof(areas={"skin": 1.81}), "area"),
    ],
)
def test_each_doubt_asks_for_a_look(proof: HeldOut, code: str) -> None:
    # Limits: about 1 is just noticeable side by side and 1.8 acceptable on faces (docs/maths.md).
    verdict, reasons = judge(PAIRS, FIT, proof, OPTIONS)
    assert verdict is Verdict.REVIEW
    assert codes(reasons) == [code]
    assert reasons[0].todo


@pytest.mark.parametrize(
    "proof", [a_proof(after=1.49, upper=1.49), a_proof(n=8), a_proof(areas={"skin": 1.79, "neutral": 0.1})]
)
def test_just_inside_of_a_limit_is_a_match(proof: HeldOut) -> None:
    assert judge(PAIRS, FIT, proof, OPTIONS)[0] is Verdict.MATCHED


@pytest.mark.parametrize(("uncovered", "verdict"), [(0.09, Verdict.MATCHED), (0.11, Verdict.REVIEW)])
def test_colours_that_no_pair_covers_ask_for_a_look(uncovered: float, verdict: Verdict) -> None:
    found, reasons = judge(PAIRS, FIT, a_proof(), OPTIONS, uncovered=uncovered)
    assert found is verdict
    assert ("uncovered" in codes(reasons)) == (verdict is Verdict.REVIEW)


@pytest.mark.parametrize(("agreeing", "divided"), [(15, True), (17, False)])
def test_evidence_that_is_divided_asks_for_a_look(agreeing: int, divided: bool) -> None:
    fitted = replace(FIT, used=np.arange(40) < agreeing)
    assert ("divided" in codes(judge(PAIRS, fitted, a_proof(), OPTIONS)[1])) == divided


@pytest.mark.parametrize("kind", ["skin_error", "neutral_error", "saturated_error"])
def test_room_for_error_asks_for_a_look(kind: str) -> None:
    limit = {"saturated_error": 3.6, "neutral_error": 2.4, "skin_error": 1.8}[kind]
    match = Match(exposure_stops=1.0)
    assert judge(PAIRS, a_fit(40, match, **{kind: limit - 0.01}), a_proof(), OPTIONS)[0] is Verdict.MATCHED
    verdict, reasons = judge(PAIRS, a_fit(40, match, **{kind: limit + 0.01}), a_proof(), OPTIONS)
    assert verdict is Verdict.REVIEW and codes(reasons) == ["uncertain"]


def test_doubts_of_the_fit_itself_are_kept_and_all_are_told() -> None:
    doubt = Reason(code="strange-mix", text="the mix is strange")
    verdict, reasons = judge(PAIRS, replace(FIT, doubts=(doubt,)), a_proof(after=2.0, upper=2.5, n=3), OPTIONS)
    assert verdict is Verdict.REVIEW
    assert codes(reasons) == ["strange-mix", "few-surfaces", "loose"]


def test_limits_are_the_options() -> None:
    strict = ValidateOptions(matched_mean=0.5)
    assert judge(PAIRS, FIT, a_proof(), strict)[0] is Verdict.REVIEW
