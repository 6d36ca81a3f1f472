"""The robust fit: Student-t loss, prior, and the scales of shading and misfit learnt on the way."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from huemend.base.arrays import Float, Float64, Int, numbered, weighted_median
from huemend.base.units import MODE_KERNEL
from huemend.model import Rung
from huemend.model.learnt import Learnt
from huemend.options import SolveOptions
from huemend.solve.hues import unfolded
from huemend.solve.parameters import CONTRAST, FLARE, FREE, MATRIX, PARAMETER_COUNT, ROOTS
from huemend.solve.prior import CameraPairPrior
from huemend.solve.residuals import Samples

_ROUNDS = 40
# Stops and shares of light: a step that small moves a colour by a hundredth of a 10-bit code.
_DONE = 1e-4
# Shading and misfit creep to where they belong, a fifth of the way at a time or two. Longer strides arrive in
# three quarters of the rounds (over-relaxation: docs/maths.md, after equation 12).
_STRIDE = 1.5
# Flare has tails as heavy as the loss (Student-t with one degree of freedom, in three dimensions): a good lens has
# next to none, and a fogged one any amount.
_VEIL = 4.0
# Shares of the mean light that flare may start from: a good lens's, light and thick haze; chosen on some samples.
_VEILS, _CHOOSING = (0.0, 0.08, 0.25), 600
# In the first guess of exposure a pair counts half from that spread of light on, and that far off the balance.
_HALF_LIGHT, _HALF_BALANCE = 0.12, 0.15
# Natural logarithm of light about which exposure comes to rest at last, and places without which it does not.
_NEAR, _FEW = 0.05, 20
# Scatter of chroma before any is seen, as a multiple of what the options expect, and what it may become.
_MISFIT_START, _MISFIT_BOUNDS = 1.5, (0.4, 4.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Estimate:
    """Where the fit came to rest."""

    #: (22,) float64.
    theta: Float
    #: (22, 22) float64. Of the free parameters; zero elsewhere.
    covariance: Float
    #: (n,) float64. 1 for a sample that the match explains perfectly, one half at a squared residual of
    #: ``options.agreeing`` of the learnt scales, towards 0 for one that has nothing to do with it.
    agree: Float
    #: Standard deviation of ln luminance between the views.
    shading: float
    #: Chroma scatter as a multiple of what the options expect.
    misfit_ratio: float
    #: Natural logarithm of light by which its exposure was settled.
    settled: float = 0.0

    @property
    def learnt(self) -> Learnt:
        """What it says of the two cameras."""
        return Learnt(theta=self.theta[MATRIX], covariance=self.covariance[MATRIX, MATRIX])


def first_guess(samples: Samples, free: Int, flare: Float | float = 0.0) -> Float64:
    """Flare as given; balance from medians of channel ratios.

    Exposure is the mode of the light of those pairs that share the balance.

    The luminance ratio of wrong pairs is spread over stops; its mode is not moved by them, a mean would be. Pairs
    whose light may differ count for little there.
    """
    theta = np.zeros(PARAMETER_COUNT)
    theta[FLARE] = flare
    ours = samples.target
    theirs = ours - samples.residual(theta)
    shift = np.log2(np.maximum(ours[:, 1:], 1e-3) / np.maximum(theirs[:, 1:], 1e-3))
    for parameter, column in ((1, 0), (2, 1)):
        if parameter in free:
            theta[parameter] = np.clip(weighted_median(shift[:, column], samples.weight), -0.8, 0.8)
    if 0 in free:
        residual = samples.residual(theta)
        telling = samples.weight / (1 + np.square(samples.light_spread / _HALF_LIGHT))
        alike = telling / (1 + np.square(residual[:, 1:] / _HALF_BALANCE).sum(1))
        theta[0] = _mode(residual[:, 0] / np.log(2), alike)
    return theta


def _mode(stops: Float, weight: Float) -> float:
    """Return where the weighted density of exposures is highest: bins of 0.02 stop under a Gaussian."""
    step, most, kernel = 0.02, 6.0, MODE_KERNEL
    count = round(2 * most / step) + 1
    at = np.clip(np.rint((stops + most) / step), 0, count - 1).astype(int)
    offsets = np.arange(-round(4 * kernel / step), round(4 * kernel / step) + 1) * step
    bell = np.exp(-0.5 * np.square(offsets / kernel))
    density = np.convolve(np.bincount(at, weight, count), bell, "same")
    return float(np.argmax(density) * step - most)


def estimate(
    samples: Samples,
    rung: Rung,
    prior: CameraPairPrior,
    options: SolveOptions,
    *,
    flare_unit: float | None = None,
    flare_start: Float | float | None = None,
) -> Estimate:
    """Fit the parameters of a rung (docs/maths.md, equations 8 to 12); the others stay at 0.

    ``flare_unit`` is the mean light of the angle's picture, scene-linear, in which the prior counts flare: that of
    the samples where it is left out. Flare starts from ``flare_start``, (3,) or 0. Where that is left out, of
    several veils the likeliest is taken, chosen on some of the samples: from none, surfaces that a veil hides are
    wrong pairs, and stay so.
    """
    if rung is not Rung.FLARE:
        return _estimate(samples, FREE[rung], prior, options, flare_unit=0.0, flare_start=0.0)
    unit = samples.mean_light if flare_unit is None else flare_unit

    def fitted(those: Samples, start: Float | float) -> Estimate:
        return _estimate(those, FREE[rung], prior, options, flare_unit=unit, flare_start=start)

    if flare_start is not None:
        return fitted(samples, flare_start)

    def tried(those: Samples, start: Float) -> tuple[float, Estimate]:
        found = fitted(those, start)
        return float(those.weight @ surprise(those, found, options)), found

    some = samples.take(np.linspace(0, len(samples) - 1, min(len(samples), _CHOOSING)).astype(int))
    starts = np.multiply.outer(_VEILS, np.average(some.rgb, axis=0, weights=some.weight))
    best = int(np.argmin([tried(some, start)[0] for start in starts]))
    return min((tried(samples, starts[each]) for each in {0, best}), key=lambda found: found[0])[1]


def _estimate(
    samples: Samples,
    free: Int,
    prior: CameraPairPrior,
    options: SolveOptions,
    *,
    flare_unit: float,
    flare_start: Float | float,
) -> Estimate:
    """Fit the ``free`` parameters, whose indices ascend."""
    theta = first_guess(samples, free, flare_start)
    shading, misfit_ratio = options.shading_start, _MISFIT_START
    places = len(np.unique(samples.group))
    precision = np.zeros((PARAMETER_COUNT, PARAMETER_COUNT))
    colour_precision = np.linalg.inv(np.asarray(prior.covariance, float))
    flare_sd = max(prior.flare_sd * flare_unit, 1e-6)
    flare_precision = np.eye(3) / flare_sd**2
    precision[CONTRAST, CONTRAST] = 1 / options.contrast_sd**2
    roots_precision = np.linalg.inv(np.asarray(prior.roots_covariance, float))
    block = np.ix_(free, free)
    for _ in range(_ROUNDS):
        residual = samples.residual(theta)
        variance, distance, part = t_weights(samples, residual, shading, misfit_ratio, options)
        if len(free):
            linearised_at = theta.copy()
            of_light, of_colour = part / variance.T[:2]
            hessian, gradient = samples.normal_equations(theta, free, residual, of_light, of_colour)
            precision[MATRIX, MATRIX] = colour_precision
            precision[1:9, 1:9] *= prior.weight(theta[MATRIX])
            precision[ROOTS, ROOTS] = roots_precision * prior.roots_weight(theta[ROOTS])
            veil = float(np.square(theta[FLARE] / flare_sd).sum())
            precision[FLARE, FLARE] = flare_precision * (_VEIL / (_VEIL + veil))
            of_prior = precision[block]
            offset = theta[free].copy()
            offset[free < MATRIX.stop] -= prior.mean[free[free < MATRIX.stop]]
            step = np.linalg.solve(hessian + of_prior, gradient - of_prior @ offset)
            theta[free] += step
            moved = float(np.abs(step).max())
        else:
            moved = 0.0
        before = shading, misfit_ratio
        aims = scales(samples, residual, part, before, places, options)
        shading, misfit_ratio = (
            _clamped(old * (aim / old) ** _STRIDE, bounds)
            for old, aim, bounds in zip(before, aims, (options.shading_bounds, _MISFIT_BOUNDS), strict=True)
        )
        settled = abs(shading - before[0]) < 1e-4 and abs(misfit_ratio - before[1]) < 1e-3
        if moved < _DONE and settled:
            break
    covariance = np.zeros((PARAMETER_COUNT, PARAMETER_COUNT))
    if len(free):
        weighted = residual * part[:, None] / variance
        covariance[block] = _sandwich(samples, samples.jacobian(linearised_at, free), weighted, hessian, of_prior)
    return Estimate(
        theta=unfolded(theta),
        covariance=covariance,
        agree=1 / (1 + distance / options.agreeing),
        shading=shading,
        misfit_ratio=misfit_ratio,
    )


def settle(found: Estimate, samples: Samples, options: SolveOptions) -> Estimate:
    """Move exposure to where the samples of an estimate lie densest (docs/maths.md, equation 12b).

    Places in other light than in the other view mostly err to one side, and draw an exposure that is as broad as
    their scatter. The colours, and which pairs agree, stay.
    """
    places = len(np.unique(samples.group))
    if not found.covariance[0, 0] or samples.beside.any() or places < _FEW:
        return found
    light = samples.residual(found.theta)[:, 0]
    weight = samples.weight / (1 + np.square(samples.light_spread / _HALF_LIGHT))
    weight[found.agree <= 0.5] = 0.0
    near, centre = max(_NEAR, 2 * found.shading / np.sqrt(places)), 0.0
    for _ in range(_ROUNDS):
        part = weight / (1 + np.square((light - centre) / near))
        before, centre = centre, float(part @ light / max(float(part.sum()), 1e-12))
        if abs(centre - before) < _DONE:
            break
    theta = np.array(found.theta)
    theta[0] += centre / np.log(2) / np.exp(theta[CONTRAST])
    return replace(found, theta=theta, settled=centre)


def scales(
    samples: Samples,
    residual: Float,
    part: Float,
    before: tuple[float, float],
    places: int,
    options: SolveOptions,
) -> tuple[float, float]:
    """Return shading and misfit, estimated anew from what the present match leaves.

    A handful of pairs can be met almost exactly by nine parameters, which says nothing of how well such pairs
    agree as a rule: the first guess counts like ``scale_places`` places (a scaled inverse chi-squared prior).
    """
    # Areas drawn by hand beside found pairs ask for no more than what goes beyond their noise: that they agree so
    # well tells nothing. Nor does a pair that says itself that its light may differ tell of light elsewhere.
    weight, part = (np.where(samples.beside, 0.0, each) for each in (samples.weight, part))
    telling = 1 / (1 + np.square(samples.light_spread / before[0]))
    total = (weight * telling).sum()
    own = places / (places + options.scale_places)
    first = options.shading_start**2
    seen = (part * telling * np.square(residual[:, 0])).sum() / total if total > 0 else first
    shading = _clamped(np.sqrt(own * seen + (1 - own) * first), options.shading_bounds)
    unit = variances(samples, shading, 1.0, options)[:, 1]
    chroma = np.square(residual[:, 1:])
    left = (part * (chroma[:, 0] + chroma[:, 1]) / (2 * unit)).sum() / max(weight.sum(), 1e-9)
    misfit_ratio = _clamped(np.sqrt(own * left + (1 - own) * _MISFIT_START**2), _MISFIT_BOUNDS)
    return shading, misfit_ratio


def _clamped(value: float, bounds: tuple[float, float]) -> float:
    return min(max(float(value), bounds[0]), bounds[1])


def variances(samples: Samples, shading: float, misfit_ratio: float, options: SolveOptions) -> Float64:
    """Return the variances of each residual's three parts, (n, 3), that shading, misfit and noise allow."""
    luminance = shading**2 + samples.luminance_noise
    chroma = misfit_ratio**2 * (options.misfit**2 + samples.chroma_noise)
    return np.stack([luminance, chroma, chroma]).T


def t_weights(
    samples: Samples, residual: Float, shading: float, misfit_ratio: float, options: SolveOptions
) -> tuple[Float64, Float64, Float64]:
    """Return `variances`, each sample's squared distance in them, and what it counts (Student-t), (n,) each."""
    variance = variances(samples, shading, misfit_ratio, options)
    square = np.square(residual)
    distance = square[:, 0] / variance[:, 0] + (square[:, 1] + square[:, 2]) / variance[:, 1]
    part = samples.weight * (options.tails + 3) / (options.tails + distance)
    return variance, np.asarray(distance, float), np.asarray(part, float)


def surprise(samples: Samples, found: Estimate, options: SolveOptions) -> Float64:
    """Return the negative log likelihood of each sample under an estimate, up to a constant, (n,)."""
    residual = samples.residual(found.theta)
    variance, distance, _ = t_weights(samples, residual, found.shading, found.misfit_ratio, options)
    spread = 0.5 * np.log(variance[:, 0]) + np.log(variance[:, 1])
    return np.asarray(spread + 0.5 * (options.tails + 3) * np.log1p(distance / options.tails), float)


def _sandwich(samples: Samples, jacobian: Float, weighted: Float, hessian: Float, prior: Float) -> Float64:
    """Covariance that does not believe pairs of one group to be independent (Liang & Zeger 1986).

    ``weighted`` is the residual times its weights, (n, 3).
    """
    score = (jacobian * weighted.T).sum(1).T
    groups = numbered(samples.group)
    count = int(groups.max()) + 1
    summed = np.zeros((count, score.shape[1]))
    np.add.at(summed, groups, score)
    bread = np.linalg.inv(hessian + prior)
    # Few groups understate the spread; the usual small-sample factor.
    meat = summed.T @ summed * count / max(count - 1, 1)
    robust = np.asarray(bread @ (meat + prior) @ bread, np.float64)
    # The weights already discount crowded cells, so the model's own information is a lower bound to respect. The
    # less sure of the two is taken, mostly of exposure: its stops are the largest numbers in either.
    return robust if np.trace(robust) > np.trace(bread) else np.asarray(bread, np.float64)
