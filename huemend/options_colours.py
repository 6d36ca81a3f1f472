"""Options of matching by colours alone; ``huemend.options`` hands them on with all others."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["ColourOptions"]


@dataclass(frozen=True, kw_only=True)
class ColourOptions:
    """The fall-back for views that share no surface: matching by colours alone.

    Lengths of colour are in stops: of light, and of red over green and blue over green.

    Attributes
    ----------
    ask : bool
        Use it where an angle would stay unsolved; never without being asked.
    width, regions, compactness : int, int, float
        Pictures are cut into about that many superpixels at that width; more compact ones follow colour less.
    moments : int
        At most that many moments are looked at.
    usable : float
        Least share of a region that must be neither clipped nor ignored.
    darkest : float
        Regions below this scene-linear luminance are left out.
    same : (light, ratios)
        Standard deviation within which regions show one colour.
    saturated : float
        Regions that far from neutral count half: a 3x3 moves them by more than exposure and balance do.
    alike : (light, ratios)
        Standard deviation by which a surface differs between regions.
    loose : (share, light, ratios)
        And of the share of them that differ by more: mixed light, gloss.
    odd_colour, odd_light : float
        Floors under the densities of colours, and of light given the colour: how much a region that the hero does
        not show may cost.
    most_effective : float
        Independent surfaces that all regions together count for at most.
    common : (light, red over green, blue over green)
        Standard deviation of how differently two views far apart are lit on the whole.
    darker : float
        By how much the mean of that lies below the hero, for which a set is lit: of the setups that
        ``tests/bench/wide`` calls tuning (mean 0.15, standard deviation 0.15).
    reach : (light, red over green, blue over green)
        Matches looked at lie within that of nothing.
    fewest_colours : float
        Effective number of colours that an angle must show.
    least_found : float
        Least share of an angle's colours that must be found in the hero.
    way : float
        How much of the way to what the colours say the match goes: chosen on the tuning setups of
        ``tests/bench/wide`` (docs/maths.md, section 11).
    """

    ask: bool = False
    width: int = 480
    regions: int = 600
    compactness: float = 0.25
    moments: int = 4
    usable: float = 0.5
    darkest: float = 0.004
    same: tuple[float, float] = (0.3, 0.1)
    saturated: float = 0.6
    alike: tuple[float, float] = (0.2, 0.05)
    loose: tuple[float, float, float] = (0.15, 0.5, 0.15)
    odd_colour: float = 0.4
    odd_light: float = 0.2
    most_effective: float = 12.0
    common: tuple[float, float, float] = (0.25, 0.02, 0.04)
    darker: float = 0.15
    reach: tuple[float, float, float] = (3.5, 0.6, 0.8)
    fewest_colours: float = 4.0
    least_found: float = 0.38
    way: float = 0.7
