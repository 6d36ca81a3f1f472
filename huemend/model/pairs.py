"""Paired colours: the same surfaces, as two angles show them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, FrozenArrays
from huemend.model.stills import LinearStill

__all__ = ["NO_LIGHT", "PairSource", "PairedColours"]

#: A pair with this spread of light (natural logarithm) or more speaks of balance alone.
NO_LIGHT = 1.0


@dataclass(frozen=True, kw_only=True, eq=False)
class PairedColours(FrozenArrays):
    """The same surfaces under the same light, as two angles show them.

    Attributes
    ----------
    reference, angle : str
        Names of the two angles. ``reference`` is usually the hero.
    source : str
        What found them: ``features``, ``areas``, ``faces``, ``chart`` ...
    reference_rgb, angle_rgb : (n, 3) float64, scene-linear ACEScg
        Mean colour of the surface patch in each view.
    weight : (n,) float64
        How much a pair counts, mean about 1.
    reference_xy, angle_xy : (n, 2) float64
        Where the patches lie, in pixels of each view's LinearStill.
    radius : (n, 2) float64
        Patch radius in pixels in the reference and in the angle.
    noise : (n, 2) float64
        Relative standard deviation of the patch mean in the reference and in the angle.
    moment : (n,) int
        Which moment each pair was seen at.
    group : (n,) int
        Pairs that lie together share a group; a proof must hold out whole groups.
    label : (n,) str
        What the surface is, where that is known: ``skin``, ``neutral``, the name of a marked area, or ``""``.
    found, matched : int
        How many candidates there were, and how many had a counterpart.
    rejected : mapping of rule to count
    by_hand : (n,) bool
        Areas that somebody marked; none where it is left out.
    light_spread : (n,) float64
        Standard deviation of the natural logarithm of luminance between the views, beyond noise and usual
        shading: above `NO_LIGHT` a pair says nothing about exposure. Zero where it is left out.
    """

    reference: str
    angle: str
    source: str
    reference_rgb: Float
    angle_rgb: Float
    weight: Float
    reference_xy: Float
    angle_xy: Float
    radius: Float
    noise: Float
    moment: NDArray[np.integer[Any]]
    group: NDArray[np.integer[Any]]
    label: NDArray[np.str_]
    found: int = 0
    matched: int = 0
    rejected: Mapping[str, int] = field(default_factory=dict)
    by_hand: Bool = field(default_factory=lambda: np.zeros(0, bool))
    light_spread: Float = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        for name in ("by_hand", "light_spread"):
            value = getattr(self, name)
            if not len(value) and len(self.weight):
                object.__setattr__(self, name, np.zeros(len(self.weight), value.dtype))
        super().__post_init__()

    def __len__(self) -> int:
        return len(self.weight)

    @property
    def says_light(self) -> Bool:
        """True for the pairs that say something about exposure, (n,): the others only speak of balance."""
        out: Bool = self.light_spread < NO_LIGHT
        return out


class PairSource(Protocol):
    """Anything that can say which colours two angles share: features, areas, faces, charts, chains."""

    def __call__(self, reference: tuple[LinearStill, ...], angle: tuple[LinearStill, ...]) -> PairedColours: ...
