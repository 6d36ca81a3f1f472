"""What page and terminal say by themselves, with the figures that make them say it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from huemend.base.schema import problem
from huemend.flow.wishes import _traded
from huemend.model import ErrorSummary, Interval, LeastErrorTrade, Match, PairedColours, Rung, SetupResult, Verdict
from huemend.model.reasons import Code
from huemend.options import MatchOptions, ValidateOptions
from huemend.solve.fit_doubts import strange_mix
from huemend.validate.decide import decide
from huemend.validate.people import check_skin
from huemend.write.record import make_record
from huemend.write.record_reading import record_schema
from huemend.write.report.figures import interval_text
from huemend.write.report.strip_section import skin_table
from huemend.write.report.summary import summary
from huemend.write.report.terminal import terminal_table
from huemend.write.report.words import RUNGS, VERDICTS, match_words, visible_words
from tests.solve.made_pairs import make_pairs
from tests.validate.made_fits import a_fit, a_proof, evidence
from tests.write.small_setup import a_result


def test_one_vocabulary_of_verdicts() -> None:
    assert {verdict: word.lower() for verdict, word in VERDICTS.items()} == {v: str(v) for v in Verdict}


def test_an_identity_claims_agreement_only_where_it_was_found(tmp_path: Path) -> None:
    left = a_result(tmp_path)["left"]
    same = replace(left, match=Match(), rung=Rung.NONE)
    assert match_words(same) == "Nothing to change: this angle already agrees with the hero."
    far = ErrorSummary(mean=6.5, p95=9.0, n=40)
    apart = replace(same, verdict=Verdict.REVIEW, held_out=replace(left.held_out, before=far, after=far))
    said = match_words(apart)
    assert "agrees" not in said and "6.5 CIEDE2000 from the hero" in said
    assert "agrees" not in RUNGS[Rung.NONE]


@pytest.mark.parametrize(
    ("taken", "said"),
    [
        (Rung.NONE, "nothing was matched"),
        (Rung.EXPOSURE, "only exposure was"),
        (Rung.BALANCE, "only exposure and"),
    ],
)
def test_a_mix_that_is_not_believed_says_what_was_matched_instead(taken: Rung, said: str) -> None:
    (reason,) = strange_mix({Rung.MATRIX}, taken)
    assert said in reason.text


@pytest.mark.parametrize(
    ("mean", "upper", "said"),
    [
        (2.3, 2.9, "by 2.3 CIEDE2000 on average (2.9 at most, with 95 % confidence), more than the 1.5"),
        (
            1.52,
            1.9,
            "by just over 1.5 CIEDE2000 on average (1.9 at most, with 95 % confidence), more than the 1.5",
        ),
        (1.3, 1.7, "agree to 1.3 CIEDE2000, but too few places say so to rule out 1.7, more than the 1.5"),
        (
            1.5,
            1.5000001,
            "agree to 1.5 CIEDE2000, but too few places say so to rule out just over 1.5, more than the 1.5",
        ),
    ],
)
def test_what_is_too_much_prints_as_more_than_the_limit(mean: float, upper: float, said: str) -> None:
    pairs = make_pairs(np.full((40, 3), 0.2), np.full((40, 3), 0.1))
    fitted = a_fit(40, Match(exposure_stops=1.0))
    decision = decide(evidence(pairs, fitted, a_proof(after=mean, upper=upper)), ValidateOptions())
    assert decision.verdict is Verdict.REVIEW
    (loose,) = [reason.text for reason in decision.reasons if reason.code == "loose"]
    assert said in loose


def test_terminal_and_page_print_the_record_s_interval(tmp_path: Path) -> None:
    result = a_result(tmp_path)
    left = result["left"]
    lopsided = replace(left.uncertainty, exposure_stops=Interval(low=0.24, high=0.9))
    result = replace(result, angles=(replace(left, uncertainty=lopsided), *result.angles[1:]))
    record = make_record(result, luts={}, cdls={}, options=MatchOptions())
    assert record["angles"]["left"]["uncertainty"]["exposure_stops"] == [0.24, 0.9]
    assert "(+0.24 to +0.90)" in terminal_table(record)
    assert f"({interval_text(lopsided.exposure_stops)})" in str(summary(result, {}, {}))


def test_people_are_told_alike_by_record_and_page(tmp_path: Path) -> None:
    result = a_result(tmp_path)
    left = result["left"]
    hero = np.tile([[0.47, 0.32, 0.22]], (8, 1))
    shot = hero / 1.2
    shot[5:] = [0.1, 0.3, 0.5]  # something else under the same name, which the match does not count
    used = np.arange(8) < 5
    pairs = replace(make_pairs(hero, shot), label=np.full(8, "skin"))
    people = check_skin(pairs, Match(exposure_stops=float(np.log2(1.2))), used, view_stops=0.0)
    assert people[0].samples == 5 and people[0].after.error < 0.01 < people[0].before.error
    found = replace(left, pairs=pairs, agrees=used, people=people, held_out=None)
    table = str(skin_table(found))
    assert f"{people[0].before.exposure_stops:+.2f}".replace("-", "−") in table
    assert "5 samples" in table and "8 samples" not in table


def test_light_that_a_marked_area_may_differ_by_is_no_error_of_skin() -> None:
    hero = np.array([[0.47, 0.32, 0.22]])
    pairs: PairedColours = replace(
        make_pairs(hero, hero * 0.8), label=np.array(["skin"]), light_spread=np.array([0.3])
    )
    (person,) = check_skin(pairs, Match(), np.ones(1, bool), view_stops=0.0)
    assert person.before.error < 0.01 and person.before.exposure_stops == pytest.approx(np.log2(0.8), abs=1e-6)


def test_what_a_wish_gained_and_cost_is_on_terminal_and_in_the_record(tmp_path: Path) -> None:
    """A match that needs nobody is one line, but for whoever asked for something."""
    result = a_result(tmp_path)
    left = replace(result["left"], verdict=Verdict.MATCHED)
    plain = terminal_table(_record(replace(result, angles=(left,))))
    assert "came first" not in plain
    told = LeastErrorTrade(names=("skin",), there=(0.94, 0.63), elsewhere=(0.43, 0.5))
    reason = _traded(told, 0.15)
    record = _record(replace(result, angles=(replace(left, reasons=(reason,), least_error=told),)))
    assert record["angles"]["left"]["least_error_on"] == {
        "names": ["skin"],
        "there": {"before": 0.94, "after": 0.63},
        "elsewhere": {"before": 0.43, "after": 0.5},
    }
    assert not problem({**record, "files": []}, record_schema())
    shown = " ".join(terminal_table(record).split())
    assert "left: - Skin came first, as the setup file asks: 0.9 -> 0.6 CIEDE2000 there" in shown
    assert "0.4 -> 0.5 elsewhere. Next: Take least_error_on out if the rest is to win." in shown


def _record(result: SetupResult) -> dict[str, Any]:
    return make_record(result, luts={}, cdls={}, options=MatchOptions())


def test_no_direction_is_called_of_what_may_be_none(tmp_path: Path) -> None:
    left = a_result(tmp_path)["left"]
    match = Match.from_matrix(np.diag([1.1, 1.0, 0.9]))
    red, blue = match.balance
    sure = {
        "exposure_stops": Interval(low=0.3, high=0.5),
        "red_green_stops": Interval(low=red - 0.02, high=red + 0.02),
        "blue_green_stops": Interval(low=blue - 0.02, high=blue + 0.02),
    }
    clear = replace(left, match=match, uncertainty=replace(left.uncertainty, **sure))
    assert match_words(clear).endswith("and warmer.")
    # Printed, the lower end is 0.00: to whoever reads it, nothing may have changed.
    unsure = {
        **sure,
        "red_green_stops": Interval(low=0.004, high=0.3),
        "blue_green_stops": Interval(low=-0.3, high=0),
    }
    said = match_words(replace(clear, uncertainty=replace(left.uncertainty, **unsure)))
    assert said.endswith(", and leaves it balanced as it was.")
    lifted = replace(clear, match=replace(match, exposure_stops=0.39))
    unsure = {**sure, "exposure_stops": Interval(low=-0.22, high=1.0)}
    said = match_words(replace(lifted, uncertainty=replace(left.uncertainty, **unsure)))
    assert said.startswith("Makes this angle perhaps brighter (+0.39 stop) and ")


def test_nothing_is_called_hard_to_see_where_it_is_clipped(tmp_path: Path) -> None:
    left = a_result(tmp_path)["left"]
    assert "clipped" not in visible_words(left)
    clips = replace(left, reasons=(Code.CLIPPED.because(share=0.3),))
    assert visible_words(clips) == f"{visible_words(left)} where it is not clipped"
