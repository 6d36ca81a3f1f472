"""Trying rungs on pairs: each is fitted without each fold, and judged on that fold (docs/maths.md, section 5)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from huemend.base.arrays import Bool, Float, Int64
from huemend.model import NO_LIGHT, PairedColours, Rung
from huemend.options import SolveOptions
from huemend.solve.folds import Folds
from huemend.solve.ground import Ground
from huemend.solve.parameters import FLARE
from huemend.solve.residuals import Samples
from huemend.solve.robust import Estimate, estimate, settle
from huemend.view import delta_e2000, ease_light, measurement_lab

# A pair that is off by more than this is a wrong pair on every rung; it must not decide between rungs.
_CAP = 10.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Trials:
    """Pairs that rungs are tried on, and how they are held out."""

    #: Of these pairs alone.
    ground: Ground
    folds: Folds
    #: (3,) float64, scene-linear ACEScg, or 0. Where flare starts from.
    flare_start: Float | float
    #: Gain of the measurement view, in which errors are told.
    view_stops: float

    @classmethod
    def of(cls, ground: Ground, folds: Folds, rungs: tuple[Rung, ...], *, view_stops: float) -> Trials:
        """Return what these rungs are tried on: `SolveOptions.fold_pairs` at most of what was found."""
        proof = _thin(ground.pairs, ground.options.fold_pairs)
        return cls(
            ground=ground.take(proof),
            folds=folds.take(proof),
            flare_start=ground.at(Rung.FLARE).theta[FLARE] if Rung.FLARE in rungs else 0.0,
            view_stops=view_stops,
        )

    @property
    def samples(self) -> Samples:
        """The pairs made ready for a fit."""
        return self.ground.samples

    @property
    def options(self) -> SolveOptions:
        """Those of the ground."""
        return self.ground.options

    @cached_property
    def judges(self) -> Bool:
        """The pairs that choose between rungs, (n,)."""
        return np.asarray(self.folds.judged >= 0)

    @cached_property
    def judged(self) -> Samples:
        """Those pairs."""
        return self.samples.take(self.judges)

    @cached_property
    def _target(self) -> Float:
        return measurement_lab(self.ground.pairs.reference_rgb, self.view_stops)

    @cached_property
    def _unlit(self) -> Float:
        # What says nothing of exposure is judged by its colour alone. Were all pairs eased, as in the proof, it
        # would not show what an exposure gains.
        spread = self.samples.light_spread
        return np.where(spread < NO_LIGHT, 0.0, spread)

    def fitted(self, rung: Rung, which: Bool) -> Estimate:
        """Fit a rung to some of the pairs."""
        samples, ground, start = self.samples.take(which), self.ground, self.flare_start
        unit = ground.flare_unit
        return estimate(samples, rung, ground.prior, ground.options, flare_unit=unit, flare_start=start)

    def errors(self, theta: Float, which: Bool) -> Float:
        """Return the CIEDE2000 that parameters leave on some of the pairs, wrong pairs capped."""
        reference = self.ground.pairs.reference_rgb[which]
        eased = ease_light(self.samples.take(which).predict(theta), reference, self._unlit[which])
        return np.minimum(delta_e2000(measurement_lab(eased, self.view_stops), self._target[which]), _CAP)

    def hold_out(self, rung: Rung) -> tuple[tuple[Estimate, ...], Float]:
        """Return what each fold's absence gives, and the error of every judge on the fit without its own fold."""
        held = np.zeros(len(self.samples))
        estimates = []
        judged = self.folds.judged
        for number in np.unique(judged[judged >= 0]):
            out = np.asarray(judged == number)
            estimates.append(self.fitted(rung, ~self.folds.hidden[number]))
            held[out] = self.errors(estimates[-1].theta, out)
        return tuple(estimates), held[self.judges]

    def settled(self, estimates: tuple[Estimate, ...]) -> tuple[Estimate, ...]:
        """Settle the exposures of what each fold's absence gave, each on what it was fitted to."""
        numbers = np.unique(self.folds.judged[self.judges])
        each = zip(numbers, estimates, strict=True)
        return tuple(settle(one, self.samples.take(~self.folds.hidden[k]), self.options) for k, one in each)

    def promises_hues(self) -> bool:
        """Tell whether bending hues gains on the very pairs that it is fitted to.

        What does not won't gain on others either, and costs a fifth as much to find out.
        """
        if _count_colours(self.judged.rgb) < self.options.roots_colours:
            return False
        plain, hues = (
            np.average(self.errors(self.fitted(rung, self.judges).theta, self.judges), weights=self.judged.weight)
            for rung in (Rung.MATRIX, Rung.ROOTS)
        )
        return bool(plain - hues > self.options.gain_roots)


def _thin(pairs: PairedColours, most: int) -> Int64:
    """Return the rows of at most so many found pairs, evenly picked, and of all areas drawn by hand."""
    found, marked = np.flatnonzero(~pairs.by_hand), np.flatnonzero(pairs.by_hand)
    picked = np.linspace(0, len(found) - 1, min(len(found), most)).astype(np.int64)
    return np.union1d(found[picked], marked)


def _count_colours(rgb: Float) -> int:
    """Return how many hues and saturations there are, a quarter of a stop of red and blue over green apart."""
    ratios = np.log2(np.maximum(rgb[:, ::2], 1e-4) / np.maximum(rgb[:, 1:2], 1e-4))
    return len(np.unique(np.rint(4 * ratios).astype(int), axis=0))
