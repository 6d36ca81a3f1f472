"""Where on a picture something shows most: the middle of its largest area."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float32
from huemend.base.cv import import_cv2
from huemend.model import LinearStill, Place

# Areas that an eye takes in ask for no more, and averaging takes the noise out first.
_WIDTH = 480


def reduced(values: NDArray[Any]) -> Float32:
    """Average a picture or a mask down to a small width; (height, width) or (height, width, 3)."""
    height, width = values.shape[:2]
    picture: Float32 = np.ascontiguousarray(values, np.float32)
    if width <= _WIDTH:
        return picture
    size = (_WIDTH, max(1, round(height * _WIDTH / width)))
    cv2 = import_cv2()
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.float32)


def areas_of(mask: Bool, share: float) -> Bool:
    """Keep the coherent areas of a mask that hold at least a share of the picture."""
    _, labels, stats, _ = import_cv2().connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    large = stats[:, 4] >= max(1.0, share * mask.size)
    large[0] = False  # what is outside of the mask
    return np.asarray(large[labels], np.bool_)


def place_of(still: LinearStill, mask: Bool) -> Place | None:
    """Return the place of the largest area of a mask, whatever its size: its innermost point, if there is any."""
    cv2 = import_cv2()
    small = np.asarray(reduced(mask) > 0.5) if mask.any() else mask
    if not small.any():
        # Specks only: each of them is as good as another.
        small = np.asarray(reduced(mask) > 0.0)
    if not small.any():
        return None
    _, labels, stats, _ = cv2.connectedComponentsWithStats(small.astype(np.uint8), connectivity=8)
    largest = 1 + int(np.argmax(stats[1:, 4]))
    # A border of nothing, so that the edge of the picture counts as an edge.
    area = np.pad((labels == largest).astype(np.uint8), 1)
    depth = cv2.distanceTransform(area, cv2.DIST_L2, 3)[1:-1, 1:-1]
    y, x = np.unravel_index(int(np.argmax(depth)), depth.shape)
    height, width = small.shape
    # A circle of the same extent as the area, as far as it is compact.
    radius = float(max(depth[y, x], np.sqrt(stats[largest, 4] / np.pi)))
    return Place(
        moment=still.moment,
        x=float((x + 0.5) / width),
        y=float((y + 0.5) / height),
        radius=min(radius / width, 0.25),
    )
