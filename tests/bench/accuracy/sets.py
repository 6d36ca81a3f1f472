"""Sets for the bench: a brick bar, a bare backdrop, and a study between a window and a lamp.

Built from the demo generator's parts: metres, z up, the hero looks along +y.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from demo.generator.mesh import GLAZED, MATTE, SATIN, Part, box, lathe, panel, placed
from demo.generator.people import Look, Pose, person
from demo.generator.scene import Scene, View
from demo.generator.texture import Paint, fbm, label_word
from tests.bench.accuracy.rooms import BUILD

_BOTTLES = ("plastic green", "raincoat blue", "wood redwood", "plastic purple", "paint yellow", "synthetic red")
#: A scene, and the parts of each person in it.
Peopled = tuple[Scene, tuple[tuple[Part, ...], ...]]

_LABELS = ("table cloth white", "paint yellow", "paint black 2", "fabric pink")
_PRINTS = (
    "paint cyan", "marigold orange", "paint magenta", "paint yellow green", "paint purplish blue",
    "paint white 9.5",
)  # fmt: skip
_SPINES = (
    "paint moderate red", "jeans dark blue", "shirt green", "wood walnut", "fabric white", "paint orange",
    "backpack black", "paint purple", "sand", "paint blue flower", "fabric pink", "paint foliage", "paint yellow",
    "towel light blue",
)  # fmt: skip

_KEEPER = Look(
    skin=("skin dark 2", 0.95), hair=("hair black", 1.0), style="short", top="stripes", beard=True,
    colours=("fabric white", "jeans dark blue", "towel red"), apron="denim", height=1.80,
)  # fmt: skip
_GUEST = Look(
    skin=("skin light 1", 0.92), hair=("hair red", 1.1), style="bob", top="leaves",
    colours=("shirt green", "yarn yellow", "fabric white"), height=1.66,
)  # fmt: skip
_SITTER = Look(
    skin=("skin tan", 0.95), hair=("hair black", 1.0), style="bun", top="plain", colours=("suede grey",) * 3
)
_READER = Look(
    skin=("skin indian dark", 0.95), hair=("hair black", 1.0), style="bun", top="plaid",
    colours=("towel red", "jeans dark blue", "fabric white"), height=1.68,
)  # fmt: skip
_WRITER = Look(
    skin=("skin light 2", 0.92), hair=("hair blonde", 1.1), style="short", top="knit",
    colours=("fabric brown", "sand", "paint bluish green"), glasses=True, height=1.8,
)  # fmt: skip
_PARTNER = Look(
    skin=("skin dark 1", 1.0), hair=("hair black", 0.9), style="curly", top="plain", glasses=True,
    colours=("jeans dark blue",) * 3, height=1.7,
)  # fmt: skip


def room(name: str, *, seed: int, moment: int = 0, **lights: Any) -> Peopled:
    """One of the rooms beside this module with other things in it; two people, left and right."""
    scene = BUILD[name](seed=seed, moment=moment, detail=1.2, **lights)
    human = [part for part in scene.parts if part.kind in ("skin", "hair", "cloth")]
    left = tuple(part for part in human if part.vertices[:, 0].mean() < 0)
    right = tuple(part for part in human if part.vertices[:, 0].mean() >= 0)
    return scene, (left, right)


def brick_bar(*, moved: bool = False, seed: int = 0) -> Peopled:
    """A bar in front of a wall of bricks that repeats every 1.2 m, with a coloured tube on either side.

    The tubes throw pink and blue light on bricks that look alike everywhere: a match that pairs a brick with its
    twin under other light learns the tube's colour. A barkeeper and a guest, who ``moved`` between takes.
    """
    random = np.random.default_rng([7, seed])
    parts: list[Part] = [
        box((9.0, 0.1, 3.4), (0, 2.6, 1.7), _bricks(random), texture_size=1.2),
        box((9.0, 9.0, 0.1), (0, -1.2, -0.05), _boards(random), texture_size=1.6, along=0),
        box((0.1, 6.0, 3.4), (-3.6, 0.0, 1.7), "paint bluish green"),
    ]
    for height in (1.25, 1.75):
        parts.append(box((3.2, 0.28, 0.05), (0.1, 2.40, height), "wood walnut", finish=SATIN))
        parts += _bottles(random, (-1.4, 1.6), 2.40, height + 0.025)
    parts.append(box((3.0, 0.5, 1.05), (0.2, 1.5, 0.525), _boards(random), texture_size=0.9, along=2))
    parts.append(box((3.2, 0.6, 0.05), (0.2, 1.5, 1.075), "wood maple", finish=SATIN))
    for x, paint in ((-0.75, "towel red"), (-0.35, "paint cyan"), (1.25, "lemon skin")):
        parts += placed([_vase(paint, 0.05, 0.17)], move=(x, 1.35, 1.10))
    parts.append(_print(random, (-2.35, 2.53, 1.75), (0.9, 1.2)))
    parts.append(_print(random, (2.75, 2.53, 1.8), (0.8, 0.6)))
    parts += [_stool(x) for x in (-2.0, 2.3)]
    for x, lamp, power in (
        (-3.0, "0.25*band 630+0.08*band 450+0.6*LED-V1", 4.0),
        (3.3, "0.12*band 470+0.5*D75", 4.0),
    ):
        tube = box((0.06, 0.06, 1.5), (x, 2.45, 1.6), "paint white 9.5", kind="none")
        parts.append(replace(tube, light=(lamp, power)))
    parts.append(panel(1.6, 1.2, (-2.0, -3.0, 3.2), (0, 1.2, 1.1), light=("LED-V1", 14.0)))
    parts.append(panel(1.2, 1.2, (2.8, -2.2, 2.9), (0, 1.8, 1.1), light=("LED-V1", 6.0)))
    keeper = person(
        _KEEPER, Pose(yaw=-25 if moved else 15, lean=8 if moved else 4), seed=31, detail=1.3, legs=False
    )
    keeper = placed(keeper, move=(-0.25 if moved else -0.1, 1.95, 0), turn=6)
    guest = person(_GUEST, Pose(yaw=30 if moved else -10, nod=-6 if moved else 4), seed=32, detail=1.3)
    guest = placed(guest, move=(1.35 if moved else 1.2, 0.95, 0), turn=-25 if moved else -5)
    people = (tuple(keeper), tuple(guest))
    scene = Scene(
        name="brick-bar",
        parts=(*parts, *people[0], *people[1]),
        ambient=("LED-V1", 0.04),
        views={
            "wide": View(position=(0.1, -3.4, 1.5), target=(0.1, 1.5, 1.3), fov=50),
            "left": View(position=(1.2, -2.4, 1.5), target=(-1.3, 2.0, 1.35), fov=34),
            "right": View(position=(-1.2, -2.4, 1.6), target=(1.5, 2.0, 1.35), fov=34),
            "far": View(position=(3.0, -1.4, 1.5), target=(-0.4, 2.0, 1.3), fov=46),
        },
    )
    return scene, people


def backdrop(*, moved: bool = False, seed: int = 0) -> Peopled:
    """A seamless grey paper and a small table: hardly anything to hold on to but two plainly dressed people."""
    random = np.random.default_rng([8, seed])
    profile = [(0.0, -4.0, 0.0), (0.0, 1.2, 0.0)]
    curve = [(0.0, 1.2 + 0.6 * np.sin(a), 0.6 - 0.6 * np.cos(a)) for a in np.linspace(0, np.pi / 2, 12)[1:]]
    parts = [
        _sweep([*profile, *curve, (0.0, 1.8, 4.0)], 9.0, Paint((64, 64), "paint neutral 6.5")),
        *placed([_stool(0.0)], move=(0.85, 0.25, 0)),
        box((0.55, 0.4, 0.04), (1.0, 0.3, 0.72), "wood oak", finish=SATIN),
        *placed([_vase("paint blue", 0.07, 0.26)], move=(0.88, 0.35, 0.74)),
        *placed([_vase("marigold orange", 0.045, 0.1)], move=(1.1, 0.22, 0.74)),
        box((0.2, 0.14, 0.035), (1.12, 0.36, 0.7575), _cover(random), texture_size=None),
        panel(1.5, 1.5, (-2.4, -2.2, 2.6), (0, 0.3, 1.1), light=("5000K daylight", 7.5)),
        panel(1.0, 1.5, (2.6, -1.6, 2.2), (0, 0.3, 1.1), light=("5000K daylight", 2.0)),
    ]
    one = person(_SITTER, Pose(yaw=18 if moved else -8, lean=6 if moved else 3), seed=33, detail=1.3)
    one = placed(one, move=(-0.12 if moved else -0.2, 0.45, 0), turn=8 if moved else 0)
    other = person(_PARTNER, Pose(yaw=-20 if moved else 12), seed=34, detail=1.3)
    other = placed(other, move=(0.42, 0.6, 0), turn=-8 if moved else -2)
    people = (tuple(one), tuple(other))
    scene = Scene(
        name="backdrop",
        parts=(*parts, *people[0], *people[1]),
        ambient=("5000K daylight", 0.06),
        views={
            "wide": View(position=(0.2, -3.2, 1.4), target=(0.2, 0.4, 1.1), fov=46),
            "left": View(position=(-1.3, -2.4, 1.5), target=(0.05, 0.4, 1.32), fov=30),
            "right": View(position=(1.7, -2.3, 1.45), target=(0.3, 0.4, 1.25), fov=34),
        },
    )
    return scene, people


def study(*, moved: bool = False, seed: int = 0) -> Peopled:
    """A study full of books: a window lights it from the left, a tungsten lamp from the right.

    Every surface is lit by a mixture of the two that depends on where it stands and how it is turned.
    """
    random = np.random.default_rng([9, seed])
    parts: list[Part] = [
        box((7.0, 0.1, 3.2), (0, 2.4, 1.6), _wallpaper(), texture_size=0.8),
        box((9.0, 9.0, 0.1), (0, -1.4, -0.05), _boards(random), texture_size=1.6, along=1),
        box((3.2, 1.9, 0.012), (0.0, 0.6, 0.006), _rug(random), texture_size=None),
        box((0.1, 2.2, 3.2), (-3.2, 1.6, 1.6), "table cloth white"),
        panel(1.5, 1.6, (-3.1, -0.4, 1.7), (0, 0.4, 1.3), light=("D75", 16.0)),
        panel(0.9, 0.9, (2.9, -1.4, 2.5), (0.3, 1.0, 1.2), light=("3200K", 22.0)),
        panel(1.8, 1.2, (0.3, -3.6, 3.0), (0, 1.0, 1.2), light=("5000K daylight", 4.0)),
    ]
    parts += _bookcase(random, (-1.35, 2.2), 1.7)
    parts += _bookcase(random, (1.75, 2.2), 1.1)
    parts.append(_print(random, (0.25, 2.33, 1.75), (0.75, 0.95)))
    parts.append(box((1.9, 0.7, 0.05), (0.15, 0.7, 0.74), "wood walnut", finish=SATIN))
    parts += [box((0.06, 0.6, 0.72), (x, 0.7, 0.36), "wood walnut") for x in (-0.75, 1.05)]
    for x, y, paint, size in ((-0.6, 0.6, "paint bluish green", 0.06), (0.85, 0.75, "paint red", 0.05)):
        parts += placed([_vase(paint, size, 3.4 * size)], move=(x, y, 0.765))
    for i in range(4):
        parts.append(
            box((0.26, 0.19, 0.03), (0.2 + 0.02 * i, 0.6, 0.78 + 0.03 * i), _cover(random), texture_size=None)
        )
    for x, paint in ((0.62, "lemon skin"), (0.7, "apple yellow"), (0.55, "peach red")):
        ball = [(0.036 * np.sin(a), 0.036 - 0.036 * np.cos(a)) for a in np.linspace(0, np.pi, 12)]
        parts += placed([lathe(ball, paint, finish=SATIN)], move=(x, 0.52, 0.765))
    pose = Pose(yaw=-28 if moved else 20, nod=8 if moved else 0)
    one = person(_READER, pose, seed=35, detail=1.3, legs=False)
    one = placed(one, move=(-0.42 if moved else -0.35, 1.15, -0.12), turn=-10 if moved else 8)
    other = person(
        _WRITER, Pose(yaw=24 if moved else -16, lean=9 if moved else 5), seed=36, detail=1.3, legs=False
    )
    other = placed(other, move=(0.7, 1.2, -0.12), turn=10 if moved else -6)
    people = (tuple(one), tuple(other))
    scene = Scene(
        name="study",
        parts=(*parts, *people[0], *people[1]),
        ambient=("5000K daylight", 0.08),
        views={
            "wide": View(position=(0.1, -3.0, 1.45), target=(0.15, 1.2, 1.2), fov=48),
            "left": View(position=(1.0, -1.6, 1.45), target=(-0.45, 1.3, 1.35), fov=36),
            "right": View(position=(-0.9, -1.6, 1.45), target=(0.75, 1.3, 1.3), fov=36),
            "far": View(position=(2.3, -0.9, 1.5), target=(-0.2, 1.4, 1.25), fov=48),
        },
    )
    return scene, people


def _bookcase(random: np.random.Generator, place: tuple[float, float], width: float) -> list[Part]:
    x0, y = place[0] - width / 2, place[1]
    parts: list[Part] = [box((0.03, 0.3, 2.2), (x, y, 1.1), "wood oak") for x in (x0, x0 + width)]
    parts.append(box((width, 0.02, 2.2), (place[0], y + 0.15, 1.1), "wood oak"))
    for z in (0.1, 0.52, 0.94, 1.36, 1.78, 2.2):
        parts.append(box((width, 0.3, 0.03), (place[0], y, z), "wood oak"))
        x = x0 + 0.03
        while z < 2.1 and x < x0 + width - 0.1:
            if random.random() < 0.06:
                parts += placed(
                    [_vase(str(random.choice(_PRINTS)), 0.07, 0.22)], move=(x + 0.1, y - 0.05, z + 0.015)
                )
                x += 0.2
                continue
            w, h = float(random.uniform(0.02, 0.055)), float(random.uniform(0.22, 0.34))
            parts.append(
                box((w, 0.2, h), (x + w / 2, y - 0.02, z + 0.015 + h / 2), _spine(random), texture_size=None)
            )
            x += w + 0.003
    return parts


def _spine(random: np.random.Generator) -> Paint:
    ground, ink = (str(name) for name in random.choice(_SPINES, 2, replace=False))
    paint = Paint((192, 48), ground, float(random.uniform(0.6, 1.0)))
    for y in random.uniform(0.05, 0.9, int(random.integers(1, 4))):
        paint.rectangle(ink, 0.0, float(y), 1.0, 0.025)
    paint.text(
        ink, label_word(random, 1), 0.1, float(random.uniform(0.2, 0.6)), 0.8, 0.1, font=int(random.integers(4))
    )
    return paint


def _wallpaper() -> Paint:
    paint = Paint((256, 256), "paint neutral 8", 0.75)
    for x, y in ((0.25, 0.25), (0.75, 0.75)):
        paint.disc("paint blue flower", x, y, 0.05, 0.9).disc("sand", x, y, 0.025)
    return paint


def _rug(random: np.random.Generator) -> Paint:
    paint = Paint((256, 512), "fabric brown")
    for i, surface in enumerate(("towel red", "sand", "jeans dark blue", "paint neutral 5")):
        inset = 0.04 + 0.07 * i
        paint.rectangle(surface, inset / 2, inset, 1 - inset, 1 - 2 * inset)
    for x in np.linspace(0.25, 0.75, 5):
        paint.disc("yarn yellow", float(x), 0.5, 0.03)
    return paint.shade(1 + 0.15 * fbm((256, 512), (60, 120), random))


def _bricks(random: np.random.Generator) -> Paint:
    size, rows, columns = 768, 16, 6
    paint = Paint((size, size), "sand", 0.9)
    for row in range(rows):
        for column in range(-1, columns):
            x = (column + 0.5 * (row % 2)) / columns
            surface = str(random.choice(["leather brown", "wood redwood", "fabric brown", "paint moderate red"]))
            gain = float(random.uniform(0.55, 1.1))
            # A brick that runs over the edge comes back on the other side, so that the repeat has no seam.
            for shift in (0.0, 1.0):
                left, right = max(x + shift + 0.006, 0.0), min(x + shift + 1 / columns - 0.006, 1.0)
                if right > left:
                    paint.rectangle(surface, left, row / rows + 0.008, right - left, 1 / rows - 0.016, gain)
    return paint.shade(1.0 + 0.18 * fbm((size, size), (40, 40), random))


def _boards(random: np.random.Generator) -> Paint:
    shape = (512, 512)
    paint = Paint(shape, "wood oak", 0.8)
    grain = fbm(shape, (60, 3), random, octaves=5)
    paint.over("wood walnut", np.clip(0.5 + 0.9 * grain, 0, 1) * 0.7)
    for row in range(1, 5):
        paint.rectangle("soil", 0.0, row / 5 - 0.004, 1.0, 0.008, 0.5)
    return paint


def _bottles(random: np.random.Generator, span: tuple[float, float], y: float, z: float) -> list[Part]:
    parts: list[Part] = []
    x = span[0]
    while x < span[1]:
        radius, height = float(random.uniform(0.032, 0.05)), float(random.uniform(0.2, 0.33))
        body = 0.62 * height
        profile = [
            (0.0, 0.0),
            (radius, 0.004),
            (radius, body),
            (0.35 * radius, 0.8 * height),
            (0.35 * radius, height),
        ]
        parts += placed([lathe([*profile, (0.0, height)], _label(random), finish=GLAZED)], move=(x, y, z))
        x += 2.2 * radius + float(random.uniform(0.01, 0.05))
    return parts


def _label(random: np.random.Generator) -> Paint:
    paint = Paint((256, 256), str(random.choice(_BOTTLES)), float(random.uniform(0.35, 0.9)))
    label, ink = (
        str(name)
        for name in random.choice(
            ["table cloth white", "paint yellow", "paint black 2", "fabric pink"], 2, replace=False
        )
    )
    for start in (0.08, 0.58):
        paint.rectangle(label, start, 0.42, 0.34, 0.3)
        paint.text(ink, label_word(random), start + 0.04, 0.47, 0.26, 0.1, font=int(random.integers(4)))
        paint.disc(str(random.choice(_PRINTS)), start + 0.17, 0.65, 0.035)
    return paint


def _print(random: np.random.Generator, centre: tuple[float, float, float], size: tuple[float, float]) -> Part:
    paint = Paint((512, 512), str(random.choice(["table cloth white", "paint black 2", "paint blue sky"])))
    for _ in range(14):
        surface, x, y = str(random.choice(_PRINTS)), *random.uniform(0.08, 0.8, 2)
        if random.random() < 0.5:
            paint.disc(surface, x + 0.05, y + 0.05, float(random.uniform(0.03, 0.14)))
        else:
            paint.rectangle(surface, x, y, *random.uniform(0.05, 0.2, 2))
    paint.text("paint red", label_word(random, 3), 0.12, 0.82, 0.76, 0.12, font=2)
    return box((size[0], 0.03, size[1]), centre, paint, texture_size=None)


def _cover(random: np.random.Generator) -> Paint:
    paint = Paint((256, 256), "paint green").rectangle("table cloth white", 0.1, 0.1, 0.8, 0.3)
    return paint.text("paint black 2", label_word(random), 0.15, 0.15, 0.7, 0.2).disc(
        "paint orange", 0.5, 0.7, 0.16
    )


def _vase(surface: str, radius: float, height: float) -> Part:
    profile = [
        (0.0, 0.0),
        (0.6, 0.02),
        (1.0, 0.35),
        (0.85, 0.7),
        (0.45, 0.9),
        (0.55, 1.0),
        (0.45, 1.0),
        (0.0, 0.6),
    ]
    stripes = Paint((64, 8), surface)
    stripes.rectangle("table cloth white", 0, 0.4, 1, 0.08).rectangle("table cloth white", 0, 0.55, 1, 0.04)
    return lathe([(r * radius, h * height) for r, h in profile], stripes, finish=GLAZED)


def _stool(x: float) -> Part:
    profile = [(0.2, 0.0), (0.04, 0.03), (0.04, 0.62), (0.17, 0.66), (0.18, 0.7), (0.0, 0.71)]
    return placed([lathe(profile, "leather shoe brown", finish=SATIN)], move=(x, 0.75, 0))[0]


def _sweep(path: list[tuple[float, float, float]], width: float, paint: Paint) -> Part:
    """A sheet of paper of some width that follows a path in the y-z plane, lit from its upper side."""
    line = np.array(path)
    half = np.array([width / 2, 0, 0])
    left, right = line - half, line + half
    vertices = np.stack([left, right], axis=1).reshape(-1, 3)
    faces = []
    for i in range(len(line) - 1):
        a = 2 * i
        faces += [(a, a + 1, a + 3), (a, a + 3, a + 2)]
    v = np.linspace(0, 1, len(line))
    uv = np.stack([np.tile([0.0, 1.0], len(line)), np.repeat(v, 2)], axis=1)
    return Part(vertices=vertices, faces=np.array(faces), uv=uv, paint=paint, finish=MATTE, smooth=True)


__all__ = ["backdrop", "brick_bar"]
