"""In motion: hero and angle of the same moments, edge to edge, played when somebody asks.

The pictures of a camera lie below one another in one picture of the sheet; playing is nothing but moving the part
of it that is seen. So nothing is fetched, a browser's own rules on moving pictures do not apply, and any frame can
be stopped at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from huemend.base.arrays import Float
from huemend.model import AngleResult
from huemend.write.report.markup import Markup, element, filled, fold
from huemend.write.report.pictures import Gallery, Picture, matched_light

#: Pictures a second.
RATE = 8


@dataclass(frozen=True, kw_only=True, eq=False)
class Motion:
    """A few seconds of several cameras at the same times."""

    #: What the hero's clip calls each picture: its timecode, or the number of the frame.
    said: tuple[str, ...]
    #: Mapping of angle name to tuple of (height, width, 3) float32. Scene-linear ACEScg as shot, one for each of
    #: ``said``; all of one height, those of an angle of one width.
    light: Mapping[str, Sequence[Float]]


def motion_section(found: AngleResult, gallery: Gallery) -> Markup | None:
    """Lay out an angle's moving pictures beside the hero's; None where there are none of it."""
    name, hero, motion = found.angle.name, gallery.setup.hero, gallery.motion
    if motion is None or name not in motion.light:
        return None
    first = gallery.frames(f"{gallery.ids[hero]}-motion", motion.light[hero])
    match = found.delivered
    shown = list(motion.light[name])
    if match is not None:
        shoulder = gallery.shoulders.get(name)
        shown = [np.asarray(matched_light(match, light, shoulder), np.float32) for light in shown]
    second = gallery.frames(f"{gallery.ids[name]}-motion", shown)
    what = "matched" if match is not None else "as shot"
    count = len(motion.said)
    high = first.height // count
    figure = filled(
        "motion.html",
        rate=str(RATE),
        width=str(first.width + second.width),
        height=str(high),
        parts=[_part(first, 0, high), _part(second, first.width, high)],
        hero=hero,
        name=name,
        what=what,
        first=motion.said[0],
        last=str(count - 1),
        said="|".join(motion.said),
    )
    seconds = count / RATE
    return fold(f"In motion, {seconds:.2g} {'second' if seconds == 1 else 'seconds'}", figure)


def _part(picture: Picture, left: int, high: int) -> Markup:
    """Show the first of the pictures that lie below one another."""
    return element(
        "svg", picture.use(), x=left, y=0, width=picture.width, height=high, viewBox=f"0 0 {picture.width} {high}"
    )
