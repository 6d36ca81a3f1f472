"""A wrong encoding or range shows as a slope: bright and dark surfaces ask for different exposures.

Between two cameras that were decoded rightly, the log luminance of shared surfaces lies on a line of slope 1,
whatever the exposure. A curve that was not the one recorded bends it. So the slope is a witness that needs no
chart, and the encodings that would bring it back to 1 can be ranked (docs/maths.md, section 13).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from huemend.base.arrays import Bool, Float, Int, numbered
from huemend.base.units import AP1_LUMINANCE
from huemend.model import PairedColours, Reason
from huemend.model.reasons import Code
from huemend.options import ValidateOptions


@dataclass(frozen=True, kw_only=True)
class Suspect:
    """An encoding and range that would explain what an angle shows."""

    #: Encoding and, where it differs from the stated one, the range.
    name: str
    #: Slope of log luminance against the hero if it were so.
    slope: float
    #: Robust standard deviation, in stops, of what exposure and balance then leave.
    scatter: float


def luminance_slope(reference: Float, angle: Float, group: Int, options: ValidateOptions) -> tuple[float, float]:
    """Return the slope of the reference's log luminance against the angle's, and its standard error.

    Orthogonal regression, since both views have errors (Deming 1943, with equal variances), on medians of bins
    of brightness so that wrong pairs do not tilt it; the error is from resampling groups.

    Parameters
    ----------
    reference, angle : (n, 3) array, scene-linear ACEScg
    group : (n,) int
    """
    x, y = (np.log2(np.maximum(rgb @ AP1_LUMINANCE, 1e-5)) for rgb in (np.asarray(angle), np.asarray(reference)))
    drawn = [_orthogonal(x[at], y[at]) for at in _draws(group, options)]
    return _orthogonal(x, y), float(np.std(drawn))


def _draws(group: Int, options: ValidateOptions) -> list[Int]:
    """Draw whole groups anew, with replacement; return the rows of each draw, the same ones every time."""
    groups = numbered(group)
    count = int(groups.max()) + 1
    rng = np.random.default_rng(options.seed)
    members = np.argsort(groups, kind="stable")
    ends = np.searchsorted(groups[members], np.arange(count + 1))
    return [
        np.concatenate([members[ends[k] : ends[k + 1]] for k in rng.integers(0, count, count)])
        for _ in range(options.slope_resamples)
    ]


def _orthogonal(x: Float, y: Float) -> float:
    """Slope of the line through (x, y) by orthogonal regression, refitted without what lies far from it."""
    keep = np.ones(len(x), bool)
    slope = 1.0
    for _ in range(6):
        cx, cy = np.median(x[keep]), np.median(y[keep])
        dx, dy = x[keep] - cx, y[keep] - cy
        sxx, syy, sxy = float(dx @ dx), float(dy @ dy), float(dx @ dy)
        if sxy <= 0:
            return slope
        slope = (syy - sxx + np.hypot(syy - sxx, 2 * sxy)) / (2 * sxy)
        off = np.abs((y - cy) - slope * (x - cx)) / np.hypot(1, slope)
        keep = off <= 2.5 * 1.4826 * np.median(off) + 1e-6
    return float(slope)


def slope_reasons(
    pairs: PairedColours,
    used: Bool,
    encoding: str,
    alternatives: Iterable[tuple[str, Callable[[Float], Float]]],
    options: ValidateOptions,
    *,
    flare: Float | float = 0.0,
) -> tuple[Reason, ...]:
    """Return the reason to suspect an angle's encoding or range, where its slope gives one.

    Pairs that hardly know how they are lit are left out. A slope that neither haze nor a look nor any curve
    explains is ``implausible``: what seems to be shared is not.

    Parameters
    ----------
    used : (n,) bool
        Pairs that agree with the match.
    encoding : str
        As stated.
    alternatives : iterable of (name, function)
        The function turns the angle's colours, decoded as stated, into what they were if that encoding had been
        recorded.
    flare : (3,) array or 0
        What the match takes off the angle first: haze that it explains is no cause for suspicion.
    """
    inside = _telling(pairs, used, options)
    if inside.sum() < options.slope_pairs or _span(pairs, inside) < options.slope_span:
        return ()
    reference, angle = np.asarray(pairs.reference_rgb)[inside], np.asarray(pairs.angle_rgb)[inside]
    clear = angle - flare
    slope, error = luminance_slope(reference, clear, pairs.group[inside], options)
    if abs(slope - 1) < options.slope_limit + 2 * error:
        return ()
    better = rank_encodings(reference, angle, slope, alternatives, options, group=pairs.group[inside])
    named = ", ".join(f"{suspect.name} (then {suspect.slope:.2f} stops)" for suspect in better)
    possible = 1 / options.slope_impossible < slope < options.slope_impossible
    code, case = (Code.SLOPE, "") if possible else (Code.IMPLAUSIBLE, "slope")
    return (code.because("suspects" if named else case, slope=slope, encoding=encoding, suspects=named),)


def exposure_slack(
    pairs: PairedColours, used: Bool, options: ValidateOptions, *, flare: Float | float = 0.0
) -> float:
    """Return by how much the exposure that light and dark surfaces ask for differs: standard deviation, stops.

    Where luminance lies on another slope than 1, no one exposure is right for all of the picture.

    Parameters
    ----------
    pairs, used, options, flare
        As for `slope_reasons`.
    """
    inside = _telling(pairs, used, options)
    reference, angle = np.asarray(pairs.reference_rgb)[inside], np.asarray(pairs.angle_rgb)[inside] - flare
    x, y = (np.log2(np.maximum(rgb @ AP1_LUMINANCE, 1e-5)) for rgb in (angle, reference))
    if len(x) < options.slope_pairs:
        return 0.0
    weight = np.asarray(pairs.weight, float)[inside]
    bright = float(np.sqrt(np.average(np.square(y - np.average(y, weights=weight)), weights=weight)))
    return abs(_orthogonal(x, y) - 1) * bright


def _telling(pairs: PairedColours, used: Bool, options: ValidateOptions) -> Bool:
    """Return the pairs that say something of a slope."""
    lit = np.asarray(pairs.light_spread < options.slope_light)
    inside = np.asarray(used) & lit
    # Under a wrong curve one exposure agrees over few stops only: what disagrees is the evidence then.
    return lit if _span(pairs, inside) < options.slope_span else inside


def _span(pairs: PairedColours, inside: Bool) -> float:
    """Stops of brightness that the pairs cover, without their extremes."""
    if not inside.any():
        return 0.0
    bright = np.log2(np.maximum(np.asarray(pairs.reference_rgb)[inside] @ AP1_LUMINANCE, 1e-5))
    low, high = np.quantile(bright, [0.05, 0.95])
    return float(high - low)


def rank_encodings(
    reference: Float,
    angle: Float,
    slope: float,
    alternatives: Iterable[tuple[str, Callable[[Float], Float]]],
    options: ValidateOptions,
    *,
    group: Int,
) -> tuple[Suspect, ...]:
    """Return the alternatives that are proven to explain the pairs better than the stated encoding, best first.

    Proven is what holds in nearly every draw of whole groups (``suspect_sure``): the scatter that is left is
    clearly smaller (``suspect_scatter``).
    """
    own = _scatter(reference, angle)
    draws = _draws(group, options)
    by_draw = np.array([_scatter(reference[at], angle[at]) for at in draws])
    found = []
    for name, other in alternatives:
        light = np.asarray(other(angle), float)
        if not np.isfinite(light).all() or (light @ AP1_LUMINANCE <= 0).mean() > 0.05:
            continue
        x, y = (np.log2(np.maximum(rgb @ AP1_LUMINANCE, 1e-5)) for rgb in (light, reference))
        suspect = Suspect(name=name, slope=_orthogonal(x, y), scatter=_scatter(reference, light))
        if abs(suspect.slope - 1) >= abs(slope - 1) / 2 or suspect.scatter >= own:
            continue
        theirs = np.array([_scatter(reference[at], light[at]) for at in draws])
        if (theirs < options.suspect_scatter * by_draw).mean() >= options.suspect_sure:
            found.append(suspect)
    return tuple(sorted(found, key=lambda suspect: (suspect.scatter, suspect.name))[: options.slope_suspects])


def _scatter(reference: Float, angle: Float) -> float:
    """Robust spread, in stops, of the channels' log ratios about one exposure and balance."""
    ratio = np.log2(np.maximum(reference, 1e-4) / np.maximum(angle, 1e-4))
    return float(1.4826 * np.median(np.abs(ratio - np.median(ratio, axis=0))))
