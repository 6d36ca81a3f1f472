"""One camera's pictures as its first one shows the set: what a bump, a pan or a zoom did to the framing undone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.cv import import_cv2
from huemend.correspond.framing import SAME, Corners, find_corners, follow_framing
from huemend.correspond.raster import log_luminance
from huemend.model import LinearStill
from huemend.options import FramingOptions

Float = NDArray[np.floating[Any]]

#: A pixel is valid where this much of what it was made of is.
_WHOLE = 0.999


def stabilised(stills: Iterable[LinearStill], options: FramingOptions) -> Iterator[LinearStill]:
    """Yield one camera's pictures in order of time, each laid over the first.

    What the first does not show is not valid. Where a camera moved so far that too little of the first is found
    again, its picture is held against the one before; where that fails too, it is taken to stand as it did.

    Parameters
    ----------
    stills : iterable of LinearStill
        All of one size; small ones suffice. One is held at a time.
    options : FramingOptions
    """
    first: Corners | None = None
    # The last picture that was laid over the first, and where it shows places of the first, (3, 3).
    last: tuple[Corners, NDArray[np.float64]] | None = None
    for still in stills:
        log = log_luminance(np.asarray(still.rgb, np.float32))
        if first is None or last is None:
            first = find_corners(log, still.valid, options)
            last = first, np.eye(3)
            yield still
            continue
        place = _place_on(first, np.eye(3), log, options)
        if place is None:
            place = _place_on(*last, log, options)
        if place is None:
            place = last[1]
        else:
            last = find_corners(log, still.valid, options), place
        yield still if np.array_equal(place, np.eye(3)) else _laid(still, place)


def _place_on(
    known: Corners, place: NDArray[np.float64], log: Float, options: FramingOptions
) -> NDArray[np.float64] | None:
    """Return where a picture shows places of the first, (3, 3), as another does that ``place`` is known of."""
    framing = follow_framing(known, log, options)
    if framing is None:
        return None
    return place if framing is SAME else np.vstack([np.array(framing.matrix), [0, 0, 1]]) @ place


def _laid(still: LinearStill, place: NDArray[np.float64]) -> LinearStill:
    cv2 = import_cv2()
    height, width = still.valid.shape
    mask = still.valid.astype(np.float32)
    light = np.asarray(still.rgb, np.float32) * mask[..., None]
    way = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    rgb, share = (cv2.warpAffine(values, place[:2], (width, height), flags=way) for values in (light, mask))
    return replace(still, rgb=rgb, valid=share > _WHOLE)
