"""Setups whose cameras see some colours apart in a way that no 3x3 holds.

Their sensors are those of the 52 measured ones between which the best 3x3 leaves most over the surfaces that the
prior is learnt from (1.4 to 1.65 CIEDE2000 in daylight, where the median is 0.65); see ``derive_roots.py``.
"""

from __future__ import annotations

from typing import Any

from tests.bench.accuracy.making import Recipe, Shot, Stage
from tests.bench.accuracy.setups import BACKDROP, BRICK, LAB, STUDY, _shot

_SLOG, _CLOG3, _LOGC3, _VLOG = "S-Log3/S-Gamut3.Cine", "C-Log3/Cinema Gamut", "LogC3/AWG3", "V-Log/V-Gamut"


def _setup(stage: Stage, sensors: str, whites: tuple[str, str, str], **more: Any) -> Recipe:
    hero, left, right = tuple(sensors)

    def shot(view: str, sensor: str, encoding: str, white: str, stops: float = 0.0) -> Shot:
        return _shot(stage, view, sensor, encoding, white, stops=stops, **more)

    return Recipe(
        about=f"sensors {hero}, {left} and {right}, which no 3x3 brings together, on the {stage.name} set",
        shots={
            "wide": shot("wide", hero, _LOGC3, whites[0]),
            "left": shot("left", left, _SLOG, whites[1], 0.3),
            "right": shot("right", right, _VLOG if sensors < "f" else _CLOG3, whites[2], -0.3),
        },
    )


_DAY = ("4800K daylight", "5100K daylight", "4600K daylight")
RECIPES: dict[str, Recipe] = {
    "study-hues": _setup(STUDY, "eck", _DAY),
    "study-hues-back": _setup(STUDY, "mja", _DAY),
    "lab-hues": _setup(LAB, "cek", ("5000K daylight", "5400K daylight", "4800K daylight")),
    "lab-hues-back": _setup(LAB, "jml", ("5000K daylight", "5200K daylight", "4700K daylight")),
    "backdrop-hues": _setup(BACKDROP, "ecj", ("5000K daylight", "5300K daylight", "4800K daylight")),
    "brick-hues": _setup(BRICK, "eca", ("2900K", "3050K", "2800K"), nominal="A"),
}
