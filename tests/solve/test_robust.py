"""The robust fit: what outliers may do, and how sure it says it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from huemend.base.arrays import weighted_median
from huemend.model import Rung
from huemend.options import SolveOptions
from huemend.solve.parameters import FREE
from huemend.solve.prior import CAMERA_PAIR
from huemend.solve.residuals import Samples
from huemend.solve.robust import Estimate, estimate, first_guess, settle
from tests.solve.made_pairs import make_pairs, surfaces

OPTIONS = SolveOptions()
RGB = surfaces(200)


def run(reference: np.ndarray, angle: np.ndarray, rung: Rung = Rung.BALANCE, **said: np.ndarray) -> Estimate:
    return estimate(Samples.of(make_pairs(reference, angle, **said), OPTIONS), rung, CAMERA_PAIR, OPTIONS)


def noisy(seed: int, shading: float = 0.08) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return RGB * np.exp(shading * rng.normal(size=(200, 1))) * (1 + 0.02 * rng.normal(size=(200, 3)))


@pytest.mark.parametrize("share", [0.1, 0.3, 0.4])
def test_a_large_minority_of_wrong_pairs_hardly_moves_it(share: float) -> None:
    rng = np.random.default_rng(5)
    shot = noisy(1) / 2
    wrong = rng.permutation(200)[: int(share * 200)]
    shot[wrong] = surfaces(200, 9)[wrong] * 3
    found = run(RGB, shot)
    assert found.theta[0] == pytest.approx(1.0, abs=0.06)
    assert_allclose(found.theta[1:3], 0, atol=0.06)


def test_the_pull_of_an_outlier_fades_as_it_goes_off() -> None:
    # Student-t is redescending: a pair a hundred times off pulls less than one that is three times off.
    shot = noisy(2)

    def moved(factor: float) -> float:
        off = shot.copy()
        off[:8] *= factor
        return abs(run(RGB, off, Rung.EXPOSURE).theta[0] - run(RGB, shot, Rung.EXPOSURE).theta[0])

    assert moved(1000.0) < moved(1.35)


def test_exposure_comes_to_rest_where_pairs_are_densest() -> None:
    """Two in five places stand in less light for one camera, by up to a stop: all of them on one side."""
    rng = np.random.default_rng(3)
    darker = np.where(np.arange(200) % 5 < 2, rng.uniform(0.1, 0.7, 200), 0.0) + 0.02 * rng.normal(size=200)
    samples = Samples.of(make_pairs(RGB, RGB * np.exp(-darker)[:, None]), OPTIONS)
    found = estimate(samples, Rung.MATRIX, CAMERA_PAIR, OPTIONS)
    settled = settle(found, samples, OPTIONS)
    assert found.theta[0] > 0.06 and abs(settled.theta[0]) < 0.03
    assert settled.theta[0] - found.theta[0] == pytest.approx(settled.settled / np.log(2))
    assert_array_equal(settled.theta[1:], found.theta[1:])
    # A few places have no density, and what is not free does not move.
    few = replace(samples, group=np.arange(200) % 19)
    assert settle(found, few, OPTIONS) is found
    as_shot = estimate(samples, Rung.NONE, CAMERA_PAIR, OPTIONS)
    assert settle(as_shot, samples, OPTIONS) is as_shot


def test_agreement_is_one_for_a_perfect_pair_and_none_for_a_wild_one() -> None:
    shot = RGB.copy()
    shot[0] *= [8, 1, 0.1]
    agree = run(RGB, shot).agree
    assert agree[0] < 0.05
    assert agree[1:].min() > 0.9
    assert agree.max() <= 1 + 1e-9


def test_shading_is_learnt_from_the_pairs_and_held_in_bounds() -> None:
    rough, smooth = run(RGB, noisy(3, 0.2)), run(RGB, noisy(3, 0.02))
    assert smooth.shading < 0.06 < 0.12 < rough.shading < 0.3
    low, high = OPTIONS.shading_bounds
    assert low <= run(RGB, RGB).shading and run(RGB, noisy(4, 1.5)).shading <= high


def test_what_is_not_free_stays_at_nought() -> None:
    found = run(RGB * [1.3, 1, 0.8], RGB, Rung.EXPOSURE)
    assert_array_equal(found.theta[1:], 0)
    assert_array_equal(found.covariance[1:], 0)
    assert_array_equal(run(2 * RGB, RGB, Rung.NONE).theta, 0)


def test_it_says_how_far_it_may_be_off() -> None:
    # 90 % intervals over repeated draws: the spread of the results must be about what each one says of itself.
    found = [run(RGB, noisy(seed, 0.1)) for seed in range(30)]
    actual = np.std([one.theta[:3] for one in found], axis=0)
    said = np.mean([np.sqrt(np.diag(one.covariance)[:3]) for one in found], axis=0)
    assert (said > 0.6 * actual).all(), said / actual
    assert (said < 5 * actual).all(), said / actual


def test_pairs_that_err_together_make_it_less_sure() -> None:
    # The sandwich over groups (Liang & Zeger 1986): copies of one witness are one witness.
    rng = np.random.default_rng(6)
    common = np.repeat(np.exp(0.15 * rng.normal(size=(20, 1))), 10, axis=0)
    together = run(RGB, RGB * common, group=np.arange(200) // 10)
    apart = run(RGB, RGB * rng.permutation(common), group=np.arange(200) // 10)
    assert together.covariance[0, 0] > 2 * apart.covariance[0, 0]


def test_a_covariance_is_symmetric_and_positive() -> None:
    covariance = run(RGB, noisy(7), Rung.MATRIX).covariance[:9, :9]
    assert_allclose(covariance, covariance.T, atol=1e-12)
    assert np.linalg.eigvalsh(covariance).min() > 0


def test_few_pairs_are_held_by_the_prior() -> None:
    few = make_pairs(RGB[:3] * [1.0, 1.0, 1.1], RGB[:3], group=np.arange(3), weight=np.full(3, 0.05))
    held = estimate(Samples.of(few, OPTIONS), Rung.MATRIX, CAMERA_PAIR, OPTIONS)
    sure = estimate(Samples.of(replace(few, weight=np.full(3, 50.0)), OPTIONS), Rung.MATRIX, CAMERA_PAIR, OPTIONS)
    assert CAMERA_PAIR.distance(held.theta[:9]) < CAMERA_PAIR.distance(sure.theta[:9])


def test_the_weighted_median_halves_the_weight() -> None:
    assert weighted_median(np.array([3.0, 1.0, 2.0]), np.array([1.0, 1.0, 1.0])) == 2
    assert weighted_median(np.array([3.0, 1.0, 2.0]), np.array([9.0, 1.0, 1.0])) == 3


def test_the_first_guess_finds_the_common_exposure_among_scattered_ones() -> None:
    rng = np.random.default_rng(8)
    shot = RGB / 2**1.5
    shot[:110] *= 2 ** rng.uniform(-4, 4, (110, 1))
    guess = first_guess(Samples.of(make_pairs(RGB, shot), OPTIONS), FREE[Rung.EXPOSURE])
    assert guess[0] == pytest.approx(1.5, abs=0.1)
