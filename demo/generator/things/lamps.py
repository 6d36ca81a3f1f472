"""Light: soft boxes, work lamps, pendants, windows."""

from __future__ import annotations

import numpy as np

from ..mesh import MATTE, METAL, SATIN, Part, Vector, box, lathe, panel, placed, tube
from ..texture import Paint, fbm, smoothstep

__all__ = ["desk_lamp", "pendant", "softbox", "window"]


def softbox(size: tuple[float, float], centre: Vector, towards: Vector, light: str, power: float) -> list[Part]:
    """A lamp behind a diffuser, out of every picture."""
    return [panel(size[0], size[1], centre, towards, paint="paint neutral 5", light=(light, power))]


def desk_lamp(
    rng: np.random.Generator, light: str, power: float, shade: str = "paint red", reach: float = 0.34
) -> list[Part]:
    """A jointed work lamp; its head looks down and forward, towards -x."""
    joint, head = np.array([0.06, 0, 0.33]), np.array([-reach, -0.02, 0.50])
    parts = [
        lathe([(0, 0), (0.085, 0), (0.085, 0.018), (0.02, 0.03), (0, 0.03)], shade, finish=SATIN),
        tube([(0, 0, 0.02), joint / 2, joint], 0.008, "suede grey", finish=METAL),
        tube([joint, (joint + head) / 2, head], 0.008, "suede grey", finish=METAL),
        lathe([(0, -0.02), (0.02, -0.02), (0.022, 0.02), (0, 0.02)], "paint black 2"),
    ]
    parts[-1] = placed([parts[-1]], joint, tilt=90)[0]
    cone = [
        (0.0, 0.070),
        (0.036, 0.046),
        (0.083, -0.045),
        (0.086, -0.045),
        (0.040, 0.05),
        (0.032, 0.080),
        (0.0, 0.085),
    ]
    shade_part = lathe(cone, shade, finish=SATIN)
    bulb = lathe(
        [(0, -0.030), (0.040, -0.020), (0.048, 0.005), (0.03, 0.035), (0.0, 0.045)],
        "paint white 9.5",
        finish=MATTE,
        light=(light, power),
        kind="none",
    )
    head_parts = placed([shade_part, bulb], head, tilt=-8)
    return parts + head_parts


def pendant(light: str, power: float, shade: str, drop: float = 0.7, radius: float = 0.17) -> list[Part]:
    """A pendant lamp that hangs from z = 0."""
    bell = [
        (0.0, -0.06),
        (radius * 0.76, -0.112),
        (radius * 0.98, -0.19),
        (radius, -0.19),
        (radius * 0.8, -0.11),
        (0.05, -0.05),
        (0.035, -0.01),
        (0.0, 0.0),
    ]
    parts = [lathe([(r, z - drop) for r, z in bell], shade, finish=SATIN)]
    bulb = [(0, -0.175), (0.035, -0.165), (0.045, -0.135), (0.03, -0.10), (0, -0.085)]
    parts.append(
        lathe([(r, z - drop) for r, z in bulb], "paint white 9.5", finish=MATTE, light=(light, power), kind="none")
    )
    parts.append(tube([(0, 0, -drop), (0, 0, -drop / 2), (0, 0, 0)], 0.004, "paint black 2"))
    return parts


def window(
    rng: np.random.Generator,
    width: float,
    height: float,
    light: str,
    power: float,
    frame: str = "paint white 9.5",
    panes: tuple[int, int] = (3, 2),
) -> list[Part]:
    """A window in a wall at y = 0 facing -y, with sky and trees outside; origin at its lower middle."""
    shape = (256, 384)
    y = np.linspace(0, 1, shape[0])[:, None] + 0.10 * fbm(shape, (4, 7), rng)
    view = Paint(shape, "paint white 9.5", 0.95)
    view.over("towel light blue", 0.35 * (1 - smoothstep(0.0, 0.5, y)))
    view.over("leaf silver maple", smoothstep(0.60, 0.66, y + 0.10 * fbm(shape, (9, 14), rng)), 1.6)
    view.over("leaf vine", smoothstep(0.0, 0.35, fbm(shape, (24, 36), rng)) * smoothstep(0.62, 0.72, y), 0.9)
    view.over("wood worn", smoothstep(0.90, 0.94, y), 1.0)
    parts = [
        panel(
            width,
            height,
            (0, 0.04, height / 2),
            (0, -1, height / 2),
            paint=view,
            light=(light, power),
            kind="none",
        )
    ]
    bar = 0.035
    for k in range(panes[0] + 1):
        x = k / panes[0] * width - width / 2
        parts.append(
            box(
                (bar * (1.6 if k in (0, panes[0]) else 1), 0.06, height + bar),
                (x, -0.01, height / 2),
                frame,
                finish=SATIN,
            )
        )
    for k in range(panes[1] + 1):
        z = k / panes[1] * height
        parts.append(
            box((width + bar, 0.055, bar * (1.6 if k in (0, panes[1]) else 1)), (0, -0.01, z), frame, finish=SATIN)
        )
    parts.append(box((width + 0.16, 0.16, 0.03), (0, -0.07, -0.035), frame, finish=SATIN))
    return parts
