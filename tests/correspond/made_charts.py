"""A 24-patch chart of the published colours, drawn in perspective into photographs that scikit-image carries."""

from __future__ import annotations

from functools import cache

import colour
import cv2
import numpy as np
from skimage import data

from huemend.model import LinearStill
from tests.correspond.made_views import light, noisy, still_of

ACROSS, DOWN, SIDE, GAP, FRAME = 6, 4, 80, 14, 0.03


@cache
def published() -> np.ndarray:
    """ColorChecker values since November 2014 under D50, as colour-science carries them, to ACEScg by Bradford."""
    chart = colour.CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"]
    xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
    return np.array(colour.XYZ_to_RGB(xyz, colour.RGB_COLOURSPACES["ACEScg"], chart.illuminant, "Bradford"))


def board(rgb: np.ndarray) -> np.ndarray:
    """Lay 24 colours out as a chart, seen from the front."""
    step = SIDE + GAP
    out = np.full((DOWN * step + GAP, ACROSS * step + GAP, 3), FRAME, np.float32)
    for patch, value in enumerate(rgb):
        y, x = (GAP + step * k for k in divmod(patch, ACROSS))
        out[y : y + SIDE, x : x + SIDE] = value
    return out


def hung(background: np.ndarray, corners: list[tuple[float, float]], rgb: np.ndarray) -> np.ndarray:
    """Hang a chart into a picture, its four corners at the given places, each pixel averaged over what it sees."""
    chart, fine = board(rgb), 4
    height, width = chart.shape[:2]
    flat = np.array([(0, 0), (width, 0), (width, height), (0, height)], np.float32)
    to_fine = cv2.getPerspectiveTransform(flat, fine * np.array(corners, np.float32))
    size = (fine * background.shape[1], fine * background.shape[0])
    shrink = (background.shape[1], background.shape[0])
    seen, cover = (
        cv2.resize(cv2.warpPerspective(picture, to_fine, size), shrink, interpolation=cv2.INTER_AREA)
        for picture in (chart, np.ones((height, width), np.float32))
    )
    return np.asarray(background * (1 - cover[..., None]) + seen)


def views(
    first: np.ndarray | None = None, second: np.ndarray | None = None, mix: np.ndarray | None = None
) -> tuple[LinearStill, LinearStill]:
    """Two cameras on one chart, nothing else in common; the second sees ``light @ mix.T``."""
    mix = np.eye(3) if mix is None else mix
    wide = 0.5 * cv2.resize(light(data.coffee()), (800, 534), interpolation=cv2.INTER_AREA)
    close = 0.5 * cv2.resize(light(data.chelsea()), (700, 466), interpolation=cv2.INTER_AREA)
    if first is not None:
        wide = hung(wide, [(420, 260), (560, 275), (552, 372), (415, 352)], first)
    if second is not None:
        close = hung(close, [(90, 120), (390, 95), (400, 310), (100, 300)], second)
    return still_of(noisy(wide, 5), "wide"), still_of(noisy(close @ mix.T, 6), "close")
