"""An angle that shares too little with the hero may be matched through another one; errors of a chain add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from huemend.model import Angle, AngleResult, Interval, Match, PairedColours, Uncertainty


def chain_order(angles: Sequence[Angle]) -> tuple[tuple[Angle, ...], ...]:
    """Return the angles in steps: those matched to the hero, those matched through one of them, and so on.

    The setup file was checked: every chain ends at the hero.
    """
    steps: list[tuple[Angle, ...]] = []
    left: list[Angle] = list(angles)
    known: set[str | None] = {None}
    while left:
        step = tuple(angle for angle in left if angle.through in known)
        steps.append(step)
        left = [angle for angle in left if angle not in step]
        known |= {angle.name for angle in step}
    return tuple(steps)


def in_hero_light(pairs: PairedColours, match: Match) -> PairedColours:
    """Turn the reference of pairs, which another angle shot, into what the hero would have shot.

    Parameters
    ----------
    pairs : PairedColours
        ``reference_rgb`` is scene-linear ACEScg as that angle shot it.
    match : Match
        That angle's own.
    """
    return replace(pairs, reference_rgb=np.asarray(match.apply(np.asarray(pairs.reference_rgb, float))))


def with_errors_of(found: AngleResult, through: AngleResult) -> AngleResult:
    """Add the errors of the angle in between to those of an angle that was matched through it.

    The two come from different pairs and are taken as independent: their squares add (docs/maths.md, equation 26).

    Parameters
    ----------
    found : AngleResult
        As if the angle in between were the hero.
    through : AngleResult
        Of the angle in between, its own chain included.
    """
    # What a chain taught of two cameras is not sure enough to be lent to other setups.
    found = replace(found, learnt=None)
    own, before = found.held_out, through.held_out
    if own is None or before is None or found.uncertainty is None or through.uncertainty is None:
        return found
    return replace(
        found,
        held_out=replace(own, upper=float(np.hypot(own.upper, before.upper))),
        uncertainty=_wider(found.uncertainty, through.uncertainty),
    )


def _wider(own: Uncertainty, before: Uncertainty) -> Uncertainty:
    values: dict[str, Any] = {}
    for name in ("exposure_stops", "red_green_stops", "blue_green_stops"):
        mine, other = getattr(own, name), getattr(before, name)
        middle = (mine.low + mine.high) / 2
        half = float(np.hypot(mine.high - mine.low, other.high - other.low)) / 2
        values[name] = Interval(low=middle - half, high=middle + half)
    for name in ("skin_error", "neutral_error", "saturated_error"):
        values[name] = float(np.hypot(getattr(own, name), getattr(before, name)))
    return replace(own, **values)
