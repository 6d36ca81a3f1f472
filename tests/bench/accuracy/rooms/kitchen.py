"""A kitchen: two cooks prepare a meal at an island, in daylight with warm pendants."""

from __future__ import annotations

import numpy as np

from demo.generator.mesh import METAL, SATIN, Finish, Part, box, lathe, placed, tube
from demo.generator.people import Look, Pose
from demo.generator.rooms.common import key_and_fill, shell, stand
from demo.generator.scene import Scene, View
from demo.generator.texture import Paint, fbm
from demo.generator.things.furniture import leafy_plant, poster, shelf, table
from demo.generator.things.lamps import pendant, window
from demo.generator.things.materials import canvas_poster, plaster, tile_wall, wood
from demo.generator.things.wares import jar, plate, pot
from tests.bench.accuracy.rooms.props import bottle, fruit

__all__ = ["build"]

WARES = (
    "sugar white",
    "paint blue",
    "table cloth white",
    "paint orange yellow",
    "towel light blue",
    "rubber red",
    "paint bluish green",
)
FOOD = (
    ("carrot", 0.028, None),
    ("lemon skin", 0.034, None),
    ("pepper green", 0.045, None),
    ("peach red", 0.040, "peach red"),
    ("apple yellow", 0.038, "peach red"),
    ("marigold orange", 0.038, None),
    ("flower red", 0.036, None),
)

LOOKS = (
    Look(
        skin=("skin dark 2", 1.7),
        hair=("hair black", 1.3),
        style="scarf",
        scarf=("paint purplish blue", "yarn yellow"),
        top="leaves",
        colours=("raincoat yellow", "fabric green", "fabric white"),
        apron="table cloth white",
        apron_gain=0.75,
        height=1.66,
        jaw=0.9,
        lips=0.9,
        eyes=0.8,
    ),
    Look(
        skin=("skin light 1", 0.80),
        hair=("hair blonde", 1.7),
        style="short",
        top="plain",
        colours=("towel light blue", "jeans dark blue", "fabric white"),
        apron="towel red",
        apron_gain=0.75,
        iris="paint blue",
        height=1.78,
        beard=True,
    ),
)


def build(
    *,
    seed: int = 0,
    moment: int = 0,
    key: str = "5600K daylight",
    window_light: str = "7000K daylight",
    window_power: float = 2.4,
    practical: str = "2900K",
    practical_power: float = 22.0,
    rim: str = "3200K",
    looks: tuple[Look, Look] = LOOKS,
    people: bool = True,
    detail: float = 1.0,
) -> Scene:
    """Build the kitchen; the arguments are those of :func:`workshop.build`."""
    rng = np.random.default_rng([seed, 1])
    parts: list[Part] = []
    floor = Paint((512, 512), "wood oak", 0.8).shade(1 + 0.2 * fbm((512, 512), (80, 5), rng))
    parts += shell(plaster(rng, "yarn yellow", 0.75), floor)
    tiles = tile_wall(rng, "table cloth white", "paint blue", across=40, down=12, gain=0.9)
    parts.append(box((6.4, 0.1, 1.45), (0, 1.74, 0.70), tiles, texture_size=None, finish=Finish(0.2, 0.5)))
    parts += placed(window(rng, 0.95, 0.70, window_light, window_power, "wood pine", (2, 2)), (-0.02, 1.655, 1.52))
    for k, x in enumerate((-0.30, 0.02, 0.33)):
        parts += placed(
            leafy_plant(rng, WARES, 0.24 + 0.04 * k, ("leaf bush", "leaf vine", "leaf silver maple")[k]),
            (x, 1.60, 1.50),
        )
    oak = wood(rng, "wood oak", "wood walnut", 1.0)
    for x, heights in ((-1.42, (1.50, 1.82, 2.14)), (1.42, (1.50, 1.82, 2.14))):
        parts += placed(shelf(1.30, heights, 0.26, oak), (x, 1.69, 0))
        for row, z in enumerate(heights[:-1]):
            at = -0.60
            while at < 0.52:
                kind = int(rng.integers(0, 4))
                y = 1.55
                if kind == 0:
                    parts += placed(plate(rng, WARES, 0.105, upright=True), (x + at + 0.11, 1.63, z + 0.012))
                    at += 0.23
                elif kind == 1:
                    for level in range(4):
                        parts += placed(
                            pot(rng, WARES, 0.05, "bowl", "bands"), (x + at + 0.07, y, z + 0.012 + 0.028 * level)
                        )
                    at += 0.16
                elif kind == 2:
                    content = str(
                        rng.choice(
                            ["carrot", "bread crust", "sugar white", "leaf vine", "rubber red", "lemon skin"]
                        )
                    )
                    parts += placed(jar(rng, content, 0.17 if row else 0.20), (x + at + 0.07, y, z + 0.012))
                    at += 0.16
                else:
                    parts += placed(pot(rng, WARES, 0.12, "cup"), (x + at + 0.07, y, z + 0.012))
                    at += 0.17
    # Pans on a rail under the shelves.
    for x in (-1.42, 1.42):
        parts.append(
            tube(
                [(x - 0.62, 1.66, 1.42), (x, 1.66, 1.42), (x + 0.62, 1.66, 1.42)],
                0.008,
                "suede grey",
                finish=METAL,
            )
        )
        for k in range(4):
            px, r = x - 0.48 + 0.32 * k, 0.085 + 0.012 * (k % 3)
            surface = ("wood redwood", "paint neutral 6.5", "asphalt", "paint blue")[(k + (x > 0)) % 4]
            pan = lathe(
                [(0, 0), (r, 0), (r * 1.1, 0.035), (r * 1.06, 0.035), (r * 0.97, 0.006), (0, 0.006)],
                surface,
                finish=Finish(0.3, 0.9),
            )
            parts += placed([pan], (px, 1.645, 1.20), tilt=90)
            parts.append(tube([(px, 1.645, 1.20 + r), (px, 1.65, 1.32), (px, 1.655, 1.43)], 0.008, "asphalt"))
    # Counter.
    parts.append(box((6.2, 0.50, 0.05), (0, 1.46, 0.93), "paint neutral 3.5", finish=Finish(0.2, 0.5)))
    for k in range(8):
        parts.append(box((0.66, 0.02, 0.72), (-2.4 + 0.69 * k, 1.22, 0.54), "paint bluish green", finish=SATIN))
        parts.append(box((0.12, 0.02, 0.015), (-2.4 + 0.69 * k, 1.20, 0.80), "suede grey", finish=METAL))
    for x in (-1.9, -1.7, 1.2, 1.9, 2.1):
        parts += placed(
            bottle(rng, str(rng.choice(["paint green", "raincoat yellow", "rubber red", "wood redwood"])), 0.28),
            (x, 1.42, 0.955),
        )
    parts += poster(
        canvas_poster(
            rng, ("carrot", "paint green", "yarn yellow", "rubber red"), ("SOPA LUME", "MARKET OF TREDA")
        ),
        0.30,
        (0.72, 1.68, 1.98),
        "wood oak",
    )
    # Island.
    parts += placed(table(rng, (2.5, 0.80, 0.90), wood(rng, "wood maple", "wood pine", 1.0)), (0, -0.42, 0))
    z = 0.90
    board = wood(rng, "wood redwood", "wood walnut", 1.0)
    parts.append(box((0.46, 0.30, 0.03), (-0.12, -0.58, z + 0.015), board, along=0))
    for _ in range(9):
        x, y = rng.uniform(-0.32, 0.06), rng.uniform(-0.69, -0.48)
        parts.append(
            box(
                (0.02, 0.05, 0.012),
                (x, y, z + 0.037),
                str(rng.choice(["carrot", "pepper green", "flower red", "sugar white"])),
            )
        )
    parts += placed(pot(rng, WARES, 0.15, "bowl", "bands"), (0.62, -0.50, z))
    parts += placed(pot(rng, WARES, 0.11, "bowl", "speckle"), (-0.72, -0.60, z))
    for _ in range(16):
        surface, radius, blush = FOOD[int(rng.integers(len(FOOD)))]
        x = float(rng.choice([-1.0, 0.30, 0.95]) + rng.uniform(-0.12, 0.12))
        parts += placed(fruit(rng, surface, radius, blush), (x, float(rng.uniform(-0.75, -0.40)), z))
    for k, content in enumerate(("leaf vine", "carrot", "bread crust")):
        parts += placed(jar(rng, content, 0.15), (1.05 + 0.12 * k - 0.1, -0.22, z))
    loaf = fruit(rng, "bread crust", 0.07)
    parts += placed([p for p in loaf], (-0.42, -0.28, z), scale=1.1)
    parts += placed(bottle(rng, "lemon skin", 0.30, "wood oak"), (0.32, -0.24, z))
    for x in (-0.75, 0.75):
        parts += placed(pendant(practical, practical_power, "rubber red", drop=0.72), (x, 0.1, 3.05))
    parts += key_and_fill(key, window_light, rim, key_power=16.0, side=1.0)
    if people:
        first = Pose(right=(-0.14, -0.34, 1.03), left=(0.14, -0.36, 1.05), curl=(0.6, 0.4), yaw=8, nod=14, lean=8)
        second = Pose(
            right=(-0.20, -0.34, 1.03),
            left=(0.16, -0.38, 1.20),
            curl=(0.3, 0.8),
            palm=(0, 50),
            yaw=-10,
            nod=4,
            lean=5,
        )
        parts += stand(
            looks,
            (first, second),
            (((-0.66, 0.16), 30.0), ((0.60, 0.12), -22.0)),
            seed=seed,
            moment=moment,
            detail=detail,
        )
    views = {
        "wide": View(position=(-0.1, -3.6, 1.66), target=(0.0, 0.2, 1.25), fov=43.0),
        "left": View(position=(0.85, -2.7, 1.56), target=(-0.66, 0.16, 1.40), fov=20.0),
        "right": View(position=(-1.00, -2.6, 1.60), target=(0.60, 0.12, 1.50), fov=17.0),
    }
    return Scene(name="kitchen", parts=tuple(parts), ambient=(window_light, 0.12), views=views)
