"""Setups of talks: walls lit from below or one side, drapes, patterns, haze on one lens, hard mixes, full size.

Both halves were named before anything of them was measured. ``KEPT`` is only ever measured and steers nothing.
"""

from __future__ import annotations

from functools import partial
from typing import Any

from tests.bench.accuracy.making import Recipe, Stage
from tests.bench.accuracy.setups import _CLOG2, _CLOG3, _LOGC3, _LOGC4, _SLOG, _THREE, _VLOG, _shot
from tests.bench.accuracy.talks import Talk, talk

_HD: dict[str, Any] = {"size": (1920, 1080), "paths": 5}
_SOFT: dict[str, Any] = {"aperture": 0.03, "focus": 3.3, "views": ("left", "right")}


def _stage(name: str, room: Talk, **more: Any) -> Stage:
    return Stage(name=name, build=partial(talk, room), people=room.people, **{"views": _THREE, **more})


BELOW = _stage("cove-below", Talk(
    people=("nurse", "judge"), wall="cove", surface="paint white 9.5", gain=0.8, lit="below",
    lamp=("5000K daylight", 14.0), chairs="fabric brown", seed=1,
))  # fmt: skip
DRAPE = _stage("drape-grey", Talk(
    people=("diver", "cook", "baker"), wall="drape", surface="paint neutral 6.5", lit="above",
    lamp=("LED-B3", 9.0), key=("LED-B3", 9.0), fill=("LED-B3", 2.5), key_from=1.0, seed=2,
))  # fmt: skip
TILES = _stage("tiles", Talk(
    people=("baker", "author"), wall="tiles", surface="paint bluish green", accent="paint yellow", lit="side",
    key_from=1.0, aside=1.0, seed=3,
))  # fmt: skip
SIDE = _stage("paper-side", Talk(
    people=("doctor", "nurse"), wall="cove", surface="paint purplish blue", gain=1.3, lit="side",
    lamp=("D65", 14.0), key=("5000K daylight", 10.0), chairs="suede grey", seed=4,
), **_HD)  # fmt: skip
_ROSES = Talk(
    people=("judge", "pilot"), wall="paper", surface="fabric pink", accent="paint moderate red", gain=0.8,
    lit="above", lamp=("3200K", 8.0), key=("3200K", 9.0), fill=("3600K", 2.5), chairs="leather brown", seed=5,
)  # fmt: skip
ROSES, ROSES_SOFT = _stage("wallpaper-rose", _ROSES), _stage("wallpaper-rose-soft", _ROSES, **_SOFT)

_EMBER = Talk(
    people=("teacher", "diver"), wall="cove", surface="paint neutral 5", lit="below", lamp=("LED-B2", 18.0),
    key=("LED-B2", 9.0), fill=("LED-B2", 2.0), key_from=1.0, seed=6,
)  # fmt: skip
EMBER, EMBER_SOFT = _stage("cove-ember", _EMBER), _stage("cove-ember-soft", _EMBER, **_SOFT)
NAVY = _stage("drape-navy", Talk(
    people=("singer", "judge"), wall="drape", surface="paint blue", gain=1.2, lit="side",
    lamp=("5000K daylight", 12.0), key_from=1.0, aside=1.5, seed=7,
))  # fmt: skip
OLIVE = _stage("wallpaper-olive", Talk(
    people=("nurse", "host"), wall="paper", surface="paint foliage", accent="sand", gain=1.2, lit="above",
    chairs="fabric dark brown", seed=8,
))  # fmt: skip
TALL = _stage("window-tall", Talk(
    people=("diver", "teacher", "cook"), wall="cove", surface="sand", gain=0.9, lit="above",
    lamp=("5000K daylight", 4.0), window=("D65", 7.0), seed=9,
), **_HD)  # fmt: skip
WHITE = _stage("tiles-white", Talk(
    people=("doctor", "singer"), wall="tiles", surface="paint white 9.5", accent="paint cyan", gain=0.75,
    lit="side", lamp=("LED-B4", 8.0), key=("LED-B4", 9.0), fill=("LED-B4", 2.5), aside=1.5, seed=10,
))  # fmt: skip

TUNED: dict[str, Recipe] = {
    "cove-below": Recipe(
        about="a pale cove lit from below, two people in brown chairs",
        shots={
            "wide": _shot(BELOW, "wide", "c", _LOGC4, "5000K daylight"),
            "left": _shot(BELOW, "left", "h", _SLOG, "5300K daylight", stops=0.4),
            "right": _shot(BELOW, "right", "b", _CLOG3, "4800K daylight", stops=-0.35),
        },
    ),
    "drape-grey": Recipe(
        about="a grey drape in folds, three people",
        shots={
            "wide": _shot(DRAPE, "wide", "a", _SLOG, "LED-B3"),
            "left": _shot(DRAPE, "left", "f", _VLOG, "4300K daylight", stops=-0.45),
            "right": _shot(DRAPE, "right", "g", _LOGC3, "LED-B3", stops=0.3),
        },
    ),
    "tiles-mix": Recipe(
        about="a tiled wall; input transforms of tungsten and daylight mixed up, and a stop apart",
        shots={
            "wide": _shot(TILES, "wide", "d", _LOGC3, "5000K daylight"),
            "left": _shot(TILES, "left", "a", _SLOG, "5500K daylight", stops=1.0, nominal="A"),
            "right": _shot(TILES, "right", "e", _CLOG2, "4600K daylight", stops=-0.8, nominal="A"),
        },
    ),
    "paper-side": Recipe(
        about="purple paper lit from one side, two people in grey chairs, full size",
        shots={
            "wide": _shot(SIDE, "wide", "e", _CLOG3, "5000K daylight"),
            "left": _shot(SIDE, "left", "g", _LOGC4, "5300K daylight", stops=-0.3),
            "right": _shot(SIDE, "right", "d", _SLOG, "4700K daylight", stops=0.4),
        },
    ),
    "wallpaper-rose-soft": Recipe(
        about="wallpaper that repeats, tungsten, tight angles wide open, one lens fogged",
        shots={
            "wide": _shot(ROSES, "wide", "h", _SLOG, "3200K", nominal="A"),
            "left": _shot(ROSES_SOFT, "left", "c", _LOGC3, "3300K", stops=0.2, nominal="A", flare=0.15),
            "right": _shot(ROSES_SOFT, "right", "f", _CLOG2, "3050K", stops=-0.4, nominal="A"),
        },
    ),
}

KEPT: dict[str, Recipe] = {
    "cove-ember-soft": Recipe(
        about="a dark grey cove lit from below by warm light, tight angles wide open",
        shots={
            "wide": _shot(EMBER, "wide", "g", _SLOG, "LED-B2"),
            "left": _shot(EMBER_SOFT, "left", "d", _CLOG3, "3400K", stops=-0.4),
            "right": _shot(EMBER_SOFT, "right", "a", _LOGC4, "LED-B2", stops=0.35),
        },
    ),
    "drape-navy": Recipe(
        about="a blue drape in folds, two people, one lens fogged",
        shots={
            "wide": _shot(NAVY, "wide", "b", _LOGC3, "5000K daylight"),
            "left": _shot(NAVY, "left", "e", _SLOG, "5200K daylight", stops=0.3, flare=0.14),
            "right": _shot(NAVY, "right", "h", _VLOG, "4700K daylight", stops=-0.3),
        },
    ),
    "wallpaper-olive-mix": Recipe(
        about="wallpaper that repeats; input transforms of tungsten and daylight mixed up, and a stop apart",
        shots={
            "wide": _shot(OLIVE, "wide", "f", _VLOG, "5000K daylight", nominal="A"),
            "left": _shot(OLIVE, "left", "b", _SLOG, "5400K daylight", stops=-0.9, nominal="D65"),
            "right": _shot(OLIVE, "right", "c", _LOGC3, "4500K daylight", stops=0.9, nominal="D65"),
        },
    ),
    "window-tall": Recipe(
        about="a sand-coloured wall with a tall window behind three people, full size",
        shots={
            "wide": _shot(TALL, "wide", "a", _LOGC4, "5000K daylight"),
            "left": _shot(TALL, "left", "h", _CLOG3, "5300K daylight", stops=0.35),
            "right": _shot(TALL, "right", "f", _SLOG, "4700K daylight", stops=-0.35),
        },
    ),
    "tiles-white": Recipe(
        about="white tiles lit from one side, two people, cameras far to the side",
        shots={
            "wide": _shot(WHITE, "wide", "d", _SLOG, "LED-B4"),
            "left": _shot(WHITE, "left", "g", _VLOG, "5200K daylight", stops=-0.35),
            "right": _shot(WHITE, "right", "c", _CLOG2, "LED-B4", stops=0.4),
        },
    ),
}
