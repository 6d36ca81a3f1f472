"""Telling one place from another that only looks like it: rows of books, bricks, the edge of a shelf.

What two cuts have in common is worth nothing as long as a shift leaves as much in common: along an edge, or from
one book to the next. So the detail of a place is sought around where it is said to lie, and must stand out there;
and what either picture shows there is sought over the whole of the other one, and must be found nowhere else: the
tiles of a wall pair with one another as readily as each with itself.
"""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Float, Float32
from huemend.base.cv import import_cv2
from huemend.base.units import AP1_LUMINANCE
from huemend.write.report.alignment import UNMOVED, cut_square

#: By so much a place must agree better than any other of either picture.
ONCE = 0.08
# Pixels of the side of a square, and by how many of them a shift still counts as none, or counts as another place.
_PIXELS, _SLACK, _ELSEWHERE = 40, 2, 7
# Detail finer and coarser than these shares of the side says nothing; it is weighed by what lies within the third.
_FINE, _COARSE, _AROUND = 0.02, 0.2, 0.1
# Where a whole picture is looked over: pixels of the side of a square and of the picture's longest side, and
# how much of a square must lie on it.
_COARSER, _MOST, _WITHIN = 24, 540, 0.98
# Stops of detail, about what noise and compression leave on a plain wall.
_PLAIN = 0.1


def stands_out(reference: Float, angle: Float, to_angle: Float, centre: Float, side: float) -> float:
    """Return by how much a place agrees better where it is said to lie than at any shift of up to its side.

    Both pictures are (height, width, 3), scene-linear; ``to_angle``, (2, 3), maps the reference's pixels, in which
    centre and side of the square are, to the angle's. What is returned is the difference of two correlations, of
    brightness and colour together: at most 2, below 0 where another place agrees better. Exposure and balance
    cancel.
    """
    cv2 = import_cv2()
    one = _detail(cut_square(reference, UNMOVED, centre, side, _PIXELS), _PIXELS)
    # So wide that the place can be shifted by its side in every direction: tiles repeat no sooner.
    around = _detail(cut_square(angle, to_angle, centre, 3 * side, 3 * _PIXELS), _PIXELS)
    agreed = cv2.matchTemplate(around, one, cv2.TM_CCORR_NORMED)
    middle = _PIXELS
    here = slice(middle - _SLACK, middle + _SLACK + 1), slice(middle - _SLACK, middle + _SLACK + 1)
    best = float(agreed[here].max())
    agreed[middle - _ELSEWHERE + 1 : middle + _ELSEWHERE, middle - _ELSEWHERE + 1 : middle + _ELSEWHERE] = -1.0
    return best - float(agreed.max())


def whole_detail(reference: Float, side: float) -> Float32:
    """Return the detail of a whole picture for `found_once`; one serves all squares of that side."""
    grown = _COARSER / side
    height, width = reference.shape[:2]
    size = max(_COARSER, round(width * grown)), max(_COARSER, round(height * grown))
    light = import_cv2().resize(np.asarray(reference, np.float32), size, interpolation=import_cv2().INTER_AREA)
    return _detail(light, _COARSER)


def found_once(reference: Float, angle: Float, to_angle: Float, centre: Float, side: float, whole: Float) -> float:
    """Return by how much a place agrees better than any other of either whole picture: the mutual check of stereo.

    Takes what `stands_out` takes, and the reference's `whole_detail`; the map of the place is taken to hold for
    its scale and turn everywhere. Returns the smaller difference of both directions; where the reference alone has
    it under `ONCE`, the angle is not looked over any more.
    """
    cv2 = import_cv2()
    other = _detail(cut_square(angle, to_angle, centre, side, _COARSER), _COARSER)
    grown = _COARSER / side
    on_reference = _lead(whole, other, (np.asarray(centre, float) + 0.5) * grown - _COARSER / 2)
    if on_reference < ONCE:
        return on_reference
    one = _detail(cut_square(reference, UNMOVED, centre, side, _COARSER), _COARSER)
    # The angle as the reference's camera would have it, if all of it lay where the place does.
    linear, shift = to_angle[:, :2], to_angle[:, 2]
    height, width = angle.shape[:2]
    corners = np.array([[0, 0], [width - 1, 0], [width - 1, height - 1], [0, height - 1]])
    corners = (corners - shift) @ np.linalg.inv(linear).T
    low, high = corners.min(axis=0), corners.max(axis=0)
    across, down = (int(v) for v in np.clip(np.ceil((high - low) * grown), _COARSER, _MOST))
    # Averaged first where the angle is much finer: a warp alone would alias.
    finer = max(1.0, float(np.sqrt(abs(np.linalg.det(linear)))) / grown)
    small = round(width / finer), round(height / finer)
    averaged = cv2.resize(np.asarray(angle, np.float32), small, interpolation=cv2.INTER_AREA)
    to_small = np.column_stack([linear / grown, linear @ low + shift]) / finer
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    seen = cv2.warpAffine(np.ones(small[::-1], np.float32), to_small, (across, down), flags=flags)
    warped = cv2.warpAffine(averaged, to_small, (across, down), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    whole = _detail(warped, _COARSER)
    on_angle = _lead(whole, one, (np.asarray(centre, float) - low) * grown - _COARSER / 2, seen)
    return min(on_reference, on_angle)


def _lead(whole: Float, place: Float, at: Float, seen: Float | None = None) -> float:
    """Return by how much a place agrees better at (x, y), its upper left corner, than anywhere else.

    ``seen`` is 1 where there is a picture.
    """
    cv2 = import_cv2()
    agreed = cv2.matchTemplate(whole, place, cv2.TM_CCORR_NORMED)
    if seen is not None:
        within = cv2.blur(seen, (_COARSER, _COARSER), anchor=(0, 0), borderType=cv2.BORDER_CONSTANT)
        agreed[within[: agreed.shape[0], : agreed.shape[1]] < _WITHIN] = -1.0
    x, y = (int(v) for v in np.clip(np.round(at), 0, np.array(agreed.shape[::-1]) - 1))
    best = float(_around(agreed, x, y, 2).max())
    _around(agreed, x, y, round(_ELSEWHERE * _COARSER / _PIXELS))[...] = -1.0
    return best - float(agreed.max())


def _around(agreed: Float, x: int, y: int, reach: int) -> Float:
    """Return what lies less than ``reach`` from a place, as a view."""
    return agreed[max(y - reach + 1, 0) : y + reach, max(x - reach + 1, 0) : x + reach]


def _detail(light: Float, pixels: int) -> Float32:
    """Return the detail of brightness, and of red and blue against green, each as strong everywhere.

    Else one hard edge, which many places have, would speak for all that lies beside it. ``pixels`` is how many of
    them the side of a square has in this picture.
    """
    cv2 = import_cv2()
    floor = np.float32(1e-4)
    stops = np.log2(np.maximum(light, floor))
    level = np.log2(np.maximum(light @ AP1_LUMINANCE.astype(np.float32), floor))
    seen = np.dstack([level, stops[..., 0] - stops[..., 1], stops[..., 2] - stops[..., 1]]).astype(np.float32)
    fine = cv2.GaussianBlur(seen, (0, 0), _FINE * pixels)
    band = fine - cv2.GaussianBlur(fine, (0, 0), _COARSE * pixels)
    around = cv2.GaussianBlur(band * band, (0, 0), _AROUND * pixels)
    return np.asarray(band / np.sqrt(around + _PLAIN**2), np.float32)
