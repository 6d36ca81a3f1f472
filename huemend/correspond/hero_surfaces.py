"""Surfaces of the hero that say how it should be exposed and balanced: greys and skin."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from huemend.base.units import AP1_LUMINANCE
from huemend.correspond.areas import AreaSource, NeutralSource
from huemend.correspond.chart_finder import GREYS, Chart
from huemend.correspond.detect import Detected, hero_pictures
from huemend.correspond.grey_pixels import grey_pixels
from huemend.correspond.stances import picture_id
from huemend.model import LinearStill, Setup
from huemend.model.hero import HeroSurface
from huemend.model.people import is_skin
from huemend.model.surfaces import PUBLISHED
from huemend.options import CorrespondOptions, HeroOptions

_SKIN = "skin"


def hero_surfaces(
    stills: Sequence[LinearStill],
    setup: Setup,
    options: CorrespondOptions,
    hero: HeroOptions,
    detected: Detected,
) -> tuple[HeroSurface, ...]:
    """Measure greys and skin on the hero, of what was detected in `hero_pictures` of its stills.

    Raises MediaError if a marked area can be measured at no moment.
    """
    few = hero_pictures(stills, hero)
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
    found += [grey for still in few for grey in _chart_greys(detected.charts.get(picture_id(still)))]
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
        if is_skin(name)
    ]
    for still in few:
        for person in detected.people.get(picture_id(still), ()):
            patches = person.patches.values()
            rgb = np.median([patch.rgb for patch in patches], axis=0)
            noise = float(np.mean([patch.noise for patch in patches]))
            found.append(HeroSurface(kind=_SKIN, where="a face", rgb=rgb, spread=_stops(noise)))
    return tuple(found)


def _chart_greys(seen: Chart | None) -> list[HeroSurface]:
    if seen is None:
        return []
    return [
        HeroSurface(
            kind="chart",
            where="the grey patches of a chart",
            # A grey patch is not quite grey: what is aimed at is its published colour.
            rgb=seen.rgb[patch] * float(PUBLISHED[patch] @ AP1_LUMINANCE) / PUBLISHED[patch],
            spread=_stops(float(seen.noise[patch])),
            reflectance=float(PUBLISHED[patch] @ AP1_LUMINANCE),
        )
        for patch in GREYS
        if seen.usable[patch]
    ]


def _stops(relative: float) -> float:
    """Turn a relative standard deviation into one of stops."""
    return float(relative / np.log(2))
