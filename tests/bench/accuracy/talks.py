"""Sets for talks: walls lit from below or one side, drapes, wallpaper, tiles, and two or three people in chairs.

Beside the sets of ``bare`` the lamps stand elsewhere, walls carry patterns that repeat, and the cameras stand
nearer to the hero or farther to the side. Metres, z up; the hero looks along +y.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from demo.generator.mesh import MATTE, SATIN, Part, Vector, box, lathe, panel, placed
from demo.generator.people import Look, Pose, person
from demo.generator.scene import Scene, View
from demo.generator.texture import Paint
from demo.generator.things.furniture import leafy_plant
from demo.generator.things.lamps import window
from demo.generator.things.materials import tile_wall
from tests.bench.accuracy.bare import CAST, Bare, _backdrop
from tests.bench.accuracy.sets import Peopled
from tests.bench.accuracy.walls import WALLS

__all__ = ["PANEL", "Talk", "talk"]

#: Others who may sit there.
PANEL: dict[str, Look] = {
    **CAST,
    "judge": Look(
        skin=("skin light 3", 0.95), hair=("hair blonde", 1.1), style="bun", top="dots",
        colours=("fabric dark brown", "fabric white", "fabric white"), height=1.68,
    ),
    "diver": Look(
        skin=("skin indian light", 1.0), hair=("hair black", 1.0), style="curly", top="stripes", beard=True,
        colours=("raincoat blue", "fabric white", "yarn yellow"), height=1.79,
    ),
    "nurse": Look(
        skin=("skin dark 1", 0.9), hair=("hair black", 0.9), style="bun", top="plain",
        colours=("towel light green",) * 3, height=1.7,
    ),
    "baker": Look(
        skin=("skin light 1", 0.9), hair=("hair grey black", 1.1), style="short", top="plaid", glasses=True,
        colours=("fabric white", "paint moderate red", "jeans dark blue"), height=1.77,
    ),
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Talk:
    """A set for a talk.

    Attributes
    ----------
    people : tuple of names in `PANEL`
        From left to right.
    wall : str
        ``cove``, ``drape``, ``paper`` (a pattern that repeats every 0.55 m), ``tiles``, or one of `WALLS`.
    surface, accent : str
        Of the wall and of its pattern.
    gain : float
    lit : str
        Where the wall's lamp stands: ``below``, ``side`` or ``above``.
    lamp, key, fill : (light, power)
    key_from : float
        -1 from the left, 1 from the right.
    window : (light, power) or None
        One behind the people.
    chairs : str or None
        Surface of the chairs, whose backs are seen.
    aside : float
        How far to the side the tight angles stand, in metres.
    seed : int
    """

    people: tuple[str, ...]
    wall: str
    surface: str
    accent: str = "paint white 9.5"
    gain: float = 1.0
    lit: str = "below"
    lamp: tuple[str, float] = ("5000K daylight", 9.0)
    key: tuple[str, float] = ("5000K daylight", 9.0)
    fill: tuple[str, float] = ("5000K daylight", 2.0)
    key_from: float = -1.0
    window: tuple[str, float] | None = None
    chairs: str | None = None
    aside: float = 1.3
    seed: int = 0


#: Where the wall's lamp stands, what it looks at, and its width and height.
_LAMPS: dict[str, tuple[Vector, Vector, tuple[float, float]]] = {
    "below": ((0.0, 1.75, 0.12), (0.0, 2.5, 1.3), (2.4, 0.15)),
    "side": ((-3.2, 1.4, 1.7), (0.6, 2.5, 1.3), (0.5, 1.2)),
    "above": ((0.4, 1.5, 3.1), (0.2, 2.5, 1.6), (1.6, 0.4)),
}


def talk(room: Talk) -> Peopled:
    """Build a set for a talk and the views of a hero and two tight angles, ``left`` and ``right``."""
    random = np.random.default_rng([17, room.seed])
    parts = _wall(room, random) + _table(room, random)
    if room.window is not None:
        parts += placed(window(random, 0.8, 1.3, *room.window), move=(-0.05, 2.42, 1.05))
    where, towards, (width, height) = _LAMPS[room.lit]
    side = room.key_from
    parts += [
        panel(width, height, where, towards, light=room.lamp),
        panel(1.3, 1.3, (2.3 * side, -2.2, 2.5), (0, 0.3, 1.2), light=room.key),
        panel(1.0, 1.5, (-2.6 * side, -1.6, 2.0), (0, 0.3, 1.2), light=room.fill),
    ]
    places = np.linspace(-0.6, 0.6, len(room.people))
    people = []
    for number, (name, x) in enumerate(zip(room.people, places, strict=True)):
        y = 0.45 + 0.18 * ((number + 1) % 2)
        pose = Pose(yaw=float(random.uniform(-18, 18)), lean=float(random.uniform(1, 7)), nod=float(x))
        built = person(PANEL[name], pose, seed=71 + 5 * room.seed + number, detail=1.4)
        people.append(tuple(placed(built, move=(float(x), y, 0), turn=float(-18 * np.sign(x)))))
        if room.chairs is not None:
            parts += _chair(room.chairs, float(x), y)
    aside = room.aside
    scene = Scene(
        name="talk",
        parts=(*parts, *(part for parts_of in people for part in parts_of)),
        ambient=(room.key[0], 0.05),
        views={
            "wide": View(position=(-0.1, -3.1, 1.4), target=(0, 0.5, 1.2), fov=49),
            "left": View(position=(aside, -2.25, 1.45), target=(-0.6, 0.5, 1.38), fov=33),
            "right": View(position=(-aside, -2.35, 1.55), target=(0.6, 0.5, 1.34), fov=31),
        },
    )
    return scene, tuple(people)


def _wall(room: Talk, random: np.random.Generator) -> list[Part]:
    if room.wall in ("cove", "drape"):
        folds = 0.04 if room.wall == "drape" else 0.0
        sheet = Bare(people=room.people, surface=room.surface, gain=room.gain, folds=folds, seed=room.seed)
        floor = box((9.0, 8.0, 0.1), (0, -1.2, -0.05), "wood oak")
        return [_backdrop(sheet, random), *([floor] if folds else [])]
    floor = box((9.0, 8.0, 0.1), (0, -1.2, -0.05), "wood walnut")
    if room.wall in WALLS:
        return [*WALLS[room.wall](room.surface, room.accent, room.gain, random), floor]
    if room.wall == "tiles":
        paint, size = tile_wall(random, room.surface, room.accent, gain=room.gain), 2.4
    else:
        paint, size = _pattern(room), 0.55
    return [box((9.0, 0.1, 3.6), (0, 2.55, 1.8), paint, texture_size=size, finish=MATTE), floor]


def _pattern(room: Talk) -> Paint:
    """Diamonds with a dot in each, half a repeat apart."""
    paint = Paint((256, 256), room.surface, room.gain)
    for x, y in ((0.5, 0.5), (0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)):
        corners = [(x - 0.21, y), (x, y - 0.3), (x + 0.21, y), (x, y + 0.3)]
        paint.line(room.accent, corners, 0.03, closed=True).disc(room.surface, x, y, 0.07, 0.7 * room.gain)
    return paint


def _chair(surface: str, x: float, y: float) -> list[Part]:
    """An armchair whose back stands up to the shoulders."""
    return [
        box((0.62, 0.1, 0.75), (x, y + 0.3, 0.95), surface, texture_size=None),
        box((0.08, 0.5, 0.3), (x - 0.33, y + 0.05, 0.82), surface, texture_size=None),
        box((0.08, 0.5, 0.3), (x + 0.33, y + 0.05, 0.82), surface, texture_size=None),
    ]


def _table(room: Talk, random: np.random.Generator) -> list[Part]:
    """A round table with water, a book and on some sets a plant."""
    parts = [lathe([(0, 0.76), (0.3, 0.76), (0.3, 0.785), (0, 0.785)], "wood maple", finish=SATIN)]
    parts.append(box((0.05, 0.05, 0.76), (0.0, 0.0, 0.38), "suede grey"))
    jug = [(0.0, 0.0), (0.045, 0.0), (0.05, 0.1), (0.03, 0.2), (0.035, 0.22), (0.02, 0.2)]
    parts += placed(
        [lathe(jug, "plastic green" if room.seed % 2 else "raincoat magenta")], move=(0.1, 0.05, 0.785)
    )
    cover = str(random.choice(["paint yellow", "paint red", "paint cyan", "synthetic blue"]))
    parts.append(box((0.17, 0.24, 0.03), (-0.08, -0.08, 0.80), cover, texture_size=None))
    if room.seed % 3 == 0:
        parts += placed(leafy_plant(random, ("sand", "paint cyan", "fabric white")), move=(-0.15, 0.12, 0.785))
    return parts
