"""Marks that contradict what else is known: named, with what each alone would give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.model import AngleResult, Contradiction, LinearStill, Place, Reason, Verdict

__all__ = ["with_marks_at_odds"]


def with_marks_at_odds(
    result: AngleResult, odd: Sequence[Contradiction], stills: Mapping[str, Sequence[LinearStill]]
) -> AngleResult:
    """Say which marks were left out of a match, and trust it only after a look.

    Parameters
    ----------
    result : AngleResult
        Of the pairs without those marks.
    odd : sequence of Contradiction
    stills : mapping of angle name to LinearStills
        For the size of the pictures that the marks are on.
    """
    if not odd:
        return result
    hero, angle = (stills[name][0].rgb.shape for name in (result.pairs.reference, result.angle.name))
    doubts = tuple(_reason(found, hero, angle) for found in odd)
    # What spoke for the match stays out: beside a doubt it would only confuse.
    kept = tuple(reason for reason in result.reasons if reason.code != "proven")
    verdict = Verdict.UNSOLVED if result.verdict is Verdict.UNSOLVED else Verdict.REVIEW
    return replace(result, verdict=verdict, reasons=(*doubts, *kept))


def _reason(found: Contradiction, hero: tuple[int, ...], angle: tuple[int, ...]) -> Reason:
    others = "everything found without help" if found.pictures else "the other marks"
    todo = "mark the same surface under the same light on both, or leave that mark out"
    if found.pictures:
        todo += "; if it is right and the rest is not, match by marks alone (--marks-only)"
    return Reason(
        code="mark-contradicted",
        text=f"the marked {found.label} was left out, because {others} contradicts it: "
        f"alone it would give {_stops(found.alone)}, the rest gives {_stops(found.others)}",
        todo=todo,
        place=_place(found, 1, angle),
        reference_place=_place(found, 0, hero),
    )


def _stops(change: NDArray[np.floating[Any]]) -> str:
    exposure, red, blue = (round(float(value), 2) + 0.0 for value in change)
    return f"{exposure:+.2f} stop (red {red:+.2f}, blue {blue:+.2f})"


def _place(found: Contradiction, side: int, size: tuple[int, ...]) -> Place:
    x, y = (found.reference_xy, found.angle_xy)[side]
    height, width = size[:2]
    return Place(
        moment=found.moment,
        x=float((x + 0.5) / width),
        y=float((y + 0.5) / height),
        radius=float(found.radius[side] / width),
    )
