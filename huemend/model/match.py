"""The match: what makes an angle agree with the hero, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np

from huemend.base.arrays import Float, Float64, FrozenArrays
from huemend.base.units import (
    AP1_LUMINANCE,
    MID_GREY,
    acescct_decode,
    acescct_encode,
    balance_stops,
    stops_to_gain,
)
from huemend.model.roots import root_terms
from huemend.model.setup import Nudge


class Rung(StrEnum):
    """The ladder of models, from nothing to the richest."""

    NONE = "none"
    EXPOSURE = "exposure"
    BALANCE = "balance"
    MATRIX = "matrix"
    ROOTS = "roots"
    FLARE = "flare"
    CONTRAST = "contrast"

    @property
    def mixes(self) -> bool:
        """Whether it mixes channels: the full 3x3 and what is richer do."""
        return self not in (Rung.NONE, Rung.EXPOSURE, Rung.BALANCE)


_IDENTITY: Float64 = np.eye(3)
_NO_FLARE: Float64 = np.zeros(3)
_NO_ROOTS: Float64 = np.zeros((3, 3))


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Match(FrozenArrays):
    """What makes one angle agree with the hero, in scene-linear ACEScg.

    ``hero = C(2**exposure_stops * (matrix @ lit + roots @ root_terms(lit)))`` with ``lit = rgb - flare``, where C
    is a slope about mid-grey in ACEScct (docs/maths.md, equation 1). Rungs not taken are exact identities.

    Attributes
    ----------
    exposure_stops : float
        Stops of light to add to the angle.
    matrix : (3, 3) float64
        Multiplies column vectors from the left; the AP1 luminance of ``matrix @ (1, 1, 1)`` is 1 (the gauge).
    flare : (3,) float64
        Light to take away from the angle first.
    contrast : float
        Slope about mid-grey in ACEScct; 1 leaves contrast alone.
    roots : (3, 3) float64
        Multiplies the three root terms as column vectors from the left: what bends hues beyond the matrix and
        leaves neutrals alone (`huemend.model.roots`). Zero leaves hues to the matrix.
    """

    exposure_stops: float = 0.0
    matrix: Float = field(default_factory=lambda: _IDENTITY)
    flare: Float = field(default_factory=lambda: _NO_FLARE)
    contrast: float = 1.0
    roots: Float = field(default_factory=lambda: _NO_ROOTS)

    def __post_init__(self) -> None:
        super().__post_init__()
        shapes = self.matrix.shape, self.flare.shape, self.roots.shape
        if shapes != ((3, 3), (3,), (3, 3)):
            raise ValueError(f"matrix must be (3, 3), flare (3,) and roots (3, 3), not {shapes}")
        if not all(np.isfinite(part).all() for part in (self.matrix, self.flare, self.roots)):
            raise ValueError("matrix, flare and roots must be finite")

    @classmethod
    def from_matrix(
        cls, matrix: Float, *, flare: Float | None = None, contrast: float = 1.0, roots: Float | None = None
    ) -> Match:
        """Split a 3x3 that carries the exposure, as roots beside it do, into exposure and balance by the gauge.

        Raises
        ------
        ValueError
            If the matrix turns a neutral into black or less.
        """
        matrix = np.asarray(matrix, float)
        gain = float(AP1_LUMINANCE @ matrix @ np.ones(3))
        if not gain > 0:
            raise ValueError("a match must leave a neutral with light")
        return cls(
            exposure_stops=float(np.log2(gain)),
            matrix=matrix / gain,
            flare=_NO_FLARE if flare is None else np.asarray(flare, float),
            contrast=contrast,
            roots=_NO_ROOTS if roots is None else np.asarray(roots, float) / gain,
        )

    @property
    def without_roots(self) -> Match:
        """The same match with hues left to the matrix."""
        return replace(self, roots=_NO_ROOTS)

    @property
    def combined(self) -> Float64:
        """The (3, 3) matrix with the exposure in it."""
        return stops_to_gain(self.exposure_stops) * np.asarray(self.matrix, float)

    @property
    def balance(self) -> tuple[float, float]:
        """Red against green and blue against green, in stops, of a matched neutral."""
        return balance_stops(self.matrix)

    @property
    def is_identity(self) -> bool:
        """True if applying the match changes nothing at all."""
        return (
            self.exposure_stops == 0.0
            and bool((self.matrix == _IDENTITY).all())
            and not self.flare.any()
            and self.contrast == 1.0
            and not self.roots.any()
        )

    def nudged(self, nudge: Nudge) -> Match:
        """Return the match with a nudge after it.

        ``exposure_stops`` grows by the nudge's exposure and ``balance`` by its red and blue, exactly: the gauge
        makes them separate. Under a contrast, which would stretch a gain with everything else, that holds of the
        picture above the toe of ACEScct, and the numbers of the match are the nudge's over the contrast.
        """
        if not nudge:
            return self
        stops = np.array([nudge.red, 0.0, nudge.blue]) / self.contrast
        tinted = np.exp2(stops)[:, None] * self.combined
        neutral = AP1_LUMINANCE @ self.combined.sum(1), AP1_LUMINANCE @ tinted.sum(1)
        gain = stops_to_gain(nudge.exposure / self.contrast) * neutral[0] / neutral[1]
        roots = gain * np.exp2(stops)[:, None] * stops_to_gain(self.exposure_stops) * self.roots
        return Match.from_matrix(gain * tinted, flare=self.flare, contrast=self.contrast, roots=roots)

    def apply(self, rgb: Float) -> Float:
        """Apply the match to scene-linear ACEScg.

        Parameters
        ----------
        rgb : (..., 3) array

        Returns
        -------
        (..., 3) array
            Of the input's floating type; the input itself, unchanged in value, for an identity.
        """
        if self.is_identity:
            return rgb
        kind = rgb.dtype if np.issubdtype(rgb.dtype, np.floating) else np.dtype(float)
        lit = rgb - self.flare.astype(kind)
        out: Float = lit @ self.combined.T.astype(kind)
        if self.roots.any():
            out = out + (root_terms(lit) @ (stops_to_gain(self.exposure_stops) * self.roots).T).astype(kind)
        if self.contrast != 1.0:
            out = pivot_contrast(out, self.contrast).astype(kind)
        return out


def pivot_contrast(rgb: Float, contrast: float) -> Float64:
    """Steepen or flatten scene-linear values about mid-grey, in ACEScct (docs/maths.md, equation 2)."""
    pivot = acescct_encode(np.asarray(MID_GREY))
    return acescct_decode(pivot + contrast * (acescct_encode(rgb) - pivot))


@dataclass(frozen=True, kw_only=True)
class Interval:
    """A 90 % interval."""

    low: float
    high: float

    @classmethod
    def about(cls, middle: float, half: float) -> Interval:
        """Return the interval that reaches so far to either side."""
        return cls(low=middle - half, high=middle + half)

    @property
    def middle(self) -> float:
        """Halfway between the ends."""
        return (self.low + self.high) / 2

    @property
    def half(self) -> float:
        """Half its width."""
        return (self.high - self.low) / 2


def added_errors(one: float, other: float) -> float:
    """Add the errors of two matches in a chain: they rest on different pairs (docs/maths.md, equation 26)."""
    return float(np.hypot(one, other))


@dataclass(frozen=True, kw_only=True)
class Uncertainty:
    """How far the truth may lie from the match, as 90 % intervals.

    ``exposure_stops``, ``red_green_stops`` and ``blue_green_stops`` bound the match itself; the three colour
    errors are the upper ends (95th percentile of the posterior) of the mean CIEDE2000 that its uncertainty causes
    on skin, neutrals and saturated colours.
    """

    exposure_stops: Interval
    red_green_stops: Interval
    blue_green_stops: Interval
    skin_error: float
    neutral_error: float
    saturated_error: float
