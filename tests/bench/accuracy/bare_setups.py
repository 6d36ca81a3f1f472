"""Setups of bare sets, hard mixes and haze; half of them were kept aside while the solve was made for them.

``KEPT`` was named before anything was measured, and is only ever measured.
"""

from __future__ import annotations

from functools import partial

from tests.bench.accuracy.bare import Bare, bare
from tests.bench.accuracy.making import Recipe, Stage
from tests.bench.accuracy.setups import _CLOG2, _CLOG3, _LOGC3, _LOGC4, _SLOG, _THREE, _VLOG, _shot

_HD, _HD_PATHS = (1920, 1080), 5
_TIGHT = ("left", "right")

_GREY = Bare(people=("host", "author"), surface="paint neutral 8", seed=1)
_TEAL = Bare(people=("singer", "doctor", "cook"), surface="paint bluish green", gain=0.8, seed=2)
_BLACK = Bare(
    people=("teacher", "pilot"), surface="paint black 2", folds=0.03, spot=("LED-B4", 9.0), key=("LED-B4", 9.0),
    seed=3,
)  # fmt: skip
_PLAIN = Bare(
    people=("author", "singer"), surface="paint neutral 6.5", window=("D75", 5.0), spot=("LED-B3", 4.0),
    key=("LED-B3", 9.0), fill=("LED-B3", 3.0), seed=4,
)  # fmt: skip
_WARM = Bare(
    people=("pilot", "singer"), surface="sand", spot=("LED-B2", 13.0), key=("LED-B2", 8.0), fill=("LED-B2", 2.5),
    seed=5,
)  # fmt: skip
_BLUE = Bare(people=("host", "pilot", "doctor"), surface="paint blue sky", gain=0.9, seed=6)
_RED = Bare(
    people=("cook", "host"), surface="towel red", gain=1.2, folds=0.035, spot=("LED-B3", 10.0),
    key=("LED-B3", 9.0), seed=7,
)  # fmt: skip
_MOSS = Bare(
    people=("teacher", "author", "doctor"), surface="paint foliage", gain=1.4, window=("D65", 6.0),
    spot=("5000K daylight", 5.0), seed=8,
)  # fmt: skip


def _stage(name: str, room: Bare) -> Stage:
    return Stage(name=name, build=partial(bare, room), people=room.people, views=_THREE)


def _soft(name: str, room: Bare) -> Stage:
    """The tight angles wide open: the backdrop has no detail of its own whatever it is made of."""
    return Stage(
        name=f"{name}-soft", build=partial(bare, room), people=room.people, views=_TIGHT, aperture=0.03, focus=3.3
    )


def _hd(name: str, room: Bare) -> Stage:
    return Stage(
        name=f"{name}-hd", build=partial(bare, room), people=room.people, views=_THREE, size=_HD, paths=_HD_PATHS
    )


GREY, GREY_SOFT = _stage("cove-grey", _GREY), _soft("cove-grey", _GREY)
WARM, WARM_SOFT = _stage("cove-warm", _WARM), _soft("cove-warm", _WARM)
TEAL, BLUE = _hd("paper-teal", _TEAL), _hd("paper-blue", _BLUE)
BLACK, RED = _stage("drape-black", _BLACK), _stage("drape-red", _RED)
PLAIN, MOSS = _stage("window-plain", _PLAIN), _stage("window-moss", _MOSS)

TUNED: dict[str, Recipe] = {
    "cove-grey": Recipe(
        about="a light grey cove lit from the middle, two people",
        shots={
            "wide": _shot(GREY, "wide", "a", _LOGC3, "5000K daylight"),
            "left": _shot(GREY, "left", "c", _SLOG, "5300K daylight", stops=-0.4),
            "right": _shot(GREY, "right", "f", _CLOG3, "4700K daylight", stops=0.35),
        },
    ),
    "cove-grey-soft": Recipe(
        about="the same, tight angles wide open",
        shots={
            "wide": _shot(GREY, "wide", "b", _SLOG, "5000K daylight"),
            "left": _shot(GREY_SOFT, "left", "e", _LOGC4, "4800K daylight", stops=0.45),
            "right": _shot(GREY_SOFT, "right", "d", _SLOG, "5400K daylight", stops=-0.3),
        },
    ),
    "cove-grey-mix": Recipe(
        about="input transforms of tungsten and daylight mixed up, and a stop apart",
        shots={
            "wide": _shot(GREY, "wide", "h", _SLOG, "5000K daylight"),
            "left": _shot(GREY, "left", "b", _VLOG, "5600K daylight", stops=0.9, nominal="A"),
            "right": _shot(GREY, "right", "g", _LOGC3, "4500K daylight", stops=-0.7, nominal="A"),
        },
    ),
    "cove-grey-haze": Recipe(
        about="two fogged lenses",
        shots={
            "wide": _shot(GREY, "wide", "d", _CLOG3, "5000K daylight"),
            "left": _shot(GREY, "left", "a", _LOGC3, "5100K daylight", stops=-0.2, flare=0.18),
            "right": _shot(GREY, "right", "c", _SLOG, "4900K daylight", stops=0.1, flare=0.1),
        },
    ),
    "paper-teal": Recipe(
        about="teal paper, three people, full size",
        shots={
            "wide": _shot(TEAL, "wide", "g", _CLOG2, "5000K daylight"),
            "left": _shot(TEAL, "left", "h", _SLOG, "5200K daylight", stops=0.2),
            "right": _shot(TEAL, "right", "a", _VLOG, "4700K daylight", stops=-0.35),
        },
    ),
    "drape-black": Recipe(
        about="a black drape, two people",
        target=0.035,
        shots={
            "wide": _shot(BLACK, "wide", "f", _LOGC4, "LED-B4"),
            "left": _shot(BLACK, "left", "b", _SLOG, "5200K daylight", stops=-0.3),
            "right": _shot(BLACK, "right", "e", _LOGC3, "LED-B4", stops=0.35),
        },
    ),
    "window-plain": Recipe(
        about="a plain grey wall with a window behind two people",
        shots={
            "wide": _shot(PLAIN, "wide", "c", _SLOG, "LED-B3"),
            "left": _shot(PLAIN, "left", "g", _LOGC4, "4400K daylight", stops=0.5),
            "right": _shot(PLAIN, "right", "b", _CLOG2, "4000K daylight", stops=-0.25),
        },
    ),
}

KEPT: dict[str, Recipe] = {
    "cove-warm": Recipe(
        about="a sand-coloured cove lit hard from the middle by warm light, two people",
        shots={
            "wide": _shot(WARM, "wide", "e", _SLOG, "LED-B2"),
            "left": _shot(WARM, "left", "a", _LOGC4, "3600K", stops=0.4),
            "right": _shot(WARM, "right", "h", _VLOG, "LED-B2", stops=-0.35),
        },
    ),
    "cove-warm-soft": Recipe(
        about="the same, tight angles wide open",
        shots={
            "wide": _shot(WARM, "wide", "c", _LOGC3, "LED-B2"),
            "left": _shot(WARM_SOFT, "left", "f", _SLOG, "3400K", stops=-0.5),
            "right": _shot(WARM_SOFT, "right", "b", _CLOG3, "3300K", stops=0.25),
        },
    ),
    "cove-warm-mix": Recipe(
        about="input transforms of tungsten and daylight mixed up, and a stop apart",
        shots={
            "wide": _shot(WARM, "wide", "b", _CLOG2, "LED-B2", nominal="A"),
            "left": _shot(WARM, "left", "d", _SLOG, "LED-B2", stops=-0.8, nominal="D65"),
            "right": _shot(WARM, "right", "e", _LOGC3, "3300K", stops=0.8, nominal="D65"),
        },
    ),
    "drape-red-haze": Recipe(
        about="two fogged lenses before a red drape",
        shots={
            "wide": _shot(RED, "wide", "a", _SLOG, "LED-B3"),
            "left": _shot(RED, "left", "g", _CLOG3, "LED-B3", stops=0.15, flare=0.1),
            "right": _shot(RED, "right", "d", _LOGC4, "4100K daylight", stops=-0.25, flare=0.2),
        },
    ),
    "paper-blue": Recipe(
        about="blue paper, three people, full size",
        shots={
            "wide": _shot(BLUE, "wide", "d", _LOGC3, "5000K daylight"),
            "left": _shot(BLUE, "left", "e", _VLOG, "4800K daylight", stops=-0.3),
            "right": _shot(BLUE, "right", "c", _SLOG, "5400K daylight", stops=0.3),
        },
    ),
    "drape-red": Recipe(
        about="a red drape, two people",
        shots={
            "wide": _shot(RED, "wide", "g", _LOGC3, "LED-B3"),
            "left": _shot(RED, "left", "h", _CLOG2, "4200K daylight", stops=0.35),
            "right": _shot(RED, "right", "f", _SLOG, "LED-B3", stops=-0.4),
        },
    ),
    "window-moss": Recipe(
        about="a dark green wall with a window behind three people",
        shots={
            "wide": _shot(MOSS, "wide", "h", _VLOG, "5000K daylight"),
            "left": _shot(MOSS, "left", "c", _LOGC3, "5300K daylight", stops=-0.35),
            "right": _shot(MOSS, "right", "a", _SLOG, "4700K daylight", stops=0.4),
        },
    ),
}
