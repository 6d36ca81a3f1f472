"""Telling one place from another that only looks like it: rows of books, bricks, the edge of a shelf.

What two cuts have in common is worth nothing as long as a shift leaves as much in common: along an edge, or from
one book to the next. So the detail of a place is sought around where it is said to lie, and must stand out there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float
from huemend.base.cv import import_cv2
from huemend.base.units import AP1_LUMINANCE
from huemend.write.report.alignment import UNMOVED, cut_square

__all__ = ["stands_out"]


# Pixels of the side of a square, and by how many of them a shift still counts as none, or counts as another place.
_PIXELS, _SLACK, _ELSEWHERE = 40, 2, 7
# Detail finer and coarser than these shares of the side says nothing; it is weighed by what lies within the third.
_FINE, _COARSE, _AROUND = 0.02, 0.2, 0.1
# Stops of detail, about what noise and compression leave on a plain wall.
_PLAIN = 0.1


def stands_out(hero: Float, angle: Float, to_angle: Float, centre: Float, side: float) -> float:
    """Return by how much a place agrees better where it is said to lie than at any shift of up to its side.

    Parameters
    ----------
    hero, angle : (height, width, 3) arrays, scene-linear
    to_angle : (2, 3) array
        From the hero's pixels to the angle's.
    centre, side : (2,) array, float
        Of the square, in the hero's pixels.

    Returns
    -------
    float
        Difference of two correlations, of brightness and colour together: at most 2, below 0 where another place
        agrees better. Exposure and balance cancel.
    """
    cv2 = import_cv2()
    one = _detail(cut_square(hero, UNMOVED, centre, side, _PIXELS))
    # So wide that the place can be shifted by its side in every direction: tiles repeat no sooner.
    around = _detail(cut_square(angle, to_angle, centre, 3 * side, 3 * _PIXELS))
    agreed = cv2.matchTemplate(around, one, cv2.TM_CCORR_NORMED)
    middle = _PIXELS
    here = slice(middle - _SLACK, middle + _SLACK + 1), slice(middle - _SLACK, middle + _SLACK + 1)
    best = float(agreed[here].max())
    agreed[middle - _ELSEWHERE + 1 : middle + _ELSEWHERE, middle - _ELSEWHERE + 1 : middle + _ELSEWHERE] = -1.0
    return best - float(agreed.max())


def _detail(light: Float) -> NDArray[np.float32]:
    """Return the detail of brightness, and of red and blue against green, each as strong everywhere.

    Else one hard edge, which many places have, would speak for all that lies beside it.
    """
    cv2 = import_cv2()
    floor = np.float32(1e-4)
    stops = np.log2(np.maximum(light, floor))
    level = np.log2(np.maximum(light @ AP1_LUMINANCE.astype(np.float32), floor))
    seen = np.dstack([level, stops[..., 0] - stops[..., 1], stops[..., 2] - stops[..., 1]]).astype(np.float32)
    fine = cv2.GaussianBlur(seen, (0, 0), _FINE * _PIXELS)
    band = fine - cv2.GaussianBlur(fine, (0, 0), _COARSE * _PIXELS)
    around = cv2.GaussianBlur(band * band, (0, 0), _AROUND * _PIXELS)
    return np.asarray(band / np.sqrt(around + _PLAIN**2), np.float32)
