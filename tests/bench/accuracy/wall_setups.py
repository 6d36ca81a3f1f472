"""Setups before walls that repeat: a pair's place there is known only up to the pattern.

Both halves were named before anything of them was measured. ``KEPT`` is only ever measured and steers nothing.
"""

from __future__ import annotations

from tests.bench.accuracy.making import Recipe
from tests.bench.accuracy.setups import _CLOG2, _CLOG3, _LOGC3, _LOGC4, _SLOG, _VLOG, _shot
from tests.bench.accuracy.talk_setups import _stage
from tests.bench.accuracy.talks import Talk

BRICKS = _stage("bricks-white", Talk(
    people=("author", "nurse"), wall="bricks", surface="paint white 9.5", accent="paint neutral 6.5", gain=0.8,
    lit="side", lamp=("5000K daylight", 12.0), aside=0.95, seed=11,
))  # fmt: skip
HOLES = _stage("panels", Talk(
    people=("cook", "judge"), wall="holes", surface="wood maple", accent="paint black 2", lit="above",
    lamp=("LED-B3", 9.0), key=("LED-B3", 9.0), fill=("LED-B3", 2.5), key_from=1.0, chairs="suede grey", seed=12,
))  # fmt: skip
BOOKS = _stage("edition", Talk(
    people=("teacher", "doctor"), wall="books", surface="leather brown", accent="yarn yellow", gain=1.4,
    lit="side", key_from=1.0, aside=0.95, seed=13,
))  # fmt: skip
BOND = _stage("tiles-bond", Talk(
    people=("baker", "singer"), wall="bond", surface="paint blue flower", accent="paint white 9.5", lit="below",
    lamp=("3200K", 12.0), key=("3200K", 9.0), fill=("3600K", 2.5), seed=14,
))  # fmt: skip

TILES = _stage("tiles-green", Talk(
    people=("host", "diver"), wall="bond", surface="paint bluish green", accent="paint bluish green", gain=0.9,
    lit="below", lamp=("5000K daylight", 12.0), key_from=1.0, aside=1.5, seed=15,
))  # fmt: skip
STRIPES = _stage("stripes", Talk(
    people=("pilot", "baker"), wall="stripes", surface="sand", accent="paint moderate red", gain=0.9, lit="side",
    lamp=("LED-B2", 14.0), key=("LED-B2", 9.0), fill=("LED-B2", 2.0), chairs="fabric dark brown", aside=0.95,
    seed=16,
))  # fmt: skip
SLATS = _stage("slats", Talk(
    people=("singer", "author"), wall="slats", surface="wood oak", accent="paint black 2", lit="side",
    lamp=("5000K daylight", 14.0), key_from=1.0, aside=0.95, seed=17,
))  # fmt: skip
BLINDS = _stage("blinds", Talk(
    people=("nurse", "host"), wall="blinds", surface="paint white 9.5", accent="fabric white", gain=0.7,
    lit="above", lamp=("D65", 9.0), aside=1.0, seed=18,
))  # fmt: skip

TUNED: dict[str, Recipe] = {
    "bricks-white": Recipe(
        about="a white-painted brick wall lit from one side",
        shots={
            "wide": _shot(BRICKS, "wide", "a", _LOGC4, "5000K daylight"),
            "left": _shot(BRICKS, "left", "e", _SLOG, "5300K daylight", stops=0.35),
            "right": _shot(BRICKS, "right", "d", _CLOG3, "4700K daylight", stops=-0.4),
        },
    ),
    "panels": Recipe(
        about="acoustic panels with a grid of holes",
        shots={
            "wide": _shot(HOLES, "wide", "c", _SLOG, "LED-B3"),
            "left": _shot(HOLES, "left", "b", _VLOG, "4400K daylight", stops=-0.3),
            "right": _shot(HOLES, "right", "h", _LOGC3, "LED-B3", stops=0.5),
        },
    ),
    "edition-mix": Recipe(
        about="shelves of equal books; input transforms of tungsten and daylight mixed up, and a stop apart",
        shots={
            "wide": _shot(BOOKS, "wide", "f", _CLOG2, "5000K daylight", nominal="A"),
            "left": _shot(BOOKS, "left", "g", _LOGC3, "5400K daylight", stops=0.9, nominal="D65"),
            "right": _shot(BOOKS, "right", "a", _SLOG, "4600K daylight", stops=-0.8, nominal="D65"),
        },
    ),
    "tiles-bond": Recipe(
        about="blue tiles lit from below, tungsten",
        shots={
            "wide": _shot(BOND, "wide", "h", _VLOG, "3200K", nominal="A"),
            "left": _shot(BOND, "left", "d", _LOGC4, "3400K", stops=-0.4, nominal="A"),
            "right": _shot(BOND, "right", "c", _CLOG3, "3100K", stops=0.3, nominal="A"),
        },
    ),
}

KEPT: dict[str, Recipe] = {
    "tiles-green": Recipe(
        about="green tiles lit from below, cameras far to the side",
        shots={
            "wide": _shot(TILES, "wide", "g", _SLOG, "5000K daylight"),
            "left": _shot(TILES, "left", "c", _CLOG2, "5300K daylight", stops=0.4),
            "right": _shot(TILES, "right", "f", _LOGC4, "4600K daylight", stops=-0.35),
        },
    ),
    "stripes": Recipe(
        about="striped wallpaper lit from one side by warm light",
        shots={
            "wide": _shot(STRIPES, "wide", "b", _LOGC3, "LED-B2"),
            "left": _shot(STRIPES, "left", "a", _VLOG, "3300K", stops=0.3),
            "right": _shot(STRIPES, "right", "e", _SLOG, "LED-B2", stops=-0.5),
        },
    ),
    "slats-mix": Recipe(
        about="slats of wood; input transforms of tungsten and daylight mixed up, and a stop apart",
        shots={
            "wide": _shot(SLATS, "wide", "d", _LOGC4, "5000K daylight"),
            "left": _shot(SLATS, "left", "h", _CLOG3, "5500K daylight", stops=-0.9, nominal="A"),
            "right": _shot(SLATS, "right", "b", _SLOG, "4600K daylight", stops=0.8, nominal="A"),
        },
    ),
    "blinds": Recipe(
        about="blinds from wall to wall",
        shots={
            "wide": _shot(BLINDS, "wide", "e", _CLOG3, "5000K daylight"),
            "left": _shot(BLINDS, "left", "f", _SLOG, "5200K daylight", stops=-0.35),
            "right": _shot(BLINDS, "right", "g", _VLOG, "4800K daylight", stops=0.35),
        },
    ),
}
