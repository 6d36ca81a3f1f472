"""From which moment to which a camera stood still: what was found at the first of them holds for all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import NamedTuple

from huemend.correspond.framing import SAME, Corners, Framing, find_corners, follow_framing, held
from huemend.correspond.raster import make_picture, matching_log
from huemend.model import LinearStill
from huemend.options import CorrespondOptions

#: So often a camera that moves is matched anew: each time costs features, and a picture that is kept.
MOST_STANCES = 8


class PictureId(NamedTuple):
    """One picture of a setup: its angle and moment."""

    angle: str
    moment: int


class Stance(NamedTuple):
    """Since when a camera has stood as it does in a picture, and how it is framed against then."""

    first: PictureId
    framing: Framing


Stances = Mapping[PictureId, Stance]


def picture_id(still: LinearStill) -> PictureId:
    """Return what a picture is known by."""
    return PictureId(still.angle, still.moment)


class Follower:
    """Follows one camera through its pictures in order of time; holds what it knows the present stance by only."""

    def __init__(self, options: CorrespondOptions) -> None:
        self.options = options
        self.stances: dict[PictureId, Stance] = {}
        self._known: tuple[PictureId, Corners] | None = None

    def see(self, still: LinearStill) -> Stance:
        """Return since when the camera has stood as it does in its next picture."""
        options = self.options
        framing = None
        if self._known is not None:
            later = matching_log(still, options.width)
            framing = follow_framing(self._known[1], later, options.framing)
        if self._known is None or framing is None or not held(framing, options.framing):
            first = make_picture(still, options.width)
            corners = find_corners(first.log, first.bad == 0, options.framing)
            self._known, framing = (picture_id(still), corners), SAME
        stance = Stance(self._known[0], framing)
        self.stances[picture_id(still)] = stance
        return stance


def first_of(still: LinearStill, stances: Stances) -> Stance:
    """Return the stance of a picture; of one that nobody followed it is its own."""
    return stances.get(picture_id(still)) or Stance(picture_id(still), SAME)


def moving_cameras(stances: Stances) -> set[str]:
    """Return the angles whose framing changed between any two of their pictures."""
    begun = Counter(first.angle for first in {stance.first for stance in stances.values()})
    followed = {stance.first.angle for stance in stances.values() if stance.framing is not SAME}
    return followed | {angle for angle, count in begun.items() if count > 1}
