"""A screen in one view that shows what the other view records: a monitor on the set, or a tile of several cameras.

It agrees with that view better than anything on the set does, and says nothing of the set: its light is the
screen's. It holds the other's whole frame by one plane's map, whatever the distances, and ends where that frame
ends. A wider lens at the same place holds a longer one's whole frame by such a map, too, but nothing ends there.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from huemend.base.arrays import Bool, Float, Float64
from huemend.base.cv import import_cv2
from huemend.correspond.clusters import believed
from huemend.correspond.features import Candidates, Features, find_candidates
from huemend.correspond.raster import MatchPicture
from huemend.options import CorrespondOptions
from huemend.options.correspond import MATCHING_WIDTH

#: In pixels of a picture `MATCHING_WIDTH` wide: how well candidates agree on a screen's middle, how far off they
#: may lie, and how far in and out of its edge is looked.
_MIDDLE, _OFF, _EDGE = 15.0, 2.0, 4.0
#: So many candidates, over so much of the other's frame each way, show a whole frame.
_FEWEST, _SPAN = 40, 0.35
#: A screen is smaller than this share of the view's width or height, and from its edge on light changes by so many
#: times of what it does within.
_LARGEST, _ENDS = 0.7, 3.0


def without_screens(
    candidates: Candidates,
    features: tuple[Features, Features],
    pictures: tuple[MatchPicture, MatchPicture],
    options: CorrespondOptions,
) -> tuple[Candidates, int]:
    """Leave out what lies on a screen that shows the other view, and look for candidates anew.

    Features and pictures are the hero's and the angle's. Returned are the candidates, as given without such a
    screen, or where nothing else is believed (of a picture with a black frame around), and how many features
    were left out.
    """
    places = candidates.reference, candidates.angle
    for shown, view in ((0, 1), (1, 0)):
        growth = candidates.scale if view else -candidates.scale
        corners = _screen(places[shown], places[view], growth, pictures[shown], pictures[view])
        if corners is not None:
            kept = list(features)
            kept[view] = features[view].take(~_within(corners, features[view].places))
            rest = find_candidates(kept[0], kept[1], options)
            if (believed(rest, options)[0] >= 0).any():
                return rest, len(features[view]) - len(kept[view])
    return candidates, 0


def _screen(shown: Float, seen: Float, growth: Float, whole: MatchPicture, view: MatchPicture) -> Float64 | None:
    """Return the corners (4, 2) in ``view`` of a screen that shows all of ``whole``, or None.

    ``shown`` and ``seen`` are candidates' places in either, ``growth`` log2 of how much larger they are there.
    """
    (height, width), unit = whole.rgb.shape[:2], view.rgb.shape[1] / MATCHING_WIDTH
    frame = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
    small = growth < np.log2(view.rgb.shape[1] / width) + np.log2(_LARGEST)
    if small.sum() < _FEWEST:
        return None
    shown, seen, growth = shown[small], seen[small], growth[small]
    middle = seen + np.exp2(growth)[:, None] * (frame.mean(0) - shown)
    tree = cKDTree(middle)
    about = tree.query_ball_point(middle, _MIDDLE * unit, return_length=True)
    members = np.asarray(tree.query_ball_point(middle[int(np.argmax(about))], 2 * _MIDDLE * unit), int)
    cv2 = import_cv2()
    for _ in range(2):
        if len(members) < _FEWEST:
            return None
        plane, _ = cv2.findHomography(shown[members], seen[members], cv2.RANSAC, _OFF * unit)
        if plane is None:
            return None
        off = np.linalg.norm(cv2.perspectiveTransform(shown[None], plane)[0] - seen, axis=1)
        members = np.flatnonzero(off < _OFF * unit)
    if len(members) < _FEWEST:
        return None
    on_it, corners = shown[members], np.asarray(cv2.perspectiveTransform(frame[None], plane)[0], float)
    spans = np.ptp(np.quantile(on_it, (0.05, 0.95), axis=0), axis=0) / (width, height)
    inside = (np.abs(corners / view.rgb.shape[1::-1] - 0.5) < 0.52).all()
    return corners if inside and spans.min() > _SPAN and _ends(corners, view) else None


def _ends(corners: Float64, view: MatchPicture) -> bool:
    """Say whether a view's light changes at the edges of what lies between four corners."""
    step = _EDGE * view.rgb.shape[1] / MATCHING_WIDTH
    along = np.linspace(0.03, 0.97, 60)[:, None, None]
    edge = (corners * (1 - along) + np.roll(corners, -1, axis=0) * along).reshape(-1, 2)
    inward = corners.mean(0) - edge
    inward /= np.linalg.norm(inward, axis=1, keepdims=True)

    def light(steps: float) -> Float64:
        column, row = np.rint(edge + steps * step * inward).astype(int).T
        height, width = view.log.shape
        return np.asarray(view.log[np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)], float)

    within = np.median(np.abs(light(1) - light(3)))
    return bool(np.median(np.abs(light(-1) - light(1))) > _ENDS * within + 0.05)


def _within(corners: Float64, places: Float) -> Bool:
    """Say which places lie between four corners, which follow one another around."""
    along = np.roll(corners, -1, axis=0) - corners
    away = np.asarray(places)[:, None] - corners
    side = along[:, 0] * away[..., 1] - along[:, 1] * away[..., 0]
    return np.asarray((side >= 0).all(1) | (side <= 0).all(1))
