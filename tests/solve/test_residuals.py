"""What a match leaves unexplained: shading apart from balance, and the derivative that the fit rests on."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from huemend.options import SolveOptions
from huemend.solve.parameters import CONTRAST, PARAMETER_COUNT
from huemend.solve.residuals import Samples, opponent
from tests.solve.made_pairs import make_pairs, surfaces

RGB = surfaces(60)
OPTIONS = SolveOptions()


def test_shading_moves_luminance_alone() -> None:
    # Shading scales all channels alike (common practice, no source).
    plain, shaded = opponent(RGB), opponent(0.5 * RGB)
    assert_allclose(shaded[:, 0] - plain[:, 0], np.log(0.5))
    assert_allclose(shaded[:, 1:], plain[:, 1:])


def test_a_neutral_has_luminance_and_equal_shares() -> None:
    assert_allclose(opponent(np.full((1, 3), 0.18)), [[np.log(0.18), 1, 1]], atol=1e-7)


def test_the_true_parameters_leave_nothing() -> None:
    theta = np.zeros(PARAMETER_COUNT)
    theta[0], theta[9:12] = 1.0, 0.01
    samples = Samples.of(make_pairs(2 * (RGB - 0.01), RGB), OPTIONS)
    assert_allclose(samples.residual(theta), 0, atol=1e-9)
    assert np.abs(samples.residual(np.zeros(PARAMETER_COUNT))).max() > 0.5


def test_the_jacobian_is_the_derivative_by_differences() -> None:
    theta = np.random.default_rng(1).normal(0, 0.03, PARAMETER_COUNT)
    theta[9:12] *= 0.1
    samples = Samples.of(make_pairs(RGB, RGB), OPTIONS)
    jacobian = samples.jacobian(theta, np.arange(PARAMETER_COUNT))
    for k in range(PARAMETER_COUNT):
        step = np.zeros(PARAMETER_COUNT)
        step[k] = 1e-6
        # Residual is target minus prediction, hence the order.
        numeric = (samples.residual(theta - step) - samples.residual(theta + step)) / 2e-6
        assert_allclose(jacobian[k].T, numeric, rtol=1e-5, atol=1e-6)
    assert_allclose(samples.jacobian(theta, np.array([2, 5])), jacobian[[2, 5]], rtol=1e-12, atol=1e-15)


def test_the_jacobian_computes_with_nothing_that_memory_held(monkeypatch: pytest.MonkeyPatch) -> None:
    """New memory may hold anything, a signalling NaN too (IEEE 754-2019, 6.2), of which any product warns."""
    light = surfaces(40)
    samples = Samples.of(make_pairs(light, light * 0.8), SolveOptions())
    theta = np.linspace(-0.02, 0.02, PARAMETER_COUNT)
    free = np.r_[np.arange(9), CONTRAST]
    plain = samples.jacobian(theta, free)

    def left_over(shape: tuple[int, ...]) -> np.ndarray:
        return np.full(shape, 0x7FF0000000000001, np.uint64).view(np.float64)

    monkeypatch.setattr("huemend.solve.residuals.np.empty", left_over)
    assert_array_equal(samples.jacobian(theta, free), plain)


@pytest.mark.parametrize("free", [*map(np.arange, (1, 3, 9, 12)), np.r_[np.arange(9), 12]])
def test_the_normal_equations_are_those_of_the_jacobian(free: np.ndarray) -> None:
    # Outside check: the definition of JᵀWJ and JᵀWr (any textbook of least squares), with a J checked above.
    rng = np.random.default_rng(2)
    theta = np.zeros(PARAMETER_COUNT)
    theta[free] = rng.normal(0, 0.03, len(free))
    samples = Samples.of(make_pairs(1.3 * RGB, RGB), OPTIONS)
    jacobian, residual = samples.jacobian(theta, free), samples.residual(theta)
    of_luminance, of_chroma = rng.uniform(0, 9, (2, len(samples)))
    weighted = jacobian * np.stack([of_luminance, of_chroma, of_chroma])
    hessian, gradient = samples.normal_equations(theta, free, residual, of_luminance, of_chroma)
    assert_allclose(hessian, np.einsum("ain,bin->ab", weighted, jacobian), rtol=1e-9, atol=1e-9)
    assert_allclose(gradient, np.einsum("ain,ni->a", weighted, residual), rtol=1e-9, atol=1e-9)


def test_taking_some_takes_them_of_every_array() -> None:
    samples = Samples.of(make_pairs(RGB, RGB), OPTIONS)
    some = samples.take(np.array([5, 1]))
    assert len(some) == 2
    assert_array_equal(some.rgb, RGB[[5, 1]])
    assert_array_equal(some.group, samples.group[[5, 1]])


def test_many_pairs_count_no_more_than_the_bound() -> None:
    many = make_pairs(RGB, RGB, weight=np.full(60, 50.0))
    weight = Samples.of(many, OPTIONS).weight
    bound = OPTIONS.most_effective
    assert weight.sum() <= 1.5 * bound
    assert_allclose(weight, Samples.of(make_pairs(RGB, RGB, weight=np.full(60, bound / 60)), OPTIONS).weight)


@pytest.mark.parametrize("spread", [0.0, 0.4])
def test_doubt_about_light_adds_to_luminance_alone(spread: float) -> None:
    plain = Samples.of(make_pairs(RGB, RGB), OPTIONS)
    doubtful = Samples.of(make_pairs(RGB, RGB, light_spread=np.full(60, spread)), OPTIONS)
    assert_allclose(doubtful.luminance_noise, plain.luminance_noise + spread**2)
    assert_array_equal(doubtful.chroma_noise, plain.chroma_noise)


@pytest.mark.parametrize("contrast", [-0.2, 0.0, 0.3])
def test_slopes_by_contrast_are_those_of_differences(contrast: float) -> None:
    # Outside check: numpy's central differences of the prediction itself.
    rgb = np.random.default_rng(3).uniform(0.001, 0.9, (40, 3))
    samples = Samples.of(make_pairs(rgb, rgb), SolveOptions())
    theta = np.random.default_rng(4).normal(0, 0.05, PARAMETER_COUNT)
    theta[9:12], theta[12] = 0.0, contrast
    free = np.r_[np.arange(9), 12]
    slope = samples.jacobian(theta, free)
    for column, parameter in enumerate(free):
        step = np.zeros(PARAMETER_COUNT)
        step[parameter] = 1e-5
        by_difference = (opponent(samples.predict(theta + step)) - opponent(samples.predict(theta - step))) / 2e-5
        assert_allclose(slope[column].T, by_difference, atol=2e-4)
