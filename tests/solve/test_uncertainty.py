"""How far the truth may lie from the match, in stops and in colour difference."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import binom, norm

from huemend.model import Rung
from huemend.options import SolveOptions
from huemend.solve.parameters import to_match
from huemend.solve.prior import CAMERA_PAIR
from huemend.solve.residuals import Samples
from huemend.solve.robust import estimate
from huemend.solve.uncertainty import _SKIN, spread
from huemend.view import delta_e2000, measurement_lab, tinted
from tests.solve.certain import NO_UNCERTAINTY
from tests.solve.made_pairs import make_pairs, surfaces

# Scatter alone, without the errors that all pairs share.
SCATTER = SolveOptions(systematic=(0.0, 0.0, 0.0))


def only(index: int, deviation: float) -> np.ndarray:
    covariance = np.zeros((12, 12))
    covariance[index, index] = deviation**2
    return covariance


def errors(covariance: np.ndarray) -> np.ndarray:
    found = spread(np.zeros(12), covariance, SCATTER)
    return np.array([found.skin_error, found.neutral_error, found.saturated_error])


def test_an_interval_holds_ninety_per_cent() -> None:
    theta = np.zeros(12)
    theta[0] = 0.7
    interval = spread(theta, only(0, 0.1), SCATTER).exposure_stops
    # scipy's normal distribution.
    assert_allclose((interval.low, interval.high), norm.interval(0.9, 0.7, 0.1), atol=1e-12)


def test_nothing_unknown_is_no_error() -> None:
    assert_allclose(errors(np.zeros((12, 12))), 0, atol=1e-9)
    assert NO_UNCERTAINTY == spread(np.zeros(12), np.zeros((12, 12)), SCATTER)


@pytest.mark.parametrize("index", range(12))
def test_more_unknown_is_more_error(index: int) -> None:
    little, much = errors(only(index, 0.01)), errors(only(index, 0.05))
    assert (much >= little).all() and much.max() > 2 * little.max()


def test_a_mix_that_keeps_greys_is_no_error_of_neutrals() -> None:
    covariance = sum((only(index, 0.03) for index in range(3, 9)), np.zeros((12, 12)))
    skin, neutral, saturated = errors(covariance)
    assert neutral < 0.01 < 0.5 < min(skin, saturated)


def test_the_errors_do_not_depend_on_the_match_itself() -> None:
    # The surfaces are given as the hero sees them, so an exposure of the angle cancels.
    bright = np.zeros(12)
    bright[0] = 2.0
    found = spread(bright, only(0, 0.05), SCATTER)
    assert found.skin_error == pytest.approx(errors(only(0, 0.05))[0], rel=1e-6)


def test_the_same_seed_gives_the_same_numbers() -> None:
    covariance = only(1, 0.05)
    assert spread(np.zeros(12), covariance, SCATTER) == spread(np.zeros(12), covariance, SCATTER)


def test_errors_that_all_pairs_share_add_to_their_scatter() -> None:
    options = SolveOptions(systematic=(0.03, 0.0, 0.0))
    interval = spread(np.zeros(12), only(0, 0.04), options).exposure_stops
    assert_allclose((interval.low, interval.high), norm.interval(0.9, 0.0, 0.05), atol=1e-12)
    assert spread(np.zeros(12), np.zeros((12, 12)), options).neutral_error > 0


@pytest.mark.parametrize("taken", [-0.4, 0.0, 0.9])
def test_no_interval_excludes_the_match_that_was_taken(taken: float) -> None:
    """A simpler match was taken, whose exposure lies outside of what the full 3x3 says of it."""
    theta, simpler = np.zeros(12), np.zeros(12)
    theta[0], simpler[0] = 0.41, taken
    found = spread(theta, only(0, 0.1), SCATTER, taken=simpler)
    assert found.exposure_stops.low <= min(taken, 0.41) and max(taken, 0.41) <= found.exposure_stops.high
    # And what it is off by on colours is its own.
    assert found.skin_error > spread(theta, only(0, 0.1), SCATTER).skin_error


def test_a_predicted_error_is_met_nineteen_times_of_twenty() -> None:
    # An unsure exposure moves skin by a colour difference that is in proportion to it: 95 % of a normal
    # distribution lies within 1.96 standard deviations (scipy); 64 draws know that to about a sixth.
    skin = np.array([[0.470, 0.318, 0.222], [0.143, 0.093, 0.062]])
    per_stop = float(delta_e2000(measurement_lab(skin * 2**0.01), measurement_lab(skin)).mean()) / 0.01
    assert errors(only(0, 0.03))[0] == pytest.approx(norm.interval(0.95)[1] * 0.03 * per_stop, rel=0.25)


@pytest.mark.slow
def test_the_bound_on_skin_holds_in_nine_of_ten() -> None:
    """Kinds of surfaces lie off any 3x3 by four fifths of what single pairs do, and skin is one kind more."""
    options, drawn, held = SolveOptions(), 60, 0
    matrix = 2**0.4 * np.array([[1.08, -0.03, 0.0], [0.0, 0.97, 0.01], [0.0, 0.02, 0.9]])
    for seed in range(drawn):
        random = np.random.default_rng(seed)
        kind = np.arange(120) // 4
        rgb = surfaces(30, seed)[kind]
        off = (0.016 * random.normal(size=(30, 2)))[kind] + 0.012 * random.normal(size=(120, 2))
        pairs = make_pairs(
            tinted(rgb @ matrix.T * np.exp(0.1 * random.normal(size=(120, 1))), off), rgb, group=kind
        )
        found = estimate(Samples.of(pairs, options), Rung.MATRIX, CAMERA_PAIR, options)
        told = spread(found.theta, found.covariance, options, misfit_ratio=found.misfit_ratio)
        hero = tinted(_SKIN, 0.016 * random.normal(size=(len(_SKIN), 2)))
        matched = to_match(found.theta, Rung.MATRIX).apply(_SKIN @ np.linalg.inv(matrix).T)
        held += delta_e2000(measurement_lab(matched), measurement_lab(hero)).mean() <= told.skin_error
    # What nine of ten gives by chance (scipy's binomial distribution); without kinds it holds in six of ten.
    assert held >= binom.ppf(0.01, drawn, 0.9)
