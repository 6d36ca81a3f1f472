"""The accuracy bench's sets again, seen from 60 to 110 degrees to the side of the hero.

``TUNING`` setups are those that the fall-back was developed on: a first set, and one that measured it once (other
things in the rooms, other poses, the hero to the right). ``MEASURING`` ones, made anew in the same way with the
hero to the left, were looked at once it stood.
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
    *,
    strangers: tuple[tuple[str, Stage, str], ...] = (),
    **more: Any,
) -> Recipe:
    """A hero of a sensor, encoding, balance and nominal light, and a drawn camera before every other view.

    ``strangers`` look at another set: (name, stage, view).
    """
    sensor, encoding, white, nominal = hero
    usual: dict[str, Any] = {"flare": 0.004, "vignette": 0.08, "electrons": 2500.0, "nominal": nominal}
    shots = {
        "wide": Shot(
            stage=stage,
            view="wide",
            camera=Camera(sensor=f"sensor {sensor}", encoding=encoding, white=white, **usual),
        )
    }
    others = [(view, stage, view) for view in stage.views if view != "wide"] + list(strangers)
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

_FIRST: dict[str, Recipe] = {
    "wide-brick": _recipe(
        "brick", _BRICK_STAGE, ("a", "S-Log3/S-Gamut3.Cine", "2900K", "A"),
        strangers=(("stranger", _STUDY_STAGE, "side"),),
    ),
    "wide-study": _recipe(
        "study", _STUDY_STAGE, ("f", "C-Log3/Cinema Gamut", "4800K daylight", "D55"),
        strangers=(("stranger", _WORKSHOP_STAGE, "cross"),),
    ),
    "wide-workshop": _recipe(
        "workshop", _WORKSHOP_STAGE, ("h", "LogC3/AWG3", "4600K daylight", "D55"),
        strangers=(("stranger", _BRICK_STAGE, "side"),),
    ),
    "wide-kitchen": _recipe(
        "kitchen", _KITCHEN_STAGE, ("d", "C-Log2/Cinema Gamut", "5600K daylight", "D55"),
        strangers=(("stranger", _RADIO_STAGE, "cross"),),
    ),
    "wide-classroom": _recipe(
        "classroom", _CLASSROOM_STAGE, ("f", "V-Log/V-Gamut", "3500K", "A"),
        strangers=(("stranger", _LAB_STAGE, "side"),),
    ),
    "wide-radio": _recipe(
        "radio", _RADIO_STAGE, ("e", "S-Log3/S-Gamut3.Cine", "4300K", "D55"),
        strangers=(("stranger", _BACKDROP_STAGE, "side"),), target=0.07,
    ),
    "wide-lab": _recipe(
        "lab", _LAB_STAGE, ("g", "LogC4/AWG4", "5000K daylight", "D55"),
        strangers=(("stranger", _KITCHEN_STAGE, "behind"),),
    ),
    "wide-backdrop": _recipe(
        "backdrop", _BACKDROP_STAGE, ("c", "LogC3/AWG3", "5000K daylight", "D55"),
        strangers=(("stranger", _CLASSROOM_STAGE, "cross"),),
    ),
}  # fmt: skip


def _anew(name: str, build: Callable[[], Peopled], views: dict[str, View]) -> Stage:
    return Stage(
        name=name,
        build=_Seen(build, views),
        people=("left", "right"),
        views=("wide", *(view for view in views if view != "wide")),
    )


_KITCHEN_ASIDE = _anew(
    "kitchen-aside", partial(sets.room, "kitchen", seed=26, moment=1), {**_HERO, **_NEAR, **_CROSS, **_OVER}
)
_LAB_ASIDE = _anew(
    "lab-aside", partial(sets.room, "lab", seed=29, moment=1), {**_HERO, **_NEAR, **_CROSS, **_OVER}
)
_CLASSROOM_ASIDE = _anew(
    "classroom-aside", partial(sets.room, "classroom", seed=27, moment=1), {**_HERO, **_NEAR, **_OVER}
)
_RADIO_ASIDE = _anew("radio-aside", partial(sets.room, "radio", seed=28, moment=1), {**_HERO, **_CROSS, **_OVER})
_BRICK_MOVED = _anew("brick-aside", partial(sets.brick_bar, moved=True, seed=1), _BRICK_ASIDE)
_BACKDROP_MOVED = _anew("backdrop-aside", partial(sets.backdrop, moved=True), _BACKDROP_ASIDE)

_SECOND: dict[str, Recipe] = {
    "aside-kitchen": _recipe(
        "aside-kitchen", _KITCHEN_ASIDE, ("b", "V-Log/V-Gamut", "5400K daylight", "D55"),
        strangers=(("stranger", _LAB_ASIDE, "near"),),
    ),
    "aside-lab": _recipe(
        "aside-lab", _LAB_ASIDE, ("c", "S-Log3/S-Gamut3.Cine", "5000K daylight", "D55"),
        strangers=(("stranger", _BRICK_MOVED, "near"),),
    ),
    "aside-classroom": _recipe(
        "aside-classroom", _CLASSROOM_ASIDE, ("a", "LogC3/AWG3", "3500K", "A"),
        strangers=(("stranger", _KITCHEN_ASIDE, "over"),),
    ),
    "aside-radio": _recipe(
        "aside-radio", _RADIO_ASIDE, ("h", "LogC4/AWG4", "4300K", "D55"), target=0.07,
    ),
    "aside-brick": _recipe(
        "aside-brick", _BRICK_MOVED, ("d", "C-Log3/Cinema Gamut", "2900K", "A"),
    ),
    "aside-backdrop": _recipe(
        "aside-backdrop", _BACKDROP_MOVED, ("e", "C-Log2/Cinema Gamut", "5000K daylight", "D55"),
    ),
}  # fmt: skip

TUNING: dict[str, Recipe] = {**_FIRST, **_SECOND}

#: From elsewhere again: the hero stands to the left.
_ROOM_LATER = {
    "wide": View(position=(-1.5, -3.2, 1.6), target=(0.0, 0.2, 1.25), fov=44),
    "low": View(position=(2.4, -1.6, 1.3), target=(-0.3, 0.25, 1.25), fov=40),
    "across": View(position=(2.7, -0.4, 1.6), target=(-0.5, 0.2, 1.25), fov=42),
    "along": View(position=(-2.6, 0.3, 1.5), target=(0.5, 0.2, 1.25), fov=42),
}
_BRICK_LATER = {
    "wide": View(position=(-0.9, -3.4, 1.5), target=(0.1, 1.5, 1.3), fov=50),
    "low": View(position=(3.1, 0.5, 1.3), target=(-0.4, 1.6, 1.25), fov=44),
    "across": View(position=(3.2, 1.6, 1.6), target=(-0.3, 1.4, 1.3), fov=46),
}
_STUDY_LATER = {
    "wide": View(position=(0.9, -2.8, 1.5), target=(0.1, 1.2, 1.2), fov=48),
    "low": View(position=(2.5, 0.6, 1.3), target=(-0.5, 1.2, 1.2), fov=44),
    "across": View(position=(2.5, 1.9, 1.6), target=(-0.5, 1.1, 1.15), fov=46),
}
_BACKDROP_LATER = {
    "wide": View(position=(-1.3, -2.9, 1.4), target=(0.2, 0.4, 1.1), fov=46),
    "low": View(position=(2.6, -0.5, 1.2), target=(0.1, 0.5, 1.1), fov=38),
    "along": View(position=(-2.6, 0.7, 1.5), target=(0.3, 0.45, 1.1), fov=38),
}


def _later(name: str, seed: int) -> Stage:
    return _anew(f"{name}-later", partial(sets.room, name, seed=seed, moment=2), _ROOM_LATER)


_WORKSHOP_LATER, _KITCHEN_LATER, _CLASSROOM_LATER = (
    _later("workshop", 45), _later("kitchen", 46), _later("classroom", 47)
)  # fmt: skip
_RADIO_LATER, _LAB_LATER = _later("radio", 48), _later("lab", 49)
_BRICKS_LATER = _anew("bricks-later", partial(sets.brick_bar, moved=True, seed=2), _BRICK_LATER)
_STUDIES_LATER = _anew("studies-later", partial(sets.study, moved=True, seed=2), _STUDY_LATER)
_BACKDROPS_LATER = _anew("backdrops-later", partial(sets.backdrop, moved=True, seed=2), _BACKDROP_LATER)

MEASURING: dict[str, Recipe] = {
    "later-workshop": _recipe(
        "later-workshop", _WORKSHOP_LATER, ("b", "C-Log2/Cinema Gamut", "5000K daylight", "D55"),
        strangers=(("stranger", _KITCHEN_LATER, "along"),),
    ),
    "later-kitchen": _recipe(
        "later-kitchen", _KITCHEN_LATER, ("i", "S-Log3/S-Gamut3.Cine", "5300K daylight", "D55"),
        strangers=(("stranger", _WORKSHOP_LATER, "low"),),
    ),
    "later-classroom": _recipe(
        "later-classroom", _CLASSROOM_LATER, ("d", "LogC4/AWG4", "3500K", "A"),
        strangers=(("stranger", _BACKDROPS_LATER, "low"),),
    ),
    "later-radio": _recipe(
        "later-radio", _RADIO_LATER, ("c", "V-Log/V-Gamut", "4300K", "D55"),
        strangers=(("stranger", _LAB_LATER, "across"),), target=0.07,
    ),
    "later-lab": _recipe(
        "later-lab", _LAB_LATER, ("a", "C-Log3/Cinema Gamut", "5000K daylight", "D55"),
        strangers=(("stranger", _STUDIES_LATER, "low"),),
    ),
    "later-brick": _recipe(
        "later-brick", _BRICKS_LATER, ("h", "LogC3/AWG3", "2900K", "A"),
        strangers=(("stranger", _CLASSROOM_LATER, "along"),),
    ),
    "later-study": _recipe(
        "later-study", _STUDIES_LATER, ("g", "V-Log/V-Gamut", "4800K daylight", "D55"),
        strangers=(("stranger", _RADIO_LATER, "low"),),
    ),
    "later-backdrop": _recipe(
        "later-backdrop", _BACKDROPS_LATER, ("b", "S-Log3/S-Gamut3.Cine", "5000K daylight", "D55"),
        strangers=(("stranger", _BRICKS_LATER, "across"),),
    ),
}  # fmt: skip
