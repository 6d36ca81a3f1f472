"""Things that stand in the rooms: pots, shelves, jars, lamps, tools, tiles, posters.

Each builder returns parts around its own origin, on the floor or table at z = 0, seen from -y.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .mesh import GLAZED, MATTE, SATIN, Finish, Part, box, lathe, panel, placed, tube
from .texture import Paint, fbm, label_word, smoothstep

__all__ = [
    "book_row",
    "bottle",
    "brick_wall",
    "brush_mug",
    "bucket",
    "canvas_poster",
    "desk_lamp",
    "fruit",
    "glaze",
    "jar",
    "leafy_plant",
    "pegboard",
    "pendant",
    "plaster",
    "plate",
    "pot",
    "shelf",
    "softbox",
    "table",
    "test_tiles",
    "tile_wall",
    "window",
    "wood",
]

Array = NDArray[Any]

METAL = Finish(0.35, 1.0)


# Materials ----------------------------------------------------------------------------------------------------------


def wood(rng: np.random.Generator, light_tone: str = "wood pine", dark_tone: str = "wood oak", gain: float = 1.0) -> Paint:
    """Wood of 1 m x 0.5 m; the grain runs along u."""
    shape = (512, 1024)
    y, x = np.mgrid[: shape[0], : shape[1]] / 512.0
    warp = 0.10 * fbm(shape, (3, 2), rng) + 0.018 * fbm(shape, (10, 8), rng)
    rings = 0.5 + 0.5 * np.sin(2 * np.pi * (y * 9 + 10 * warp))
    fibre = fbm(shape, (150, 5), rng, 3)
    paint = Paint(shape, light_tone, gain)
    paint.over(dark_tone, np.clip(0.15 + 0.65 * rings**2 + 0.35 * fibre, 0, 1), gain * 0.8)
    for _ in range(3):
        cx, cy, r = rng.uniform(0.1, 1.9), rng.uniform(0.1, 0.9), rng.uniform(0.012, 0.028)
        knot = np.hypot((x - cx) * 0.6, y - cy)
        paint.over("wood walnut", np.exp(-((knot / r) ** 2)) * 0.9, 0.5)
    pores = fbm(shape, (256, 24), rng, 1) > 0.82
    return paint.shade(1 + 0.10 * fibre - 0.25 * pores)


def plaster(rng: np.random.Generator, surface: str = "paint white 9.5", gain: float = 0.75) -> Paint:
    """A painted wall of 4 m x 2 m with roller marks, scuffs and stains."""
    shape = (768, 1536)
    paint = Paint(shape, surface, gain)
    paint.over("sand", 0.10 + 0.06 * fbm(shape, (3, 5), rng))
    paint.shade(1 + 0.03 * fbm(shape, (3, 5), rng) + 0.03 * fbm(shape, (190, 380), rng, 2))
    for _ in range(60):
        x, y = rng.uniform(0, 0.97), rng.uniform(0, 0.97)
        dx, dy = rng.uniform(-0.02, 0.02, 2)
        paint.line("asphalt", [(x, y), (x + dx, y + dy)], 0.0008, 3.0)
    return paint


def tile_wall(rng: np.random.Generator, base: str, accent: str, across: int = 14, down: int = 7, gain: float = 0.9) -> Paint:
    """Glazed wall tiles with grout; every tile has its own tone and a few are of the accent colour."""
    shape = (768, 1536)
    y, x = np.mgrid[: shape[0], : shape[1]]
    ty, tx = y * down / shape[0], x * across / shape[1]
    tone = rng.uniform(-0.07, 0.07, (down, across))[ty.astype(int), tx.astype(int)]
    coloured = (rng.random((down, across)) < 0.12)[ty.astype(int), tx.astype(int)]
    paint = Paint(shape, base, gain).over(accent, coloured.astype(np.float32), 0.9).shade(1 + tone)
    edge = np.minimum(np.minimum(ty % 1, 1 - ty % 1), np.minimum(tx % 1, 1 - tx % 1))
    paint.over("suede grey", 1 - smoothstep(0.018, 0.03, edge), 0.75)
    crackle = np.abs(fbm(shape, (40, 80), rng, 2)) < 0.012
    return paint.shade(1 - 0.10 * crackle + 0.03 * fbm(shape, (200, 400), rng, 1))


def brick_wall(rng: np.random.Generator, base: str = "rubber red", gain: float = 1.3) -> Paint:
    """Bricks of 4 m x 2 m."""
    shape = (768, 1536)
    down, across = 24, 17
    y, x = np.mgrid[: shape[0], : shape[1]]
    ty = y * down / shape[0]
    tx = x * across / shape[1] + 0.5 * (ty.astype(int) % 2)
    index = (ty.astype(int), tx.astype(int))
    tone = rng.uniform(-0.22, 0.22, (down, across + 2))[index]
    mix = rng.uniform(0, 0.6, (down, across + 2))[index]
    paint = Paint(shape, base, gain).over("wood redwood", mix, 0.8).shade(1 + tone + 0.2 * fbm(shape, (90, 170), rng, 3))
    edge = np.minimum(np.minimum(ty % 1, 1 - ty % 1) / 2.2, np.minimum(tx % 1, 1 - tx % 1)) + 0.012 * fbm(shape, (80, 150), rng)
    return paint.over("sand", 1 - smoothstep(0.028, 0.05, edge), 0.9)


def glaze(rng: np.random.Generator, colours: Sequence[str], style: str | None = None) -> Paint:
    """A pot's glaze: dipped, banded, speckled, dripping or brushed; u runs around, v up."""
    shape = (256, 512)
    style = style or str(rng.choice(["dip", "bands", "speckle", "drip", "brush", "leaves"]))
    a, b, c = (colours[int(i)] for i in rng.choice(len(colours), 3, replace=len(colours) < 3))
    y, x = np.mgrid[: shape[0], : shape[1]]
    v, u = 1 - y / shape[0], x / shape[1]
    around = np.sin(2 * np.pi * u * 3 + rng.uniform(0, 6)) + 0.6 * np.sin(2 * np.pi * u * 7 + rng.uniform(0, 6))
    paint = Paint(shape, a, float(rng.uniform(0.85, 1.1)))
    paint.shade(1 + 0.10 * fbm(shape, (6, 8), rng))
    if style == "dip":
        paint.over(b, smoothstep(-0.006, 0.006, v - 0.52 - 0.02 * around))
        paint.over("leather shoe brown", np.exp(-(((v - 0.52 - 0.02 * around) / 0.012) ** 2)) * 0.6)
    elif style == "bands":
        for _ in range(int(rng.integers(3, 7))):
            at, wide = rng.uniform(0.15, 0.95), rng.uniform(0.006, 0.05)
            paint.over(str(rng.choice([b, c])), 1 - smoothstep(wide * 0.8, wide, np.abs(v - at) + 0.002 * around))
    elif style == "drip":
        runs = 0.62 + 0.10 * around + 0.09 * np.abs(np.sin(2 * np.pi * u * 11))
        paint.over(b, smoothstep(-0.008, 0.008, v - runs))
        paint.over(c, smoothstep(-0.02, 0.03, v - runs - 0.22) * 0.8)
    elif style == "brush":
        for _ in range(9):
            cu, cv = rng.uniform(0.05, 0.95), rng.uniform(0.3, 0.85)
            points = [(cu + 0.05 * np.cos(t) * rng.uniform(0.5, 1), 1 - cv - 0.10 * np.sin(2 * t)) for t in np.linspace(0, 4, 9)]
            paint.line(str(rng.choice([b, c])), points, 0.012)
    elif style == "leaves":
        for k in range(10):
            cu, turn = (k + 0.5) / 10, rng.uniform(-0.5, 0.5)
            for side in (-1, 1):
                tip = (cu + 0.032 * side, 1 - 0.66 - 0.1 * turn)
                paint.line(b, [(cu, 1 - 0.42), (cu + 0.03 * side, 1 - 0.52), tip, (cu + 0.008 * side, 1 - 0.55)], 0.003, closed=True)
            paint.line(b, [(cu, 0.72), (cu, 0.30)], 0.004)
            paint.disc(c, cu, 0.27, 0.012)
    fine = fbm(shape, (90, 180), rng, 1)
    coarse = fbm(shape, (34, 68), rng, 1)
    if style in ("speckle", "dip") or rng.random() < 0.4:
        paint.over("leather shoe brown", smoothstep(0.55, 0.70, fine) * 0.8, 0.7)
        paint.over("hair black", smoothstep(0.66, 0.74, coarse) * 0.8, 2.0)
    return paint.over("sand", 1 - smoothstep(0.045, 0.055, v + 0.004 * around), 0.9)


def canvas_poster(rng: np.random.Generator, colours: Sequence[str], words: Sequence[str], kind: str = "shapes") -> Paint:
    """A poster: shapes, a profile chart or plain lines of text."""
    paint = Paint((640, 448), "paint white 9.5", 0.85)
    if kind == "chart":
        for row in range(5):
            for col in range(4):
                paint.rectangle(str(rng.choice(colours)), 0.09 + col * 0.21, 0.24 + row * 0.125, 0.17, 0.085)
                paint.text("paint black 2", f"{label_word(rng, 1)}{int(rng.integers(2, 9))}", 0.10 + col * 0.21, 0.332 + row * 0.125, 0.12, 0.022)
    elif kind == "shapes":
        for _ in range(11):
            x, y, r = rng.uniform(0.12, 0.88), rng.uniform(0.26, 0.84), rng.uniform(0.03, 0.13)
            surface = str(rng.choice(colours))
            if rng.random() < 0.5:
                paint.disc(surface, x, y, r)
            else:
                angle = rng.uniform(0, 6.28) + np.array([0, 2.2, 4.0])
                paint.line(surface, [(x + r * np.cos(t) * 1.3, y + r * np.sin(t)) for t in angle], 0.01, closed=True)
    else:
        for row in range(14):
            paint.text("paint neutral 3.5", " ".join(label_word(rng) for _ in range(3)), 0.1, 0.26 + row * 0.045, rng.uniform(0.5, 0.8), 0.026)
    paint.text(str(colours[0]), words[0], 0.10, 0.06, 0.80, 0.12, font=2)
    paint.text("paint black 2", words[-1], 0.12, 0.89, 0.60, 0.05)
    return paint.shade(1 + 0.03 * fbm(paint.shape, (120, 90), rng, 2))


def poster(paint: Paint, width: float, centre: Sequence[float], frame: str | None = "wood walnut") -> list[Part]:
    """A poster on a wall that faces -y."""
    height = width * paint.shape[0] / paint.shape[1]
    x, y, z = centre
    parts = [box((width, 0.006, height), (x, y, z), paint, texture_size=None, finish=Finish(0.4, 0.3))]
    if frame:
        for dx, dz, w, h in ((0, 1, width + 0.05, 0.025), (0, -1, width + 0.05, 0.025), (1, 0, 0.025, height), (-1, 0, 0.025, height)):
            place = (x + dx * (width + 0.025) / 2, y - 0.008, z + dz * (height + 0.025) / 2)
            parts.append(box((w, 0.03, h), place, frame, finish=SATIN))
    return parts


# Turned things ------------------------------------------------------------------------------------------------------

PROFILES: dict[str, tuple[tuple[float, float], ...]] = {
    "vase": ((0.0, 0), (0.42, 0), (0.5, 0.06), (0.72, 0.32), (0.74, 0.5), (0.55, 0.72), (0.3, 0.84), (0.28, 0.92), (0.38, 1.0)),
    "bottle": ((0.0, 0), (0.40, 0), (0.44, 0.04), (0.46, 0.45), (0.38, 0.58), (0.16, 0.70), (0.13, 0.92), (0.18, 1.0)),
    "moon": ((0.0, 0), (0.36, 0), (0.55, 0.10), (0.86, 0.38), (0.88, 0.55), (0.62, 0.84), (0.40, 0.94), (0.42, 1.0)),
    "jug": ((0.0, 0), (0.48, 0), (0.56, 0.08), (0.66, 0.3), (0.60, 0.55), (0.42, 0.75), (0.40, 0.85), (0.50, 1.0)),
    "cup": ((0.0, 0), (0.58, 0), (0.64, 0.05), (0.72, 0.5), (0.76, 1.0)),
    "bowl": ((0.0, 0), (0.48, 0), (0.50, 0.12), (0.95, 0.55), (1.22, 1.0)),
    "cylinder": ((0.0, 0), (0.50, 0), (0.53, 0.03), (0.52, 0.5), (0.53, 1.0)),
}


def _smooth_profile(rows: Sequence[tuple[float, float]], radius: float, height: float) -> list[tuple[float, float]]:
    from scipy.interpolate import PchipInterpolator

    points = np.asarray(rows)
    t = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    fine = np.unique(np.concatenate([np.linspace(0, t[-1], 36), t]))
    curve = PchipInterpolator(t, points)(fine)
    outside = [(float(r) * radius, float(z) * height) for r, z in curve]
    # A lip of some thickness, then down the inside.
    lip = outside[-1][0]
    inside = [(lip - 0.04 * radius, height * 1.004), (lip - 0.10 * radius, height * 0.97)]
    inside += [(max(r - 0.10 * radius, 0.01 * radius), z) for r, z in reversed(outside[4:-2]) if z > height * 0.12]
    return [*outside, *inside, (0.0, height * 0.12)]


def pot(rng: np.random.Generator, colours: Sequence[str], height: float, kind: str | None = None, style: str | None = None, finish: Finish = GLAZED) -> list[Part]:
    """A glazed pot of a given height."""
    kind = kind or str(rng.choice(list(PROFILES)))
    flat = {"cup": 0.62, "bowl": 0.95, "cylinder": 0.60}.get(kind, 0.5)
    radius = height * flat * float(rng.uniform(0.9, 1.1))
    profile = _smooth_profile(PROFILES[kind], radius, height)
    paint = glaze(rng, colours, style)
    parts = [lathe(profile, paint, finish=finish)]
    if kind in ("jug", "cup"):
        a = np.linspace(-1.35, 1.35, 15)
        rim = radius * 0.66
        side = 1 if rng.random() < 0.5 else -1
        path = [(side * (rim + 0.26 * height * np.cos(t)), 0.0, height * (0.52 + 0.30 * np.sin(t))) for t in a]
        parts.append(tube(path, 0.045 * height + 0.002, list(paint.shares)[0], finish=finish))
    return placed(parts, turn=float(rng.uniform(-60, 60)))


def plate(rng: np.random.Generator, colours: Sequence[str], radius: float, upright: bool = False) -> list[Part]:
    """A plate; ``upright`` leans it back to show its face."""
    profile = [(0, 0.008), (radius * 0.6, 0.006), (radius * 0.7, 0.012), (radius, 0.028), (radius * 0.99, 0.033), (radius * 0.68, 0.020), (0.0, 0.016)]
    parts = [lathe(profile, glaze(rng, colours, str(rng.choice(["bands", "speckle", "bands"]))))]
    return placed(parts, (0, 0, radius), tilt=78) if upright else parts


def jar(rng: np.random.Generator, content: str, height: float = 0.14, label: str | None = None, lid: str = "wood oak", gain: float = 1.0) -> list[Part]:
    """A jar with a label and a lid, full of one colour."""
    paint = Paint((256, 512), content, gain)
    paint.shade(1 + 0.10 * fbm((256, 512), (10, 20), rng))
    paint.rectangle("paint white 9.5", 0.32, 0.30, 0.36, 0.42, 0.88)
    paint.rectangle(content, 0.33, 0.32, 0.34, 0.06, gain)
    paint.text("paint black 2", label or label_word(rng), 0.345, 0.41, 0.31, 0.13, font=2)
    paint.text("paint neutral 3.5", f"{label_word(rng, 1)} {int(rng.integers(10, 99))}", 0.36, 0.58, 0.26, 0.08)
    r = height * 0.36
    parts = [lathe([(0, 0), (r * 0.95, 0), (r, 0.01 * height), (r, 0.84 * height), (r * 0.82, 0.92 * height), (0, 0.92 * height)], paint, finish=Finish(0.15, 0.5))]
    parts.append(lathe([(0, 0.91 * height), (r * 0.9, 0.91 * height), (r * 0.9, 1.02 * height), (r * 0.85, 1.04 * height), (0, 1.04 * height)], lid, finish=SATIN))
    return placed(parts, turn=float(rng.uniform(-35, 35)))


def bottle(rng: np.random.Generator, surface: str, height: float = 0.24, cap: str = "paint black 2") -> list[Part]:
    """A plastic or glass bottle with a label."""
    paint = Paint((256, 512), surface)
    paint.rectangle("paint white 9.5", 0.28, 0.52, 0.44, 0.30, 0.88)
    paint.text("paint black 2", label_word(rng), 0.31, 0.56, 0.38, 0.10, font=2)
    paint.text("paint red", label_word(rng, 1), 0.33, 0.70, 0.20, 0.07)
    r = height * 0.16
    profile = [(0, 0), (r * 0.95, 0), (r, 0.02 * height), (r, 0.62 * height), (r * 0.8, 0.72 * height), (r * 0.36, 0.82 * height), (r * 0.34, 0.92 * height), (0, 0.92 * height)]
    parts = [lathe(profile, paint, finish=Finish(0.2, 0.5))]
    parts.append(lathe([(0, 0.9 * height), (r * 0.42, 0.9 * height), (r * 0.42, height), (0, height)], cap, finish=SATIN))
    return placed(parts, turn=float(rng.uniform(-30, 30)))


def bucket(rng: np.random.Generator, surface: str, content: str, height: float = 0.28) -> list[Part]:
    """A bucket of glaze with a taped label."""
    paint = Paint((256, 512), surface, 0.95)
    paint.rectangle("paint white 9.5", 0.36, 0.36, 0.28, 0.30, 0.85).text("paint black 2", label_word(rng), 0.38, 0.42, 0.24, 0.14, font=1)
    smear = smoothstep(0.35, 0.5, fbm((256, 512), (6, 9), rng))
    paint.over(content, smear * np.linspace(1, 0.1, 256)[:, None])
    r = height * 0.46
    profile = [(0, 0), (r * 0.84, 0), (r, height), (r * 0.97, height), (r * 0.9, height * 0.8)]
    return [
        lathe(profile, paint, finish=SATIN),
        lathe([(r * 0.92, height * 0.82), (0, height * 0.82)], content, finish=GLAZED),
        tube([(r * np.cos(t), -0.2 * r, height * 0.92 - 0.5 * r * np.sin(t)) for t in np.linspace(0, np.pi, 13)], 0.004, "suede grey", finish=METAL),
    ]


def brush_mug(rng: np.random.Generator, colours: Sequence[str]) -> list[Part]:
    """A mug full of brushes and modelling tools."""
    parts = pot(rng, colours, 0.115, "cylinder")
    for _ in range(8):
        a, lean = rng.uniform(0, 6.28), rng.uniform(0.15, 0.34)
        foot = np.array([0.02 * np.cos(a), 0.02 * np.sin(a), 0.03])
        aim = np.array([np.cos(a) * lean, np.sin(a) * lean, 1.0])
        length = rng.uniform(0.15, 0.22)
        top = foot + aim * length
        parts.append(tube([foot, (foot + top) / 2, top], 0.0042, str(rng.choice(["wood maple", "wood redwood", *colours]))))
        parts.append(tube([top, top + aim * 0.010, top + aim * 0.016], 0.005, "suede grey", finish=METAL))
        parts.append(tube([top + aim * 0.016, top + aim * 0.030, top + aim * 0.045], 0.0062, str(rng.choice(["hair black", "hair brown", "bread crust"])), finish=MATTE))
    return parts


# Furniture ------------------------------------------------------------------------------------------------------------


def table(rng: np.random.Generator, size: tuple[float, float, float], top: Paint, legs: str = "wood walnut") -> list[Part]:
    """A table of (width, depth, height) with a plank top."""
    width, depth, height = size
    parts = []
    planks = 5
    for k in range(planks):
        y = (k + 0.5) / planks * depth - depth / 2
        shift = (float(rng.uniform(0, 1)), float(rng.uniform(0, 1)))
        parts.append(box((width, depth / planks - 0.003, 0.045), (0, y, height - 0.0225), top, along=0, shift=shift, finish=SATIN))
    for x in (-1, 1):
        for y in (-1, 1):
            parts.append(box((0.07, 0.07, height - 0.045), (x * (width / 2 - 0.08), y * (depth / 2 - 0.08), (height - 0.045) / 2), legs))
    parts.append(box((width - 0.12, 0.03, 0.09), (0, -depth / 2 + 0.06, height - 0.09), legs))
    return parts


def shelf(width: float, heights: Sequence[float], depth: float, paint: Paint, back: Paint | str | None = None) -> list[Part]:
    """An open shelf whose back stands at y = 0; boards lie at ``heights``."""
    low, high = min(heights), max(heights)
    parts = [
        box((width, depth, 0.024), (0, -depth / 2, z), paint, along=0, shift=(0.13 * k, 0.29 * k), finish=SATIN) for k, z in enumerate(heights)
    ]
    for side in (-1, 1):
        centre = (side * (width / 2 + 0.012), -depth / 2, (low + high) / 2)
        parts.append(box((0.024, depth, high - low + 0.024), centre, paint, along=2, shift=(0.4, 0.5 + 0.2 * side)))
    if back is not None:
        parts.append(box((width, 0.012, high - low), (0, -0.006, (low + high) / 2), back, along=0))
    return parts


def book_row(rng: np.random.Generator, colours: Sequence[str], width: float) -> list[Part]:
    """Books side by side, spines to -y."""
    parts, x = [], 0.0
    while x < width - 0.06:
        thick, high, deep = rng.uniform(0.018, 0.05), rng.uniform(0.18, 0.27), rng.uniform(0.14, 0.19)
        paint = Paint((320, 80), str(rng.choice(colours)), float(rng.uniform(0.8, 1.1)))
        ink = str(rng.choice(["paint white 9.5", "paint black 2", "yarn yellow"]))
        paint.rectangle(ink, 0, 0.06, 1, 0.015).rectangle(ink, 0, 0.92, 1, 0.015)
        turned = Paint((80, 320), "paint black 2", 0).text("paint white 9.5", f"{label_word(rng)} {label_word(rng)}", 0.15, 0.25, 0.6, 0.5)
        paint.over(ink, np.rot90(turned.shares["paint white 9.5"], -1))
        parts.append(box((thick, deep, high), (x + thick / 2, -deep / 2, high / 2), paint, texture_size=None, finish=SATIN))
        x += thick + 0.002
    return placed(parts, (-width / 2, 0, 0))


def test_tiles(rng: np.random.Generator, colours: Sequence[str], across: int, down: int, pitch: tuple[float, float] = (0.085, 0.115)) -> list[Part]:
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
                blade = [box((0.075, 0.024, 0.026), (x0, -0.025, z0 + length * 0.95), "suede grey", finish=METAL, texture_size=None)]
                blade.append(box((0.014, 0.014, length * 0.5), (x0, -0.025, z0 + length * 0.7), "wood maple"))
            elif kind == 1:
                blade = [box((0.060, 0.004, length * 0.45), (x0, -0.022, z0 + length * 0.72), "paint neutral 6.5", finish=METAL)]
            elif kind == 2:
                a = np.linspace(0, 2 * np.pi, 17)
                loop = [(x0 + 0.028 * np.sin(t), -0.024, z0 + length * 0.72 - 0.05 * np.cos(t)) for t in a]
                blade = [tube(loop, 0.003, "paint neutral 6.5", finish=METAL)]
            elif kind == 3:
                blade = [tube([(x0, -0.024, z0 + length * 0.5), (x0, -0.024, z0 + length * 0.75), (x0, -0.024, z0 + length)], 0.004, "suede grey", finish=METAL)]
            else:
                blade = [box((0.032, 0.010, length * 0.22), (x0, -0.024, z0 + length * 0.60), "suede grey", finish=METAL)]
                blade.append(box((0.040, 0.014, length * 0.28), (x0, -0.024, z0 + length * 0.84), str(rng.choice(["hair brown", "bread crust"]))))
            parts += [grip, *blade]
    return parts


# Light ----------------------------------------------------------------------------------------------------------------


def softbox(size: tuple[float, float], centre: Sequence[float], towards: Sequence[float], light: str, power: float) -> list[Part]:
    """A lamp behind a diffuser, out of every picture."""
    return [panel(size[0], size[1], centre, towards, paint="paint neutral 5", light=(light, power))]


def desk_lamp(rng: np.random.Generator, light: str, power: float, shade: str = "paint red", reach: float = 0.34) -> list[Part]:
    """A jointed work lamp; its head looks down and forward, towards -x."""
    joint, head = np.array([0.06, 0, 0.33]), np.array([-reach, -0.02, 0.50])
    parts = [
        lathe([(0, 0), (0.085, 0), (0.085, 0.018), (0.02, 0.03), (0, 0.03)], shade, finish=SATIN),
        tube([(0, 0, 0.02), joint / 2, joint], 0.008, "suede grey", finish=METAL),
        tube([joint, (joint + head) / 2, head], 0.008, "suede grey", finish=METAL),
        lathe([(0, -0.02), (0.02, -0.02), (0.022, 0.02), (0, 0.02)], "paint black 2"),
    ]
    parts[-1] = placed([parts[-1]], joint, tilt=90)[0]
    cone = [(0.0, 0.070), (0.036, 0.046), (0.083, -0.045), (0.086, -0.045), (0.040, 0.05), (0.032, 0.080), (0.0, 0.085)]
    shade_part = lathe(cone, shade, finish=SATIN)
    bulb = lathe([(0, -0.030), (0.040, -0.020), (0.048, 0.005), (0.03, 0.035), (0.0, 0.045)], "paint white 9.5", finish=MATTE, light=(light, power), kind="none")
    head_parts = placed([shade_part, bulb], head, tilt=-8)
    return parts + head_parts


def pendant(light: str, power: float, shade: str, drop: float = 0.7, radius: float = 0.17) -> list[Part]:
    """A pendant lamp that hangs from z = 0."""
    bell = [(0.0, -0.06), (radius * 0.76, -0.112), (radius * 0.98, -0.19), (radius, -0.19), (radius * 0.8, -0.11), (0.05, -0.05), (0.035, -0.01), (0.0, 0.0)]
    parts = [lathe([(r, z - drop) for r, z in bell], shade, finish=SATIN)]
    bulb = [(0, -0.175), (0.035, -0.165), (0.045, -0.135), (0.03, -0.10), (0, -0.085)]
    parts.append(lathe([(r, z - drop) for r, z in bulb], "paint white 9.5", finish=MATTE, light=(light, power), kind="none"))
    parts.append(tube([(0, 0, -drop), (0, 0, -drop / 2), (0, 0, 0)], 0.004, "paint black 2"))
    return parts


def window(rng: np.random.Generator, width: float, height: float, light: str, power: float, frame: str = "paint white 9.5", panes: tuple[int, int] = (3, 2)) -> list[Part]:
    """A window in a wall at y = 0 facing -y: frame, bars, and a soft view of sky and trees outside; origin lower middle."""
    shape = (256, 384)
    y = np.linspace(0, 1, shape[0])[:, None] + 0.10 * fbm(shape, (4, 7), rng)
    view = Paint(shape, "paint white 9.5", 0.95)
    view.over("towel light blue", 0.35 * (1 - smoothstep(0.0, 0.5, y)))
    view.over("leaf silver maple", smoothstep(0.60, 0.66, y + 0.10 * fbm(shape, (9, 14), rng)), 1.6)
    view.over("leaf vine", smoothstep(0.0, 0.35, fbm(shape, (24, 36), rng)) * smoothstep(0.62, 0.72, y), 0.9)
    view.over("wood worn", smoothstep(0.90, 0.94, y), 1.0)
    parts = [panel(width, height, (0, 0.04, height / 2), (0, -1, height / 2), paint=view, light=(light, power), kind="none")]
    bar = 0.035
    for k in range(panes[0] + 1):
        x = k / panes[0] * width - width / 2
        parts.append(box((bar * (1.6 if k in (0, panes[0]) else 1), 0.06, height + bar), (x, -0.01, height / 2), frame, finish=SATIN))
    for k in range(panes[1] + 1):
        z = k / panes[1] * height
        parts.append(box((width + bar, 0.055, bar * (1.6 if k in (0, panes[1]) else 1)), (0, -0.01, z), frame, finish=SATIN))
    parts.append(box((width + 0.16, 0.16, 0.03), (0, -0.07, -0.035), frame, finish=SATIN))
    return parts


def leafy_plant(rng: np.random.Generator, pot_colours: Sequence[str], height: float = 0.4, leaf: str = "leaf bush") -> list[Part]:
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
        faces += [(start, start + 1, start + 2), (start + 1, start + 3, start + 2), (start, start + 2, start + 4), (start, start + 4, start + 1)]
        faces += [(start + 4, start + 2, start + 3), (start + 1, start + 4, start + 3)]
    points = np.array(vertices)
    paint = Paint(len(points), leaf, 1.1).shade(rng.uniform(0.6, 1.2, len(points)).astype(np.float32))
    parts.append(Part(vertices=points, faces=np.array(faces), paint=paint, finish=Finish(0.5, 0.4), kind="leaf"))
    return parts


def fruit(rng: np.random.Generator, surface: str, radius: float, blush: str | None = None) -> list[Part]:
    """A round fruit."""
    angle = np.linspace(0, np.pi, 24)
    profile = [(radius * np.sin(t) * (1 + 0.05 * np.cos(t)), radius * (1 - np.cos(t)) * 0.92) for t in angle]
    paint = Paint((128, 256), surface)
    paint.shade(1 + 0.12 * fbm((128, 256), (5, 8), rng))
    if blush:
        paint.over(blush, smoothstep(-0.1, 0.5, fbm((128, 256), (3, 4), rng)) * 0.8)
    paint.over("hair brown", smoothstep(0.7, 0.75, fbm((128, 256), (40, 60), rng, 1)) * 0.6)
    return placed([lathe(profile, paint, finish=Finish(0.35, 0.4), steps=40)], turn=float(rng.uniform(0, 360)))
