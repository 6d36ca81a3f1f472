"""Marks that contradict what else is known: named, with what each alone would give."""

from __future__ import annotations

from collections.abc import Sequence

from huemend.base.arrays import Float
from huemend.model import Contradiction, LinearStill, Place, Reason
from huemend.model.reasons import Code


def mark_reasons(odd: Sequence[Contradiction], hero: LinearStill, angle: LinearStill) -> tuple[Reason, ...]:
    """Say which marks were left out of a match, and what each alone would give; pictures give their sizes."""
    return tuple(
        Code.MARK_CONTRADICTED.because(
            "by pictures" if found.pictures else "",
            label=found.label,
            alone=_stops(found.alone),
            others=_stops(found.others),
            place=_place(found, 1, angle.rgb.shape),
            reference_place=_place(found, 0, hero.rgb.shape),
        )
        for found in odd
    )


def _stops(change: Float) -> str:
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
