"""Setups of kinds that no other half had when they were made: see `kinds`, and the cameras' own mishaps below.

Both halves were named before anything of them was measured. ``KEPT`` is only ever measured and steers nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from tests.bench.accuracy import kinds
from tests.bench.accuracy.making import Recipe, Stage
from tests.bench.accuracy.sets import Peopled
from tests.bench.accuracy.setups import _CLOG2, _CLOG3, _LOGC3, _LOGC4, _SLOG, _THREE, _VLOG, _shot

_SIZE, _PATHS = (800, 450), 6


def _stage(name: str, build: Callable[[], Peopled], people: tuple[str, ...], **more: Any) -> Stage:
    return Stage(
        name=name, build=build, people=people, **{"views": _THREE, "size": _SIZE, "paths": _PATHS, **more}
    )


_SOFT: dict[str, Any] = {"aperture": 0.03, "views": ("left", "right")}
_SEATS = ("author", "judge")
SCREEN = _stage("screen", kinds.screen, ("host", "diver"), views=("wide", "left"))
SCREEN_TALL = _stage("screen-tall", kinds.screen, ("host", "diver"), views=("tall",), size=(450, 800))
GARDEN = _stage("garden", kinds.garden, ("judge", "pilot"))
GELS = _stage("gels", kinds.gels, ("doctor", "teacher"))
OFFICE = _stage("office", kinds.office, ("elder", "younger"))
SINGLES = _stage("singles", kinds.singles, ("nurse", "author"), views=("wide",))
SINGLES_SOFT = _stage("singles-soft", kinds.singles, ("nurse", "author"), **_SOFT)
ROUND = _stage("round", kinds.round_table, ("baker", "singer", "cook"))
MIRROR = _stage("mirror", kinds.mirror, ("host", "nurse"))
LIMBO = _stage("limbo", kinds.limbo, ("teacher", "cook"))
SWAP = _stage("swap", kinds.swap, _SEATS, views=("wide",))
SWAPPED = _stage("swapped", partial(kinds.swap, swapped=True), _SEATS, views=("left", "right"))
BACKLIGHT = _stage("backlight", kinds.backlight, ("singer", "baker"))
NIGHT = _stage("night", kinds.night, ("pilot", "host"))
CORNER = _stage("corner", kinds.corner, ("doctor", "diver"))

TUNED: dict[str, Recipe] = {
    "screen": Recipe(
        about="a large display behind two people; one angle upright",
        shots={
            "wide": _shot(SCREEN, "wide", "a", _LOGC3, "LED-B3"),
            "left": _shot(SCREEN, "left", "f", _SLOG, "4400K daylight", stops=-0.4),
            "tall": _shot(SCREEN_TALL, "tall", "c", _VLOG, "LED-B3", stops=0.35),
        },
    ),
    "garden": Recipe(
        about="under trees, in spots of sun",
        shots={
            "wide": _shot(GARDEN, "wide", "g", _SLOG, "5500K daylight"),
            "left": _shot(GARDEN, "left", "b", _LOGC4, "6500K daylight", stops=0.3),
            "right": _shot(GARDEN, "right", "e", _CLOG3, "5200K daylight", stops=-0.4),
        },
    ),
    "gels": Recipe(
        about="a magenta lamp from the left, a teal one from the right",
        shots={
            "wide": _shot(GELS, "wide", "d", _CLOG2, "LED-B3"),
            "left": _shot(GELS, "left", "h", _SLOG, "LED-B3", stops=0.35),
            "right": _shot(GELS, "right", "a", _LOGC3, "4500K daylight", stops=-0.35),
        },
    ),
    "office-squeezed": Recipe(
        about="two people in the same shirt; 8-bit log, squeezed hard, one angle 2.5 stops bright",
        shots={
            "wide": _shot(OFFICE, "wide", "e", _LOGC4, "FL2"),
            "left": _shot(
                OFFICE, "left", "c", _SLOG, "4300K daylight", stops=-0.4, electrons=900.0, bits=8, jpeg=35
            ),
            "right": _shot(OFFICE, "right", "g", _VLOG, "FL2", stops=2.5, bits=8, jpeg=60),
        },
    ),
    "singles-soft": Recipe(
        about="a room through 20 mm, two faces through 85 mm wide open, tungsten",
        shots={
            "wide": _shot(SINGLES, "wide", "h", _SLOG, "3200K", nominal="A", vignette=0.3),
            "left": _shot(SINGLES_SOFT, "left", "d", _LOGC3, "3400K", stops=0.4, nominal="A"),
            "right": _shot(SINGLES_SOFT, "right", "f", _CLOG2, "3100K", stops=-0.3, nominal="A"),
        },
    ),
    "round-misread": Recipe(
        about="one angle in legal range that is declared full; one from the table's other side",
        shots={
            "wide": _shot(ROUND, "wide", "b", _VLOG, "4000K daylight"),
            "left": _shot(ROUND, "left", "a", _SLOG, "4200K daylight", stops=0.2, legal=True, claimed="full"),
            "right": _shot(ROUND, "right", "c", _LOGC4, "3800K daylight", stops=-0.35),
        },
    ),
}

KEPT: dict[str, Recipe] = {
    "mirror": Recipe(
        about="a mirror for a table, before a purple drape",
        shots={
            "wide": _shot(MIRROR, "wide", "c", _LOGC4, "5000K daylight"),
            "left": _shot(MIRROR, "left", "g", _CLOG3, "5300K daylight", stops=0.4),
            "right": _shot(MIRROR, "right", "b", _SLOG, "4700K daylight", stops=-0.35),
        },
    ),
    "limbo": Recipe(
        about="all white, exposed high",
        target=0.4,
        shots={
            "wide": _shot(LIMBO, "wide", "f", _SLOG, "5000K daylight"),
            "left": _shot(LIMBO, "left", "a", _LOGC3, "5300K daylight", stops=-0.35),
            "right": _shot(LIMBO, "right", "h", _VLOG, "4700K daylight", stops=0.35),
        },
    ),
    "swapped": Recipe(
        about="two people who changed seats between the takes; one angle in full range that is declared legal",
        shots={
            "wide": _shot(SWAP, "wide", "a", _SLOG, "LED-B4"),
            "left": _shot(SWAPPED, "left", "d", _LOGC4, "5200K daylight", stops=0.35),
            "right": _shot(SWAPPED, "right", "e", _SLOG, "LED-B4", stops=-0.3, claimed="legal"),
        },
    ),
    "backlight": Recipe(
        about="a window behind; one angle veiled by it, one that loses half of its light in the corners",
        shots={
            "wide": _shot(BACKLIGHT, "wide", "d", _LOGC3, "5000K daylight", vignette=0.25),
            "left": _shot(BACKLIGHT, "left", "c", _SLOG, "5300K daylight", stops=0.2, flare=0.08),
            "right": _shot(BACKLIGHT, "right", "b", _CLOG2, "5600K daylight", stops=-0.35, vignette=0.5),
        },
    ),
    "night-pushed": Recipe(
        about="a dim corner; one angle three stops under and noisy, one three over",
        target=0.06,
        shots={
            "wide": _shot(NIGHT, "wide", "e", _LOGC4, "2900K", electrons=1200.0, nominal="A"),
            "left": _shot(NIGHT, "left", "h", _SLOG, "3000K", stops=-3.0, electrons=900.0, nominal="A"),
            "right": _shot(NIGHT, "right", "g", _LOGC3, "2850K", stops=3.0, electrons=900.0, nominal="A"),
        },
    ),
    "corner-squeezed": Recipe(
        about="a red and a green wall, daylight and tungsten; 8-bit log, squeezed hard",
        shots={
            "wide": _shot(CORNER, "wide", "g", _CLOG3, "4300K daylight"),
            "left": _shot(CORNER, "left", "f", _VLOG, "4600K daylight", stops=-0.4, bits=8, jpeg=30),
            "right": _shot(CORNER, "right", "d", _SLOG, "4000K daylight", stops=0.4, bits=8, jpeg=50),
        },
    ),
}
