"""A match by colours alone, for views so far apart that no surface is found in both (docs/maths.md, section 11).

One-sided: what the angle shows must be found in the hero, not the reverse, since a hero shows more than an angle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from huemend.base.arrays import Bool, Float, Float32, Float64, Int
from huemend.base.units import AP1_LUMINANCE
from huemend.model import Interval, Match, NoFit, PairedColours
from huemend.model.fit import ColourFit
from huemend.model.reasons import Code
from huemend.model.stills import Regions
from huemend.options import ColourOptions, SolveOptions
from huemend.solve.parameters import MATRIX, PARAMETER_COUNT
from huemend.solve.prior import CAMERA_PAIR, theta_to_matrix
from huemend.solve.uncertainty import spread

# The grid of (log2 G, log2 R/G, log2 B/G): its step, its lowest corner and its size. Light beyond is outside of
# what cameras record; ratios beyond cannot occur, given the least channel below and how far a match reaches.
_STEP = np.array([0.1, 0.04, 0.04])
_LOWEST = np.array([-10.0, -4.2, -4.2])
_SIZE = np.array([170, 211, 211])
#: Standard deviations after which a Gaussian ends.
_REACH = 3.0
# A channel below this share of the largest is mostly channel mix and noise.
_LEAST_CHANNEL = 0.1


def fit_colours(hero: Regions, angle: Regions, options: ColourOptions, solve: SolveOptions) -> ColourFit | NoFit:
    """Find exposure and balance with which the hero's colours hold those of the angle.

    `NoFit` if the angle shows too few colours or the hero does not hold them. ``solve`` says how uncertainty
    is told.
    """
    if not len(hero) or not len(angle):
        why = "one of the two views shows nothing that can be measured"
        return NoFit(reasons=(Code.FEW_COLOURS.because(why=why),))
    place = _places(angle.rgb)
    weight, colours = _angle_weight(place, angle.area, options)
    if colours < options.fewest_colours:
        return NoFit(reasons=(Code.FEW_COLOURS.because(why="the angle shows too few colours to be told by them"),))
    chances = _Hero.of(hero, options)
    shift, likelihood = _search(place, weight, chances.score, options)
    posterior = _posterior(shift, likelihood, options)
    theta, covariance = _moments(shift, posterior, options)
    found = chances.hold(place + _shift_of(theta, options), weight, options)
    if found < options.least_found:
        return NoFit(
            reasons=(Code.COLOURS_APART.because(why=f"the hero shows only {found:.0%} of this angle's colours"),)
        )
    # A guess that overshoots is worse than none; one that stops short is not.
    shrunk, left = options.shrinkage * theta, (1 - options.shrinkage) * theta
    return ColourFit(
        match=Match.from_matrix(theta_to_matrix(shrunk[MATRIX])),
        uncertainty=spread(shrunk, covariance + np.outer(left, left), solve),
        found=found,
        explained=f"by colours alone: {options.shrinkage:.0%} of the way to the exposure and balance that let the "
        "hero hold what this angle shows, and the channel mix that usually comes with such a balance",
    )


def allowed_exposure(
    found: ColourFit | NoFit, pairs: PairedColours, used: Bool, options: ColourOptions
) -> Interval | None:
    """Return the stops of exposure that colours allow a match, wider the more places agree with it.

    A few wrong pairs agree by chance, hundreds of places do not; the colours of two pictures (``found``, of
    both whole ones) are no such thing as sure either, where one of them clips, or shows another person. None
    where they say nothing.
    """
    if isinstance(found, NoFit):
        return None
    said = found.uncertainty.exposure_stops
    places = len(np.unique(pairs.group[used & pairs.says_light]))
    return Interval.about(said.middle, said.half * (1 + places / options.thin_places))


def _places(rgb: Float) -> Float64:
    """Return (log2 G, log2 R/G, log2 B/G), (n, 3): exposure and balance move all of them alike."""
    safe = np.maximum(rgb, _LEAST_CHANNEL * rgb.max(1, keepdims=True))
    green = np.log2(safe[:, 1])
    return np.stack([green, np.log2(safe[:, 0]) - green, np.log2(safe[:, 2]) - green], 1)


def _alike(place: Float, weight: Float, options: ColourOptions) -> Float64:
    """Return how much of the weight shows the colour of each region (n,), itself included."""
    light, ratio = options.same
    scaled = place / [light, ratio, ratio]
    square = np.square(scaled).sum(1)
    # |a - b|² = |a|² + |b|² - 2ab: one product of matrices where the differences would take ten times the memory.
    apart = square[:, None] + square - 2 * scaled @ scaled.T
    return np.asarray(np.exp(-0.5 * np.maximum(apart, 0)) @ weight, float)


def _thinned(place: Float, area: Float, options: ColourOptions) -> Float64:
    """Weigh regions so that a large surface counts with the square root of its area, sum 1."""
    weight = area / np.sqrt(_alike(place, area, options))
    return np.asarray(weight / weight.sum(), float)


def _angle_weight(place: Float, area: Float, options: ColourOptions) -> tuple[Float64, float]:
    """Return weights (n,) of sum 1, and the effective number of colours (Leinster & Cobbold 2012, order 2)."""
    weight = _thinned(place, area, options)
    weight = weight / (1 + np.square(np.hypot(place[:, 1], place[:, 2]) / options.saturated))
    weight /= weight.sum()
    return weight, float(1 / (weight @ _alike(place, weight, options)))


def _box(place: Float, margin: Int) -> tuple[slice, slice, slice]:
    """Return the part of the grid that holds all that `_deposit` touches, and so much around it."""
    at = np.floor(np.clip((place - _LOWEST) / _STEP, 0, _SIZE - 1.001)).astype(int)
    light, red, blue = map(slice, np.maximum(at.min(0) - margin, 0), np.minimum(at.max(0) + 2 + margin, _SIZE))
    return light, red, blue


def _deposit(place: Float, weight: Float) -> Float32:
    """Spread weights over the eight grid points around each place."""
    at = np.clip((place - _LOWEST) / _STEP, 0, _SIZE - 1.001)
    corner = np.floor(at).astype(int)
    part = at - corner
    grid = np.zeros(_SIZE, np.float32)
    for offset in np.ndindex(2, 2, 2):
        share = weight * np.prod(np.where(offset, part, 1 - part), axis=1)
        np.add.at(grid, tuple((corner + offset).T), share)
    return grid


@dataclass(frozen=True, kw_only=True, eq=False)
class _Hero:
    """What the hero shows, on the grid."""

    #: (r, b) float32. Density of channel ratios, over its own mean.
    colour: Float
    #: (g, r, b) float32. Density of light given the ratios, by the stop.
    light: Float
    #: (g, r, b) float32. Log likelihood of one region of an angle.
    score: Float

    @classmethod
    def of(cls, regions: Regions, options: ColourOptions) -> _Hero:
        from scipy.ndimage import gaussian_filter

        place = _places(regions.rgb)
        (light, ratio), (loose, far_light, far_ratio) = options.alike, options.loose
        spreads = np.array([[light, ratio, ratio], [far_light, far_ratio, far_ratio]]) / _STEP
        # Farther than a Gaussian reaches from all that the hero shows there is nothing.
        box = _box(place, np.ceil(_REACH * spreads.max(0)).astype(int) + 1)
        grid = _deposit(place, _thinned(place, regions.area, options))[box]
        near, far = (gaussian_filter(grid, spread, mode="constant", truncate=_REACH) for spread in spreads)
        density = ((1 - loose) * near + loose * far) / np.float32(np.prod(_STEP))
        within = density.sum(0) * np.float32(_STEP[0])
        colour, given = np.zeros(_SIZE[1:], np.float32), np.zeros(_SIZE, np.float32)
        colour[box[1:]] = within
        given[box] = density / np.maximum(within, np.float32(1e-9))
        colour /= np.square(colour).sum() / colour.sum()
        ours = np.log(colour + np.float32(options.odd_colour))
        score = np.repeat((ours + np.log(np.float32(options.odd_light)))[None], _SIZE[0], axis=0)
        score[box] = ours[box[1:]] + np.log(given[box] + np.float32(options.odd_light))
        return cls(colour=colour, light=given, score=score)

    def hold(self, place: Float, weight: Float, options: ColourOptions) -> float:
        """Return the share of the weight that the hero's colours hold."""
        at = tuple(np.clip(np.rint((place - _LOWEST) / _STEP), 0, _SIZE - 1).astype(int).T)
        held = (self.colour[at[1:]] > options.odd_colour / 2) & (self.light[at] > options.odd_light / 2)
        return float(weight @ held)


def _search(
    place: Float, weight: Float, score: Float, options: ColourOptions
) -> tuple[tuple[Float, Float, Float], Float64]:
    """Return shifts of (log2 G, log2 R/G, log2 B/G), each along its axis, and the mean log likelihood at each."""
    from scipy.fft import irfftn, next_fast_len, rfftn

    reach = np.rint(np.array(options.reach) / _STEP).astype(int)
    # Regions of one colour are one look.
    grid = _deposit(place, weight)
    points = np.argwhere(grid > 0)
    middle = np.clip(points, reach, _SIZE - 1 - reach)
    low, high = middle.min(axis=0), middle.max(axis=0) + 1
    looked_at = score[tuple(map(slice, low - reach, high + reach))].astype(float)
    looks: Float64 = np.zeros(looked_at.shape)
    np.add.at(looks, tuple((middle - low).T), grid[tuple(points.T)].astype(float))
    # At each shift, the sum over all looks: a correlation.
    size = [next_fast_len(side, real=True) for side in looks.shape]
    every = irfftn(rfftn(looked_at, size) * np.conj(rfftn(looks, size)), size)
    out = every[tuple(map(slice, 2 * reach + 1))]
    axes = [np.arange(-n, n + 1) * step for n, step in zip(reach, _STEP, strict=True)]
    return (axes[0], axes[1], axes[2]), out


def _posterior(shift: tuple[Float, Float, Float], likelihood: Float, options: ColourOptions) -> Float64:
    """Return the probability of each shift."""
    from scipy.ndimage import gaussian_filter

    total = options.most_effective * likelihood
    # The light that one view sees differs from that of the other on the whole: no number of regions tells.
    lit = gaussian_filter(np.exp(total - total.max()), np.array(options.common) / _STEP, mode="nearest")
    exposure, red, blue = _parameters(shift, options)
    spread_of = np.asarray(CAMERA_PAIR.covariance, float)
    inverse = np.linalg.inv(spread_of[1:3, 1:3])
    distance = inverse[0, 0] * red**2 + 2 * inverse[0, 1] * red * blue + inverse[1, 1] * blue**2
    # Two of the eight jointly Student-t parameters are Student-t themselves.
    before = -0.5 * exposure**2 / spread_of[0, 0] - 0.5 * (CAMERA_PAIR.dof + 2) * np.log1p(
        distance / (CAMERA_PAIR.dof - 2)
    )
    log = np.log(lit + 1e-300) + before
    out: Float64 = np.exp(log - log.max())
    out /= out.sum()
    return out


def _parameters(shift: tuple[Float, Float, Float], options: ColourOptions) -> tuple[Float, Float, Float]:
    """Return exposure, red_green and blue_green of every shift on the grid."""
    green, red, blue = np.meshgrid(*shift, indexing="ij")
    luminance = AP1_LUMINANCE[0] * 2**red + AP1_LUMINANCE[1] + AP1_LUMINANCE[2] * 2**blue
    # A match must leave the view as much darker as its side of the set is.
    return green + np.log2(luminance) - options.darker, red, blue


def _shift_of(theta: Float, options: ColourOptions) -> Float64:
    """Return the shift of (log2 G, log2 R/G, log2 B/G) that a match goes with."""
    exposure, red, blue = (float(value) for value in theta[:3])
    green = exposure + options.darker - np.log2(AP1_LUMINANCE @ np.exp2([red, 0.0, blue]))
    return np.array([green, red, blue])


def _moments(
    shift: tuple[Float, Float, Float], posterior: Float, options: ColourOptions
) -> tuple[Float64, Float64]:
    """Return mean (n,) and covariance (n, n) of a match's parameters: the mix as the balance predicts it."""
    values = np.stack([axis.ravel() for axis in _parameters(shift, options)])
    chance = posterior.ravel()
    mean = values @ chance
    off = values - mean[:, None]
    own = (off * chance) @ off.T
    prior = np.asarray(CAMERA_PAIR.covariance, float)
    slope = prior[3:9, :3] @ np.linalg.inv(prior[:3, :3])
    theta, covariance = np.zeros(PARAMETER_COUNT), np.zeros((PARAMETER_COUNT, PARAMETER_COUNT))
    theta[:3], theta[3:9] = mean, slope @ mean
    covariance[:3, :3] = own
    covariance[3:9, :3] = slope @ own
    covariance[:3, 3:9] = covariance[3:9, :3].T
    covariance[3:9, 3:9] = prior[3:9, 3:9] + slope @ (own - prior[:3, :3]) @ slope.T
    return theta, covariance
