"""A laboratory: two people in white coats at a bench full of coloured solutions, under cool lamps."""

from __future__ import annotations

import numpy as np

from demo.generator.mesh import GLASS, METAL, SATIN, Finish, Part, box, lathe, panel, placed, tube
from demo.generator.people import Look, Pose
from demo.generator.rooms.common import key_and_fill, shell, stand
from demo.generator.scene import Scene, View
from demo.generator.texture import Paint, fbm, label_word
from demo.generator.things.furniture import poster, shelf
from demo.generator.things.materials import canvas_poster, plaster, wood
from tests.bench.accuracy.rooms.props import book_row, bottle

__all__ = ["build"]

LIQUIDS = (
    "paint cyan",
    "raincoat magenta",
    "raincoat yellow",
    "paint green",
    "paint orange",
    "paint purple",
    "paint blue",
    "lemon skin",
    "flower red",
)

LOOKS = (
    Look(
        skin=("skin asian", 0.85),
        hair=("hair black", 1.3),
        style="bob",
        top="plain",
        colours=("t-shirt white", "fabric white", "fabric white"),
        sleeves=0.85,
        glasses=True,
        lips=0.7,
        eyes=0.6,
        jaw=0.9,
        height=1.67,
    ),
    Look(
        skin=("skin indian light", 0.75),
        hair=("hair grey black", 2.0),
        style="curly",
        top="plain",
        colours=("table cloth white", "fabric white", "fabric white"),
        sleeves=0.85,
        height=1.76,
        iris="shirt green",
    ),
)


def _flask(rng: np.random.Generator, liquid: str, height: float) -> list[Part]:
    r = height * 0.42
    level = float(rng.uniform(0.35, 0.55))
    body = Paint((128, 64), "paint neutral 8", 1.0)
    body.rectangle(liquid, 0, 1 - level, 1, level)
    for k in range(5):
        body.rectangle("paint white 9.5", 0.20, 0.35 + 0.1 * k, 0.10, 0.012)
    shape = [
        (0, 0),
        (r * 0.97, 0),
        (r, 0.03 * height),
        (r * 0.28, 0.68 * height),
        (r * 0.26, 0.95 * height),
        (r * 0.34, height),
        (0.0, 0.99 * height),
    ]
    return placed([lathe(shape, body, finish=GLASS)], turn=float(rng.uniform(0, 360)))


def _rack(rng: np.random.Generator) -> list[Part]:
    parts = [box((0.34, 0.08, 0.012), (0, 0, z), "wood maple", along=0) for z in (0.006, 0.085)]
    parts += [box((0.012, 0.08, 0.09), (x, 0, 0.045), "wood maple") for x in (-0.17, 0.17)]
    for k in range(8):
        tube_paint = Paint((64, 16), "paint neutral 8")
        tube_paint.rectangle(str(rng.choice(LIQUIDS)), 0, float(rng.uniform(0.3, 0.6)), 1, 0.7)
        r = 0.011
        glass = lathe(
            [(0, 0), (r * 0.8, 0.003), (r, 0.012), (r, 0.135), (0, 0.135)], tube_paint, finish=GLASS, steps=20
        )
        parts += placed([glass], (-0.145 + 0.041 * k, 0, 0.012))
    return parts


def _screen(rng: np.random.Generator, light: str, power: float) -> list[Part]:
    picture = Paint((216, 384), "paint blue", 0.5)
    for k in range(5):
        y = rng.uniform(0.2, 0.8)
        points = [
            (x, float(y + 0.12 * np.sin(9 * x + k) + rng.uniform(-0.02, 0.02)))
            for x in np.linspace(0.05, 0.95, 40)
        ]
        picture.line(LIQUIDS[k], points, 0.006)
    picture.text("paint white 9.5", f"{label_word(rng)} {label_word(rng)}", 0.05, 0.05, 0.4, 0.07)
    return [
        box((0.56, 0.03, 0.34), (0, 0.02, 0.36), "paint black 2", finish=SATIN),
        panel(0.53, 0.30, (0, 0.0, 0.36), (0, -1, 0.36), paint=picture, light=(light, power)),
        box((0.05, 0.04, 0.22), (0, 0.04, 0.11), "paint black 2"),
        box((0.24, 0.18, 0.015), (0, 0.02, 0.0075), "paint black 2"),
    ]


def build(
    *,
    seed: int = 0,
    moment: int = 0,
    key: str = "LED-B5",
    window_light: str = "LED-B4",
    window_power: float = 2.2,
    practical: str = "6500K daylight",
    practical_power: float = 1.6,
    rim: str = "LED-B5",
    looks: tuple[Look, Look] = LOOKS,
    people: bool = True,
    detail: float = 1.0,
) -> Scene:
    """Build the laboratory; ``window_light`` is that of the ceiling lamps, ``practical`` that of the screens."""
    rng = np.random.default_rng([seed, 2])
    parts: list[Part] = []
    parts += shell(
        plaster(rng, "towel light blue", 0.95),
        Paint((512, 512), "paint neutral 5").shade(1 + 0.1 * fbm((512, 512), (150, 150), rng, 2)),
    )
    white = "paint white 9.5"
    for x, width in ((-1.55, 1.5), (1.45, 1.7)):
        heights = (1.12, 1.46, 1.80, 2.14)
        parts += placed(
            shelf(width, heights, 0.28, Paint((64, 64), white, 0.9), "paint neutral 6.5"), (x, 1.69, 0)
        )
        for z in heights[:-1]:
            at = -width / 2 + 0.10
            while at < width / 2 - 0.10:
                choice = int(rng.integers(0, 5))
                place = (x + at, 1.54, z + 0.012)
                if choice == 0 and at < width / 2 - 0.32:
                    parts += placed(book_row(rng, LIQUIDS[:7], 0.26), (x + at + 0.11, 1.66, z + 0.012))
                    at += 0.30
                    continue
                if choice in (1, 2):
                    parts += placed(_flask(rng, str(rng.choice(LIQUIDS)), float(rng.uniform(0.15, 0.22))), place)
                else:
                    parts += placed(
                        bottle(
                            rng,
                            str(rng.choice([*LIQUIDS, white, "leather shoe brown"])),
                            float(rng.uniform(0.18, 0.27)),
                            str(rng.choice(["paint red", "paint blue", "paint black 2"])),
                        ),
                        place,
                    )
                at += 0.165
    board = Paint((448, 640), white, 0.9)
    for k in range(7):
        ink = ("paint blue", "paint red", "paint green", "paint black 2")[k % 4]
        board.text(
            ink,
            f"{label_word(rng)} = {int(rng.integers(2, 99))} {label_word(rng, 1)}",
            0.06,
            0.08 + 0.12 * k,
            float(rng.uniform(0.4, 0.6)),
            0.07,
            font=3,
        )
    for k in range(6):
        a = k / 6 * 2 * np.pi
        spot = (0.80 + 0.09 * np.cos(a), 0.55 + 0.13 * np.sin(a))
        board.line("paint black 2", [(0.80, 0.55), spot], 0.004).disc(LIQUIDS[k], *spot, 0.03)
    parts += poster(board, 0.94, (-0.10, 1.68, 1.75), "suede grey")
    parts += poster(canvas_poster(rng, LIQUIDS, ("NUVARO LAB", "HANDLE WITH TREMA")), 0.28, (-2.5, 1.68, 1.75))
    parts.append(box((6.2, 0.5, 0.05), (0, 1.45, 0.92), "paint neutral 3.5", finish=SATIN))
    for k in range(9):
        parts.append(
            box(
                (0.62, 0.02, 0.70), (-2.6 + 0.65 * k, 1.21, 0.53), white if k % 3 else "paint orange", finish=SATIN
            )
        )
    parts += placed(_screen(rng, practical, practical_power), (0.15, 1.40, 0.945))
    # Bench.
    top = wood(rng, "suede grey", "paint neutral 5", 0.95)
    parts.append(box((2.6, 0.82, 0.04), (0, -0.42, 0.88), top, finish=Finish(0.35, 0.5)))
    parts.append(box((2.5, 0.70, 0.86), (0, -0.38, 0.43), white, finish=SATIN))
    z = 0.90
    for x in (-1.0, 0.28, 1.0):
        parts += placed(_rack(rng), (x, -0.60, z), turn=float(rng.uniform(-12, 12)))
    for k in range(9):
        x = (-1.15, -0.8, -0.52, -0.28, 0.05, 0.5, 0.72, 1.1, 1.18)[k]
        parts += placed(_flask(rng, LIQUIDS[k], float(rng.uniform(0.14, 0.24))), (x, -0.26 + 0.06 * (k % 2), z))
    parts += [box((0.16, 0.20, 0.05), (-0.28, -0.58, z + 0.025), "paint white 9.5", finish=SATIN)]
    parts += placed(
        [lathe([(0, 0), (0.03, 0), (0.034, 0.10), (0.03, 0.12), (0, 0.12)], "paint neutral 3.5", finish=METAL)],
        (-0.26, -0.52, z + 0.10),
        tilt=30,
    )
    parts.append(
        tube(
            [(-0.28, -0.66, z + 0.05), (-0.30, -0.60, z + 0.16), (-0.27, -0.53, z + 0.24)],
            0.016,
            "paint white 9.5",
        )
    )
    notes = Paint((256, 192), "paper bag brown", 1.1)
    for k in range(8):
        notes.text("paint black 2", f"{label_word(rng)} {label_word(rng, 1)}", 0.1, 0.1 + 0.1 * k, 0.7, 0.05)
    parts += placed([box((0.18, 0.24, 0.012), (0, 0, 0.006), notes, texture_size=None)], (0.72, -0.58, z), turn=12)
    for x in (-1.0, 1.0):
        parts.append(panel(1.2, 0.3, (x, -0.2, 3.02), (x, -0.2, 0), light=(window_light, window_power * 3)))
    parts += key_and_fill(key, window_light, rim, key_power=14.0, fill_power=3.0, rim_power=5.0)
    if people:
        first = Pose(
            right=(-0.14, -0.34, 1.12),
            left=(0.16, -0.34, 1.05),
            curl=(0.8, 0.4),
            palm=(50, 0),
            yaw=4,
            nod=12,
            lean=6,
        )
        second = Pose(
            right=(-0.16, -0.36, 1.04),
            left=(0.20, -0.36, 1.16),
            curl=(0.3, 0.8),
            palm=(0, 50),
            yaw=-6,
            nod=9,
            lean=6,
        )
        parts += stand(
            looks,
            (first, second),
            (((-0.62, 0.18), 26.0), ((0.66, 0.18), -28.0)),
            seed=seed,
            moment=moment,
            detail=detail,
        )
    views = {
        "wide": View(position=(0.0, -3.6, 1.64), target=(0.0, 0.2, 1.27), fov=42.0),
        "left": View(position=(0.95, -2.6, 1.55), target=(-0.62, 0.18, 1.38), fov=20.0),
        "right": View(position=(-0.85, -2.8, 1.62), target=(0.66, 0.18, 1.46), fov=17.0),
    }
    return Scene(name="lab", parts=tuple(parts), ambient=(window_light, 0.12), views=views)
