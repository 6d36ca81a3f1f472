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
from huemend.base.units import AP1_LUMINANCE, FROM_MAD
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


def luminance_slope(reference: Float, angle: Float) -> float:
    """Return the slope of the reference's log luminance against the angle's, (n, 3) of scene-linear ACEScg each.

    Orthogonal regression, since both views have errors (Deming 1943, with equal variances), refitted without what
    lies far off, so that wrong pairs do not tilt it.
    """
    return _orthogonal(_stops(angle), _stops(reference))


def slope_error(reference: Float, angle: Float, group: Int, options: ValidateOptions) -> float:
    """Return the standard error of `luminance_slope`, from resampling groups, (n,) int."""
    x, y = _stops(angle), _stops(reference)
    return float(np.std([_orthogonal(x[at], y[at]) for at in _draws(group, options)]))


def _stops(rgb: Float) -> Float:
    """Return the luminance in stops, (n,)."""
    out: Float = np.log2(np.maximum(np.asarray(rgb) @ AP1_LUMINANCE, 1e-5))
    return out


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
        keep = off <= 2.5 * FROM_MAD * np.median(off) + 1e-6
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
    explains is ``implausible``: what seems to be shared is not. ``used`` are the pairs that agree with the
    match, and ``flare`` is what it takes off the angle first: haze that it explains is no cause for suspicion.
    Each alternative turns the angle's colours, decoded as stated, into what they were if it had been recorded.
    """
    inside = _telling(pairs, used, options)
    if inside.sum() < options.slope_pairs or _span(pairs, inside) < options.slope_span:
        return ()
    reference, angle = np.asarray(pairs.reference_rgb)[inside], np.asarray(pairs.angle_rgb)[inside]
    clear, group = angle - flare, pairs.group[inside]
    slope = luminance_slope(reference, clear)
    beyond = abs(slope - 1) - options.slope_limit
    # Its error takes forty times as long to find out.
    if beyond < 0 or beyond < 2 * slope_error(reference, clear, group, options):
        return ()
    better = rank_encodings(reference, angle, slope, alternatives, options, group=group)
    named = ", ".join(f"{suspect.name} (then {suspect.slope:.2f} stops)" for suspect in better)
    possible = 1 / options.slope_impossible < slope < options.slope_impossible
    code, case = (Code.SLOPE, "") if possible else (Code.IMPLAUSIBLE, "slope")
    return (code.because("suspects" if named else case, slope=slope, encoding=encoding, suspects=named),)


def exposure_slack(
    pairs: PairedColours, used: Bool, options: ValidateOptions, *, flare: Float | float = 0.0
) -> float:
    """Return by how much the exposure that light and dark surfaces ask for differs: standard deviation, stops.

    Where luminance lies on another slope than 1, no one exposure is right for all of the picture.
    """
    inside = _telling(pairs, used, options)
    reference, angle = np.asarray(pairs.reference_rgb)[inside], np.asarray(pairs.angle_rgb)[inside] - flare
    if len(angle) < options.slope_pairs:
        return 0.0
    weight, y = np.asarray(pairs.weight, float)[inside], _stops(reference)
    bright = float(np.sqrt(np.average(np.square(y - np.average(y, weights=weight)), weights=weight)))
    return abs(luminance_slope(reference, angle) - 1) * bright


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
    low, high = np.quantile(_stops(np.asarray(pairs.reference_rgb)[inside]), [0.05, 0.95])
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
        slope_then = luminance_slope(reference, light)
        suspect = Suspect(name=name, slope=slope_then, scatter=_scatter(reference, light))
        if abs(suspect.slope - 1) >= abs(slope - 1) / 2 or suspect.scatter >= own:
            continue
        theirs = np.array([_scatter(reference[at], light[at]) for at in draws])
        if (theirs < options.suspect_scatter * by_draw).mean() >= options.suspect_sure:
            found.append(suspect)
    return tuple(sorted(found, key=lambda suspect: (suspect.scatter, suspect.name))[: options.slope_suspects])


def _scatter(reference: Float, angle: Float) -> float:
    """Robust spread, in stops, of the channels' log ratios about one exposure and balance."""
    ratio = np.log2(np.maximum(reference, 1e-4) / np.maximum(angle, 1e-4))
    return float(FROM_MAD * np.median(np.abs(ratio - np.median(ratio, axis=0))))
