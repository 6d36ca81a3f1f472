"""Signed distances, negative inside, of the solids that bodies are blended from."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .looks import Point

Array = NDArray[Any]

__all__ = ["both_sides", "cone", "cut", "ellipsoid", "join"]


def cone(p: Array, a: Point | Array, b: Point | Array, ra: float, rb: float) -> Array:
    """A capsule whose radius runs from ``ra`` to ``rb``."""
    start = np.asarray(a, np.float32)
    along = np.asarray(b, np.float32) - start
    t = np.clip((p - start) @ along / (along @ along), 0, 1)
    return np.linalg.norm(p - start - t[:, None] * along, axis=1) - (ra + (rb - ra) * t)


def ellipsoid(p: Array, centre: Point, radii: Point) -> Array:
    """An ellipsoid, to first order a distance near its surface."""
    q = (p - np.asarray(centre, np.float32)) / np.asarray(radii, np.float32)
    k = np.linalg.norm(q, axis=1)
    g = np.linalg.norm(q / np.asarray(radii, np.float32), axis=1)
    return k * (k - 1.0) / np.maximum(g, 1e-6)


def join(a: Array, b: Array, k: float) -> Array:
    """Smooth union with a blend of width ``k``."""
    h = np.clip(0.5 + 0.5 * (b - a) / k, 0, 1)
    return b + (a - b) * h - k * h * (1 - h)


def cut(a: Array, b: Array, k: float) -> Array:
    """Smooth removal of ``b`` from ``a``."""
    return -join(-a, b, k)


def both_sides(p: Array) -> Array:
    """Fold space so that one side's shape appears on both."""
    q = p.copy()
    q[:, 0] = np.abs(q[:, 0])
    return q
