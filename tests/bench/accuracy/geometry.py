"""Which pixels of two rendered views show the same point of the set: correspondences that nobody has to find."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from demo.generator.scene import View

Array = NDArray[np.float64]

#: Two rays meet in the same point if their distances agree to this share.
_AGREE = 0.006


@dataclass(frozen=True, kw_only=True, eq=False)
class Pinhole:
    """A view's camera: ``origin`` (3,), ``axes`` (3, 3) rows right, down, forward; ``focal`` in pixels."""

    origin: Array
    axes: Array
    focal: float
    size: tuple[int, int]

    @classmethod
    def of(cls, view: View, size: tuple[int, int]) -> Pinhole:
        """The kit's camera for ``view`` and a picture of ``size`` (width, height)."""
        forward = np.subtract(view.target, view.position)
        forward = forward / np.linalg.norm(forward)
        right = np.cross(forward, [0.0, 0.0, 1.0])
        right /= np.linalg.norm(right)
        up = np.cross(right, forward)
        roll = np.deg2rad(view.roll)
        right, up = np.cos(roll) * right - np.sin(roll) * up, np.cos(roll) * up + np.sin(roll) * right
        return cls(
            origin=np.array(view.position, float),
            axes=np.stack([right, -up, forward]),
            focal=size[0] / 2 / np.tan(np.deg2rad(view.fov) / 2),
            size=size,
        )

    def points(self, xy: Array, distance: Array) -> Array:
        """Points (n, 3) at a distance (n,) from the camera behind pixels (n, 2)."""
        centred = (xy - (np.array(self.size) - 1) / 2) / self.focal
        rays = np.column_stack([centred, np.ones(len(xy))]) @ self.axes
        return np.asarray(self.origin + rays / np.linalg.norm(rays, axis=1, keepdims=True) * distance[:, None])

    def from_origin(self, distance: Array, near: float) -> Array:
        """Distances (h, w) from the origin, of distances measured from a plane ``near`` metres before it.

        A renderer starts its rays there. Pixels that show nothing keep their 0.
        """
        y, x = np.mgrid[: self.size[1], : self.size[0]]
        across = (x - (self.size[0] - 1) / 2) ** 2 + (y - (self.size[1] - 1) / 2) ** 2
        return np.where(distance > 0, distance + near * np.sqrt(1 + across / self.focal**2), 0.0)

    def pixels(self, points: Array) -> tuple[Array, Array]:
        """Pixels (n, 2) that show points (n, 3), and their distances (n,); behind the camera: not finite."""
        local = (points - self.origin) @ self.axes.T
        ahead = np.where(local[:, 2] > 1e-6, local[:, 2], np.nan)
        xy = local[:, :2] / ahead[:, None] * self.focal + (np.array(self.size) - 1) / 2
        return xy, np.linalg.norm(local, axis=1)


def shared_surfaces(
    hero: Pinhole, hero_depth: Array, angle: Pinhole, angle_depth: Array, step: int = 3
) -> tuple[NDArray[np.int16], NDArray[np.int16], float]:
    """Pixels of the two views that show the same points.

    Parameters
    ----------
    hero_depth, angle_depth : (h, w)
        Distance of what each pixel shows from its camera; 0 where it shows nothing.
    step : int
        Every how many pixels of the angle to look.

    Returns
    -------
    hero_xy, angle_xy : (n, 2)
    scale : float
        How many pixels of the angle one of the hero covers, in the median.
    """
    height, width = angle_depth.shape
    y, x = (grid.ravel() for grid in np.mgrid[1:height:step, 1:width:step])
    distance = angle_depth[y, x]
    seen = distance > 0
    angle_xy = np.column_stack([x, y])[seen]
    points = angle.points(angle_xy.astype(float), distance[seen])
    hero_xy, expected = hero.pixels(points)
    border = 8
    low, high = border, np.array(hero.size) - 1 - border
    inside = np.asarray(np.isfinite(hero_xy).all(axis=1))
    inside[inside] &= ((hero_xy[inside] > low) & (hero_xy[inside] < high)).all(axis=1)
    nearest = np.rint(hero_xy[inside]).astype(np.int16)
    found = hero_depth[nearest[:, 1], nearest[:, 0]]
    # What stands in between hides the point from the hero.
    same = np.abs(found - expected[inside]) < _AGREE * expected[inside]
    scale = (angle.focal / distance[seen][inside]) / (hero.focal / expected[inside])
    return (
        nearest[same],
        angle_xy[inside][same].astype(np.int16),
        float(np.median(scale[same])) if same.any() else 1.0,
    )
