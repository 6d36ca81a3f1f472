"""How much a surface of an angle still differs from the same one of the hero."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from huemend.base.arrays import Float
from huemend.view import clips, delta_e2000, measurement_lab
from huemend.write.report.samples import difference_stops
from huemend.write.report.scopes import turn_degrees

#: Below this chroma in CIELAB an angle of hue means nothing.
_NEAR_GREY = 5.0
# A surface of which less than this is lit and does not clip in the measurement view has no colour to compare.
_LEAST = 0.3


@dataclass(frozen=True, kw_only=True)
class LeftOver:
    """How a surface of an angle differs from the same one of the hero, in the measurement view."""

    #: Level, and red and blue against green, in stops; NaN where there is too little light, or too much.
    stops: float
    red_green: float
    blue_green: float
    #: Turn of the hue angle in CIELAB, and chroma over the hero's less 1; NaN for surfaces that are nearly grey.
    hue_degrees: float
    saturation: float
    #: CIEDE2000 of the mean colours.
    error: float


def left_over(hero: Float, angle: Float, exposure: float) -> LeftOver:
    """Compare colours of a surface in two views, one by one.

    Two views never show quite the same: the half that agree best on one difference stand for the surface, so that
    something that only one of them shows counts for nothing.

    Parameters
    ----------
    hero, angle : (n, 3) arrays, scene-linear ACEScg
    exposure : float
        Stops of the measurement view.
    """
    off = difference_stops(hero, angle)
    good = np.isfinite(off).all(axis=1) & ~clips(hero, exposure) & ~clips(angle, exposure)
    if good.mean() < _LEAST:
        return LeftOver(**dict.fromkeys(LeftOver.__dataclass_fields__, float("nan")))
    apart = np.linalg.norm(off[good] - np.median(off[good], axis=0), axis=1)
    alike = np.flatnonzero(good)[np.argsort(apart, kind="stable")[: max(1, len(apart) // 2)]]
    one, other = hero[alike].mean(axis=0), angle[alike].mean(axis=0)
    level, red_green, blue_green = difference_stops(one[None], other[None])[0]
    lab = measurement_lab(np.stack([one, other]), exposure)
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    turn = saturation = float("nan")
    if chroma.min() > _NEAR_GREY:
        hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1]))
        turn = turn_degrees(float(hue[0]), float(hue[1]))
        saturation = float(chroma[1] / chroma[0] - 1)
    return LeftOver(
        stops=float(level),
        red_green=float(red_green),
        blue_green=float(blue_green),
        hue_degrees=turn,
        saturation=saturation,
        error=float(delta_e2000(lab[1], lab[0])),
    )
