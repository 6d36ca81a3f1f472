"""Furniture and what hangs on walls.

Each builder returns parts around its own origin, on the floor at z = 0, seen from -y.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..mesh import GLAZED, METAL, SATIN, Finish, Part, Vector, box, tube
from ..texture import Paint, fbm, label_word, smoothstep
from .materials import glaze
from .wares import pot

__all__ = ["leafy_plant", "pegboard", "poster", "shelf", "table", "test_tiles"]


def table(
    rng: np.random.Generator, size: tuple[float, float, float], top: Paint, legs: str = "wood walnut"
) -> list[Part]:
    """A table of (width, depth, height) with a plank top."""
    width, depth, height = size
    parts = []
    planks = 5
    for k in range(planks):
        y = (k + 0.5) / planks * depth - depth / 2
        shift = (float(rng.uniform(0, 1)), float(rng.uniform(0, 1)))
        parts.append(
            box(
                (width, depth / planks - 0.003, 0.045),
                (0, y, height - 0.0225),
                top,
                along=0,
                shift=shift,
                finish=SATIN,
            )
        )
    for x in (-1, 1):
        for y in (-1, 1):
            parts.append(
                box(
                    (0.07, 0.07, height - 0.045),
                    (x * (width / 2 - 0.08), y * (depth / 2 - 0.08), (height - 0.045) / 2),
                    legs,
                )
            )
    parts.append(box((width - 0.12, 0.03, 0.09), (0, -depth / 2 + 0.06, height - 0.09), legs))
    return parts


def shelf(
    width: float, heights: Sequence[float], depth: float, paint: Paint, back: Paint | str | None = None
) -> list[Part]:
    """An open shelf whose back stands at y = 0; boards lie at ``heights``."""
    low, high = min(heights), max(heights)
    parts = [
        box((width, depth, 0.024), (0, -depth / 2, z), paint, along=0, shift=(0.13 * k, 0.29 * k), finish=SATIN)
        for k, z in enumerate(heights)
    ]
    for side in (-1, 1):
        centre = (side * (width / 2 + 0.012), -depth / 2, (low + high) / 2)
        parts.append(
            box((0.024, depth, high - low + 0.024), centre, paint, along=2, shift=(0.4, 0.5 + 0.2 * side))
        )
    if back is not None:
        parts.append(box((width, 0.012, high - low), (0, -0.006, (low + high) / 2), back, along=0))
    return parts


def poster(paint: Paint, width: float, centre: Vector, frame: str | None = "wood walnut") -> list[Part]:
    """A poster on a wall that faces -y."""
    height = width * paint.shape[0] / paint.shape[1]
    x, y, z = centre
    parts = [box((width, 0.006, height), (x, y, z), paint, texture_size=None, finish=Finish(0.4, 0.3))]
    if frame:
        for dx, dz, w, h in (
            (0, 1, width + 0.05, 0.025),
            (0, -1, width + 0.05, 0.025),
            (1, 0, 0.025, height),
            (-1, 0, 0.025, height),
        ):
            place = (x + dx * (width + 0.025) / 2, y - 0.008, z + dz * (height + 0.025) / 2)
            parts.append(box((w, 0.03, h), place, frame, finish=SATIN))
    return parts


def test_tiles(
    rng: np.random.Generator,
    colours: Sequence[str],
    across: int,
    down: int,
    pitch: tuple[float, float] = (0.085, 0.115),
) -> list[Part]:
    """A board of glazed test tiles with numbers, facing -y; origin at the board's lower middle."""
    width, height = across * pitch[0] + 0.06, down * pitch[1] + 0.06
    board = Paint((512, 512), "wood pine", 0.95).shade(1 + 0.08 * fbm((512, 512), (100, 6), rng))
    for row in range(down):
        for col in range(across):
            x = (0.03 + (col + 0.30) * pitch[0]) / width
            y = 1 - (0.03 + (row + 0.02) * pitch[1]) / height - 0.018
            board.text("paint black 2", f"{label_word(rng, 1)[:2]}{col}{row}", x, y, 0.030 / width, 0.012 / height)
    parts = [box((width, 0.018, height), (0, -0.009, height / 2), board, texture_size=None)]
    for row in range(down):
        for col in range(across):
            centre = (-width / 2 + 0.03 + (col + 0.5) * pitch[0], -0.024, 0.03 + (row + 0.56) * pitch[1])
            paint = glaze(rng, colours, str(rng.choice(["dip", "speckle", "drip"])))
            small = (pitch[0] * 0.80, 0.010, pitch[1] * 0.74)
            parts.append(box(small, centre, paint, texture_size=None, finish=GLAZED))
    return parts


def pegboard(rng: np.random.Generator, width: float, height: float, surface: str = "wood maple") -> list[Part]:
    """Hand tools on a board with holes; origin at the board's lower middle."""
    paint = Paint((512, round(512 * width / height)), surface, 0.9)
    y, x = np.mgrid[: paint.shape[0], : paint.shape[1]] / 512.0 * height
    hole = np.hypot(x % 0.04 - 0.02, y % 0.04 - 0.02)
    paint.over("asphalt", 1 - smoothstep(0.003, 0.0045, hole), 0.8)
    parts = [box((width, 0.01, height), (0, -0.005, height / 2), paint, texture_size=None)]
    count = int(width / 0.10)
    handles = ["paint red", "raincoat yellow", "paint blue", "wood redwood", "plastic green", "wood oak"]
    for k in range(count):
        x0 = (k + 0.5) / count * width - width / 2
        for z0 in (height * 0.55, height * 0.08):
            handle = str(rng.choice(handles))
            kind = int(rng.integers(0, 5))
            length = rng.uniform(0.75, 1.0) * height * 0.36
            grip = box((0.022, 0.02, length * 0.5), (x0, -0.025, z0 + length * 0.25), handle, finish=SATIN)
            blade: list[Part] = []
            if kind == 0:
                blade = [
                    box(
                        (0.075, 0.024, 0.026),
                        (x0, -0.025, z0 + length * 0.95),
                        "suede grey",
                        finish=METAL,
                        texture_size=None,
                    )
                ]
                blade.append(box((0.014, 0.014, length * 0.5), (x0, -0.025, z0 + length * 0.7), "wood maple"))
            elif kind == 1:
                blade = [
                    box(
                        (0.060, 0.004, length * 0.45),
                        (x0, -0.022, z0 + length * 0.72),
                        "paint neutral 6.5",
                        finish=METAL,
                    )
                ]
            elif kind == 2:
                a = np.linspace(0, 2 * np.pi, 17)
                loop = [(x0 + 0.028 * np.sin(t), -0.024, z0 + length * 0.72 - 0.05 * np.cos(t)) for t in a]
                blade = [tube(loop, 0.003, "paint neutral 6.5", finish=METAL)]
            elif kind == 3:
                blade = [
                    tube(
                        [
                            (x0, -0.024, z0 + length * 0.5),
                            (x0, -0.024, z0 + length * 0.75),
                            (x0, -0.024, z0 + length),
                        ],
                        0.004,
                        "suede grey",
                        finish=METAL,
                    )
                ]
            else:
                blade = [
                    box(
                        (0.032, 0.010, length * 0.22), (x0, -0.024, z0 + length * 0.60), "suede grey", finish=METAL
                    )
                ]
                blade.append(
                    box(
                        (0.040, 0.014, length * 0.28),
                        (x0, -0.024, z0 + length * 0.84),
                        str(rng.choice(["hair brown", "bread crust"])),
                    )
                )
            parts += [grip, *blade]
    return parts


def leafy_plant(
    rng: np.random.Generator, pot_colours: Sequence[str], height: float = 0.4, leaf: str = "leaf bush"
) -> list[Part]:
    """A small plant in a glazed pot."""
    parts = pot(rng, pot_colours, height * 0.34, "cylinder", "dip")
    vertices, faces = [], []
    for _ in range(34):
        a, out, up = rng.uniform(0, 6.28), rng.uniform(0.2, 0.6) * height, rng.uniform(0.45, 1.0) * height
        base = np.array([0, 0, height * 0.3])
        tip = np.array([out * np.cos(a), out * np.sin(a), up])
        middle = (base + tip) / 2 + np.array([0, 0, 0.12 * height])
        side = np.array([-np.sin(a), np.cos(a), 0]) * 0.055 * height
        start = len(vertices)
        vertices += [base, middle - side, middle + side, tip, middle + np.array([0, 0, -0.012])]
        faces += [
            (start, start + 1, start + 2),
            (start + 1, start + 3, start + 2),
            (start, start + 2, start + 4),
            (start, start + 4, start + 1),
        ]
        faces += [(start + 4, start + 2, start + 3), (start + 1, start + 4, start + 3)]
    points = np.array(vertices)
    paint = Paint(len(points), leaf, 1.1).shade(rng.uniform(0.6, 1.2, len(points)).astype(np.float32))
    parts.append(Part(vertices=points, faces=np.array(faces), paint=paint, finish=Finish(0.5, 0.4), kind="leaf"))
    return parts
