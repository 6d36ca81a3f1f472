"""A picture with something to find in it, for tests that need no more."""

from __future__ import annotations

import numpy as np


def spotted(rng: np.random.Generator, height: int = 180, width: int = 320) -> np.ndarray:
    """Invent a wall, scene-linear (height, width, 3): 160 soft spots of many colours."""
    linear = np.full((height, width, 3), 0.18)
    ys, xs = np.mgrid[0:height, 0:width]
    for _ in range(160):
        x, y, size = rng.uniform(0, width), rng.uniform(0, height), rng.uniform(3, 14)
        near = slice(max(int(y - size), 0), int(y + size) + 2), slice(max(int(x - size), 0), int(x + size) + 2)
        spot = (xs[near] - x) ** 2 + (ys[near] - y) ** 2 < size**2
        linear[near][spot] = rng.uniform(0.03, 0.7, 3)
    return linear
