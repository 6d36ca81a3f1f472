"""Bare sets: coves, drapes and papers that are lit from the middle, and a window behind.

Little but people stands before a large plain surface. The hero sees where the backdrop's own lamp lights it; each
tight angle looks past its person at a side of it, which is darker. Built like ``sets``, of the demo generator's
parts: metres, z up, the hero looks along +y.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from demo.generator.mesh import SATIN, Part, box, lathe, panel, placed
from demo.generator.people import Look, Pose, person
from demo.generator.scene import Scene, View
from demo.generator.texture import Paint, fbm
from demo.generator.things.furniture import leafy_plant
from demo.generator.things.lamps import window
from tests.bench.accuracy.sets import Peopled

__all__ = ["CAST", "Bare", "bare"]

#: Who may sit there; no two of a set share a skin.
CAST: dict[str, Look] = {
    "host": Look(
        skin=("skin light 2", 0.9), hair=("hair brown", 1.2), style="bob", top="plain",
        colours=("jeans dark blue",) * 3, height=1.69,
    ),
    "author": Look(
        skin=("skin dark 2", 1.1), hair=("hair black", 0.9), style="short", top="plain", glasses=True, beard=True,
        colours=("cotton light grey",) * 3, height=1.8,
    ),
    "singer": Look(
        skin=("skin asian", 1.0), hair=("hair black", 1.0), style="bun", top="plain",
        colours=("paint moderate red",) * 3, height=1.65,
    ),
    "doctor": Look(
        skin=("skin indian dark", 1.0), hair=("hair grey black", 1.2), style="short", top="stripes",
        colours=("fabric white", "cotton blue", "towel light blue"), height=1.76,
    ),
    "teacher": Look(
        skin=("skin light 1", 0.92), hair=("hair red", 1.1), style="curly", top="knit",
        colours=("shirt green", "sand", "fabric brown"), height=1.7,
    ),
    "pilot": Look(
        skin=("skin tan", 0.95), hair=("hair black", 1.0), style="short", top="plain",
        colours=("fabric dark brown",) * 3, height=1.78,
    ),
    "cook": Look(
        skin=("skin dark 1", 0.75), hair=("hair black", 1.0), style="scarf", top="plain",
        colours=("t-shirt white",) * 3, scarf=("paint orange", "yarn yellow"), height=1.67,
    ),
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Bare:
    """A bare set.

    Attributes
    ----------
    people : tuple of names in `CAST`
        From left to right.
    surface, gain : str, float
        Of the backdrop.
    folds : float
        Depth of its folds in metres; 0 is a cove that curves into the floor.
    spot : (light, power)
        The lamp on the backdrop's middle.
    key, fill : (light, power)
    window : (light, power) or None
        One behind the people.
    seed : int
    """

    people: tuple[str, ...]
    surface: str
    gain: float = 1.0
    folds: float = 0.0
    spot: tuple[str, float] = ("5000K daylight", 9.0)
    key: tuple[str, float] = ("5000K daylight", 9.0)
    fill: tuple[str, float] = ("5000K daylight", 2.0)
    window: tuple[str, float] | None = None
    seed: int = 0


def bare(room: Bare) -> Peopled:
    """Build a bare set and the views of a hero and two tight angles, ``left`` and ``right``."""
    random = np.random.default_rng([11, room.seed])
    parts: list[Part] = [_backdrop(room, random)]
    if room.folds:
        parts.append(box((9.0, 8.0, 0.1), (0, -1.2, -0.05), "wood walnut"))
    if room.window is not None:
        parts += placed(window(random, 0.9, 1.1, *room.window), move=(0.75, 2.45, 1.15))
    parts += _table(room, random)
    parts += [
        panel(0.8, 0.5, (0, 0.9, 2.9), (0, 2.5, 1.35), light=room.spot),
        panel(1.4, 1.4, (-2.4, -2.4, 2.6), (0, 0.3, 1.2), light=room.key),
        panel(1.0, 1.5, (2.6, -1.8, 2.2), (0, 0.3, 1.2), light=room.fill),
    ]
    places = np.linspace(-0.55, 0.55, len(room.people)) if len(room.people) > 1 else np.zeros(1)
    people = []
    for number, (name, x) in enumerate(zip(room.people, places, strict=True)):
        pose = Pose(yaw=float(random.uniform(-22, 22)), lean=float(random.uniform(2, 6)), nod=float(x))
        built = person(CAST[name], pose, seed=41 + 5 * room.seed + number, detail=1.4)
        y = 0.4 + 0.15 * (number % 2)
        people.append(tuple(placed(built, move=(float(x), y, 0), turn=float(-16 * np.sign(x)))))
    scene = Scene(
        name="bare",
        parts=(*parts, *(part for parts_of in people for part in parts_of)),
        ambient=(room.key[0], 0.05),
        views={
            "wide": View(position=(0.05, -3.3, 1.45), target=(0, 0.5, 1.2), fov=47),
            "left": View(position=(1.3, -2.3, 1.5), target=(-0.62, 0.5, 1.36), fov=31),
            "right": View(position=(-1.35, -2.2, 1.45), target=(0.65, 0.5, 1.36), fov=32),
        },
    )
    return scene, tuple(people)


def _backdrop(room: Bare, random: np.random.Generator) -> Part:
    """A sheet 9 m wide: a cove that curves into the floor, or cloth that hangs in folds."""
    if room.folds:
        across, up = np.linspace(-4.5, 4.5, 721), np.linspace(0.0, 3.6, 13)
        sway = np.interp(across, np.linspace(-4.5, 4.5, 61), random.uniform(-1, 1, 61))
        deep = room.folds * (np.sin(across * 26 + 2.5 * sway) + 0.5 * np.sin(across * 11 + 4 * sway))
        return _sheet(lambda x, z: (across[x], 2.5 + deep[x], up[z]), (len(across), len(up)), room, random)
    turn = np.linspace(0, np.pi / 2, 14)
    curve = [(2.5 - 0.8 + 0.8 * np.sin(a), 0.8 - 0.8 * np.cos(a)) for a in turn]
    line = np.array([(-4.5, 0.0), (-1.5, 0.0), *curve, (2.5, 2.2), (2.5, 4.0)])
    return _sheet(lambda x, z: (9.0 * x / 8 - 4.5, *line[z]), (9, len(line)), room, random)


def _sheet(
    place: Callable[[int, int], tuple[float, ...]], size: tuple[int, int], room: Bare, random: np.random.Generator
) -> Part:
    """A surface through a grid of places, seen from the front."""
    grid = np.array([[place(x, z) for x in range(size[0])] for z in range(size[1])], float)
    index = np.arange(size[0] * size[1]).reshape(size[1], size[0])
    a, b, c, d = (index[i, j].ravel() for i, j in _CORNERS)
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    z, x = np.mgrid[: size[1], : size[0]]
    uv = np.stack([x / (size[0] - 1), z / (size[1] - 1)], -1).reshape(-1, 2)
    paint = Paint((128, 256), room.surface, room.gain).shade(1 + 0.02 * fbm((128, 256), (6, 12), random))
    return Part(vertices=grid.reshape(-1, 3), faces=faces, uv=uv, paint=paint, smooth=True)


_CORNERS = (
    (slice(None, -1), slice(None, -1)),
    (slice(None, -1), slice(1, None)),
    (slice(1, None), slice(1, None)),
    (slice(1, None), slice(None, -1)),
)


def _table(room: Bare, random: np.random.Generator) -> list[Part]:
    """A low table with a plant and a cup."""
    parts = [
        box((0.5, 0.38, 0.03), (0.0, 0.05, 0.78), "wood oak", finish=SATIN),
        box((0.06, 0.06, 0.78), (0.0, 0.05, 0.39), "wood oak"),
    ]
    parts += placed(leafy_plant(random, ("paint cyan", "sand", "paint white 9.5")), move=(-0.1, 0.1, 0.795))
    cup = [(0.0, 0.0), (0.03, 0.0), (0.04, 0.09), (0.036, 0.09), (0.0, 0.02)]
    parts += placed([lathe(cup, "paint blue" if room.seed % 2 else "towel red")], move=(0.13, -0.02, 0.795))
    return parts
