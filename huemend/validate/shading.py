"""Light and colour that differ over the picture of an angle: what a match of the whole frame cannot mend.

A lens at full aperture loses a stop and more from the middle of its picture to the corners, and flare or a
coloured light may reach one side of it alone. One match then fits somewhere between. Shared surfaces tell, by what
they are left off by from place to place. Luminance shading and colour shading are the terms of ISO 17957:2015.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from huemend.base.arrays import Float64, Int, Int64, numbered, weighted_median
from huemend.base.units import AP1_LUMINANCE, FROM_MAD
from huemend.model import Fit, Match, PairedColours, Reason
from huemend.model.reasons import Code
from huemend.options import ValidateOptions

#: Bands down the picture that are looked for: fewer are how a set is lit, more are finer than pairs tell.
_BANDS = np.arange(2.0, 14.1, 0.5)
#: From so many on they are hardly how a set is lit, and count from two thirds of the height on.
_FINE = 4
#: Parts of the picture's height within which a place counts as one row.
_ROWS = 36
#: A fall-off is told for the corners only where that is less than so many times what both views show of it.
_FAR = 2.0
#: Huber's bound in standard deviations: 95 % efficient where errors are normal (Huber 1981).
_HUBER = 1.345


@dataclass(frozen=True, kw_only=True)
class Shading:
    """What an angle is left off by over its picture, in stops, each with its standard error."""

    #: What is lost from the middle to the corners, of luminance.
    corners: float
    corners_error: float
    #: And to the outermost places that both views show (19 of 20 lie within): the rest of it is a guess.
    reached: float
    #: (2, 2) float64. What is gained from the left edge to the right one, and from the top to the bottom, of red
    #: over green and of blue over green (columns).
    sides: Float64
    sides_error: Float64
    #: (2, 2) float64. And over what both views show, nine tenths of the way from one outermost place to the other.
    sides_reached: Float64


def shading_doubts(
    extent: Float64, pairs: PairedColours, fitted: Fit, options: ValidateOptions
) -> tuple[Reason, ...]:
    """Return the doubts that an angle loses light towards its corners, or has another colour on one side.

    ``extent`` is that of the angle's pictures, as ``LinearStill.extent`` has it; so below.
    """
    telling = np.asarray(fitted.agrees & (pairs.light_spread < options.slope_light) & ~pairs.by_hand)
    if telling.sum() < options.slope_pairs:
        return ()
    seen = measure_shading(pairs.take(telling), fitted.match, extent)
    doubts = []
    if abs(seen.corners) > options.corner_loss + 2 * seen.corners_error:
        case = "loses" if seen.corners > 0 else "gains"
        near = abs(seen.corners) < _FAR * abs(seen.reached)
        corners = f", which comes to {abs(seen.corners):.1f} in the corners" if near else ""
        doubts.append(Code.VIGNETTING.because(case, seen=abs(seen.reached), corners=corners))
    beyond = np.abs(seen.sides) - options.side_tint - 2 * seen.sides_error
    if (beyond > 0).any():
        axis = int(np.unravel_index(int(np.argmax(beyond)), beyond.shape)[0])
        red, blue = (f"{value:+.2f}" for value in seen.sides_reached[axis])
        doubts.append(Code.COLOUR_SHADING.because(("across", "down")[axis], red=red, blue=blue))
    return tuple(doubts)


def banding(extent: Float64, pairs: PairedColours, fitted: Fit, options: ValidateOptions) -> tuple[Reason, ...]:
    """Return the doubt that bands lie across an angle, as of lamps that pulse under a rolling shutter.

    A sine down the picture is fitted, at each of some frequencies, to what the match leaves places off by in
    light, beside what is lit from a side or from above (docs/maths.md, equation 29a).
    """
    telling = np.asarray(fitted.agrees & pairs.says_light & ~pairs.by_hand)
    if telling.sum() < options.slope_pairs:
        return ()
    pairs = pairs.take(telling)
    across, down = (pairs.angle_xy / extent).T
    rows = np.unique(np.column_stack([pairs.group, np.floor(_ROWS * down)]), axis=0, return_inverse=True)[1]
    places = _Places.of(pairs, rows.reshape(-1))
    off = _left_off(pairs, fitted.match, places)[:, 0]
    column, row = places.mean(across), places.mean(down)
    tilt = column, row, np.square(row)
    best = (-np.inf, 0.0, 0.0)
    # Fewer than two rows a band tell none (Shannon 1949).
    for count in _BANDS[2 * _BANDS < len(np.unique(np.floor(_ROWS * down)))]:
        wave = 2 * np.pi * count * row
        slopes, errors = _regression(np.column_stack([*tilt, np.sin(wave), np.cos(wave)]), off, places.weight)
        sine, error = slopes[-2:], errors[-2:]
        height = float(np.hypot(*sine))
        chance = float(np.hypot(*(sine * error))) / max(height, 1e-9)
        limit = options.band_height * (1 if count < _FINE else 2 / 3)
        best = max(best, (height - 2 * chance - limit, height, count))
    beyond, height, count = best
    if beyond <= 0:
        return ()
    return (Code.BANDING.because("still", stops=height, count=count),)


def measure_shading(pairs: PairedColours, match: Match, extent: Float64) -> Shading:
    """Measure how what an angle is left off by against the hero runs over its picture.

    A regression of each place's mean on where it lies: the square of the distance from the middle is the first
    term of any round fall-off, the cos^4 law's too. It is robust (Huber), and its errors take places, not pairs,
    as independent (docs/maths.md, equation 29).
    """
    places = _Places.of(pairs, pairs.group)
    off, weight = _left_off(pairs, match, places), places.weight
    place = 2 * pairs.angle_xy / extent - 1
    corner = np.square(place * extent).sum(-1) / np.square(extent).sum()
    away = places.mean(corner)
    fallen, fallen_error = _regression(away[:, None], off[:, 0], weight)
    across_and_down = np.column_stack([places.mean(axis) for axis in place.T])
    tinted = [_regression(across_and_down, off[:, each] - off[:, 2], weight) for each in (1, 3)]
    # From -1 to 1.
    sides = 2 * np.column_stack([slopes for slopes, _ in tinted])
    span = np.subtract(*np.quantile(across_and_down, (0.95, 0.05), axis=0)) / 2
    return Shading(
        corners=float(-fallen[0]),
        corners_error=float(fallen_error[0]),
        reached=float(-fallen[0] * np.quantile(away, 0.95)),
        sides=sides,
        sides_error=2 * np.column_stack([errors for _, errors in tinted]),
        sides_reached=sides * span[:, None],
    )


def light_run(pairs: PairedColours, match: Match, extent: Float64) -> tuple[float, Float64, Float64]:
    """Measure how light runs over an angle against the hero, as under a lamp from one side.

    Returns
    -------
    share : float
        Of what places are off by, how much a bow and tilt of light over the picture explains.
    run : (places,) float64
        That bow and tilt, in stops from its mean.
    step : (2,) float64
        From the darker third of it to the brighter one, across and down, each from -1 to 1.
    """
    places = _Places.of(pairs, pairs.group)
    off, weight = _left_off(pairs, match, places)[:, 0], places.weight
    place = np.column_stack([places.mean(axis) for axis in (2 * pairs.angle_xy / extent - 1).T])
    terms = np.column_stack([place, np.square(place), place.prod(1)])
    run = terms @ _regression(terms, off, weight)[0]
    before, after = (
        np.average(np.abs(each - weighted_median(each, weight)), weights=weight) for each in (off, off - run)
    )
    dark, bright = run <= np.quantile(run, 1 / 3), run >= np.quantile(run, 2 / 3)
    run -= np.average(run, weights=weight)
    return float(1 - after / max(before, 1e-9)), run, place[bright].mean(0) - place[dark].mean(0)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Places:
    """Which pairs lie together."""

    #: (n,) int, from 0 on, and the weight of each of those pairs.
    number: Int64
    of_pair: Float64
    #: (places,) float64. A place of hundreds of pairs knows its light no better than one of a few.
    weight: Float64

    @classmethod
    def of(cls, pairs: PairedColours, together: Int) -> _Places:
        """Take pairs of one number together."""
        number = numbered(together)
        count = np.bincount(number, pairs.weight)
        return cls(
            number=number,
            of_pair=np.asarray(pairs.weight, float),
            weight=np.minimum(count, np.quantile(count, 0.9)),
        )

    def mean(self, value: Float64) -> Float64:
        """Return the mean of what pairs say at each place."""
        return np.asarray(np.bincount(self.number, self.of_pair * value) / np.bincount(self.number, self.of_pair))


def _left_off(pairs: PairedColours, match: Match, places: _Places) -> Float64:
    """Return the stops that a match leaves places off by: of luminance, red, green and blue, (places, 4).

    Means are those of light: the logarithm of a single dark patch is noise.
    """
    both = np.asarray(match.apply(pairs.angle_rgb), float), np.asarray(pairs.reference_rgb, float)
    columns = (np.column_stack([rgb @ AP1_LUMINANCE, rgb]).T for rgb in both)
    got, wanted = (np.log2(np.maximum([places.mean(each) for each in rows], 1e-5)) for rows in columns)
    return np.asarray(got - wanted).T


def _regression(where: Float64, value: Float64, weight: Float64) -> tuple[Float64, Float64]:
    """Return the robust slopes of a value and their standard errors; infinite ones where places do not tell them.

    ``where`` is (places, slopes); a constant is fitted beside them.
    """
    design = np.column_stack([np.ones(len(where)), where])
    count, terms = design.shape
    trust = weight
    for _ in range(10):
        normal = design.T @ (design * trust[:, None])
        if count <= terms or np.linalg.matrix_rank(normal, tol=1e-6 * trust.sum()) < terms:
            return np.zeros(terms - 1), np.full(terms - 1, np.inf)
        found = np.asarray(np.linalg.solve(normal, design.T @ (trust * value)), np.float64)
        rest = value - design @ found
        scale = FROM_MAD * np.median(np.abs(rest)) + 1e-3
        trust = weight * np.minimum(1.0, _HUBER * scale / np.maximum(np.abs(rest), 1e-9))
    # White's heteroscedasticity-consistent errors (1980).
    bread = np.linalg.inv(normal)
    meat = design.T @ (design * np.square(trust * rest)[:, None]) * count / (count - terms)
    errors: Float64 = np.sqrt(np.diag(bread @ meat @ bread))
    return found[1:], errors[1:]
