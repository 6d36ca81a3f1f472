"""What is suggested for the hero itself, apart from every match."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, kw_only=True, eq=False)
class HeroSurface:
    """A surface of the hero whose true colour is known more or less.

    Attributes
    ----------
    kind : str
        ``area``: a grey that the setup file marks. ``chart``: a grey patch of a chart. ``pixels``: greys that were
        found. ``skin``.
    where : str
        In words, for the report.
    rgb : (3,) float64, scene-linear ACEScg
    spread : float
        Standard error of the ratios of its channels, in stops.
    reflectance : float or None
        Of a surface whose reflectance is known.
    """

    kind: str
    where: str
    rgb: NDArray[np.floating[Any]]
    spread: float
    reflectance: float | None = None


@dataclass(frozen=True, kw_only=True)
class Suggestion:
    """Stops to add, with a 90 % interval; of exposure from skin, with the range that would do."""

    stops: float
    low: float
    high: float

    @property
    def is_clear(self) -> bool:
        """True if the interval leaves out "change nothing"."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True, kw_only=True)
class HeroBalance:
    """Exposure and balance that would set the hero right; nothing else uses them.

    Attributes
    ----------
    exposure : Suggestion or None
        None where nothing says what it should be.
    red_green, blue_green : Suggestion or None
        Stops to add to red and to blue, against green.
    exposure_basis, balance_basis : str
        What each rests on, in words; where there is no suggestion, why.
    exposure_source, balance_source : str
        Where the value that is aimed at comes from; empty where there is no suggestion.
    skin : str
        Where the balance would put the skin that was found, in words; empty where there is none.
    """

    exposure: Suggestion | None
    red_green: Suggestion | None
    blue_green: Suggestion | None
    exposure_basis: str
    balance_basis: str
    exposure_source: str = ""
    balance_source: str = ""
    skin: str = ""
