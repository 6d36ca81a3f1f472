"""Regions of one angle: what it shows, without saying what is what."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Regions:
    """Small areas of one angle's pictures, each of one colour; the arrays are read-only."""

    angle: str
    #: (n, 3) float64, scene-linear ACEScg. Mean colour of each region.
    rgb: NDArray[np.floating[Any]]
    #: (n,) float64. Share of the pictures that each covers.
    area: NDArray[np.floating[Any]]

    def __post_init__(self) -> None:
        for name in ("rgb", "area"):
            value = np.array(getattr(self, name), float)
            value.setflags(write=False)
            object.__setattr__(self, name, value)

    def __len__(self) -> int:
        return len(self.area)
