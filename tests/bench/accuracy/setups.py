"""The bench's setups: which sets, from where, under what light, on which cameras, with what gone wrong.

Only this recipe is kept; pictures are made from it (see ``making``).
"""

from __future__ import annotations

from functools import partial
from typing import Any

from demo.generator.camera import Camera
from tests.bench.accuracy import sets
from tests.bench.accuracy.making import DISPLAY, Recipe, Shot, Stage

_THREE, _PAIR = ("wide", "left", "right"), ("left", "right")
_STUDY = ("reader", "writer")
STUDY = Stage(name="study", build=sets.study, people=_STUDY, views=("wide", "left", "right", "far"))
STUDY_LATER = Stage(
    name="study-later", build=partial(sets.study, moved=True), people=_STUDY, views=("left", "right")
)
STUDY_SOFT = Stage(
    name="study-soft", build=sets.study, people=_STUDY, views=("left", "right"), aperture=0.035, focus=2.85
)
_BRICK = ("keeper", "guest")
BRICK = Stage(name="brick", build=sets.brick_bar, people=_BRICK, views=("wide", "left", "right", "far"))
BRICK_LATER = Stage(
    name="brick-later", build=partial(sets.brick_bar, moved=True), people=_BRICK, views=("left", "right")
)
_WORKSHOP = partial(sets.room, "workshop", seed=5, key="LED-B3")
WORKSHOP = Stage(name="workshop", build=_WORKSHOP, people=_PAIR, views=_THREE)
WORKSHOP_LATER = Stage(
    name="workshop-later", build=partial(_WORKSHOP, moment=2), people=_PAIR, views=("left", "right")
)
KITCHEN = Stage(name="kitchen", build=partial(sets.room, "kitchen", seed=6), people=_PAIR, views=_THREE)
CLASSROOM = Stage(name="classroom", build=partial(sets.room, "classroom", seed=7), people=_PAIR, views=_THREE)
RADIO = Stage(name="radio", build=partial(sets.room, "radio", seed=8), people=_PAIR, views=_THREE)
LAB = Stage(name="lab", build=partial(sets.room, "lab", seed=9), people=_PAIR, views=_THREE)
BACKDROP = Stage(
    name="backdrop", build=sets.backdrop, people=("sitter", "partner"), views=("wide", "left", "right")
)

_SLOG, _SLOG_WIDE = "S-Log3/S-Gamut3.Cine", "S-Log3/S-Gamut3"
_CLOG2, _CLOG3 = "C-Log2/Cinema Gamut", "C-Log3/Cinema Gamut"
_LOGC3, _LOGC4, _VLOG = "LogC3/AWG3", "LogC4/AWG4", "V-Log/V-Gamut"


def _shot(stage: Stage, view: str, sensor: str, encoding: str, white: str, **more: Any) -> Shot:
    """A camera as it comes out of its bag: some flare, some vignette, noise of a modest sensor.

    ``stops`` is how far its exposure is off; other keywords are those of ``Shot`` and of the kit's ``Camera``.
    """
    about = {name: more.pop(name) for name in ("legal", "upside_down", "knee", "claimed", "jpeg") if name in more}
    usual = {"flare": 0.004, "vignette": 0.08, "electrons": 2500.0, "nominal": "D55"}
    usual["exposure_stops"] = more.pop("stops", 0.0)
    camera = Camera(sensor=f"sensor {sensor}", encoding=encoding, white=white, **{**usual, **more})
    return Shot(stage=stage, view=view, camera=camera, **about)


RECIPES: dict[str, Recipe] = {
    "study": Recipe(
        about="a window and a tungsten lamp, three sensors, three encodings, ordinary mistakes",
        shots={
            "wide": _shot(STUDY, "wide", "a", _LOGC3, "4800K daylight"),
            "left": _shot(STUDY, "left", "c", _SLOG, "5200K daylight", stops=-0.35, flare=0.01),
            "right": _shot(STUDY, "right", "e", _CLOG3, "4500K daylight", stops=0.4),
        },
    ),
    "study-bright": Recipe(
        about="one angle exposed two stops bright, one in legal range",
        shots={
            "wide": _shot(STUDY, "wide", "b", _SLOG, "4800K daylight"),
            "left": _shot(STUDY, "left", "d", _LOGC4, "5000K daylight", stops=2.0),
            "right": _shot(STUDY, "right", "f", _VLOG, "5600K daylight", stops=-0.2, legal=True),
        },
    ),
    "study-blind": Recipe(
        about="the left camera looks at another set; the right one hangs upside down",
        blind=("left",),
        shots={
            "wide": _shot(STUDY, "wide", "c", _CLOG2, "4700K daylight"),
            "left": _shot(BRICK, "far", "a", _SLOG, "4700K daylight", stops=0.6),
            "right": _shot(STUDY, "right", "g", _SLOG, "5100K daylight", stops=0.25, upside_down=True),
        },
    ),
    "study-settled": Recipe(
        about="two cameras of one kind with the same settings, and a third that is another",
        settled=("left",),
        shots={
            "wide": _shot(STUDY, "wide", "a", _SLOG, "4800K daylight"),
            "left": _shot(STUDY, "left", "a", _SLOG, "4800K daylight"),
            "right": _shot(STUDY, "right", "h", _LOGC3, "4300K", stops=-0.5, flare=0.015),
        },
    ),
    "study-later": Recipe(
        about="the people moved between the hero's frame and the angles'",
        shots={
            "wide": _shot(STUDY, "wide", "e", _LOGC4, "4800K daylight"),
            "left": _shot(STUDY_LATER, "left", "b", _CLOG3, "5000K daylight", stops=0.3),
            "right": _shot(STUDY_LATER, "right", "a", _VLOG, "4400K daylight", stops=-0.45),
        },
    ),
    "study-soft": Recipe(
        about="tight angles wide open: the background is out of focus",
        shots={
            "wide": _shot(STUDY, "wide", "d", _SLOG, "4900K daylight"),
            "left": _shot(STUDY_SOFT, "left", "e", _LOGC3, "4600K daylight", stops=0.2),
            "right": _shot(STUDY_SOFT, "right", "c", _SLOG, "5300K daylight", stops=-0.3),
        },
    ),
    "study-display": Recipe(
        about="an 8-bit display-referred camera with a knee beside log ones",
        shots={
            "wide": _shot(STUDY, "wide", "g", _LOGC3, "4800K daylight"),
            "left": _shot(STUDY, "left", "h", DISPLAY, "5100K daylight", stops=-0.4, bits=8, knee=True),
            "right": _shot(STUDY, "right", "b", _SLOG, "4600K daylight", stops=0.3),
        },
    ),
    "study-far": Recipe(
        about="an angle from 55 degrees to the side, and one with a fogged filter",
        shots={
            "wide": _shot(STUDY, "wide", "f", _CLOG3, "4800K daylight"),
            "far": _shot(STUDY, "far", "a", _SLOG, "5100K daylight", stops=-0.25),
            "right": _shot(STUDY, "right", "d", _LOGC3, "4700K daylight", stops=0.2, flare=0.06),
        },
    ),
    "brick": Recipe(
        about="coloured tubes on bricks that look alike everywhere",
        shots={
            "wide": _shot(BRICK, "wide", "a", _SLOG, "2900K", nominal="A"),
            "left": _shot(BRICK, "left", "c", _CLOG3, "3100K", stops=0.3, nominal="A"),
            "right": _shot(BRICK, "right", "e", _VLOG, "2800K", stops=-0.4, nominal="A"),
        },
    ),
    "brick-settled": Recipe(
        about="the same bricks, and two angles that match as shot",
        settled=("left", "right"),
        shots={name: _shot(BRICK, name, "b", _LOGC3, "2900K", nominal="A") for name in ("wide", "left", "right")},
    ),
    "brick-far": Recipe(
        about="an angle from 60 degrees to the side, a noisy one, and a very dark one",
        shots={
            "wide": _shot(BRICK, "wide", "f", _LOGC4, "2900K", nominal="A"),
            "far": _shot(BRICK, "far", "d", _SLOG, "3000K", stops=0.2, nominal="A"),
            "left": _shot(BRICK, "left", "g", _SLOG_WIDE, "2850K", electrons=500.0, nominal="A"),
            "right": _shot(BRICK, "right", "a", _CLOG2, "2950K", stops=-1.8, nominal="A"),
        },
    ),
    "brick-later": Recipe(
        about="guest and keeper moved; one camera was left on daylight balance",
        shots={
            "wide": _shot(BRICK, "wide", "e", _CLOG2, "2900K", nominal="A"),
            "left": _shot(BRICK_LATER, "left", "h", _LOGC3, "4300K", stops=0.35, nominal="A"),
            "right": _shot(BRICK_LATER, "right", "b", _SLOG, "2800K", stops=-0.3, nominal="A"),
        },
    ),
    "backdrop": Recipe(
        about="a bare grey backdrop, two people in plain clothes with different skin",
        shots={
            "wide": _shot(BACKDROP, "wide", "c", _LOGC3, "5000K daylight"),
            "left": _shot(BACKDROP, "left", "a", _SLOG, "5400K daylight", stops=0.45),
            "right": _shot(BACKDROP, "right", "f", _CLOG3, "4700K daylight", stops=-0.3),
        },
    ),
    "backdrop-legal": Recipe(
        about="the bare backdrop in legal range and C-Log2, one angle 1.5 stops dark",
        shots={
            "wide": _shot(BACKDROP, "wide", "b", _SLOG, "5000K daylight", legal=True),
            "left": _shot(BACKDROP, "left", "e", _CLOG2, "5100K daylight", stops=-1.5),
            "right": _shot(BACKDROP, "right", "g", _VLOG, "4600K daylight", stops=0.2, legal=True),
        },
    ),
    "workshop": Recipe(
        about="daylight from a window in shot, lamps in shot, a mixed key; glossy glazes everywhere",
        shots={
            "wide": _shot(WORKSHOP, "wide", "h", _SLOG, "4600K daylight"),
            "left": _shot(WORKSHOP, "left", "b", _LOGC3, "4900K daylight", stops=0.3, flare=0.012),
            "right": _shot(WORKSHOP, "right", "c", _CLOG3, "4300K daylight", stops=-0.4),
        },
    ),
    "workshop-later": Recipe(
        about="the workshop at another moment for the angles, one of them C-Log2, one as noisy as a pushed sensor",
        shots={
            "wide": _shot(WORKSHOP, "wide", "a", _LOGC4, "4600K daylight"),
            "left": _shot(WORKSHOP_LATER, "left", "f", _CLOG2, "4400K daylight", stops=-0.25),
            "right": _shot(WORKSHOP_LATER, "right", "e", _SLOG, "4800K daylight", stops=0.5, electrons=700.0),
        },
    ),
    "kitchen": Recipe(
        about="daylight key, tungsten practicals; one camera kept in Rec.709 with 8 bits, not exposed too far off",
        shots={
            "wide": _shot(KITCHEN, "wide", "d", _CLOG2, "5600K daylight"),
            "left": _shot(KITCHEN, "left", "g", _SLOG, "6000K daylight", stops=-0.3),
            "right": _shot(KITCHEN, "right", "a", DISPLAY, "5400K daylight", stops=-0.2, bits=8, knee=True),
        },
    ),
    "classroom": Recipe(
        about="tungsten key, cold window, fluorescent ceiling; balance some 400 K apart",
        shots={
            "wide": _shot(CLASSROOM, "wide", "f", _VLOG, "3500K", nominal="A"),
            "left": _shot(CLASSROOM, "left", "h", _SLOG_WIDE, "3300K", stops=0.4, nominal="A"),
            "right": _shot(CLASSROOM, "right", "b", _CLOG3, "3800K", stops=-0.35, nominal="A"),
        },
    ),
    "radio": Recipe(
        about="a dark studio with a coloured practical; pushed, noisy cameras",
        target=0.07,
        shots={
            "wide": _shot(RADIO, "wide", "e", _SLOG, "4300K", electrons=1500.0),
            "left": _shot(RADIO, "left", "c", _VLOG, "4200K daylight", stops=0.25, electrons=1000.0),
            "right": _shot(
                RADIO, "right", "i", _LOGC3, "4600K daylight", stops=-0.3, electrons=1500.0, flare=0.02
            ),
        },
    ),
    "lab": Recipe(
        about="white coats and glass; one angle that matches as shot, one two thirds of a stop bright",
        settled=("left",),
        shots={
            "wide": _shot(LAB, "wide", "g", _LOGC4, "5000K daylight"),
            "left": _shot(LAB, "left", "g", _LOGC4, "5000K daylight"),
            "right": _shot(LAB, "right", "d", _SLOG, "5400K daylight", stops=0.65),
        },
    ),
}
