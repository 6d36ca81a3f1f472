"""Hands."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .shapes import cone, join

Array = NDArray[Any]

__all__ = ["hand_distance", "hand_frame"]


def hand_distance(p: Array, curl: float) -> Array:
    """A hand in its own frame: wrist at the origin, fingers along +x, palm down, thumb at +y."""
    d = cone(p, (-0.02, 0, 0), (0.03, 0.0, 0.0), 0.024, 0.024)
    palm = np.stack(
        [cone(p, (0.022, y * 0.8, 0), (0.078, y, -0.001), 0.0145, 0.012) for y in (-0.028, -0.010, 0.009, 0.027)]
    )
    hand = palm[0]
    for other in palm[1:]:
        hand = join(hand, other, 0.010)
    d = join(d, hand, 0.02)
    for y, length, extra in (
        (-0.030, 0.062, 0.10),
        (-0.010, 0.074, 0.0),
        (0.010, 0.078, -0.02),
        (0.029, 0.070, -0.06),
    ):
        bend = 1.25 * curl + extra * curl + 0.12
        base = np.array([0.080, y, 0.0])
        one = base + length * 0.52 * np.array([np.cos(bend), (y - 0.0) * 1.2, -np.sin(bend)])
        two = one + length * 0.48 * np.array([np.cos(bend * 1.95), 0, -np.sin(bend * 1.95)])
        finger = np.minimum(cone(p, base, one, 0.0092, 0.0084), cone(p, one, two, 0.0084, 0.0068))
        d = join(d, finger, 0.006)
    thumb = np.array([0.060, 0.052 - 0.014 * curl, -0.012 - 0.012 * curl])
    tip = thumb + 0.034 * np.array([0.93, 0.10 - 0.8 * curl, -0.25])
    d = join(
        d,
        np.minimum(cone(p, (0.016, 0.022, -0.004), thumb, 0.014, 0.0102), cone(p, thumb, tip, 0.0102, 0.0078)),
        0.010,
    )
    return d


def hand_frame(elbow: Array, wrist: Array, side: float, palm: float) -> Array:
    """Columns: fingers, thumb side, back of the hand; ``palm`` turns about the forearm in degrees."""
    along = (wrist - elbow) / np.linalg.norm(wrist - elbow)
    level = np.array([along[0], along[1], along[2] * 0.35])
    along = level / np.linalg.norm(level)
    inner = np.array([-side, 0, 0.15])
    thumb = inner - along * (inner @ along)
    thumb /= np.linalg.norm(thumb)
    back = np.cross(along, thumb)
    # The thumb's side is mirrored between the hands; the back of the hand stays up.
    if back[2] < 0:
        back = -back
    a = np.deg2rad(palm) * side
    return np.column_stack([along, np.cos(a) * thumb + np.sin(a) * back, np.cos(a) * back - np.sin(a) * thumb])
