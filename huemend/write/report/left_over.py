"""How much a surface of an angle still differs from the same one of the hero."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from huemend.base.arrays import Float
from huemend.model import AngleResult
from huemend.model.people import SkinCheck, SkinColour
from huemend.view import clips, delta_e2000, measurement_lab
from huemend.write.report.figures import signed
from huemend.write.report.samples import difference_stops
from huemend.write.report.scopes import turn_degrees

#: Below this chroma in CIELAB an angle of hue says little: 5 degrees of it are a colour difference of under 1.
_NEAR_GREY = 10.0
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
    """Compare colours of a surface in two views, (n, 3) ACEScg each, one by one, in the measurement view.

    Two views never show quite the same: the half that agree best on one difference stand for the surface, so that
    something that only one of them shows counts for nothing. The view is at so many stops of ``exposure``.
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


def of_skin(found: AngleResult, person: SkinCheck) -> tuple[LeftOver, LeftOver]:
    """Return what was measured on a person's skin alone, as shot and as delivered.

    The colour difference is the held-out one wherever the proof knows this skin, as in all numbers of the page;
    it knows nothing of what somebody nudged.
    """
    known = found.held_out.areas.get(person.name) if found.held_out is not None else None
    before, after = (person.before.error, person.after.error) if known is None else (each.mean for each in known)
    after = person.after.error if found.angle.nudge else after
    return _skin(person, person.before, before), _skin(person, person.after, after)


def _skin(person: SkinCheck, said: SkinColour, error: float) -> LeftOver:
    return LeftOver(
        stops=said.exposure_stops,
        red_green=float("nan"),
        blue_green=float("nan"),
        hue_degrees=turn_degrees(person.hero.hue_degrees, said.hue_degrees),
        saturation=said.saturation / max(person.hero.saturation, 1e-6) - 1,
        error=error,
    )


def left_words(*states: LeftOver) -> list[str]:
    """Say how a surface differs from the hero's in each state: stop, hue, saturation; of greys, red and blue.

    All in the same terms, so that they compare: hue only where every state has one.
    """
    in_hue = all(math.isfinite(one.hue_degrees) for one in states)
    return [_words(one, in_hue=in_hue) for one in states]


def _words(left: LeftOver, *, in_hue: bool) -> str:
    if not math.isfinite(left.stops):
        return "clips in the measurement view"
    said = f"{signed(left.stops)} stop"
    if in_hue:
        return f"{said}, hue {signed(left.hue_degrees, 0)}°, saturation {signed(100 * left.saturation, 0)} %"
    if math.isfinite(left.red_green):
        return f"{said}, red {signed(left.red_green)}, blue {signed(left.blue_green)}"
    return said
