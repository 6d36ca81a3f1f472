"""Marks that contradict what else is known: named, with what each alone would give."""

from __future__ import annotations

from collections.abc import Sequence

from huemend.base.arrays import Float
from huemend.model import Contradiction, LinearStill, Place, Reason
from huemend.model.reasons import Code


def mark_reasons(odd: Sequence[Contradiction], hero: LinearStill, angle: LinearStill) -> tuple[Reason, ...]:
    """Say which marks on these two were left out of a match, and what each alone would give."""
    return tuple(
        Code.MARK_CONTRADICTED.because(
            "by pictures" if found.pictures else "",
            label=found.label,
            alone=_stops(found.alone),
            others=_stops(found.others),
            place=_place(found.angle_xy, found.radius[1], found.moment, angle),
            reference_place=_place(found.reference_xy, found.radius[0], found.moment, hero),
        )
        for found in odd
    )


def _stops(change: Float) -> str:
    exposure, red, blue = (round(float(value), 2) + 0.0 for value in change)
    return f"{exposure:+.2f} stop (red {red:+.2f}, blue {blue:+.2f})"


def _place(xy: Float, radius: float, moment: int, still: LinearStill) -> Place:
    height, width = still.rgb.shape[:2]
    x, y = (xy + 0.5) / [width, height]
    return Place(moment=moment, x=float(x), y=float(y), radius=float(radius / width))
