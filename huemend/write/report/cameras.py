"""Every camera across a day: one row each, so that one that was set wrong once stands out.

A camera is known by its angle's name. What is shown is what its match had to do in every setup: exposure, and red
and blue against green. A camera that was left alone all day says the same all day; one setup that says otherwise
is a camera, or a hero, that was set differently there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from huemend.base.arrays import Float
from huemend.write.report.day_rows import DayAngle
from huemend.write.report.figures import signed
from huemend.write.report.markup import Markup, element
from huemend.write.report.plots import Frame, marks, reaching

_WHAT = ("exposure", "red against green", "blue against green")
_SHAPES = ("hero", "before", "after")
# So far from a camera's own middle of the day, in stops, is a setting and not chance: the smallest step of an iris
# ring or a filter is a third of a stop, and 300 K at 5600 K move red against blue by about a tenth (common
# practice, no source).
_LEAST = np.array([0.25, 0.1, 0.1])
# Fewer setups have no middle to stand out from.
_FEWEST = 3
# Of a plot: its width, and that of a letter of its labels.
_ACROSS, _LETTER = 594.0, 6.4


@dataclass(frozen=True, kw_only=True, eq=False)
class Camera:
    """One camera: the setups that it was matched in, and (n, 3) stops: exposure, red-green, blue-green."""

    name: str
    setups: tuple[str, ...]
    stops: Float


def cameras_of(setups: Sequence[tuple[str, Sequence[DayAngle]]]) -> list[Camera]:
    """Gather the cameras of a day that were matched at least once, by name; setups come in the day's order."""
    found: dict[str, list[tuple[str, tuple[float, float, float]]]] = {}
    for setup, angles in setups:
        for angle in angles:
            if angle.stops is not None:
                found.setdefault(angle.name, []).append((setup, angle.stops))
    return [
        Camera(name=name, setups=tuple(setup for setup, _ in seen), stops=np.array([stops for _, stops in seen]))
        for name, seen in sorted(found.items())
    ]


def stands_out(camera: Camera) -> list[tuple[int, int]]:
    """Return where a camera differs from its own middle of the day, as (setup, quantity), the furthest first."""
    if len(camera.setups) < _FEWEST:
        return []
    off = np.abs(camera.stops - np.median(camera.stops, axis=0))
    # Four times the usual spread, which is 1.4826 times the median of what is off for a normal distribution.
    limit = np.maximum(_LEAST, 4 * 1.4826 * np.median(off, axis=0))
    places = [(int(row), int(column)) for row, column in np.argwhere(off > limit)]
    return sorted(places, key=lambda place: -float(off[place] / limit[place[1]]))


def _words(camera: Camera, place: tuple[int, int]) -> str:
    row, column = place
    usual = float(np.median(camera.stops[:, column]))
    return f"{camera.setups[row]}: {_WHAT[column]} {signed(float(camera.stops[place]))}, usually {signed(usual)}"


def _plot(camera: Camera, order: Sequence[str], reach: float) -> Markup:
    count = len(order)
    room = int(_ACROSS / max(count, 2) / _LETTER)
    names = [name if len(name) <= room else f"{name[: room - 1]}…" for name in order]
    named = [(float(place), name) for place, name in enumerate(names, 1)] if room >= _FEWEST else []
    bottom = 20.0 if named else 6.0
    frame = Frame.of(
        (0.5, max(count, 2) + 0.5),
        (-reach, reach),
        size=(_ACROSS + 46.0, 82.0 + bottom),
        margins=(40.0, 6.0, 10.0, bottom),
    )
    places = np.array([1 + order.index(setup) for setup in camera.setups], float)
    drawn = [
        marks(frame, places, camera.stops[:, column], shape, size=3.0) for column, shape in enumerate(_SHAPES)
    ]
    middle = np.median(camera.stops, axis=0)
    said = "; ".join(f"{what} {signed(float(value))}" for what, value in zip(_WHAT, middle, strict=True))
    levels = [(-reach, signed(-reach, 1)), (0.0, "0"), (reach, signed(reach, 1))]
    label = f"{camera.name} in {len(camera.setups)} setups, the middle of each in stops: {said}"
    return frame.svg(frame.grid(named, levels, zero=(0.0,)), *drawn, label=label)


def _row(camera: Camera, order: Sequence[str], reach: float, shared: Mapping[str, int]) -> Markup:
    places = stands_out(camera)
    said = [element("li", _words(camera, place)) for place in places[:4]]
    others = dict.fromkeys(camera.setups[row] for row, _ in places if shared.get(camera.setups[row], 0) > 1)
    if others:
        words = f"other cameras stand out in {' and '.join(others)} too: look at the hero there"
        said.append(element("li", words))
    middle = [signed(float(value)) for value in np.median(camera.stops, axis=0)]
    usual = f"Usually {middle[0]} stop, red {middle[1]}, blue {middle[2]}, in {len(camera.setups)} setups."
    about = element("div", element("h3", camera.name), element("p", usual), element("ul", said) if said else None)
    return element("li", about, _plot(camera, order, reach), class_="camera-row")


def cameras_section(setups: Sequence[tuple[str, Sequence[DayAngle]]]) -> Markup | None:
    """Lay out one row a camera, of setups in the day's order; None where fewer than two have a match."""
    cameras, order = cameras_of(setups), [name for name, _ in setups]
    if max((len(camera.setups) for camera in cameras), default=0) < 2:
        return None
    largest = max(float(np.abs(camera.stops).max()) for camera in cameras)
    reach = reaching(largest, (0.5, 1.0, 2.0, 4.0, 8.0))
    shared = Counter(
        setup for camera in cameras for setup in {camera.setups[row] for row, _ in stands_out(camera)}
    )
    note = (
        "What each camera's match did in every setup, in the day's order, in stops: □ exposure, △ red and ● blue "
        "against green. A setup that stands out is one in which this camera, or the hero, was set differently."
    )
    return element(
        "section",
        element("h2", "The cameras across the day"),
        element("p", note, class_="fine"),
        element("ul", [_row(camera, order, reach, shared) for camera in cameras], class_="camera-rows"),
        id="cameras",
    )
