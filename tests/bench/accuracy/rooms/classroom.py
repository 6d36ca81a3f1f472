"""A classroom: two teachers at a desk before a blackboard; cool window light against a warm key."""

from __future__ import annotations

import numpy as np

from demo.generator.mesh import GLAZED, METAL, SATIN, Part, box, lathe, placed, tube
from demo.generator.people import Look, Pose
from demo.generator.rooms.common import key_and_fill, shell, stand
from demo.generator.scene import Scene, View
from demo.generator.texture import Paint, fbm, label_word, smoothstep
from demo.generator.things.furniture import leafy_plant, poster, shelf, table
from demo.generator.things.lamps import softbox, window
from demo.generator.things.materials import canvas_poster, plaster, wood
from demo.generator.things.wares import brush_mug
from tests.bench.accuracy.rooms.props import book_row, fruit

__all__ = ["build"]

CRAYONS = (
    "paint red",
    "paint orange",
    "paint yellow",
    "paint green",
    "paint blue",
    "paint purple",
    "paint cyan",
    "paint magenta",
)

LOOKS = (
    Look(
        skin=("skin light 3", 1.15),
        hair=("hair grey black", 4.5),
        style="short",
        top="knit",
        colours=("cotton blue", "jeans faded", "fabric pink"),
        sleeves=0.85,
        glasses=True,
        height=1.76,
        girth=1.08,
    ),
    Look(
        skin=("skin indian light", 0.85),
        hair=("hair black", 1.3),
        style="bun",
        top="dots",
        colours=("raincoat magenta", "yarn yellow", "fabric white"),
        sleeves=0.3,
        lips=0.85,
        eyes=0.8,
        jaw=0.88,
        nose=0.9,
        height=1.68,
    ),
)


def _globe(rng: np.random.Generator) -> list[Part]:
    shape = (192, 384)
    land = fbm(shape, (4, 6), rng, 5)
    sphere = Paint(shape, "paint cyan", 0.9)
    for k, surface in enumerate(("paint yellow green", "sand", "paint orange yellow", "fabric pink")):
        sphere.over(surface, smoothstep(0.10 + 0.07 * k, 0.12 + 0.07 * k, land))
    for k in range(1, 6):
        sphere.rectangle("paint neutral 8", 0, k / 6, 1, 0.006)
    angle = np.linspace(0, np.pi, 32)
    ball = lathe([(0.14 * np.sin(t), 0.20 - 0.14 * np.cos(t)) for t in angle], sphere, finish=GLAZED)
    foot = lathe(
        [(0, 0), (0.10, 0), (0.10, 0.012), (0.014, 0.03), (0.012, 0.06), (0, 0.06)], "wood walnut", finish=SATIN
    )
    arc = [(0.155 * np.sin(t), 0, 0.20 - 0.155 * np.cos(t)) for t in np.linspace(0, np.pi, 15)]
    return [ball, foot, tube(arc, 0.005, "suede grey", finish=METAL)]


def build(
    *,
    seed: int = 0,
    moment: int = 0,
    key: str = "3400K",
    window_light: str = "9000K daylight",
    window_power: float = 2.6,
    practical: str = "FL11",
    practical_power: float = 4.0,
    rim: str = "7500K daylight",
    looks: tuple[Look, Look] = LOOKS,
    people: bool = True,
    detail: float = 1.0,
) -> Scene:
    """Build the classroom; ``practical`` is the tube light over the board."""
    rng = np.random.default_rng([seed, 4])
    parts: list[Part] = []
    parts += shell(
        plaster(rng, "apple yellow", 0.65),
        Paint((512, 512), "wood oak", 0.7).shade(1 + 0.25 * fbm((512, 512), (60, 4), rng)),
    )
    board = Paint((640, 1280), "fabric green", 0.75)
    board.over("suede grey", np.clip(0.10 + 0.14 * fbm((640, 1280), (5, 9), rng), 0, 1))
    chalks = ("paint white 9.5", "yarn yellow", "fabric pink", "towel light blue")
    for k in range(6):
        words = f"{label_word(rng)} {label_word(rng)} {int(rng.integers(3, 99))}"
        board.text(
            chalks[k % 4], words, 0.04, 0.07 + 0.145 * k, float(rng.uniform(0.28, 0.40)), 0.075, font=3, gain=0.85
        )
    for k in range(7):
        x, y = 0.52 + 0.062 * k, 0.32 + 0.10 * np.sin(k)
        board.line(chalks[k % 4], [(x, y), (x + 0.05, y - 0.09), (x + 0.075, y + 0.06), (x, y)], 0.0035, 0.85)
    for k in range(40):
        x = 0.5 + 0.46 * k / 40
        board.line(
            "paint white 9.5",
            [(x, 0.72 + 0.14 * np.sin(k / 4)), (x + 0.012, 0.72 + 0.14 * np.sin((k + 1) / 4))],
            0.003,
            0.8,
        )
    parts.append(box((2.1, 0.02, 1.05), (0.0, 1.69, 1.66), board, texture_size=None))
    for z in (1.12, 2.20):
        parts.append(box((2.2, 0.06 if z > 2 else 0.10, 0.05), (0, 1.67, z), "wood pine", finish=SATIN))
    for x in (-1.08, 1.08):
        parts.append(box((0.05, 0.06, 1.12), (x, 1.67, 1.66), "wood pine", finish=SATIN))
    parts += softbox((1.8, 0.06), (0, 1.45, 2.65), (0, 1.7, 1.7), practical, practical_power * 4)
    pine = wood(rng, "wood pine", "wood oak", 1.0)
    parts += placed(shelf(0.95, (0.9, 1.22, 1.54, 1.86), 0.27, pine, pine), (-1.72, 1.69, 0))
    for k, z in enumerate((0.9, 1.22, 1.54)):
        parts += placed(book_row(rng, CRAYONS, 0.62 + 0.1 * (k % 2)), (-1.80, 1.64, z + 0.012))
    parts += placed(leafy_plant(rng, CRAYONS, 0.34, "leaf vine"), (-1.55, 1.54, 1.87))
    parts += placed(_globe(rng), (-1.95, 1.54, 1.87))
    for k in range(6):
        drawing = canvas_poster(rng, CRAYONS, (label_word(rng), label_word(rng)))
        x, z = 1.33 + 0.34 * (k % 3), 1.40 + 0.48 * (k // 3)
        parts += poster(drawing, 0.27, (x, 1.69, z), None)
    parts += placed(window(rng, 1.0, 1.2, window_light, window_power, panes=(2, 3)), (-2.75, 1.66, 1.1))
    parts += placed(table(rng, (2.4, 0.78, 0.86), wood(rng, "wood maple", "wood oak", 0.9)), (0, -0.42, 0))
    z = 0.86
    for x, count in ((-0.98, 5), (0.86, 4)):
        height = z
        for _ in range(count):
            thick = float(rng.uniform(0.02, 0.045))
            cover = Paint((64, 128), CRAYONS[int(rng.integers(8))], 0.85).text(
                "paint white 9.5", label_word(rng), 0.2, 0.3, 0.6, 0.4
            )
            book = box((0.24, 0.17, thick), (0, 0, thick / 2), cover, texture_size=None, finish=SATIN)
            parts += placed([book], (x, -0.50, height), turn=float(rng.uniform(-20, 20)))
            height += thick
    parts += placed(brush_mug(rng, CRAYONS), (0.30, -0.36, z))
    parts += placed(_globe(rng), (1.12, -0.30, z))
    for x, surface in ((-0.62, "flower red"), (-0.52, "apple yellow"), (0.58, "flower red")):
        parts += placed(fruit(rng, surface, 0.038, "peach red"), (x, -0.62, z))
    for k in range(14):
        crayon = tube([(-0.045, 0, 0.005), (0, 0, 0.005), (0.045, 0, 0.005)], 0.005, CRAYONS[k % 8])
        parts += placed(
            [crayon],
            (float(rng.uniform(-0.3, 0.2)), float(rng.uniform(-0.74, -0.58)), z),
            turn=float(rng.uniform(0, 180)),
        )
    sheet = canvas_poster(rng, CRAYONS, (label_word(rng), label_word(rng)))
    parts += placed(
        [box((0.24, 0.34, 0.005), (0, 0, 0.003), sheet, texture_size=None)], (-0.18, -0.44, z), turn=10
    )
    parts += key_and_fill(key, window_light, rim, key_power=17.0, fill_power=3.4, rim_power=6.0, side=1.0)
    if people:
        first = Pose(
            right=(-0.20, -0.34, 1.00),
            left=(0.12, -0.38, 1.18),
            curl=(0.3, 0.3),
            palm=(0, 40),
            yaw=4,
            nod=6,
            lean=6,
        )
        second = Pose(right=(-0.16, -0.34, 1.02), left=(0.18, -0.34, 1.02), curl=(0.4, 0.3), yaw=-6, nod=8, lean=8)
        parts += stand(
            looks,
            (first, second),
            (((-0.60, 0.14), 26.0), ((0.60, 0.14), -30.0)),
            seed=seed,
            moment=moment,
            detail=detail,
        )
    views = {
        "wide": View(position=(0.0, -3.6, 1.62), target=(0.0, 0.2, 1.27), fov=43.0),
        "left": View(position=(0.95, -2.7, 1.56), target=(-0.60, 0.14, 1.48), fov=18.0),
        "right": View(position=(-0.95, -2.6, 1.56), target=(0.60, 0.14, 1.40), fov=19.0),
    }
    return Scene(name="classroom", parts=tuple(parts), ambient=(window_light, 0.12), views=views)
