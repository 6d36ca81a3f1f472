"""Regions of one angle: what it shows, without saying what is what."""

from __future__ import annotations

from dataclasses import dataclass

from huemend.base.arrays import Float, FrozenArrays


@dataclass(frozen=True, kw_only=True, eq=False)
class Regions(FrozenArrays):
    """Small areas of one angle's pictures, each of one colour."""

    angle: str
    #: (n, 3) float64, scene-linear ACEScg. Mean colour of each region.
    rgb: Float
    #: (n,) float64. Share of the pictures that each covers.
    area: Float

    def __len__(self) -> int:
        return len(self.area)
