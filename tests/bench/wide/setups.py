"""The accuracy bench's sets again, seen from 60 to 110 degrees to the side of the hero.

``TUNING`` setups are those that the fall-back was developed on; ``MEASURING`` ones, with other things in the
rooms, other poses, another place of the hero and the angles mirrored, were looked at once it stood.
Cameras are drawn, not chosen: sensors, encodings, exposures a normal 0.4 stop off, white balances a normal 8 % of
the colour temperature off. The angle of each view is the one between the optical axes, seen from above.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from demo.generator.camera import Camera
from demo.generator.scene import View
from tests.bench.accuracy import sets
from tests.bench.accuracy.making import Recipe, Shot, Stage
from tests.bench.accuracy.sets import Peopled
from tests.bench.accuracy.setups import BACKDROP, BRICK, CLASSROOM, KITCHEN, LAB, RADIO, STUDY, WORKSHOP

_SENSORS = tuple("abcdefghi")
_ENCODINGS = (
    "S-Log3/S-Gamut3.Cine", "C-Log2/Cinema Gamut", "C-Log3/Cinema Gamut", "LogC3/AWG3", "LogC4/AWG4",
    "V-Log/V-Gamut",
)  # fmt: skip
_STOPS, _TEMPERATURE = 0.4, 0.08

#: From both sides of a room whose side walls stand 3.1 m off.
_ROOM = {
    "side": View(position=(-2.3, -1.0, 1.55), target=(0.4, 0.15, 1.3), fov=40),
    "cross": View(position=(2.7, 0.2, 1.55), target=(-0.6, 0.15, 1.3), fov=40),
    "behind": View(position=(-2.5, 0.95, 1.6), target=(0.4, -0.05, 1.25), fov=42),
}
#: From the right only, towards the one side wall that these sets have.
_BRICK = {
    "side": View(position=(3.1, 0.8, 1.5), target=(-0.4, 1.5, 1.3), fov=44),
    "behind": View(position=(2.9, 2.0, 1.6), target=(-0.2, 1.1, 1.25), fov=46),
}
_STUDY = {
    "side": View(position=(2.5, 0.2, 1.45), target=(-0.5, 1.2, 1.2), fov=46),
    "behind": View(position=(2.5, 1.6, 1.5), target=(-0.5, 1.15, 1.15), fov=46),
}
_BACKDROP = {
    "side": View(position=(-2.6, -0.8, 1.45), target=(0.2, 0.5, 1.1), fov=38),
    "cross": View(position=(2.9, 0.5, 1.45), target=(0.1, 0.45, 1.1), fov=38),
}
#: The same from elsewhere: the hero stands to the right, the other cameras have changed sides.
_HERO = {"wide": View(position=(1.5, -3.2, 1.6), target=(0.0, 0.2, 1.25), fov=44)}
_NEAR = {"near": View(position=(-2.0, -1.5, 1.55), target=(0.3, 0.2, 1.3), fov=40)}
_CROSS = {"cross": View(position=(-2.6, 0.1, 1.5), target=(0.4, 0.8, 1.3), fov=42)}
_OVER = {"over": View(position=(2.7, 0.5, 1.6), target=(-0.5, 0.1, 1.25), fov=42)}
_BRICK_ASIDE = {
    "near": View(position=(3.2, 0.2, 1.5), target=(-0.3, 1.6, 1.3), fov=42),
    "cross": View(position=(3.1, 1.3, 1.5), target=(-0.4, 1.4, 1.3), fov=46),
}
_BACKDROP_ASIDE = {
    "near": View(position=(2.7, -0.6, 1.45), target=(0.2, 0.5, 1.1), fov=38),
    "cross": View(position=(-2.7, 0.6, 1.45), target=(0.2, 0.45, 1.1), fov=38),
}


class _Seen:
    """A set's builder with more views."""

    def __init__(self, build: Callable[[], Peopled], views: dict[str, View]) -> None:
        self.build, self.views = build, views

    def __call__(self) -> Peopled:
        scene, people = self.build()
        return replace(scene, views={**scene.views, **self.views}), people


def _stage(stage: Stage, views: dict[str, View]) -> Stage:
    return replace(stage, build=_Seen(stage.build, views), views=("wide", *views))


def _recipe(
    name: str,
    stage: Stage,
    hero: tuple[str, str, str, str],
    views: dict[str, View],
    *,
    strangers: tuple[tuple[str, Stage, str], ...] = (),
    **more: Any,
) -> Recipe:
    """A hero of a sensor, encoding, balance and nominal light, and a drawn camera before every other view.

    ``strangers`` look at another set: (name, stage, view).
    """
    sensor, encoding, white, nominal = hero
    usual = {"flare": 0.004, "vignette": 0.08, "electrons": 2500.0, "nominal": nominal}
    shots = {
        "wide": Shot(
            stage=stage,
            view="wide",
            camera=Camera(sensor=f"sensor {sensor}", encoding=encoding, white=white, **usual),
        )
    }
    others = [(view, stage, view) for view in views] + list(strangers)
    for label, where, view in others:
        random = np.random.default_rng(zlib.crc32(f"wide/{name}/{label}".encode()))
        kelvin, *kind = white.split("K")
        drawn = round(int(kelvin) * float(np.exp(_TEMPERATURE * random.standard_normal())), -1)
        camera = Camera(
            sensor=f"sensor {random.choice([s for s in _SENSORS if s != sensor])}",
            encoding=str(random.choice(_ENCODINGS)),
            white=f"{drawn:.0f}K{kind[0]}",
            exposure_stops=round(float(_STOPS * random.standard_normal()), 2),
            **usual,
        )
        shots[label] = Shot(stage=where, view=view, camera=camera)
    return Recipe(about=f"{name} from far to the side", shots=shots, blind=tuple(s[0] for s in strangers), **more)


_BRICK_STAGE, _STUDY_STAGE = _stage(BRICK, _BRICK), _stage(STUDY, _STUDY)
_WORKSHOP_STAGE, _KITCHEN_STAGE = _stage(WORKSHOP, _ROOM), _stage(KITCHEN, _ROOM)
_CLASSROOM_STAGE, _RADIO_STAGE, _LAB_STAGE = _stage(CLASSROOM, _ROOM), _stage(RADIO, _ROOM), _stage(LAB, _ROOM)
_BACKDROP_STAGE = _stage(BACKDROP, _BACKDROP)

TUNING: dict[str, Recipe] = {
    "wide-brick": _recipe(
        "brick", _BRICK_STAGE, ("a", "S-Log3/S-Gamut3.Cine", "2900K", "A"), _BRICK,
        strangers=(("stranger", _STUDY_STAGE, "side"),),
    ),
    "wide-study": _recipe(
        "study", _STUDY_STAGE, ("f", "C-Log3/Cinema Gamut", "4800K daylight", "D55"), _STUDY,
        strangers=(("stranger", _WORKSHOP_STAGE, "cross"),),
    ),
    "wide-workshop": _recipe(
        "workshop", _WORKSHOP_STAGE, ("h", "LogC3/AWG3", "4600K daylight", "D55"), _ROOM,
        strangers=(("stranger", _BRICK_STAGE, "side"),),
    ),
    "wide-kitchen": _recipe(
        "kitchen", _KITCHEN_STAGE, ("d", "C-Log2/Cinema Gamut", "5600K daylight", "D55"), _ROOM,
        strangers=(("stranger", _RADIO_STAGE, "cross"),),
    ),
    "wide-classroom": _recipe(
        "classroom", _CLASSROOM_STAGE, ("f", "V-Log/V-Gamut", "3500K", "A"), _ROOM,
        strangers=(("stranger", _LAB_STAGE, "side"),),
    ),
    "wide-radio": _recipe(
        "radio", _RADIO_STAGE, ("e", "S-Log3/S-Gamut3.Cine", "4300K", "D55"), _ROOM,
        strangers=(("stranger", _BACKDROP_STAGE, "side"),), target=0.07,
    ),
    "wide-lab": _recipe(
        "lab", _LAB_STAGE, ("g", "LogC4/AWG4", "5000K daylight", "D55"), _ROOM,
        strangers=(("stranger", _KITCHEN_STAGE, "behind"),),
    ),
    "wide-backdrop": _recipe(
        "backdrop", _BACKDROP_STAGE, ("c", "LogC3/AWG3", "5000K daylight", "D55"), _BACKDROP,
        strangers=(("stranger", _CLASSROOM_STAGE, "cross"),),
    ),
}  # fmt: skip


def _aside(name: str, build: Callable[[], Peopled], views: dict[str, View]) -> Stage:
    return Stage(name=f"{name}-aside", build=_Seen(build, views), people=("left", "right"), views=("wide", *views))


_KITCHEN_ASIDE = _aside(
    "kitchen", partial(sets.room, "kitchen", seed=26, moment=1), {**_HERO, **_NEAR, **_CROSS, **_OVER}
)
_LAB_ASIDE = _aside("lab", partial(sets.room, "lab", seed=29, moment=1), {**_HERO, **_NEAR, **_CROSS, **_OVER})
_CLASSROOM_ASIDE = _aside(
    "classroom", partial(sets.room, "classroom", seed=27, moment=1), {**_HERO, **_NEAR, **_OVER}
)
_RADIO_ASIDE = _aside("radio", partial(sets.room, "radio", seed=28, moment=1), {**_HERO, **_CROSS, **_OVER})
_BRICK_LATER = _aside("brick", partial(sets.brick_bar, moved=True, seed=1), _BRICK_ASIDE)
_BACKDROP_LATER = _aside("backdrop", partial(sets.backdrop, moved=True), _BACKDROP_ASIDE)

MEASURING: dict[str, Recipe] = {
    "aside-kitchen": _recipe(
        "aside-kitchen", _KITCHEN_ASIDE, ("b", "V-Log/V-Gamut", "5400K daylight", "D55"),
        {**_NEAR, **_CROSS, **_OVER}, strangers=(("stranger", _LAB_ASIDE, "near"),),
    ),
    "aside-lab": _recipe(
        "aside-lab", _LAB_ASIDE, ("c", "S-Log3/S-Gamut3.Cine", "5000K daylight", "D55"),
        {**_NEAR, **_CROSS, **_OVER}, strangers=(("stranger", _BRICK_LATER, "near"),),
    ),
    "aside-classroom": _recipe(
        "aside-classroom", _CLASSROOM_ASIDE, ("a", "LogC3/AWG3", "3500K", "A"), {**_NEAR, **_OVER},
        strangers=(("stranger", _KITCHEN_ASIDE, "over"),),
    ),
    "aside-radio": _recipe(
        "aside-radio", _RADIO_ASIDE, ("h", "LogC4/AWG4", "4300K", "D55"), {**_CROSS, **_OVER}, target=0.07,
    ),
    "aside-brick": _recipe(
        "aside-brick", _BRICK_LATER, ("d", "C-Log3/Cinema Gamut", "2900K", "A"), _BRICK_ASIDE,
    ),
    "aside-backdrop": _recipe(
        "aside-backdrop", _BACKDROP_LATER, ("e", "C-Log2/Cinema Gamut", "5000K daylight", "D55"), _BACKDROP_ASIDE,
    ),
}  # fmt: skip
