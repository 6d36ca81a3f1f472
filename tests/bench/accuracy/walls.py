"""Walls that repeat: painted bricks, acoustic panels, rows of equal books, tiles, stripes, slats of wood, blinds.

Each builder gives a wall whose face lies at y = 2.5, as `talks` has it: metres, z up, the hero looks along +y.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from demo.generator.mesh import MATTE, SATIN, Finish, Part, box, placed
from demo.generator.texture import Paint, fbm

__all__ = ["WALLS"]


def _faced(paint: Paint, repeat: float, finish: Finish = MATTE) -> list[Part]:
    return [box((9.0, 0.1, 3.6), (0, 2.55, 1.8), paint, texture_size=repeat, finish=finish)]


def _bricks(surface: str, accent: str, gain: float, random: np.random.Generator) -> list[Part]:
    """Bricks under one coat of paint: what tells them apart is a little wear."""
    shape = (512, 512)
    y, x = np.mgrid[: shape[0], : shape[1]] / 512.0
    row = y * 12
    column = x * 4 + 0.5 * (row.astype(int) % 2)
    edge = np.minimum(np.minimum(row % 1, 1 - row % 1) / 3, np.minimum(column % 1, 1 - column % 1))
    paint = Paint(shape, surface, gain).over(accent, edge < 0.03, 0.7)
    return _faced(paint.shade(1 + 0.04 * fbm(shape, (60, 60), random)), 0.9)


def _holes(surface: str, accent: str, gain: float, random: np.random.Generator) -> list[Part]:
    """Panels of 0.6 m with a grid of holes."""
    paint = Paint((512, 512), surface, gain)
    for x in range(12):
        for y in range(12):
            paint.disc(accent, (x + 0.5) / 12, (y + 0.5) / 12, 0.018, 0.5)
    return _faced(paint.rectangle(accent, 0, 0, 1, 0.008).rectangle(accent, 0, 0, 0.008, 1), 0.6)


def _books(surface: str, accent: str, gain: float, random: np.random.Generator) -> list[Part]:
    """Two shelves of volumes of one edition, over and over."""
    paint = Paint((512, 512), "wood walnut", 0.8)
    for shelf in (0.04, 0.54):
        for volume in range(20):
            left = volume / 20
            paint.rectangle(surface, left + 0.003, shelf, 0.044, 0.43, gain * (1.0 + 0.06 * (volume % 2)))
            for band in (0.05, 0.12, 0.36):
                paint.rectangle(accent, left + 0.003, shelf + band, 0.044, 0.015)
    return _faced(paint, 0.9, SATIN)


def _tiles(surface: str, accent: str, gain: float, random: np.random.Generator) -> list[Part]:
    """Tiles in a bond, every fifth of the accent."""
    paint = Paint((512, 512), "suede grey", 0.8)
    for row in range(10):
        for column in range(-1, 5):
            x = (column + 0.5 * (row % 2)) / 5
            left, right = max(x + 0.006, 0.0), min(x + 0.194, 1.0)
            tone = gain * (1.0 + 0.03 * ((3 * row + column) % 3))
            name = accent if (2 * row + column) % 5 == 0 else surface
            paint.rectangle(name, left, row / 10 + 0.006, right - left, 0.088, tone)
    return _faced(paint, 1.0, SATIN)


def _stripes(surface: str, accent: str, gain: float, random: np.random.Generator) -> list[Part]:
    """Wallpaper of stripes with a small flower between."""
    paint = Paint((256, 256), surface, gain)
    for x in (0.0, 0.5):
        paint.rectangle(accent, x, 0, 0.16, 1, gain)
        for y in (0.25, 0.75):
            paint.disc(accent, x + 0.33, y + 0.25 * (x > 0), 0.05).disc(
                surface, x + 0.33, y + 0.25 * (x > 0), 0.02, 0.5
            )
    return _faced(paint, 0.5)


def _slats(surface: str, accent: str, gain: float, random: np.random.Generator) -> list[Part]:
    """Upright slats before a dark ground."""
    parts = [box((9.0, 0.1, 3.6), (0, 2.58, 1.8), accent, texture_size=None)]
    for x in np.arange(-3.6, 3.6, 0.08):
        parts.append(box((0.045, 0.03, 3.2), (float(x), 2.515, 1.6), Paint((2, 2), surface, gain), finish=SATIN))
    return parts


def _blinds(surface: str, accent: str, gain: float, random: np.random.Generator) -> list[Part]:
    """Blinds from wall to wall, nearly closed, on tapes."""
    parts = [box((9.0, 0.1, 3.6), (0, 2.62, 1.8), "paint neutral 5", texture_size=None)]
    for z in np.arange(0.7, 2.9, 0.05):
        slat = box((7.2, 0.055, 0.003), (0, 0, 0), Paint((2, 2), surface, gain), finish=SATIN)
        parts += placed([slat], move=(0, 2.52, float(z)), tilt=-62)
    for x in np.arange(-3.0, 3.1, 0.6):
        parts.append(box((0.02, 0.004, 2.3), (float(x), 2.49, 1.8), accent, texture_size=None))
    return parts


#: By name: (surface, accent, gain, random) to parts.
WALLS: dict[str, Callable[[str, str, float, np.random.Generator], list[Part]]] = {
    "bricks": _bricks,
    "holes": _holes,
    "books": _books,
    "bond": _tiles,
    "stripes": _stripes,
    "slats": _slats,
    "blinds": _blinds,
}
