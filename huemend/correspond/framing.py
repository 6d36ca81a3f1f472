"""Whether a camera stood still between two of its own pictures, and how its framing changed if it did not.

A few hundred corners are followed from one picture to the other, there and back, and a similarity (shift, turn,
and scale: breathing, a zoom) is fitted to what most of them do. People who move are outvoted as long as more
corners lie on what stands.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, Float32, Float64
from huemend.base.cv import import_cv2
from huemend.correspond.raster import feature_picture
from huemend.options import FramingOptions


@dataclass(frozen=True, kw_only=True)
class Framing:
    """Where a later picture of one camera shows what the first one showed."""

    #: ((a, b, x), (c, d, y)). On column vectors (x, y, 1) of places in the first matching picture; gives places in
    #: the later one. A similarity.
    matrix: tuple[tuple[float, float, float], tuple[float, float, float]]
    #: The farthest that a corner of the picture moves, pixels of the matching picture.
    shift: float
    #: Corners that move so.
    agreeing: int

    @property
    def scale(self) -> float:
        """How much larger things are shown: 1 but for breathing, a zoom, or a camera that came closer."""
        return float(np.hypot(self.matrix[0][0], self.matrix[1][0]))

    @property
    def linear(self) -> Float64:
        """What a small step becomes, (2, 2), on column vectors."""
        return np.array(self.matrix)[:, :2]

    def places(self, places: Float) -> Float64:
        """Return where places (n, 2) of the first picture lie in the later one."""
        if self is SAME:
            return np.asarray(places, float)
        return np.asarray(places @ self.linear.T + np.array(self.matrix)[:, 2], float)

    def since(self, earlier: Framing) -> Framing:
        """Return how the later picture is framed against an earlier one; both are known against the first."""
        if earlier is SAME or self is earlier:
            return self if earlier is SAME else SAME
        linear = self.linear @ np.linalg.inv(earlier.linear)
        offset = np.array(self.matrix)[:, 2] - linear @ np.array(earlier.matrix)[:, 2]
        (a, b), (c, d) = linear.tolist()
        x, y = offset.tolist()
        return Framing(matrix=((a, b, x), (c, d, y)), shift=self.shift + earlier.shift, agreeing=self.agreeing)


#: Of a picture against itself.
SAME = Framing(matrix=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)), shift=0.0, agreeing=0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Corners:
    """What of a picture can be found again in a later one."""

    #: (height, width) uint8. As `huemend.correspond.raster.feature_picture` gives it.
    picture: NDArray[np.uint8]
    #: (n, 1, 2) float32. x, y.
    places: Float32


def find_corners(log: Float, clean: Bool, options: FramingOptions) -> Corners:
    """Find the corners of a picture that later ones of the same camera are held against.

    The picture is as `matching_log` gives it; they lie where ``clean``, (height, width) bool, says that they may.
    """
    here = feature_picture(log)
    apart = options.apart * max(here.shape)
    places = import_cv2().goodFeaturesToTrack(here, options.corners, 0.01, apart, mask=clean.astype(np.uint8))
    return Corners(picture=here, places=np.zeros((0, 1, 2), np.float32) if places is None else places)


def follow_framing(first: Corners, later: Float, options: FramingOptions) -> Framing | None:
    """Find how a camera's framing changed between two of its pictures, the later one as `find_corners` takes it.

    None where too few corners can be followed for anything to be said: another picture, a bare wall, a camera that
    was turned away.
    """
    here, corners = first.picture, first.places
    if here.shape != later.shape or len(corners) < options.fewest:
        return None
    cv2, there = import_cv2(), feature_picture(later)
    height, width = here.shape
    window = (options.window, options.window)
    moved, seen, _ = cv2.calcOpticalFlowPyrLK(here, there, corners, None, winSize=window, maxLevel=4)
    back, seen_back, _ = cv2.calcOpticalFlowPyrLK(there, here, moved, None, winSize=window, maxLevel=4)
    returned = np.hypot(*(back - corners)[:, 0].T) < options.scatter
    good = returned & (seen[:, 0] == 1) & (seen_back[:, 0] == 1)
    if good.sum() < options.fewest:
        return None
    # OpenCV draws its samples from a generator of its own with a fixed seed.
    matrix, inside = cv2.estimateAffinePartial2D(
        corners[good], moved[good], method=cv2.RANSAC, ransacReprojThreshold=options.scatter, confidence=0.999
    )
    agreeing = 0 if matrix is None else int(inside.sum())
    if agreeing < max(options.fewest, options.share * good.sum()):
        return None
    edges = np.array([[0, 0], [width, 0], [0, height], [width, height]], float)
    shift = float(np.hypot(*(edges @ matrix[:, :2].T + matrix[:, 2] - edges).T).max())
    if shift < options.still:
        return SAME
    (a, b, x), (c, d, y) = matrix.tolist()
    return Framing(matrix=((a, b, x), (c, d, y)), shift=shift, agreeing=agreeing)


def held(framing: Framing | None, options: FramingOptions) -> bool:
    """Say whether what was found on the first picture can be carried over to the later one.

    Breathing and a stand that gives a little are followed. Beyond that a camera that moved sees things shift
    against one another, which no similarity follows.
    """
    return framing is not None and framing.shift <= options.followed
