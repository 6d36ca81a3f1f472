"""The values between the stages: frozen, and a match that does what physics says."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from huemend.base.units import AP1_LUMINANCE
from huemend.model import Match, NoFit, Reason, Verdict, pivot_contrast
from tests.solve.made_pairs import MIX, make_pairs, surfaces

RGB = surfaces(50)


@pytest.mark.parametrize("kind", [np.float32, np.float64, np.float16])
def test_an_identity_changes_no_bit(kind: type) -> None:
    rgb = RGB.astype(kind)
    assert Match().is_identity
    assert Match().apply(rgb) is rgb


@pytest.mark.parametrize(
    "match",
    [
        Match(exposure_stops=1e-9),
        Match(matrix=np.eye(3) * (1 + 1e-9)),
        Match(flare=np.full(3, 1e-9)),
        Match(contrast=1 + 1e-9),
    ],
)
def test_anything_else_is_none(match: Match) -> None:
    assert not match.is_identity


def test_an_exposure_is_one_gain_on_light() -> None:
    # A stop is a factor of two (common practice, no source).
    assert_allclose(Match(exposure_stops=-1.0).apply(RGB), RGB / 2)


def test_rows_that_sum_to_one_leave_greys() -> None:
    grey = np.geomspace(0.001, 50, 20)[:, None] * np.ones(3)
    assert_allclose(Match(matrix=MIX).apply(grey), grey, rtol=1e-12)


def test_the_order_is_flare_then_matrix_then_exposure() -> None:
    match = Match(exposure_stops=1.0, matrix=MIX, flare=np.array([0.01, 0.02, 0.03]))
    assert_allclose(match.apply(RGB), 2 * (RGB - [0.01, 0.02, 0.03]) @ MIX.T)


def test_a_matrix_acts_on_columns() -> None:
    matrix = np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    matrix[0, 2] = 0.5
    assert_allclose(Match(matrix=matrix).apply(np.array([1.0, 2.0, 4.0])), [4.0, 1.0, 4.0])


@pytest.mark.parametrize("gain", [0.25, 1.0, 3.7])
def test_the_gauge_parts_exposure_from_balance(gain: float) -> None:
    balanced = MIX * np.array([[1.2], [1.0], [0.8]])
    match = Match.from_matrix(gain * balanced)
    assert AP1_LUMINANCE @ match.matrix @ np.ones(3) == pytest.approx(AP1_LUMINANCE.sum())
    assert_allclose(match.combined, gain * balanced, rtol=1e-12)
    assert_allclose(match.balance, np.log2([1.2, 0.8]), atol=1e-12)


def test_contrast_turns_about_mid_grey() -> None:
    # 18 % is the pivot; above the toe ACEScct is a logarithm, so that light over the pivot gets a power.
    assert_allclose(pivot_contrast(np.full(3, 0.18), 1.3), 0.18)
    assert_allclose(pivot_contrast(np.array([0.36, 0.72]), 1.5), 0.18 * np.array([2, 4]) ** 1.5)


@pytest.mark.parametrize("matrix", [-np.eye(3), np.zeros((3, 3))])
def test_a_neutral_must_keep_light(matrix: np.ndarray) -> None:
    with pytest.raises(ValueError, match="neutral"):
        Match.from_matrix(matrix)


@pytest.mark.parametrize(
    "said", [{"matrix": np.eye(4)}, {"flare": np.zeros(2)}, {"matrix": np.full((3, 3), np.nan)}]
)
def test_what_is_no_match_is_refused(said: dict[str, np.ndarray]) -> None:
    with pytest.raises(ValueError):
        Match(**said)  # type: ignore[arg-type]


def test_values_are_frozen_and_apart_from_their_source() -> None:
    source = MIX.copy()
    match = Match(matrix=source)
    source[0, 0] = 9
    assert match.matrix[0, 0] == MIX[0, 0]
    with pytest.raises(ValueError, match="read-only"):
        match.matrix[0, 0] = 2
    with pytest.raises(FrozenInstanceError):
        match.contrast = 2.0  # type: ignore[misc]


def test_a_view_of_a_writable_array_is_copied() -> None:
    source = np.tile(MIX, (2, 1, 1))
    view = source[0]
    view.setflags(write=False)
    match = Match(matrix=view)
    source[0] = 0
    assert_array_equal(match.matrix, MIX)


def test_pairs_fill_in_what_is_left_out() -> None:
    pairs = make_pairs(RGB, RGB)
    assert len(pairs) == 50
    assert not pairs.by_hand.any() and len(pairs.by_hand) == 50
    spread = np.where(np.arange(50) < 10, 5.0, 0.0)
    assert replace(pairs, light_spread=spread).says_light.sum() == 40


def test_no_fit_is_falsy_and_verdicts_read_as_words() -> None:
    assert not NoFit(reasons=(Reason(code="nothing-shared", text="nothing"),))
    assert f"{Verdict.REVIEW}" == "review"
