"""What is suggested for the hero itself, apart from every match."""

from __future__ import annotations

from dataclasses import dataclass

from huemend.base.arrays import Float


@dataclass(frozen=True, kw_only=True, eq=False)
class HeroSurface:
    """A surface of the hero whose true colour is known more or less."""

    #: ``area``: a grey that the setup file marks. ``chart``: a grey patch of a chart. ``pixels``: greys that were
    #: found. ``skin``.
    kind: str
    #: In words, for the report.
    where: str
    #: (3,) float64, scene-linear ACEScg.
    rgb: Float
    #: Standard error of the ratios of its channels, in stops.
    spread: float
    #: Of a surface whose reflectance is known.
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
    """Exposure and balance that would set the hero right; nothing else uses them."""

    #: None where nothing says what it should be.
    exposure: Suggestion | None
    #: Stops to add to red and to blue, against green.
    red_green: Suggestion | None
    blue_green: Suggestion | None
    #: What each rests on, in words; where there is no suggestion, why. And where the value that is aimed at comes
    #: from; empty where there is no suggestion.
    exposure_basis: str
    exposure_source: str = ""
    balance_basis: str
    balance_source: str = ""
    #: Where the balance would put the skin that was found, in words; empty where there is none.
    skin: str = ""
