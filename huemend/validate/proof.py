"""The proof: colour differences on samples that the match did not use."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

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
    reference, shot = np.asarray(pairs.reference_rgb, float), np.asarray(pairs.angle_rgb, float)
    target = measurement_lab(reference, view_stops)
    error_before, error_after = (delta_e2000(measurement_lab(rgb, view_stops), target) for rgb in (shot, matched))
    clipped = clips(reference, view_stops) | clips(matched, view_stops)
    error_before[clipped | ~held] = error_after[clipped | ~held] = np.nan

    views = _Views.of(pairs, matched, view_stops)
    judging = ~pairs.marked_beside
    # What somebody marked is told, whether it agrees or not.
    count = held & ~clipped & (used | ~judging)
    colour = named = views.numbered_colours(pairs.label, count)
    pooled = every = views.pooled(named)
    if not judging.all():
        # Nor do names that marks gave to what was found make two colours of one.
        given = np.isin(pairs.label, pairs.label[~judging])
        colour = views.numbered_colours(np.where(given, "", pairs.label), count & judging)
        pooled = views.pooled(colour)
    single = views.single_error(count & judging)
    areas, areas_off = {}, {}
    for label in np.unique(pairs.label[count]):
        if label:
            own = count & (pairs.label == label)
            areas[str(label)] = every.summaries(np.unique(named[own]))
            areas_off[str(label)] = views.area_off(own, single)
    before, after = pooled.summaries()
    upper, least_gain = views.ends(colour, options)
    return HeldOut(
        before=before,
        after=after,
        upper=upper,
        least_gain=least_gain,
        error_before=error_before,
        error_after=error_after,
        fold=fold,
        clipped_share=float(clipped[held].mean()) if held.any() else 0.0,
        areas=areas,
        areas_off=areas_off,
    )


class _Pooled(NamedTuple):
    """Colours, each pooled over its pairs: its error as shot and matched, and its weight, (colours,) each."""

    before: Float
    after: Float
    weight: Float

    def summaries(self, which: Int | slice = slice(None)) -> tuple[ErrorSummary, ErrorSummary]:
        """Sum up some of them, before and after."""
        before, after, weight = (each[which] for each in self)
        return _summary(before, weight), _summary(after, weight)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Views:
    """Pairs as the reference shows them, as shot and as matched: light forgiven as far as it may differ."""

    pairs: PairedColours
    #: (n, 3) float64, scene-linear ACEScg.
    reference: Float
    shot: Float
    matched: Float
    view_stops: float

    @classmethod
    def of(cls, pairs: PairedColours, matched: Float, view_stops: float) -> _Views:
        reference, shot = np.asarray(pairs.reference_rgb, float), np.asarray(pairs.angle_rgb, float)
        shot, matched = (ease_light(value, reference, pairs.light_spread) for value in (shot, matched))
        return cls(pairs=pairs, reference=reference, shot=shot, matched=matched, view_stops=view_stops)

    def error(self, rgb: Float, reference: Float) -> Float64:
        """Return the CIEDE2000 between colours, (..., 3), in the measurement view."""
        return delta_e2000(measurement_lab(rgb, self.view_stops), measurement_lab(reference, self.view_stops))

    def numbered_colours(self, label: NDArray[np.str_], count: Bool) -> Int64:
        """Number colours, (n,): alike to a stop of luminance and half a stop of chroma, and one label; else -1."""
        rgb = self.reference
        luminance = np.maximum(rgb @ AP1_LUMINANCE, 1e-4)
        chroma = 2 * np.log2(np.maximum(rgb[:, [0, 2]], 1e-4) / luminance[:, None])
        named = numbered(label)
        key = np.column_stack([named, np.rint(np.log2(luminance)), np.rint(chroma)]).astype(int)
        out = np.full(len(rgb), -1)
        if count.any():
            out[count] = numbered(key[count], axis=0)
        return out

    def pooled(self, colour: Int64) -> _Pooled:
        """Pool pairs by the numbers of their colours, (n,)."""
        everything, members = np.ones(len(colour), bool), _members(colour)
        weight: Float = np.asarray(self.pairs.weight, float)
        before, after = (self._errors(rgb, everything, weight, members) for rgb in (self.shot, self.matched))
        return _Pooled(before, after, np.asarray(weight @ members))

    def _errors(self, rgb: Float, which: Bool, weight: Float, members: Float) -> Float64:
        """Return the CIEDE2000 of each colour's mean over some pairs, n of them, against the reference's mean.

        ``weight`` is (..., n): many weightings are measured at once, and (..., colours) are returned.
        """
        total = np.maximum(weight @ members, 1e-12)
        means = (
            np.stack([weight @ (members * column[:, None]) / total for column in values[which].T], axis=-1)
            for values in (rgb, self.reference)
        )
        return self.error(*means)

    def single_error(self, which: Bool) -> float:
        """Return by how much a pair that agrees is off by itself: the weighted median of some."""
        if not which.any():
            return 0.0
        return weighted_median(self.error(self.matched[which], self.reference[which]), self.pairs.weight[which])

    def area_off(self, own: Bool, single: float) -> float:
        """Return what an area's mean colour is off by beyond what its patches scatter by.

        Every patch counts alike, however bright: gloss and shading are its own, the match is common. A patch is
        off by ``single`` by itself, or by what was measured of its noise, where that is more (docs/maths.md,
        section 7).
        """
        reference, noise = self.reference[own], 2 * float(np.square(self.pairs.noise[own]).sum(1).mean())
        light = np.maximum(reference @ AP1_LUMINANCE, 1e-4)
        mean, true = (
            (rgb / light[:, None]).mean(0) * np.exp(np.log(light).mean()) for rgb in (self.matched[own], reference)
        )
        shaken = tinted(np.stack([true, true]), np.sqrt(noise) * np.eye(2))
        error, *by_noise = self.error(np.stack([mean, *shaken]), np.stack([true] * 3)).tolist()
        alone = max(single**2, float(np.square(by_noise).sum()))
        return float(np.sqrt(max(error**2 - alone / len(reference), 0.0)))

    def ends(self, colour: Int64, options: ValidateOptions) -> tuple[float, float]:
        """Return the upper end of the mean error, and the lower end of what the match gains on as shot.

        Each is the 95th percentile, or the 5th, when the places that it rests on are drawn anew: a bootstrap over
        groups of neighbouring pairs (Davison & Hinkley 1997, section 3.8), written as weights.
        """
        inside = colour >= 0
        if not inside.any():
            return 0.0, 0.0
        rng = np.random.default_rng(options.seed)
        groups = numbered(self.pairs.group[inside])
        count = int(groups.max()) + 1
        times = rng.multinomial(count, np.full(count, 1 / count), size=options.resamples)
        weight: Float = np.asarray(self.pairs.weight[inside] * times[:, groups], float)
        members = _members(colour[inside])
        shot, matched = (
            np.average(self._errors(rgb, inside, weight, members), axis=1, weights=weight @ members)
            for rgb in (self.shot, self.matched)
        )
        return float(np.quantile(matched, 0.95)), float(np.quantile(shot - matched, 0.05))


def _members(colour: Int64) -> Float64:
    """Return which pair shows which colour, (n, colours) of 0 and 1; a pair that does not count shows none."""
    return np.asarray(colour[:, None] == np.arange(colour.max(initial=-1) + 1), float)


def _summary(error: Float, weight: Float) -> ErrorSummary:
    if not len(error):
        return ErrorSummary(mean=0.0, p95=0.0, n=0)
    order = np.argsort(error, kind="stable")
    share = np.cumsum(weight[order]) / weight.sum()
    p95 = float(error[order][min(int(np.searchsorted(share, 0.95)), len(error) - 1)])
    return ErrorSummary(mean=float(np.average(error, weights=weight)), p95=p95, n=len(error))
