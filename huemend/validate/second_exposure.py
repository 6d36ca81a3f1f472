"""A second exposure beside the one that was matched: what a part of the picture is lit by and the rest is not.

A flash that a rolling shutter catches, or a lamp that lights one view only, leaves a part of the shared surfaces
stops away from the rest. A robust fit takes the larger part and drops the other as wrong pairs, and what is held
out agrees. But wrong pairs lie spread over stops, and these agree with one another.
"""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Float64
from huemend.base.units import AP1_LUMINANCE, MODE_KERNEL
from huemend.model import Fit, PairedColours, Reason
from huemend.model.reasons import Code
from huemend.options import ValidateOptions
from huemend.validate.shading import light_run

#: Stops that are looked at either way.
_REACH, _STEP = 3.0, 0.05
#: Red and blue over luminance within which two surfaces are of one colour: four times what no 3x3 explains.
_ALIKE = 0.08
#: Share of half the picture by which the middles of two parts lie apart, for a side to be named.
_ASIDE = 0.4


def second_exposure(
    extent: Float64, pairs: PairedColours, fitted: Fit, options: ValidateOptions
) -> tuple[Reason, ...]:
    """Return the doubt that a part of what both views share asks for another exposure, and agrees on it."""
    matched, wanted = (
        np.asarray(fitted.match.apply(pairs.angle_rgb), float),
        np.asarray(pairs.reference_rgb, float),
    )
    light, other = (np.maximum(rgb @ AP1_LUMINANCE, 1e-4)[:, None] for rgb in (matched, wanted))
    apart = np.linalg.norm((matched / light - wanted / other)[:, [0, 2]], axis=1)
    telling = (apart < _ALIKE) & (pairs.light_spread < options.slope_light) & ~pairs.by_hand
    if telling.sum() < options.slope_pairs:
        return ()
    stops = np.log2(light / other)[:, 0]
    gradual = _gradual(pairs.take(telling & (np.abs(stops) < _REACH / 2)), fitted, extent, options)
    stops = stops[telling]
    weight = np.asarray(pairs.weight, float)[telling]
    grid = np.arange(-_REACH, _REACH + _STEP / 2, _STEP)
    density = np.exp(-0.5 * np.square((grid[:, None] - stops) / MODE_KERNEL)) @ weight
    first = int(np.argmax(density))
    second, prominence = _next_mode(grid, density, first, options.second_least)
    if prominence <= options.second_prominence * density[first]:
        return gradual
    here, there = (np.abs(stops - grid[mode]) < options.second_least / 2 for mode in (first, second))
    if len(np.unique(pairs.group[telling][there])) < options.second_places:
        return gradual
    off = grid[second] - grid[first]
    place = 2 * pairs.angle_xy[telling] / extent - 1
    middles = [np.average(place[part], axis=0, weights=weight[part]) for part in (here, there)]
    return (
        Code.SECOND_EXPOSURE.because(
            share=weight[there].sum() / weight.sum(),
            where=_side(middles[1] - middles[0]),
            stops=abs(off),
            how="brighter" if off > 0 else "darker",
        ),
    )


def _gradual(pairs: PairedColours, fitted: Fit, extent: Float64, options: ValidateOptions) -> tuple[Reason, ...]:
    """Return the doubt that light runs over the picture, without a part that stands out."""
    if len(np.unique(pairs.group)) < options.run_places:
        return ()
    share, run, step = light_run(pairs, fitted.match, extent)
    if share <= options.run_share or run.std() <= options.run_stops:
        return ()
    low, high = np.quantile(run, [0.05, 0.95])
    return (Code.SECOND_EXPOSURE.because("gradual", where=_side(step), stops=high - low, share=share),)


def _next_mode(grid: Float64, density: Float64, first: int, least: float) -> tuple[int, float]:
    """Return the mode that stands out most from what lies between it and the first, and by how much."""
    best, prominence = first, 0.0
    for mode in np.flatnonzero(np.abs(grid - grid[first]) >= least):
        low, high = sorted((first, int(mode)))
        rise = float(density[mode] - density[low : high + 1].min())
        if rise > prominence:
            best, prominence = int(mode), rise
    return best, prominence


def _side(step: Float64) -> str:
    """Say in which part of the picture something lies that is a step (across, down) from the rest."""
    axis = int(np.argmax(np.abs(step)))
    if abs(step[axis]) < _ASIDE:
        return "all over"
    names = (("on the left of", "on the right of"), ("in the upper part of", "in the lower part of"))
    return f"mostly {names[axis][int(step[axis] > 0)]}"
