"""Exposure and balance for the hero itself, as a suggestion: no match and no LUT depends on it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from huemend.base.units import AP1_LUMINANCE, NINETY
from huemend.model.hero import HeroBalance, HeroSurface, Suggestion
from huemend.model.surfaces import PUBLISHED
from huemend.options import HeroOptions
from huemend.view import measurement_lab

#: The patches "dark skin" and "light skin".
SKIN_PATCHES = PUBLISHED[:2]

_GREYS = ("area", "chart", "pixels")
_SOURCES = {
    "area": "a grey has three equal channels; how grey marked areas are: common practice, no source",
    "chart": "the published values of those patches, as colour-science carries them",
    "pixels": "method and error: Qian et al. 2019, On finding gray pixels (CVPR)",
    "skin": "the published chart patches dark skin and light skin, as colour-science carries them; that people "
    "lie about there: common practice, no source",
}
_STATED = "the reflectance that the setup file states"
_NOTHING = "there is neither a neutral nor skin in the hero that could be found; mark a grey with [[neutral]]"
_NO_LIGHT = (
    "greys alone say nothing of exposure: state the reflectance of a marked one, or mark an area named skin"
)


def suggest_balance(surfaces: Sequence[HeroSurface], options: HeroOptions) -> HeroBalance:
    """Suggest what would set the hero right.

    Greys that are marked come before those of a chart, these before greys that were found, and skin comes last:
    the first kind there is decides the balance alone. Exposure rests on surfaces of known reflectance, or else on
    skin.
    """
    kind = next((kind for kind in (*_GREYS, "skin") if any(each.kind == kind for each in surfaces)), None)
    if kind is None:
        return HeroBalance(
            exposure=None, red_green=None, blue_green=None, exposure_basis=_NOTHING, balance_basis=_NOTHING
        )
    used = [each for each in surfaces if each.kind == kind]
    ratio = np.array([np.log2(each.rgb / each.rgb[1]) for each in used])
    aim = np.log2(SKIN_PATCHES / SKIN_PATCHES[:, 1:2]).mean(0) if kind == "skin" else np.zeros(3)
    change = aim - np.median(ratio, axis=0)
    error = _balance_error(used, ratio, kind, options)
    gain = np.exp2(change)
    # The gauge of a match: balance leaves the AP1 luminance of three equal channels alone.
    gain /= gain @ AP1_LUMINANCE
    skin = [each for each in surfaces if each.kind == "skin"]
    exposure, basis, source = _exposure(surfaces, gain, options)
    return HeroBalance(
        exposure=exposure,
        red_green=_within(float(change[0]), float(error[0])),
        blue_green=_within(float(change[2]), float(error[2])),
        exposure_basis=basis,
        balance_basis=_basis(used),
        exposure_source=source,
        balance_source=_SOURCES[kind],
        skin=_skin_words(skin, gain) if skin and kind != "skin" else "",
    )


def _balance_error(
    used: Sequence[HeroSurface],
    ratio: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    kind: str,
    options: HeroOptions,
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Return the standard error of the median ratios, in stops: what all share, and what they scatter."""
    shared = {
        "area": options.area_error,
        "chart": options.chart_error,
        "pixels": options.pixel_error,
        "skin": options.skin_error,
    }[kind]
    own = float(np.mean([each.spread for each in used]))
    scatter = np.hypot(own, ratio.std(axis=0)) / np.sqrt(len(used))
    return np.asarray(np.hypot(shared, scatter), float)


def _exposure(
    surfaces: Sequence[HeroSurface],
    gain: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    options: HeroOptions,
) -> tuple[Suggestion | None, str, str]:
    for kind in _GREYS:
        known = [each for each in surfaces if each.kind == kind and each.reflectance is not None]
        if not known:
            continue
        off = np.array(
            [np.log2((each.reflectance or 1.0) / float(each.rgb * gain @ AP1_LUMINANCE)) for each in known]
        )
        error = float(np.hypot(options.light_error, off.std() / np.sqrt(len(off))))
        source = _STATED if kind == "area" else _SOURCES[kind]
        return _within(float(np.median(off)), error), _basis(known), source
    skin = [each for each in surfaces if each.kind == "skin"]
    if not skin:
        return None, _NO_LIGHT, ""
    light = float(np.median([np.log2(each.rgb * gain @ AP1_LUMINANCE) for each in skin]))
    dark, bright = np.log2(SKIN_PATCHES @ AP1_LUMINANCE) - light
    # Nobody's skin is known: the least change that brings it between the two patches.
    return (
        Suggestion(stops=float(np.clip(0.0, dark, bright)), low=float(dark), high=float(bright)),
        f"{_basis(skin)}, brought between the light of two chart patches, dark skin and light skin",
        _SOURCES["skin"],
    )


def _within(stops: float, error: float) -> Suggestion:
    return Suggestion(stops=stops, low=stops - NINETY * error, high=stops + NINETY * error)


def _basis(used: Sequence[HeroSurface]) -> str:
    where = list(dict.fromkeys(each.where for each in used))
    return f"{', '.join(where)} ({len(used)} sample{'s' * (len(used) != 1)})"


def _skin_words(skin: Sequence[HeroSurface], gain: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> str:
    """Say where the balance would put the skin, against the two published patches."""
    shot = np.median([each.rgb / (each.rgb @ AP1_LUMINANCE) for each in skin], axis=0)
    # At the light of the lighter patch, so that only the colour differs.
    level = float(SKIN_PATCHES[1] @ AP1_LUMINANCE)
    before, after = (_hue(level * rgb / (rgb @ AP1_LUMINANCE)) for rgb in (shot, shot * gain))
    dark, bright = (_hue(patch) for patch in SKIN_PATCHES)
    return (
        f"skin would go from a hue of {before:.0f} degrees to {after:.0f} (CIELAB; the chart patches light skin "
        f"and dark skin lie at {bright:.0f} and {dark:.0f})"
    )


def _hue(rgb: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    lab = measurement_lab(rgb)
    return float(np.degrees(np.arctan2(lab[2], lab[1])) % 360)
