"""An angle that shares too little with the hero may be matched through another one; errors of a chain add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from huemend.model import Angle, AngleResult, Interval, Match, PairedColours, Reason, Uncertainty, Verdict

__all__ = ["broken_chain", "chain_error", "chain_order", "chained", "in_hero_light"]


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


def chain_error(found: AngleResult) -> float | None:
    """Return the upper end of an angle's error against the hero, in CIEDE2000; None where nothing proved it."""
    return None if found.held_out is None else found.held_out.upper


def broken_chain(angle: Angle, pairs: PairedColours, through: AngleResult) -> AngleResult:
    """Return that an angle cannot be matched because the one in between was not."""
    name = through.angle.name
    reason = Reason(
        code="broken-chain",
        text=f"it is to be matched through {name}, which was not matched itself",
        todo=f"see to {name} first, or name another angle in through",
    )
    return AngleResult.unsolved(angle, pairs, (reason,))


def chained(found: AngleResult, through: AngleResult, limit: float) -> AngleResult:
    """Add the error of the angle in between to that of an angle that was matched through it.

    The two errors come from different pairs and are taken as independent: their squares add (docs/maths.md,
    equation 26).

    Parameters
    ----------
    found : AngleResult
        As if the angle in between were the hero.
    through : AngleResult
        Of the angle in between, its own chain included.
    limit : float
        Largest upper end of the error of a match that is trusted, CIEDE2000.
    """
    name = through.angle.name
    # What a chain taught of two cameras is not sure enough to be lent to other setups.
    found = replace(found, learnt=None)
    before = chain_error(through)
    if before is None or found.held_out is None or found.uncertainty is None or through.uncertainty is None:
        trusted = found.verdict is Verdict.MATCHED
        return replace(
            found,
            verdict=Verdict.REVIEW if trusted else found.verdict,
            reasons=(*(() if trusted else found.reasons), _unproven(name)),
        )
    own = found.held_out.upper
    both = float(np.hypot(own, before))
    said = Reason(
        code="chained",
        text=f"matched through {name}, not to the hero itself: its own error of up to {own:.1f} CIEDE2000 and "
        f"that of {name}, up to {before:.1f}, come to {both:.1f}",
        todo="compare it with the hero, not only with that angle, on a calibrated display",
    )
    doubtful = both > limit or through.verdict is not Verdict.MATCHED
    verdict = Verdict.REVIEW if doubtful and found.verdict is Verdict.MATCHED else found.verdict
    kept = () if verdict is not found.verdict else found.reasons
    return replace(
        found,
        verdict=verdict,
        reasons=(*kept, said),
        held_out=replace(found.held_out, upper=both),
        uncertainty=_wider(found.uncertainty, through.uncertainty),
    )


def _unproven(name: str) -> Reason:
    return Reason(
        code="chained",
        text=f"matched through {name}, whose own match nothing has proven",
        todo="compare both with the hero on a calibrated display",
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
