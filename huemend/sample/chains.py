"""Angles that are matched through another one: every chain must end at the hero."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from huemend.model import Angle
from huemend.sample.tables import Table, meant

_TODO = "name the angle that this one shares most with, and let the chain end at the hero"


def checked_chains(angles: Sequence[Angle], tables: Mapping[str, Table], hero: str) -> tuple[Angle, ...]:
    """Return the angles, those matched through the hero being matched to it.

    Raises
    ------
    SetupFileError
        A chain names an angle that there is not, or goes in a circle, or starts at the hero.
    """
    through = {angle.name: angle.through for angle in angles}
    for name, at in through.items():
        if at is None:
            continue
        if name == hero:
            raise tables[name].problem("stands on the hero, which is not matched", "through", todo="leave it out")
        seen = [name]
        while at is not None and at != hero:
            if at not in through:
                todo = meant(at, list(through), _TODO)
                raise tables[seen[-1]].problem(f"{at!r} is not among the angles", "through", todo=todo)
            if at in seen:
                circle = " -> ".join([*seen[seen.index(at) :], at])
                raise tables[name].problem(f"goes in a circle: {circle}", "through", todo=_TODO)
            seen.append(at)
            at = through[at]
    return tuple(replace(angle, through=None) if angle.through == hero else angle for angle in angles)
