"""Materials: wood, walls, glazes, posters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..texture import Paint, fbm, label_word, smoothstep

__all__ = ["canvas_poster", "glaze", "plaster", "tile_wall", "wood"]


def wood(
    rng: np.random.Generator, light_tone: str = "wood pine", dark_tone: str = "wood oak", gain: float = 1.0
) -> Paint:
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


def tile_wall(
    rng: np.random.Generator, base: str, accent: str, across: int = 14, down: int = 7, gain: float = 0.9
) -> Paint:
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
            points = [
                (cu + 0.05 * np.cos(t) * rng.uniform(0.5, 1), 1 - cv - 0.10 * np.sin(2 * t))
                for t in np.linspace(0, 4, 9)
            ]
            paint.line(str(rng.choice([b, c])), points, 0.012)
    elif style == "leaves":
        for k in range(10):
            cu, turn = (k + 0.5) / 10, rng.uniform(-0.5, 0.5)
            for side in (-1, 1):
                tip = (cu + 0.032 * side, 1 - 0.66 - 0.1 * turn)
                paint.line(
                    b,
                    [(cu, 1 - 0.42), (cu + 0.03 * side, 1 - 0.52), tip, (cu + 0.008 * side, 1 - 0.55)],
                    0.003,
                    closed=True,
                )
            paint.line(b, [(cu, 0.72), (cu, 0.30)], 0.004)
            paint.disc(c, cu, 0.27, 0.012)
    fine = fbm(shape, (90, 180), rng, 1)
    coarse = fbm(shape, (34, 68), rng, 1)
    if style in ("speckle", "dip") or rng.random() < 0.4:
        paint.over("leather shoe brown", smoothstep(0.55, 0.70, fine) * 0.8, 0.7)
        paint.over("hair black", smoothstep(0.66, 0.74, coarse) * 0.8, 2.0)
    return paint.over("sand", 1 - smoothstep(0.045, 0.055, v + 0.004 * around), 0.9)


def canvas_poster(
    rng: np.random.Generator, colours: Sequence[str], words: Sequence[str], kind: str = "shapes"
) -> Paint:
    """A poster: shapes, a profile chart or plain lines of text."""
    paint = Paint((640, 448), "paint white 9.5", 0.85)
    if kind == "chart":
        for row in range(5):
            for col in range(4):
                paint.rectangle(str(rng.choice(colours)), 0.09 + col * 0.21, 0.24 + row * 0.125, 0.17, 0.085)
                paint.text(
                    "paint black 2",
                    f"{label_word(rng, 1)}{int(rng.integers(2, 9))}",
                    0.10 + col * 0.21,
                    0.332 + row * 0.125,
                    0.12,
                    0.022,
                )
    elif kind == "shapes":
        for _ in range(11):
            x, y, r = rng.uniform(0.12, 0.88), rng.uniform(0.26, 0.84), rng.uniform(0.03, 0.13)
            surface = str(rng.choice(colours))
            if rng.random() < 0.5:
                paint.disc(surface, x, y, r)
            else:
                angle = rng.uniform(0, 6.28) + np.array([0, 2.2, 4.0])
                paint.line(
                    surface, [(x + r * np.cos(t) * 1.3, y + r * np.sin(t)) for t in angle], 0.01, closed=True
                )
    else:
        for row in range(14):
            paint.text(
                "paint neutral 3.5",
                " ".join(label_word(rng) for _ in range(3)),
                0.1,
                0.26 + row * 0.045,
                rng.uniform(0.5, 0.8),
                0.026,
            )
    paint.text(str(colours[0]), words[0], 0.10, 0.06, 0.80, 0.12, font=2)
    paint.text("paint black 2", words[-1], 0.12, 0.89, 0.60, 0.05)
    return paint.shade(1 + 0.03 * fbm(paint.shape, (120, 90), rng, 2))
