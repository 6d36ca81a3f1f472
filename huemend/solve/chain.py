"""An angle that shares too little with the hero may be matched through another one; errors of a chain add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from huemend.model import Angle, AngleResult, Interval, Match, PairedColours, Uncertainty
from huemend.model.match import added_errors


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
    """Turn the reference of pairs, as another angle shot it, into what the hero would have: by its match."""
    return replace(pairs, reference_rgb=np.asarray(match.apply(np.asarray(pairs.reference_rgb, float))))


def with_errors_of(found: AngleResult, through: AngleResult) -> AngleResult:
    """Add the errors of the angle in between, its own chain included, to those of the angle matched through it."""
    # What a chain taught of two cameras is not sure enough to be lent to other setups.
    found = replace(found, learnt=None)
    own, before = found.held_out, through.held_out
    if own is None or before is None or found.uncertainty is None or through.uncertainty is None:
        return found
    return replace(
        found,
        held_out=replace(own, upper=added_errors(own.upper, before.upper)),
        uncertainty=_wider(found.uncertainty, through.uncertainty),
    )


def _wider(own: Uncertainty, before: Uncertainty) -> Uncertainty:
    def wider(mine: Any, other: Any) -> Any:
        if isinstance(mine, Interval):
            return Interval.about(mine.middle, added_errors(mine.half, other.half))
        return added_errors(mine, other)

    names = [field.name for field in fields(Uncertainty)]
    return Uncertainty(**{name: wider(getattr(own, name), getattr(before, name)) for name in names})
