"""Sets of kinds that the other benches lack: a screen in shot, leaves, gels, a limbo, a mirror, a reverse.

Metres, z up; the hero looks along +y. Each builder returns a scene with its views, and the parts of its people.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from demo.generator.mesh import GLAZED, MATTE, SATIN, Finish, Part, Vector, box, lathe, panel, placed
from demo.generator.people import Look, Pose, person
from demo.generator.scene import Scene, View
from demo.generator.texture import Paint, fbm
from demo.generator.things.furniture import leafy_plant, poster
from demo.generator.things.lamps import window
from demo.generator.things.materials import canvas_poster, plaster
from tests.bench.accuracy.bare import Bare, _backdrop
from tests.bench.accuracy.rooms.props import book_row, bottle, fruit
from tests.bench.accuracy.sets import Peopled
from tests.bench.accuracy.talks import PANEL

_MIRROR = Finish(0.1, 5.0)
_COLOURS = (
    "paint moderate red",
    "jeans dark blue",
    "shirt green",
    "paint orange",
    "paint purple",
    "sand",
    "paint cyan",
)
#: A lamp that is out of shot: place, what it looks at, (width, height), (light, power).
Lamp = tuple[Vector, Vector, tuple[float, float], tuple[str, float]]

_TWIN: dict[str, Look] = {
    name: Look(
        skin=skin, hair=hair, style=style, top="plaid", glasses=name == "elder",
        colours=("fabric white", "paint moderate red", "jeans dark blue"), height=1.74,
    )
    for name, skin, hair, style in (
        ("elder", ("skin light 2", 0.9), ("hair grey black", 1.1), "short"),
        ("younger", ("skin tan", 0.95), ("hair brown", 1.1), "curly"),
    )
}  # fmt: skip
CAST = {**PANEL, **_TWIN}


def _seated(places: Sequence[tuple[str, float, float, float]], seed: int) -> tuple[tuple[Part, ...], ...]:
    """People by (name, x, y, turn); an own seed each, so that nobody changes when two swap places."""
    random = np.random.default_rng([23, seed])
    built = []
    for number, (name, x, y, turn) in enumerate(places):
        pose = Pose(
            yaw=float(random.uniform(-15, 15)), lean=float(random.uniform(1, 6)), nod=float(random.uniform(-3, 3))
        )
        parts = person(CAST[name], pose, seed=171 + 5 * seed + number, detail=1.5)
        built.append(tuple(placed(parts, move=(x, y, 0), turn=turn)))
    return tuple(built)


def _scene(
    parts: list[Part], people: tuple[tuple[Part, ...], ...], lamps: Sequence[Lamp], ambient: tuple[str, float],
    **views: View,
) -> Peopled:  # fmt: skip
    lights = [panel(w, h, place, towards, light=light) for place, towards, (w, h), light in lamps]
    everything = (*parts, *lights, *(part for one in people for part in one))
    return Scene(name="kind", parts=everything, ambient=ambient, views=views), people


def _views(aside: float = 1.3, fov: float = 32, **more: View) -> dict[str, View]:
    return {
        "wide": View(position=(0.0, -3.2, 1.45), target=(0, 0.5, 1.2), fov=48),
        "left": View(position=(aside, -2.3, 1.5), target=(-0.6, 0.5, 1.37), fov=fov),
        "right": View(position=(-aside, -2.3, 1.45), target=(0.6, 0.5, 1.36), fov=fov + 1),
        **more,
    }


def _wall(surface: str, gain: float, seed: int, y: float = 2.5, floor: str = "wood oak") -> list[Part]:
    paint = plaster(np.random.default_rng([29, seed]), surface, gain)
    return [
        box((9.0, 0.1, 3.6), (0, y + 0.05, 1.8), paint, texture_size=3.0),
        box((9.0, 9.0, 0.1), (0, -0.5, -0.05), floor, texture_size=None),
    ]


def _shelf(x: float, y: float, z: float, width: float, seed: int) -> list[Part]:
    """A board with books and a bottle or two, its back at ``y``."""
    random = np.random.default_rng([31, seed])
    parts = [box((width, 0.24, 0.03), (x, y - 0.12, z), "wood walnut", finish=SATIN)]
    parts += placed(book_row(random, _COLOURS, width * 0.7), move=(x - 0.1 * width, y - 0.01, z + 0.015))
    return parts + placed(
        bottle(random, str(random.choice(_COLOURS))), move=(x + 0.42 * width, y - 0.12, z + 0.015)
    )


def _posters(seed: int, *centres: tuple[float, float, float]) -> list[Part]:
    random = np.random.default_rng([37, seed])
    parts: list[Part] = []
    for centre in centres:
        parts += poster(canvas_poster(random, _COLOURS, ("LIGHT", "STAGE", "FIELD"), "chart"), 0.5, centre)
    return parts


def _table(seed: int, top: str, finish: Finish = SATIN, size: tuple[float, float] = (0.9, 0.6)) -> list[Part]:
    random = np.random.default_rng([41, seed])
    parts = [box((*size, 0.04), (0.0, 0.0, 0.76), top, texture_size=None, finish=finish)]
    parts.append(box((0.08, 0.08, 0.74), (0, 0, 0.37), "suede grey"))
    cup = [(0.0, 0.0), (0.03, 0.0), (0.04, 0.09), (0.036, 0.09), (0.0, 0.02)]
    parts += placed([lathe(cup, "paint red" if seed % 2 else "paint cyan")], move=(-0.15, -0.05, 0.78))
    parts += placed(
        fruit(random, "paint orange yellow" if seed % 2 else "pepper green", 0.04), move=(0.12, -0.04, 0.78)
    )
    return parts + placed(
        bottle(random, "raincoat blue" if seed % 3 else "plastic green", 0.22), move=(0.24, 0.08, 0.78)
    )


def _leaves(
    seed: int,
    count: int,
    low: Vector,
    high: Vector,
    surfaces: Sequence[str],
    size: tuple[float, float] = (0.04, 0.1),
) -> list[Part]:
    """A cloud of leaves, each of two triangles, turned anyhow."""
    random = np.random.default_rng([43, seed])
    parts = []
    for surface in surfaces:
        number = count // len(surfaces)
        centre = random.uniform(low, high, (number, 3))
        along, other = random.normal(size=(2, number, 3))
        along /= np.linalg.norm(along, axis=1, keepdims=True)
        side = np.cross(along, other)
        side /= np.linalg.norm(side, axis=1, keepdims=True)
        long = random.uniform(*size, (number, 1))
        corners = [
            centre - along * long,
            centre - side * long / 3,
            centre + along * long,
            centre + side * long / 3,
        ]
        vertices = np.stack(corners, axis=1).reshape(-1, 3)
        start = 4 * np.arange(number)[:, None]
        faces = np.concatenate([start + np.array(corner) for corner in ((0, 1, 2), (0, 2, 3))])
        shade = np.repeat(random.uniform(0.6, 1.3, number), 4).astype(np.float32)
        paint = Paint(len(vertices), surface).shade(shade)
        parts.append(Part(vertices=vertices, faces=faces, paint=paint, finish=Finish(0.5, 0.4), kind="leaf"))
    return parts


def screen() -> Peopled:
    """A large display behind two people, which shows a chart."""
    picture = Paint((270, 480), "paint blue", 1.2).shade(
        1 + 0.3 * fbm((270, 480), (3, 5), np.random.default_rng(5))
    )
    picture.text("paint white 9.5", "QUARTER 3", 0.06, 0.08, 0.5, 0.14)
    for bar, (surface, height) in enumerate(zip(_COLOURS, (0.2, 0.45, 0.33, 0.55, 0.4, 0.62, 0.5), strict=True)):
        picture.rectangle(surface, 0.08 + 0.125 * bar, 0.9 - height, 0.08, height, 1.5)
    parts = _wall("paint neutral 5", 1.0, 1) + _table(1, "wood maple")
    parts.append(box((1.9, 0.05, 1.1), (0.1, 2.42, 1.5), "paint black 2", texture_size=None))
    parts.append(panel(1.8, 1.0, (0.1, 2.38, 1.5), (0.1, 0, 1.5), paint=picture, light=("D75", 3.0), kind="none"))
    parts += _shelf(-1.7, 2.5, 1.3, 1.0, 1) + _posters(1, (1.75, 2.49, 1.55))
    people = _seated((("host", -0.6, 0.45, 15), ("diver", 0.6, 0.6, -15)), 1)
    lamps: list[Lamp] = [
        ((-2.3, -2.2, 2.5), (0, 0.3, 1.2), (1.3, 1.3), ("LED-B3", 10.0)),
        ((2.6, -1.6, 2.0), (0, 0.3, 1.2), (1.0, 1.5), ("LED-B3", 2.5)),
        ((0.0, 0.8, 3.0), (0, 2.5, 1.4), (1.6, 0.4), ("LED-B3", 4.0)),
    ]
    tall = View(position=(-1.3, -2.3, 1.45), target=(0.6, 0.5, 1.3), fov=21)
    return _scene(parts, people, lamps, ("LED-B3", 0.05), **_views(tall=tall))


def garden() -> Peopled:
    """Two people on a bench under trees, in spots of sun."""
    parts = [box((14, 14, 0.1), (0, 2, -0.05), Paint((64, 64), "leaf vine", 0.8), texture_size=None)]
    parts += _leaves(1, 9000, (-4.5, 2.0, 0.0), (4.5, 3.4, 2.9), ("leaf bush", "leaf silver maple", "leaf vine"))
    parts += _leaves(2, 1100, (-2.5, -2.0, 2.9), (2.5, 1.8, 3.6), ("leaf silver maple", "leaf bush"), (0.07, 0.17))
    parts += _leaves(
        3,
        160,
        (-1.8, 1.85, 0.5),
        (1.8, 2.0, 1.7),
        ("flower magenta", "marigold yellow", "sugar white"),
        (0.02, 0.04),
    )
    for x in (-1.25, 1.45):
        trunk = [(0.13, 0.0), (0.1, 0.6), (0.09, 3.2)]
        parts += placed([lathe(trunk, Paint((64, 64), "wood worn", 0.6), finish=MATTE)], move=(x, 1.4, 0))
    parts.append(box((2.0, 0.06, 0.3), (0, 0.85, 1.0), "wood redwood", texture_size=None))
    parts += _table(2, "wood worn")
    people = _seated((("judge", -0.55, 0.5, 12), ("pilot", 0.55, 0.45, -12)), 2)
    lamps: list[Lamp] = [((-3.5, -6.0, 9.0), (0, 0.5, 1.2), (1.0, 1.0), ("5500K daylight", 330.0))]
    return _scene(parts, people, lamps, ("D75", 0.45), **_views())


def gels() -> Peopled:
    """A magenta lamp from the left and a teal one from the right, little white between."""
    parts = _wall("paint neutral 6.5", 1.0, 3, floor="paint neutral 3.5") + _table(3, "paint neutral 8")
    parts += _posters(3, (-1.3, 2.49, 1.6), (0.1, 2.49, 1.7), (1.4, 2.49, 1.5))
    people = _seated((("doctor", -0.6, 0.5, 15), ("teacher", 0.6, 0.45, -15)), 3)
    magenta, teal = "0.25*band 630+0.02*band 450+0.7*LED-B3", "0.25*band 510+0.03*band 470+0.7*LED-B3"
    lamps: list[Lamp] = [
        ((-2.8, -0.8, 2.2), (-0.4, 0.8, 1.3), (1.0, 1.4), (magenta, 9.0)),
        ((2.8, -0.8, 2.2), (0.4, 0.8, 1.3), (1.0, 1.4), (teal, 9.0)),
        ((0.0, -3.6, 2.8), (0, 0.5, 1.2), (1.4, 0.8), ("LED-B3", 5.0)),
    ]
    return _scene(parts, people, lamps, ("LED-B3", 0.03), **_views())


def office() -> Peopled:
    """Two people in the same shirt before a whiteboard and shelves."""
    parts = _wall("paint blue sky", 1.1, 4) + _table(4, "paint white 9.5", GLAZED)
    board = Paint((300, 600), "paint white 9.5", 0.95).text("paint blue", "PLAN", 0.05, 0.1, 0.3, 0.2)
    board.line("paint red", [(0.1, 0.8), (0.35, 0.5), (0.6, 0.65), (0.9, 0.3)], 0.006)
    parts.append(box((1.6, 0.03, 0.8), (-0.2, 2.48, 1.6), board, texture_size=None, finish=SATIN))
    parts += _shelf(1.5, 2.5, 1.15, 1.1, 4) + _shelf(1.5, 2.5, 1.55, 1.1, 5)
    people = _seated((("elder", -0.6, 0.45, 14), ("younger", 0.6, 0.5, -16)), 4)
    lamps: list[Lamp] = [
        ((-0.8, 0.4, 3.2), (-0.8, 0.4, 0), (1.2, 0.6), ("FL2", 10.0)),
        ((0.9, -1.4, 3.2), (0.9, -1.4, 0), (1.2, 0.6), ("FL2", 10.0)),
        ((-3.4, -1.5, 1.8), (0, 0.5, 1.2), (1.4, 1.4), ("D65", 5.0)),
    ]
    return _scene(parts, people, lamps, ("FL2", 0.12), **_views())


def singles() -> Peopled:
    """A room through 20 mm (of a full frame), two faces through 85 mm."""
    parts = _wall("sand", 1.0, 5) + _table(5, "wood walnut")
    parts += _shelf(-1.5, 2.5, 1.2, 1.2, 6) + _shelf(-1.5, 2.5, 1.65, 1.2, 7)
    parts += _posters(5, (1.2, 2.49, 1.6), (1.9, 2.49, 1.6), (-2.7, 2.49, 1.5), (2.9, 2.49, 1.4))
    parts += placed(
        leafy_plant(np.random.default_rng(55), ("paint cyan", "sand", "paint red"), 0.9), move=(0.3, 2.2, 0.0)
    )
    parts.append(box((0.1, 6, 3.6), (-3.4, -0.3, 1.8), "paint bluish green"))
    people = _seated((("nurse", -0.6, 0.45, 15), ("author", 0.6, 0.5, -15)), 5)
    lamps: list[Lamp] = [
        ((-2.3, -2.2, 2.5), (0, 0.3, 1.2), (1.3, 1.3), ("3200K", 9.0)),
        ((2.6, -1.6, 2.2), (0, 0.3, 1.2), (1.0, 1.5), ("3600K", 3.0)),
        ((0.3, 0.9, 3.1), (0.2, 2.5, 1.4), (2.0, 0.4), ("3200K", 6.0)),
    ]
    views = {
        "wide": View(position=(0.0, -2.0, 1.5), target=(0, 0.5, 1.25), fov=84),
        "left": View(position=(1.1, -1.9, 1.55), target=(-0.6, 0.45, 1.5), fov=24),
        "right": View(position=(-1.1, -2.0, 1.5), target=(0.6, 0.5, 1.52), fov=24),
    }
    return _scene(parts, people, lamps, ("3200K", 0.05), **views)


def round_table() -> Peopled:
    """Three people around a table; one camera stands on its other side and sees the other wall."""
    parts = _wall("paint light skin", 1.0, 6) + _table(6, "wood pine", size=(1.3, 0.8))
    back = plaster(np.random.default_rng(66), "paint foliage", 1.1)
    parts.append(box((9.0, 0.1, 3.6), (0, -4.55, 1.8), back, texture_size=3.0))
    parts += placed(_shelf(0.0, 0.0, 1.4, 1.4, 8), move=(-0.4, -4.5, 0), turn=180) + _posters(6, (0.9, 2.49, 1.6))
    parts += _shelf(-1.0, 2.5, 1.45, 1.2, 9)
    people = _seated((("baker", -0.85, 0.1, 70), ("singer", 0.0, 0.75, 0), ("cook", 0.85, 0.1, -70)), 6)
    lamps: list[Lamp] = [
        ((0.0, 0.0, 3.3), (0, 0, 0), (1.6, 1.6), ("4000K daylight", 8.0)),
        ((-3.0, -2.6, 2.4), (0, 0.3, 1.2), (1.2, 1.2), ("4000K daylight", 6.0)),
        ((2.8, 2.2, 2.6), (0, -0.5, 1.2), (0.8, 0.8), ("4000K daylight", 5.0)),
    ]
    views = _views(
        left=View(position=(0.9, -2.4, 1.6), target=(-0.5, 0.4, 1.3), fov=36),
        right=View(position=(1.7, 2.1, 1.75), target=(-0.3, -0.3, 1.15), fov=48),
    )
    return _scene(parts, people, lamps, ("4000K daylight", 0.08), **views)


def mirror() -> Peopled:
    """A mirror for a table, before a drape."""
    sheet = Bare(people=("host",), surface="paint purple", gain=1.4, folds=0.04, seed=7)
    parts = [_backdrop(sheet, np.random.default_rng(7)), box((9.0, 8.0, 0.1), (0, -1.2, -0.05), "paint black 2")]
    parts += _table(7, "paint black 2", _MIRROR, (1.5, 0.9))
    people = _seated((("host", -0.6, 0.75, 14), ("nurse", 0.6, 0.7, -14)), 7)
    lamps: list[Lamp] = [
        ((2.3, -2.2, 2.5), (0, 0.3, 1.2), (1.3, 1.3), ("5000K daylight", 9.0)),
        ((-2.6, -1.6, 2.0), (0, 0.3, 1.2), (1.0, 1.5), ("5000K daylight", 2.0)),
        ((-3.9, 1.4, 2.2), (0.4, 2.5, 1.3), (0.5, 1.2), ("LED-B5", 16.0)),
    ]
    return _scene(parts, people, lamps, ("5000K daylight", 0.04), **_views())


def limbo() -> Peopled:
    """All white, nearly no shadow."""
    sheet = Bare(people=("teacher",), surface="paint white 9.5", seed=8)
    parts = [_backdrop(sheet, np.random.default_rng(8)), *_table(8, "t-shirt white")]
    people = _seated((("teacher", -0.6, 0.45, 14), ("cook", 0.6, 0.5, -14)), 8)
    lamps: list[Lamp] = [
        ((0.0, 0.9, 3.2), (0, 2.5, 1.2), (3.4, 0.6), ("5000K daylight", 14.0)),
        ((-2.6, -2.4, 2.5), (0, 0.5, 1.2), (2.0, 2.0), ("5000K daylight", 6.0)),
        ((2.6, -2.4, 2.5), (0, 0.5, 1.2), (2.0, 2.0), ("5000K daylight", 5.0)),
    ]
    return _scene(parts, people, lamps, ("5000K daylight", 0.2), **_views())


def swap(*, swapped: bool = False) -> Peopled:
    """Two people who change seats between the takes."""
    parts = _wall("paint neutral 8", 0.9, 9) + _table(9, "wood oak")
    parts += _shelf(-1.2, 2.5, 1.5, 1.0, 10) + _posters(9, (1.3, 2.49, 1.6))
    left, right = (0.6, -0.6) if swapped else (-0.6, 0.6)
    people = _seated((("author", left, 0.45, -25 * left), ("judge", right, 0.5, -25 * right)), 9)
    lamps: list[Lamp] = [
        ((-2.3, -2.2, 2.5), (0, 0.3, 1.2), (1.3, 1.3), ("LED-B4", 9.0)),
        ((2.6, -1.6, 2.0), (0, 0.3, 1.2), (1.0, 1.5), ("LED-B4", 2.5)),
        ((0.4, 1.2, 3.1), (0.2, 2.5, 1.6), (1.6, 0.4), ("LED-B4", 7.0)),
    ]
    return _scene(parts, people, lamps, ("LED-B4", 0.05), **_views())


def backlight() -> Peopled:
    """A wide window behind two people, little light from the front."""
    parts = _wall("paint white 9.5", 0.7, 10) + _table(10, "wood maple")
    parts += placed(window(np.random.default_rng(10), 1.9, 1.3, "D65", 6.0, panes=(4, 2)), move=(0.1, 2.42, 1.0))
    parts += placed(
        leafy_plant(np.random.default_rng(11), ("paint cyan", "sand", "paint red"), 0.7), move=(-1.3, 2.1, 0.8)
    )
    parts += _posters(10, (1.65, 2.49, 1.6))
    people = _seated((("singer", -0.6, 0.5, 14), ("baker", 0.6, 0.45, -16)), 10)
    lamps: list[Lamp] = [
        ((-2.3, -2.2, 2.5), (0, 0.3, 1.2), (1.3, 1.3), ("5000K daylight", 5.0)),
        ((3.2, 0.0, 2.4), (0, 1.5, 1.2), (1.0, 1.5), ("D65", 4.0)),
    ]
    return _scene(parts, people, lamps, ("D65", 0.08), **_views())


def night() -> Peopled:
    """A dim bar corner with bottles, lit by two small warm lamps."""
    parts = _wall("paint purplish blue", 0.7, 11, floor="wood walnut") + _table(11, "wood redwood")
    random = np.random.default_rng(12)
    for z in (1.2, 1.6):
        parts.append(box((3.2, 0.24, 0.03), (0, 2.38, z), "wood walnut", finish=SATIN))
        for x in np.arange(-1.5, 1.6, 0.22):
            parts += placed(bottle(random, str(random.choice(_COLOURS))), move=(float(x), 2.36, z + 0.015))
    people = _seated((("pilot", -0.6, 0.5, 15), ("host", 0.6, 0.45, -15)), 11)
    lamps: list[Lamp] = [
        ((-1.8, -1.0, 2.6), (-0.3, 0.5, 1.2), (0.5, 0.5), ("2900K", 16.0)),
        ((1.5, 1.4, 3.0), (0.2, 2.4, 1.3), (0.8, 0.3), ("3200K", 10.0)),
    ]
    return _scene(parts, people, lamps, ("3200K", 0.03), **_views())


def corner() -> Peopled:
    """A red and a green wall that meet behind the people: each tight angle sees the other one."""
    floor = box((9.0, 9.0, 0.1), (0, -0.5, -0.05), "wood oak", texture_size=None)
    parts = [floor, *_table(12, "wood maple")]
    for surface, turn, x in (("paint moderate red", 45, -1.6), ("paint bluish green", -45, 1.6)):
        wall = box(
            (4.6, 0.1, 3.6), (0, 0, 1.8), plaster(np.random.default_rng(13), surface, 1.0), texture_size=3.0
        )
        parts += placed([wall], move=(x, 1.9, 0), turn=turn)
    parts += placed(_shelf(0.0, 0.0, 1.5, 0.9, 12), move=(-1.5, 1.93, 0), turn=45)
    people = _seated((("doctor", -0.6, 0.4, 14), ("diver", 0.6, 0.45, -14)), 12)
    lamps: list[Lamp] = [
        ((-2.6, -2.0, 2.4), (0, 0.4, 1.2), (1.4, 1.4), ("5600K daylight", 8.0)),
        ((2.6, -1.8, 2.2), (0, 0.4, 1.2), (1.0, 1.0), ("3200K", 5.0)),
    ]
    return _scene(parts, people, lamps, ("4300K daylight", 0.06), **_views())
