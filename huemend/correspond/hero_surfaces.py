"""Surfaces of the hero that say how it should be exposed and balanced: greys and skin."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from huemend.base.units import AP1_LUMINANCE
from huemend.correspond.areas import AreaSource, NeutralSource
from huemend.correspond.chart_colours import PUBLISHED
from huemend.correspond.chart_finder import GREYS
from huemend.correspond.charts import ChartSource
from huemend.correspond.faces import FaceSource
from huemend.correspond.grey_pixels import grey_pixels
from huemend.model import LinearStill, Setup
from huemend.model.hero import HeroSurface
from huemend.options import CorrespondOptions, HeroOptions

__all__ = ["hero_surfaces"]

_WEIGHTS = AP1_LUMINANCE / AP1_LUMINANCE.sum()
_SKIN = "skin"


def hero_surfaces(
    stills: Sequence[LinearStill],
    setup: Setup,
    options: CorrespondOptions,
    hero: HeroOptions,
    *,
    faces: FaceSource | None = None,
    chart: ChartSource | None = None,
) -> tuple[HeroSurface, ...]:
    """Measure greys and skin on the hero.

    Parameters
    ----------
    stills : sequence of LinearStill
        The hero's.
    setup : Setup
    options : CorrespondOptions
    hero : HeroOptions
    faces, chart : optional
        What looks for faces and for a chart; None where these are not looked for.

    Raises
    ------
    MediaError
        A marked area can be measured at no moment.
    """
    pick = np.unique(np.linspace(0, len(stills) - 1, min(len(stills), hero.moments)).round().astype(int))
    few = [stills[index] for index in pick]
    found = [
        HeroSurface(
            kind="area",
            where="a grey area that the setup file marks",
            rgb=rgb,
            spread=_stops(noise),
            reflectance=reflectance,
        )
        for rgb, noise, reflectance in NeutralSource(setup, options).greys(stills)
    ]
    if chart is not None:
        found += [grey for still in few for grey in _chart_greys(still, chart)]
    if options.features:
        for still in few:
            greys = grey_pixels(still, hero)
            if greys is not None:
                found.append(
                    HeroSurface(kind="pixels", where="greys that were found", rgb=greys[0], spread=greys[1])
                )
    found += [
        HeroSurface(kind=_SKIN, where=f"the area {name!r}", rgb=rgb, spread=_stops(noise))
        for name, rgb, noise in AreaSource(setup, options).reference_colours(stills)
        if _SKIN in name.casefold()
    ]
    if faces is not None:
        for still in few:
            for patches in faces.skin(still):
                rgb = np.median([patch.rgb for patch in patches], axis=0)
                noise = float(np.mean([patch.noise for patch in patches]))
                found.append(HeroSurface(kind=_SKIN, where="a face", rgb=rgb, spread=_stops(noise)))
    return tuple(found)


def _chart_greys(still: LinearStill, chart: ChartSource) -> list[HeroSurface]:
    seen = chart.seen(still)
    if seen is None:
        return []
    known = PUBLISHED
    return [
        HeroSurface(
            kind="chart",
            where="the grey patches of a chart",
            # A grey patch is not quite grey: what is aimed at is its published colour.
            rgb=seen.rgb[patch] * float(known[patch] @ _WEIGHTS) / known[patch],
            spread=_stops(float(seen.noise[patch])),
            reflectance=float(known[patch] @ _WEIGHTS),
        )
        for patch in GREYS
        if seen.usable[patch]
    ]


def _stops(relative: float) -> float:
    """Turn a relative standard deviation into one of stops."""
    return float(relative / np.log(2))
