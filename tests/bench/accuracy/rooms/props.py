"""What stands about in these sets and not in the demo's: books, bottles, fruit, a wall of bricks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from demo.generator.mesh import SATIN, Finish, Part, box, lathe, placed
from demo.generator.texture import Paint, fbm, label_word, smoothstep

__all__ = ["book_row", "bottle", "brick_wall", "fruit"]


def book_row(rng: np.random.Generator, colours: Sequence[str], width: float) -> list[Part]:
    """Books side by side, spines to -y."""
    parts, x = [], 0.0
    while x < width - 0.06:
        thick, high, deep = rng.uniform(0.018, 0.05), rng.uniform(0.18, 0.27), rng.uniform(0.14, 0.19)
        paint = Paint((320, 80), str(rng.choice(colours)), float(rng.uniform(0.8, 1.1)))
        ink = str(rng.choice(["paint white 9.5", "paint black 2", "yarn yellow"]))
        paint.rectangle(ink, 0, 0.06, 1, 0.015).rectangle(ink, 0, 0.92, 1, 0.015)
        turned = Paint((80, 320), "paint black 2", 0).text(
            "paint white 9.5", f"{label_word(rng)} {label_word(rng)}", 0.15, 0.25, 0.6, 0.5
        )
        paint.over(ink, np.rot90(turned.shares["paint white 9.5"], -1))
        parts.append(
            box((thick, deep, high), (x + thick / 2, -deep / 2, high / 2), paint, texture_size=None, finish=SATIN)
        )
        x += thick + 0.002
    return placed(parts, (-width / 2, 0, 0))


def bottle(rng: np.random.Generator, surface: str, height: float = 0.24, cap: str = "paint black 2") -> list[Part]:
    """A plastic or glass bottle with a label."""
    paint = Paint((256, 512), surface)
    paint.rectangle("paint white 9.5", 0.28, 0.52, 0.44, 0.30, 0.88)
    paint.text("paint black 2", label_word(rng), 0.31, 0.56, 0.38, 0.10, font=2)
    paint.text("paint red", label_word(rng, 1), 0.33, 0.70, 0.20, 0.07)
    r = height * 0.16
    profile = [
        (0, 0),
        (r * 0.95, 0),
        (r, 0.02 * height),
        (r, 0.62 * height),
        (r * 0.8, 0.72 * height),
        (r * 0.36, 0.82 * height),
        (r * 0.34, 0.92 * height),
        (0, 0.92 * height),
    ]
    parts = [lathe(profile, paint, finish=Finish(0.2, 0.5))]
    parts.append(
        lathe([(0, 0.9 * height), (r * 0.42, 0.9 * height), (r * 0.42, height), (0, height)], cap, finish=SATIN)
    )
    return placed(parts, turn=float(rng.uniform(-30, 30)))


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
    paint = (
        Paint(shape, base, gain)
        .over("wood redwood", mix, 0.8)
        .shade(1 + tone + 0.2 * fbm(shape, (90, 170), rng, 3))
    )
    edge = np.minimum(np.minimum(ty % 1, 1 - ty % 1) / 2.2, np.minimum(tx % 1, 1 - tx % 1)) + 0.012 * fbm(
        shape, (80, 150), rng
    )
    return paint.over("sand", 1 - smoothstep(0.028, 0.05, edge), 0.9)
