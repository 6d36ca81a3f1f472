"""Turned things: pots, plates, jars, buckets.

Each builder returns parts around its own origin, on the table at z = 0.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..mesh import GLAZED, MATTE, METAL, SATIN, Finish, Part, lathe, placed, tube
from ..texture import Paint, fbm, label_word, smoothstep
from .materials import glaze

__all__ = ["brush_mug", "bucket", "jar", "plate", "pot"]


PROFILES: dict[str, tuple[tuple[float, float], ...]] = {
    "vase": (
        (0.0, 0),
        (0.42, 0),
        (0.5, 0.06),
        (0.72, 0.32),
        (0.74, 0.5),
        (0.55, 0.72),
        (0.3, 0.84),
        (0.28, 0.92),
        (0.38, 1.0),
    ),
    "bottle": (
        (0.0, 0),
        (0.40, 0),
        (0.44, 0.04),
        (0.46, 0.45),
        (0.38, 0.58),
        (0.16, 0.70),
        (0.13, 0.92),
        (0.18, 1.0),
    ),
    "moon": (
        (0.0, 0),
        (0.36, 0),
        (0.55, 0.10),
        (0.86, 0.38),
        (0.88, 0.55),
        (0.62, 0.84),
        (0.40, 0.94),
        (0.42, 1.0),
    ),
    "jug": ((0.0, 0), (0.48, 0), (0.56, 0.08), (0.66, 0.3), (0.60, 0.55), (0.42, 0.75), (0.40, 0.85), (0.50, 1.0)),
    "cup": ((0.0, 0), (0.58, 0), (0.64, 0.05), (0.72, 0.5), (0.76, 1.0)),
    "bowl": ((0.0, 0), (0.48, 0), (0.50, 0.12), (0.95, 0.55), (1.22, 1.0)),
    "cylinder": ((0.0, 0), (0.50, 0), (0.53, 0.03), (0.52, 0.5), (0.53, 1.0)),
}


def _smooth_profile(
    rows: Sequence[tuple[float, float]], radius: float, height: float
) -> list[tuple[float, float]]:
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


def pot(
    rng: np.random.Generator,
    colours: Sequence[str],
    height: float,
    kind: str | None = None,
    style: str | None = None,
    finish: Finish = GLAZED,
) -> list[Part]:
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
        parts.append(tube(path, 0.045 * height + 0.002, next(iter(paint.shares)), finish=finish))
    return placed(parts, turn=float(rng.uniform(-60, 60)))


def plate(rng: np.random.Generator, colours: Sequence[str], radius: float, upright: bool = False) -> list[Part]:
    """A plate; ``upright`` leans it back to show its face."""
    profile = [
        (0, 0.008),
        (radius * 0.6, 0.006),
        (radius * 0.7, 0.012),
        (radius, 0.028),
        (radius * 0.99, 0.033),
        (radius * 0.68, 0.020),
        (0.0, 0.016),
    ]
    parts = [lathe(profile, glaze(rng, colours, str(rng.choice(["bands", "speckle", "bands"]))))]
    return placed(parts, (0, 0, radius), tilt=78) if upright else parts


def jar(
    rng: np.random.Generator,
    content: str,
    height: float = 0.14,
    label: str | None = None,
    lid: str = "wood oak",
    gain: float = 1.0,
) -> list[Part]:
    """A jar with a label and a lid, full of one colour."""
    paint = Paint((256, 512), content, gain)
    paint.shade(1 + 0.10 * fbm((256, 512), (10, 20), rng))
    paint.rectangle("paint white 9.5", 0.32, 0.30, 0.36, 0.42, 0.88)
    paint.rectangle(content, 0.33, 0.32, 0.34, 0.06, gain)
    paint.text("paint black 2", label or label_word(rng), 0.345, 0.41, 0.31, 0.13, font=2)
    paint.text("paint neutral 3.5", f"{label_word(rng, 1)} {int(rng.integers(10, 99))}", 0.36, 0.58, 0.26, 0.08)
    r = height * 0.36
    parts = [
        lathe(
            [
                (0, 0),
                (r * 0.95, 0),
                (r, 0.01 * height),
                (r, 0.84 * height),
                (r * 0.82, 0.92 * height),
                (0, 0.92 * height),
            ],
            paint,
            finish=Finish(0.15, 0.5),
        )
    ]
    parts.append(
        lathe(
            [
                (0, 0.91 * height),
                (r * 0.9, 0.91 * height),
                (r * 0.9, 1.02 * height),
                (r * 0.85, 1.04 * height),
                (0, 1.04 * height),
            ],
            lid,
            finish=SATIN,
        )
    )
    return placed(parts, turn=float(rng.uniform(-35, 35)))


def bucket(rng: np.random.Generator, surface: str, content: str, height: float = 0.28) -> list[Part]:
    """A bucket of glaze with a taped label."""
    paint = Paint((256, 512), surface, 0.95)
    paint.rectangle("paint white 9.5", 0.36, 0.36, 0.28, 0.30, 0.85).text(
        "paint black 2", label_word(rng), 0.38, 0.42, 0.24, 0.14, font=1
    )
    smear = smoothstep(0.35, 0.5, fbm((256, 512), (6, 9), rng))
    paint.over(content, smear * np.linspace(1, 0.1, 256)[:, None])
    r = height * 0.46
    profile = [(0, 0), (r * 0.84, 0), (r, height), (r * 0.97, height), (r * 0.9, height * 0.8)]
    return [
        lathe(profile, paint, finish=SATIN),
        lathe([(r * 0.92, height * 0.82), (0, height * 0.82)], content, finish=GLAZED),
        tube(
            [(r * np.cos(t), -0.2 * r, height * 0.92 - 0.5 * r * np.sin(t)) for t in np.linspace(0, np.pi, 13)],
            0.004,
            "suede grey",
            finish=METAL,
        ),
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
        parts.append(
            tube([foot, (foot + top) / 2, top], 0.0042, str(rng.choice(["wood maple", "wood redwood", *colours])))
        )
        parts.append(tube([top, top + aim * 0.010, top + aim * 0.016], 0.005, "suede grey", finish=METAL))
        parts.append(
            tube(
                [top + aim * 0.016, top + aim * 0.030, top + aim * 0.045],
                0.0062,
                str(rng.choice(["hair black", "hair brown", "bread crust"])),
                finish=MATTE,
            )
        )
    return parts
