"""Flare that comes from one side of the picture: told, since one match of the whole frame cannot take it off.

A window or a lamp at the edge of the frame veils that side and leaves the other alone. A match without flare drops
the veiled surfaces as wrong pairs, one with flare takes it off where there is none, and what is held out agrees in
either case: it lies where the pairs lie that were kept. What all pairs say together tells.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from huemend.base.arrays import Float64
from huemend.model import LinearStill, PairedColours, Reason, Rung
from huemend.model.reasons import Code
from huemend.options import SolveOptions
from huemend.solve.ladder import paired
from huemend.solve.prior import CAMERA_PAIR
from huemend.solve.residuals import Samples
from huemend.solve.robust import estimate, surprise

_SIDES = ("left", "right", "top", "bottom", "middle")
#: Light of a veil at its edge that is tried, of the mean light of the angle's picture; where the strongest helps
#: from no side, weaker ones do not either.
_STRENGTHS = (0.25, 0.08)
#: Fewer pairs do not tell a veil from wrong ones. A side is chosen on some of them, and told by more.
_FEWEST, _CHOOSING, _MOST = 60, 600, 3000


@dataclass(frozen=True, kw_only=True)
class _Veil:
    """Light from one side, or from the middle, that dies out with the square of the way across."""

    side: str
    #: (3,) float64, scene-linear ACEScg, at the edge.
    light: Float64

    def at(self, place: Float64) -> Float64:
        """Return its light, (n, 3), at places of the picture from 0 to 1, (n, 2)."""
        # From the middle as through a lens that has misted over.
        left_over: Float64 = 1 - np.square(2 * place - 1).sum(-1)
        if self.side != "middle":
            along = place[:, _SIDES.index(self.side) // 2]
            left_over = along if self.side in ("right", "bottom") else 1 - along
        return np.multiply.outer(np.square(np.clip(left_over, 0.0, 1.0)), self.light)


def uneven_flare(pairs: PairedColours, angle: LinearStill, options: SolveOptions) -> tuple[Reason, ...]:
    """Return the doubt that flare lies on one side of an angle, of its first picture, if the pairs speak for it.

    Veils of the colour of the picture's mean light, from its edges and its middle, are taken off the pairs.
    One is told where a match then explains them better than any does that takes flare for even (docs/maths.md,
    equation 13b).
    """
    pairs = pairs.take(~pairs.by_hand)
    if len(pairs) < _FEWEST:
        return ()
    light = angle.rgb.mean((0, 1), dtype=np.float64)
    some, all_of_them = (_Told.of(pairs, angle.extent, most, options) for most in (_CHOOSING, _MOST))
    clear, odds = some.mean(some.surprise(Rung.MATRIX, None)), []
    for share in _STRENGTHS:
        veils = [_Veil(side=side, light=share * light) for side in _SIDES]
        odds += [(some.mean(some.surprise(Rung.MATRIX, veil)), veil) for veil in veils]
        if min(odd for odd, _ in odds) >= clear:
            return ()
    veil = min(odds, key=lambda tried: tried[0])[1]
    # A lens that is veiled from one side may have a haze all over besides.
    even, uneven = (
        min((all_of_them.surprise(rung, each) for rung in (Rung.MATRIX, Rung.FLARE)), key=all_of_them.mean)
        for each in (None, veil)
    )
    gain, chance = paired(even - uneven, all_of_them.samples)
    if gain <= max(options.uneven_evidence, 2 * chance):
        return ()
    return (Code.UNEVEN_FLARE.because(side=veil.side),)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Told:
    """Pairs that are asked, and where they lie."""

    samples: Samples
    #: (n, 2) float64, from 0 to 1 over the angle's picture.
    place: Float64
    options: SolveOptions

    @classmethod
    def of(cls, pairs: PairedColours, size: Float64, most: int, options: SolveOptions) -> _Told:
        """Pick at most so many pairs, evenly."""
        pairs = pairs.take(np.linspace(0, len(pairs) - 1, min(len(pairs), most)).astype(np.int64))
        return cls(samples=Samples.of(pairs, options), place=pairs.angle_xy / size, options=options)

    def mean(self, surprise: Float64) -> float:
        """Return what is minimised over veils and rungs."""
        return float(np.average(surprise, weights=self.samples.weight))

    def surprise(self, rung: Rung, veil: _Veil | None) -> Float64:
        """Return by how much each pair surprises a match of a rung that is fitted without a veil, (n,)."""
        samples = self.samples
        if veil is not None:
            samples = replace(samples, rgb=np.maximum(samples.rgb - veil.at(self.place), 1e-5))
        found = estimate(samples, rung, CAMERA_PAIR, self.options, flare_unit=self.samples.mean_light)
        return surprise(samples, found, self.options)
