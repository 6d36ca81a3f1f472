"""The proof: colour differences on samples that the match did not use."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, Float64, Int, Int64, numbered, weighted_median
from huemend.base.units import AP1_LUMINANCE
from huemend.model import ErrorSummary, Fit, HeldOut, PairedColours
from huemend.options import ValidateOptions
from huemend.view import clips, delta_e2000, ease_light, measurement_lab, tinted


@dataclass(frozen=True, kw_only=True, eq=False)
class Proven:
    """A fit and its proof: nothing is said of one without the other."""

    fit: Fit
    held_out: HeldOut
    #: The same of ``fit.alone``, which is what was found without help, where areas were marked beside it.
    alone: Proven | None = None


def proven(pairs: PairedColours, fitted: Fit, options: ValidateOptions, *, view_stops: float) -> Proven:
    """Prove a fit and, where areas were marked beside what was found, what was found without them."""
    held_out = prove(pairs, fitted, options, view_stops=view_stops)
    if fitted.alone is None:
        return Proven(fit=fitted, held_out=held_out)
    alone = Proven(fit=fitted.alone, held_out=prove(pairs, fitted.alone, options, view_stops=view_stops))
    # A proof is not the surer for areas that agree with one another.
    return Proven(fit=fitted, held_out=_worse(held_out, alone.held_out), alone=alone)


def prove(pairs: PairedColours, fitted: Fit, options: ValidateOptions, *, view_stops: float) -> HeldOut:
    """Measure each pair under the match that was fitted without its part of the picture.

    A single patch carries noise, and where two views see it from apart also gloss and shading, which no match
    can mend; what a match can be wrong about is common to a colour wherever it stands. So patches of one
    colour are pooled over the whole picture first, each measured under the match that did not see it, and
    pairs that have nothing to do with the match (a wrong pair whatever the match) are counted, not averaged in
    (docs/maths.md, section 7).

    ``before`` and ``after`` are over these colours, which people are told of as surfaces; ``error_before`` and
    ``error_after`` over single pairs. Beside what was found without help, areas that somebody marked are told
    by their names alone: that a match meets what they say it is to meet proves nothing of the rest.
    """
    matched = np.array(pairs.angle_rgb, float)
    for number, match in enumerate(fitted.fold_matches):
        out = fitted.fold == number
        matched[out] = match.apply(matched[out])
    return measure(pairs, matched, fitted.agrees, options, fold=fitted.fold, view_stops=view_stops)


def _worse(one: HeldOut, other: HeldOut) -> HeldOut:
    """Return a proof with the larger of its own mean and upper end and of another's.

    Whether there is a gain at all, the other one says: that of found pairs.
    """
    after = max(one.after, other.after, key=lambda errors: errors.mean)
    return replace(one, after=after, upper=max(one.upper, other.upper), least_gain=other.least_gain)


def measure(
    pairs: PairedColours,
    matched: Float,
    used: Bool,
    options: ValidateOptions,
    *,
    fold: Int | None = None,
    view_stops: float,
) -> HeldOut:
    """Measure pairs before and after a match that did not use them; see `prove`.

    ``matched``, (n, 3), are the angle's colours after the match; pairs that are not ``used`` show something
    else, and are left out. ``fold``, (n,), says which part held each pair out, -1 that none did; without it,
    all were.
    """
    fold = np.zeros(len(pairs), int) if fold is None else fold
    held = fold >= 0
    reference = np.asarray(pairs.reference_rgb, float)
    shot = np.asarray(pairs.angle_rgb, float)
    target = measurement_lab(reference, view_stops)
    error_before = delta_e2000(measurement_lab(shot, view_stops), target)
    error_after = delta_e2000(measurement_lab(matched, view_stops), target)
    clipped = clips(reference, view_stops) | clips(matched, view_stops)
    error_before[clipped | ~held] = np.nan
    error_after[clipped | ~held] = np.nan

    shot, matched = (ease_light(value, reference, pairs.light_spread) for value in (shot, matched))
    judging = ~pairs.marked_beside
    # What somebody marked is told, whether it agrees or not.
    count = held & ~clipped & (used | ~judging)

    def pooled(colour: Int64) -> tuple[Float, Float, Float]:
        """Return each colour's error before and after, and its weight."""
        members = _members(colour)
        weight: Float = np.asarray(pairs.weight, float)
        before, after = (_pooled_error(reference, value, weight, members, view_stops) for value in (shot, matched))
        return before, after, np.asarray(weight @ members)

    named = _number_colours(reference, pairs.label, count)
    every = pooled(named)
    colour, (before, after, weight) = named, every
    if not judging.all():
        # Nor do names that marks gave to what was found make two colours of one.
        given = np.isin(pairs.label, pairs.label[~judging])
        colour = _number_colours(reference, np.where(given, "", pairs.label), count & judging)
        before, after, weight = pooled(colour)
    areas, areas_off = {}, {}
    single = _single_error(reference, matched, pairs.weight, count & judging, view_stops)
    for label in np.unique(pairs.label[count]):
        if label:
            own = count & (pairs.label == label)
            noise = 2 * float(np.square(pairs.noise[own]).sum(1).mean())
            areas_off[str(label)] = _area_off(reference[own], matched[own], single, noise, view_stops)
            inside = np.unique(named[own])
            areas[str(label)] = (
                _summary(every[0][inside], every[2][inside]),
                _summary(every[1][inside], every[2][inside]),
            )
    upper, least_gain = _ends(pairs, reference, (shot, matched), colour, view_stops, options)
    return HeldOut(
        before=_summary(before, weight),
        after=_summary(after, weight),
        upper=upper,
        least_gain=least_gain,
        error_before=error_before,
        error_after=error_after,
        fold=fold,
        clipped_share=float(clipped[held].mean()) if held.any() else 0.0,
        areas=areas,
        areas_off=areas_off,
    )


def _single_error(reference: Float, matched: Float, weight: Float, count: Bool, view_stops: float) -> float:
    """Return the CIEDE2000 by which a pair that agrees is off by itself: the weighted median."""
    if not count.any():
        return 0.0
    error = delta_e2000(measurement_lab(matched[count], view_stops), measurement_lab(reference[count], view_stops))
    return weighted_median(error, weight[count])


def _area_off(reference: Float, matched: Float, single: float, noise: float, view_stops: float) -> float:
    """Return what an area's mean colour is off by beyond what its patches scatter by (docs/maths.md, section 7).

    Every patch counts alike, however bright: gloss and shading are its own, the match is common. ``noise`` is
    the variance of red and blue over luminance that was measured in a patch: its own, where it is the larger.
    """
    light = np.maximum(reference @ AP1_LUMINANCE, 1e-4)
    own, true = ((rgb / light[:, None]).mean(0) * np.exp(np.log(light).mean()) for rgb in (matched, reference))
    shaken = tinted(np.stack([true, true]), np.sqrt(noise) * np.eye(2))
    labs = (measurement_lab(rgb, view_stops) for rgb in (np.stack([own, *shaken]), np.stack([true] * 3)))
    error, *by_noise = delta_e2000(*labs).tolist()
    alone = max(single**2, float(np.square(by_noise).sum()))
    return float(np.sqrt(max(error**2 - alone / len(reference), 0.0)))


def _number_colours(rgb: Float, label: NDArray[np.str_], count: Bool) -> Int64:
    """Number the colours: the same to within a stop of luminance and half a stop of chroma, and the same label."""
    luminance = np.maximum(rgb @ AP1_LUMINANCE, 1e-4)
    chroma = 2 * np.log2(np.maximum(rgb[:, [0, 2]], 1e-4) / luminance[:, None])
    named = numbered(label)
    key = np.column_stack([named, np.rint(np.log2(luminance)), np.rint(chroma)]).astype(int)
    out = np.full(len(rgb), -1)
    if count.any():
        out[count] = numbered(key[count], axis=0)
    return out


def _members(colour: Int64) -> Float64:
    """Return which pair shows which colour, (n, colours) of 0 and 1; a pair that does not count shows none."""
    return np.asarray(colour[:, None] == np.arange(colour.max(initial=-1) + 1), float)


def _pooled_error(reference: Float, matched: Float, weight: Float, members: Float, view_stops: float) -> Float64:
    """Return the CIEDE2000 of each colour's mean against the reference's mean, (..., colours).

    ``weight`` is (..., n): many weightings are measured at once.
    """
    total = np.maximum(weight @ members, 1e-12)
    means = (
        np.stack([weight @ (members * column[:, None]) / total for column in values.T], axis=-1)
        for values in (matched, reference)
    )
    return delta_e2000(*(measurement_lab(mean, view_stops) for mean in means))


def _summary(error: Float, weight: Float) -> ErrorSummary:
    if not len(error):
        return ErrorSummary(mean=0.0, p95=0.0, n=0)
    order = np.argsort(error, kind="stable")
    share = np.cumsum(weight[order]) / weight.sum()
    p95 = float(error[order][min(int(np.searchsorted(share, 0.95)), len(error) - 1)])
    return ErrorSummary(mean=float(np.average(error, weights=weight)), p95=p95, n=len(error))


def _ends(
    pairs: PairedColours,
    reference: Float,
    shot_and_matched: tuple[Float, Float],
    colour: Int64,
    view_stops: float,
    options: ValidateOptions,
) -> tuple[float, float]:
    """Return the upper end of the mean error, and the lower end of what the match gains on as shot.

    Each is the 95th percentile, or the 5th, when the places that it rests on are drawn anew: a bootstrap over
    groups of neighbouring pairs (Davison & Hinkley 1997, section 3.8), written as weights.
    """
    inside = colour >= 0
    if not inside.any():
        return 0.0, 0.0
    rng = np.random.default_rng(options.seed)
    groups = np.unique(pairs.group[inside], return_inverse=True)[1].reshape(-1)
    count = int(groups.max()) + 1
    times = rng.multinomial(count, np.full(count, 1 / count), size=options.resamples)
    weight: Float = np.asarray(pairs.weight[inside] * times[:, groups], float)
    members = _members(colour[inside])
    shot, matched = (
        np.average(
            _pooled_error(reference[inside], value[inside], weight, members, view_stops),
            axis=1,
            weights=weight @ members,
        )
        for value in shot_and_matched
    )
    return float(np.quantile(matched, 0.95)), float(np.quantile(shot - matched, 0.05))
