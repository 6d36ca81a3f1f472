"""The prior of the 3x3 between two cameras."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from huemend.model import Match
from huemend.solve.prior import (
    CAMERA_PAIR,
    PARAMETERS,
    SAME_CAMERA_PAIR,
    WELL_SET_PAIR,
    CameraPairPrior,
    matrix_to_theta,
    theta_jacobian,
    theta_to_matrix,
)

PRIORS = {"general": CAMERA_PAIR, "well set": WELL_SET_PAIR, "same": SAME_CAMERA_PAIR}


def draws(prior: CameraPairPrior, count: int, seed: int = 3) -> np.ndarray:
    """Draw parameters: exposure normal, colour Student-t with the prior's covariance."""
    rng = np.random.default_rng(seed)
    theta = rng.standard_normal((count, 9)) @ np.linalg.cholesky(prior.covariance).T
    theta[:, 1:] *= np.sqrt((prior.dof - 2) / rng.chisquare(prior.dof, count))[:, None]
    return theta


def test_theta_goes_to_a_matrix_and_back() -> None:
    theta = draws(CAMERA_PAIR, 500)
    matrices = theta_to_matrix(theta)
    assert matrices.shape == (500, 3, 3)
    assert_allclose(matrix_to_theta(matrices), theta, atol=1e-12)
    assert_allclose(theta_to_matrix(theta[0]), matrices[0])


def test_the_gauge_is_that_of_a_match() -> None:
    for theta in draws(CAMERA_PAIR, 20):
        match = Match.from_matrix(theta_to_matrix(theta))
        assert match.exposure_stops == pytest.approx(theta[0], abs=1e-12)
        assert match.balance == pytest.approx(tuple(theta[1:3]), abs=1e-12)


def test_a_neutral_sees_only_the_gains() -> None:
    theta = draws(CAMERA_PAIR, 1)[0]
    plain = theta.copy()
    plain[3:] = 0
    assert_allclose(theta_to_matrix(theta) @ np.ones(3), np.diag(theta_to_matrix(plain)))


def test_names_say_where_the_numbers_stand() -> None:
    channel = {"r": 0, "g": 1, "b": 2}
    for index, name in enumerate(PARAMETERS[3:], start=3):
        theta = np.zeros(9)
        theta[index] = 0.01
        into, source = (channel[c] for c in name[-2:])
        change = theta_to_matrix(theta) - np.eye(3)
        assert change[into, source] == pytest.approx(0.01)
        assert change[into, into] == pytest.approx(-0.01)
        assert np.count_nonzero(np.abs(change) > 1e-12) == 2


def test_a_matrix_that_blackens_a_neutral_has_no_theta() -> None:
    with pytest.raises(ValueError, match="neutral"):
        matrix_to_theta(np.diag([1.0, -1.0, 1.0]))


def test_jacobian_agrees_with_differences() -> None:
    theta = draws(CAMERA_PAIR, 1)[0]
    step = 1e-6
    for index in range(9):
        up, down = theta.copy(), theta.copy()
        up[index] += step
        down[index] -= step
        difference = (theta_to_matrix(up) - theta_to_matrix(down)) / (2 * step)
        assert_allclose(theta_jacobian(theta)[..., index], difference, atol=1e-8)


@pytest.mark.parametrize("prior", PRIORS.values(), ids=PRIORS)
def test_covariances_are_positive_definite(prior: CameraPairPrior) -> None:
    assert np.linalg.eigvalsh(prior.covariance).min() > 0
    assert np.linalg.cond(prior.covariance) < 1e6
    assert_allclose(prior.covariance, prior.covariance.T)
    assert prior.dof > 2
    for misfit in prior.misfit.values():
        assert np.linalg.eigvalsh(misfit.covariance).min() > 0
    whitener = prior.whitener
    assert_allclose(whitener @ prior.covariance @ whitener.T, np.eye(9), atol=1e-9)
