"""A pottery workshop: two potters compare glaze tests at a long table."""

from __future__ import annotations

import numpy as np

from ..mesh import SATIN, Finish, Part, box, placed
from ..people import Look, Pose
from ..scene import Scene, View
from ..texture import Paint, fbm
from ..things.furniture import leafy_plant, pegboard, poster, shelf, table, test_tiles
from ..things.lamps import desk_lamp, pendant, window
from ..things.materials import canvas_poster, glaze, plaster, tile_wall, wood
from ..things.wares import brush_mug, bucket, jar, plate, pot
from .common import key_and_fill, shell, stand

__all__ = ["build"]

GLAZES = (
    "sugar white",
    "paint blue",
    "sock green aqua",
    "paint bluish green",
    "wood oak",
    "rubber red",
    "jeans faded",
    "paint moderate red",
    "lemon skin",
    "leather shoe brown",
    "paint foliage",
    "paint orange yellow",
    "sand",
    "peach red",
)

LOOKS = (
    Look(
        skin=("skin light 2", 0.80),
        hair=("hair red", 1.15),
        style="bun",
        top="plaid",
        colours=("cotton light grey", "fabric green", "towel red"),
        apron="denim",
        apron_gain=0.9,
        sleeves=0.12,
        height=1.70,
        jaw=0.86,
        nose=0.9,
        lips=0.95,
        eyes=0.8,
        iris="shirt green",
    ),
    Look(
        skin=("skin indian dark", 0.62),
        hair=("hair black", 1.4),
        style="short",
        top="stripes",
        colours=("fabric white", "jeans dark blue", "raincoat yellow"),
        apron="fabric brown",
        apron_gain=0.72,
        sleeves=0.10,
        beard=True,
        glasses=True,
        height=1.80,
        girth=1.06,
    ),
)


def build(
    *,
    seed: int = 0,
    moment: int = 0,
    key: str = "LED-B4",
    window_light: str = "6500K daylight",
    window_power: float = 2.6,
    practical: str = "A",
    practical_power: float = 42.0,
    rim: str = "5000K daylight",
    looks: tuple[Look, Look] = LOOKS,
    people: bool = True,
    detail: float = 1.0,
) -> Scene:
    """Build the workshop.

    Parameters
    ----------
    seed : int
        What stands on the shelves, and in which glaze.
    moment : int
        Another moment has the people in another pose.
    key, window_light, practical, rim : str
        Lights, see ``spectra.light``.
    window_power, practical_power : float
        Radiance of the window pane and of the work lamp's bulb.
    detail : float
        Above 1 meshes people coarser and faster.
    """
    rng = np.random.default_rng(seed)
    parts: list[Part] = []

    # Walls and floor.
    wall = plaster(rng, "paint white 9.5", 0.62)
    dado = tile_wall(rng, "towel light green", "paint blue", across=36, down=6, gain=0.8)
    parts.append(box((6.4, 0.1, 1.06), (0, 1.74, 0.52), dado, texture_size=None, finish=Finish(0.25, 0.5)))
    parts.append(box((6.4, 0.07, 0.05), (0, 1.70, 1.07), "wood walnut", finish=SATIN))
    floor = Paint((512, 512), "rock", 1.5).shade(
        1 + 0.15 * fbm((512, 512), (9, 9), rng) + 0.12 * fbm((512, 512), (120, 120), rng, 2)
    )
    parts += shell(wall, floor)

    # Window in the middle, shelves of pots on the left, tools and tests on the right.
    parts += placed(window(rng, 0.86, 0.78, window_light, window_power), (0.02, 1.655, 1.42))
    for x, kind in ((-0.30, "moon"), (-0.12, "bottle"), (0.24, "vase"), (0.37, "cup")):
        parts += placed(pot(rng, GLAZES, float(rng.uniform(0.13, 0.20)), kind), (x, 1.60, 1.405))
    boards = wood(rng, "wood pine", "wood oak", 0.9)
    heights = (1.12, 1.46, 1.80, 2.12)
    parts += placed(shelf(1.42, heights, 0.26, boards, "wood worn"), (-1.33, 1.69, 0))
    for row, z in enumerate(heights[:3]):
        x = -0.64
        while x < 0.62:
            if row == 1 and rng.random() < 0.30:
                parts += placed(plate(rng, GLAZES, 0.11, upright=True), (-1.33 + x + 0.10, 1.62, z + 0.012))
                x += 0.22
                continue
            high = float(rng.uniform(0.14, 0.27))
            kind = str(rng.choice(["vase", "bottle", "moon", "jug", "cylinder", "bowl"]))
            high = min(high, 0.12) if kind == "bowl" else high
            wide = high * (1.25 if kind == "bowl" else 0.95) + 0.02
            if x + wide > 0.69:
                break
            place = (-1.33 + x + wide / 2, 1.55 + float(rng.uniform(-0.03, 0.03)), z + 0.012)
            parts += placed(pot(rng, GLAZES, high, kind), place)
            x += wide
    parts += placed(leafy_plant(rng, GLAZES, 0.42), (-1.80, 1.55, 2.13))
    parts += placed(pot(rng, GLAZES, 0.30, "jug", "drip"), (-1.15, 1.55, 2.13))
    parts += placed(test_tiles(rng, GLAZES, 8, 6), (1.10, 1.69, 1.30))
    parts += placed(pegboard(rng, 0.62, 0.72), (1.86, 1.69, 1.28))
    chart = canvas_poster(rng, GLAZES, ("VELUMA KILN", "ORTO 9 TRALE"), "chart")
    parts += poster(chart, 0.30, (0.60, 1.68, 1.93), "paint black 2")
    parts += poster(canvas_poster(rng, GLAZES[1:8], ("MOLIDA", "KRAESTA POTS")), 0.40, (-2.35, 1.68, 1.65))

    # A bench below with buckets and jars.
    bench = wood(rng, "wood oak", "wood walnut", 0.9)
    parts.append(box((1.7, 0.42, 0.045), (1.35, 1.46, 0.90), bench, along=0, finish=SATIN))
    parts.append(box((1.7, 0.42, 0.045), (-1.35, 1.46, 0.62), bench, along=0, finish=SATIN))
    for k in range(6):
        content = GLAZES[int(rng.integers(len(GLAZES)))]
        parts += placed(jar(rng, content, float(rng.uniform(0.13, 0.20))), (0.66 + 0.24 * k, 1.44, 0.925))
    for k, (tub, content) in enumerate(
        (("paint white 9.5", "paint cyan"), ("paint blue", "sugar white"), ("raincoat yellow", "rubber red"))
    ):
        parts += placed(bucket(rng, tub, content), (-1.85 + 0.46 * k, 1.44, 0.645))

    # The glaze table.
    top = wood(rng, "wood maple", "wood oak", 0.85)
    top.over("table cloth white", np.clip((fbm(top.shape, (5, 8), rng) - 0.35) * 3, 0, 0.6), 0.8)
    parts += placed(table(rng, (2.5, 0.78, 0.88), top), (0.02, -0.42, 0))
    z = 0.88
    for k in range(7):
        paint = glaze(rng, GLAZES, str(rng.choice(["dip", "drip", "speckle"])))
        tile = box((0.075, 0.105, 0.010), (0, 0, 0.006), paint, texture_size=None, finish=Finish(0.2, 0.5))
        parts += placed(
            [tile],
            (-0.34 + 0.098 * k, -0.56 + float(rng.uniform(-0.015, 0.015)), z),
            turn=float(rng.uniform(-9, 9)),
        )
    for x, y, high, kind, style in (
        (-1.06, -0.50, 0.24, "jug", "drip"),
        (-0.86, -0.30, 0.15, "moon", "speckle"),
        (0.10, -0.30, 0.09, "bowl", "speckle"),
        (1.04, -0.34, 0.26, "vase", "leaves"),
        (0.88, -0.55, 0.12, "cup", "bands"),
        (-0.62, -0.66, 0.085, "bowl", "dip"),
    ):
        parts += placed(pot(rng, GLAZES, high, kind, style), (x, y, z))
    for k, content in enumerate(("paint cyan", "rubber red", "lemon skin", "paint green")):
        parts += placed(jar(rng, content, 0.115), (0.40 + 0.105 * k, -0.72 + 0.03 * (k % 2), z))
    parts += placed(brush_mug(rng, GLAZES), (-0.20, -0.22, z))
    parts += placed(desk_lamp(rng, practical, practical_power, "paint red"), (1.26, -0.20, z))
    note = Paint((256, 192), "paint white 9.5", 0.88)
    for k in range(9):
        note.text(
            "paint purplish blue",
            f"{np.base_repr(97 * (k + 3), 36)}  {('VELA', 'ORTO', 'MUNI', 'TRALE')[k % 4]}",
            0.08,
            0.10 + 0.09 * k,
            0.7,
            0.05,
        )
    parts += placed([box((0.20, 0.27, 0.008), (0, 0, 0.004), note, texture_size=None)], (0.28, -0.52, z), turn=-14)
    parts += placed(pendant("3000K", 14.0, "paint bluish green"), (-0.62, 0.75, 3.05))
    parts += placed(pendant("3000K", 14.0, "paint bluish green"), (0.66, 0.75, 3.05))

    parts += key_and_fill(key, window_light, rim)
    if people:
        # She holds a tile up; he leans on the table and looks at it.
        first = Pose(
            right=(-0.17, -0.34, 1.06),
            left=(0.14, -0.36, 1.22),
            curl=(0.45, 0.75),
            palm=(0, 60),
            yaw=6,
            nod=10,
            lean=6,
        )
        second = Pose(
            right=(-0.16, -0.36, 1.13),
            left=(0.26, -0.32, 1.00),
            curl=(0.6, 0.2),
            palm=(40, 0),
            yaw=-8,
            nod=8,
            lean=8,
        )
        places = (((-0.58, 0.12), 28.0), ((0.62, 0.14), -26.0))
        parts += stand(looks, (first, second), places, seed=seed, moment=moment, detail=detail)
    views = {
        "wide": View(position=(0.05, -3.55, 1.62), target=(0.0, 0.2, 1.26), fov=42.0),
        "left": View(position=(1.00, -2.75, 1.58), target=(-0.58, 0.12, 1.47), fov=19.4),
        "right": View(position=(-0.75, -2.85, 1.60), target=(0.62, 0.15, 1.54), fov=18.4),
    }
    return Scene(name="workshop", parts=tuple(parts), ambient=(window_light, 0.10), views=views)
