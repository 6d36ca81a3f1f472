"""Reasons not to believe a fit, each with its code and with something to do about it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.model import Reason, Rung
from huemend.options import SolveOptions
from huemend.solve.fit_doubts import against, beyond_presets, is_strange, strange_mix, too_little
from huemend.solve.robust import Estimate
from tests.solve.made_pairs import make_pairs, surfaces

OPTIONS = SolveOptions()


def an_estimate(theta: dict[int, float] | None = None, agreeing: float = 1.0, n: int = 100) -> Estimate:
    values = np.zeros(12)
    for index, value in (theta or {}).items():
        values[index] = value
    agree = np.where(np.arange(n) < agreeing * n, 1.0, 0.0)
    return Estimate(theta=values, covariance=np.zeros((12, 12)), agree=agree, shading=0.1, misfit_ratio=1.0)


def reasons_against(fitted: Estimate, weight: np.ndarray) -> tuple[Reason, ...]:
    return against(fitted, weight, beyond_presets(fitted, OPTIONS)[0], OPTIONS)


@pytest.mark.parametrize(("groups", "enough"), [(0, False), (1, False), (3, False), (4, True), (30, True)])
def test_a_match_needs_several_places(groups: int, enough: bool) -> None:
    assert OPTIONS.fewest_groups == 4
    rgb = surfaces(max(5 * groups, 0))
    pairs = make_pairs(rgb, rgb, group=np.repeat(np.arange(groups), 5))
    reasons = too_little(pairs, OPTIONS)
    assert bool(reasons) is not enough
    if reasons:
        assert [reason.code for reason in reasons] == ["nothing-shared"]
        assert reasons[0].todo
        assert (f"only {groups} place" in reasons[0].text) == bool(groups)


def test_many_places_of_little_weight_are_too_little() -> None:
    rgb = surfaces(40)
    pairs = make_pairs(rgb, rgb)
    assert not too_little(pairs, OPTIONS)
    assert too_little(replace(pairs, weight=np.full(40, 0.01)), OPTIONS)


@pytest.mark.parametrize(("share", "contradicts"), [(0.1, True), (0.29, True), (0.31, False), (0.9, False)])
def test_too_few_that_agree_contradict(share: float, contradicts: bool) -> None:
    reasons = reasons_against(an_estimate(agreeing=share), np.ones(100))
    assert [reason.code for reason in reasons] == ["contradictory"] * contradicts


def test_agreement_counts_by_weight() -> None:
    weight = np.where(np.arange(100) < 10, 100.0, 1.0)
    assert not reasons_against(an_estimate(agreeing=0.1), weight)


def test_a_balance_far_from_any_cameras_is_implausible() -> None:
    # A third of a stop of red against green is daily business; two and a half is not (camera-pair prior).
    weight = np.ones(100)
    assert not reasons_against(an_estimate({1: 0.33}), weight)
    assert [r.code for r in reasons_against(an_estimate({1: 2.5}), weight)] == ["implausible"]


def test_exposure_alone_is_never_implausible() -> None:
    assert not reasons_against(an_estimate({0: 5.0}), np.ones(100))


def test_a_mix_that_no_two_cameras_have_is_strange() -> None:
    assert not is_strange(an_estimate({4: 0.03}), OPTIONS)
    assert is_strange(an_estimate({4: 0.8}), OPTIONS)


def test_a_strange_mix_is_named_whether_it_was_taken_or_not() -> None:
    for taken, words in ((Rung.MATRIX, "prove it"), (Rung.BALANCE, "only exposure and balance")):
        (reason,) = strange_mix({Rung.MATRIX}, taken)
        assert reason.code == "strange-mix"
        assert words in reason.text
        assert "look" in reason.todo


def test_nothing_is_strange_once_a_veil_explains_it() -> None:
    assert not strange_mix({Rung.MATRIX}, Rung.FLARE)
    assert not strange_mix(set(), Rung.MATRIX)


def test_places_that_say_nothing_of_exposure_do_not_pin_it() -> None:
    rgb = surfaces(50)
    group = np.repeat(np.arange(10), 5)
    for telling, enough in ((3, False), (4, True)):
        spread = np.where(group < telling, 0.0, 2.0)
        assert bool(too_little(make_pairs(rgb, rgb, group=group, light_spread=spread), OPTIONS)) is not enough
