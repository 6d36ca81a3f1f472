"""One camera's pictures as its first one shows the set: what a bump, a pan or a zoom did to the framing undone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from huemend.base.arrays import Float, Float32, Float64
from huemend.base.cv import import_cv2
from huemend.correspond.framing import Corners, Framing, find_corners, follow_framing
from huemend.correspond.raster import log_luminance
from huemend.model import LinearStill
from huemend.options import FramingOptions

#: A pixel is valid where this much of what it was made of is.
_WHOLE = 0.999


def stabilised(stills: Iterable[LinearStill], options: FramingOptions) -> Iterator[LinearStill]:
    """Yield one camera's pictures in order of time, of one size, each laid over the first.

    What the first does not show is not valid. A picture is looked for in the first where the one before it
    lay, so that people, who do not stand there any more, say nothing. Where a camera moved so far that too
    little of the first is found again, its picture is held against the one before; where that fails too, it is
    taken to stand as it did.
    """
    first: Corners | None = None
    last: Corners | None = None
    # Where the last picture shows places of the first, (3, 3).
    place = np.eye(3)
    for still in stills:
        log = log_luminance(np.asarray(still.rgb, np.float32))
        if first is None or last is None:
            first = last = find_corners(log, still.valid, options)
            yield still
            continue
        moved = follow_framing(first, log if _is_same(place) else _laid(log, place), options)
        if moved is not None:
            place = place @ _square(moved)
        else:
            moved = follow_framing(last, log, options)
            place = place if moved is None else _square(moved) @ place
        if moved is not None:
            last = find_corners(log, still.valid, options)
        if _is_same(place):
            yield still
            continue
        mask = still.valid.astype(np.float32)
        light = _laid(np.asarray(still.rgb, np.float32) * mask[..., None], place)
        yield replace(still, rgb=light, valid=_laid(mask, place) > _WHOLE)


def _is_same(place: Float64) -> bool:
    return np.array_equal(place, np.eye(3))


def _square(framing: Framing) -> Float64:
    return np.vstack([np.array(framing.matrix), [0, 0, 1]])


def _laid(picture: Float, place: Float64) -> Float32:
    cv2 = import_cv2()
    way = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    laid: Float32 = cv2.warpAffine(picture, place[:2], picture.shape[1::-1], flags=way)
    return laid
