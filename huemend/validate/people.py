"""Each person compared with themselves across two views: hue angle, saturation, exposure, before and after."""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Bool, Float
from huemend.base.units import AP1_LUMINANCE
from huemend.model import Match, PairedColours
from huemend.model.people import SkinCheck, SkinColour, is_skin
from huemend.view import delta_e2000, ease_light, measurement_lab


def check_skin(pairs: PairedColours, match: Match, used: Bool, *, view_stops: float) -> tuple[SkinCheck, ...]:
    """Compare every skin that both views show with itself, by name, whether faces or marked areas gave it.

    ``used`` are the pairs that agree with the match: others of a name show something else, unless all do.
    """
    names = [name for name in np.unique(pairs.label).tolist() if is_skin(name)]
    return tuple(_check(name, pairs, match, used, view_stops) for name in names)


def _check(name: str, pairs: PairedColours, match: Match, used: Bool, view_stops: float) -> SkinCheck:
    inside = np.asarray(pairs.label == name)
    inside = inside & used if (inside & used).any() else inside
    weight = np.asarray(pairs.weight, float)[inside]
    hero, shot = (
        np.average(np.asarray(rgb, float)[inside], axis=0, weights=weight)
        for rgb in (pairs.reference_rgb, pairs.angle_rgb)
    )
    matched = np.asarray(match.apply(shot), float)
    # As in the proof, light is forgiven as far as the patches themselves say that it may differ.
    spread = np.average(np.asarray(pairs.light_spread, float)[inside], weights=weight)
    eased = [ease_light(rgb[None], hero[None], np.array([spread]))[0] for rgb in (shot, matched)]
    labs = [np.asarray(measurement_lab(rgb, view_stops), float) for rgb in (hero, *eased)]
    hero_light = float(hero @ AP1_LUMINANCE)

    def colour(rgb: Float, lab: Float) -> SkinColour:
        return SkinColour(
            hue_degrees=float(np.degrees(np.arctan2(lab[2], lab[1])) % 360),
            saturation=float(np.hypot(lab[1], lab[2])),
            exposure_stops=float(np.log2(max(float(rgb @ AP1_LUMINANCE), 1e-6) / hero_light)),
            error=float(delta_e2000(lab, labs[0])),
        )

    return SkinCheck(
        name=name,
        samples=int(inside.sum()),
        hero=colour(hero, labs[0]),
        before=colour(shot, labs[1]),
        after=colour(matched, labs[2]),
    )
