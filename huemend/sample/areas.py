"""What pixels do not say: ``[[pair]]``, ``[[ignore]]``, ``[[neutral]]``, and what ``[setup]`` wishes of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from huemend.model import KNOWN_SURFACES, Angle, Area, MarkedArea, Marks, NamedPair
from huemend.options import SampleOptions
from huemend.sample.names import normal_name
from huemend.sample.tables import Table, meant

#: Top-level keys of a setup file that this module reads.
MARK_KEYS = ("pair", "ignore", "neutral")

_PAIR_KEYS = ("name", "weight", "frames")
_HERO = "hero"
_LONGEST_NAME = 60
_AREA_HINT = "write area = [left, top, right, bottom] in fractions of the frame, or three or more corners [x, y]"


def parse_marks(top: Table, setup: Table, angles: Sequence[Angle], hero: str, options: SampleOptions) -> Marks:
    """Read the areas that a setup file names: of ``top``, the whole file, and ``setup``, its table of that name.

    Raises SetupFileError for an area that lies outside the frame or in what ``crop`` leaves out, has no size,
    or names an angle that there is none of.
    """
    by_name = {angle.name: angle for angle in angles}
    limit = _either(setup, "keep_limit", "protect_limit")
    pairs = tuple(_pair(table, by_name, hero, options) for table in _tables(top, "pair", options))
    kept = _names(setup, _either(setup, "keep_as_shot", "protect"), pairs)
    least = _names(setup, "least_error_on", pairs)
    both = next((name for name in least if name in kept), None)
    if both is not None:
        todo = f"name {both} in one of the two"
        raise setup.problem(f"{both!r} cannot match best and stay as shot", "least_error_on", todo=todo)
    return Marks(
        pairs=pairs,
        ignore=tuple(_marked(table, by_name, options) for table in _tables(top, "ignore", options)),
        neutral=tuple(_grey(table, by_name, options) for table in _tables(top, "neutral", options)),
        least_error_on=least,
        keep_as_shot=kept,
        keep_limit=setup.number(limit, 0.0, options.keep_limit) if limit in setup else None,
    )


def _tables(top: Table, kind: str, options: SampleOptions) -> list[Table]:
    """Return the tables of one kind, numbered as a reader of the file counts them."""
    if kind not in top:
        return []
    values = top.values[kind]
    if not isinstance(values, list):
        raise top.problem("must be a list of tables", kind, todo=f"write [[{kind}]], with two brackets")
    if len(values) > options.most_areas:
        raise top.problem(f"is there {len(values)} times", kind, todo=f"at most {options.most_areas} are read")
    return [Table(value, top.source, f"{kind}[{number}]") for number, value in enumerate(values, start=1)]


def _pair(table: Table, angles: Mapping[str, Angle], hero: str, options: SampleOptions) -> NamedPair:
    others = [name for name in angles if name != hero]
    unclear = next((name for name in others if name in (*_PAIR_KEYS, _HERO)), None)
    if unclear is not None:
        raise table.problem(f"cannot tell the angle {unclear!r} from its own keys", todo="rename that angle")
    known = (_HERO, *angles, *_PAIR_KEYS)
    areas: dict[str, Area] = {}
    for key in table.values:
        if key in _PAIR_KEYS:
            continue
        name = hero if key == _HERO else normal_name(key)
        if name not in angles:
            todo = meant(key, known, f"known here: {', '.join(known)}")
            raise table.problem("is no angle and no known key", key, todo=todo)
        if name in areas:
            raise table.problem("is given twice", key, todo=f"keep one area on {name}")
        areas[name] = _area(table, key, angles[name], options)
    if hero not in areas:
        raise table.problem("is missing", _HERO, todo=f"mark the same surface on the hero ({hero})")
    if len(areas) < 2:
        raise table.problem(
            "marks the hero alone", todo=f"mark the same surface on an angle, for example {others[0]} = [...]"
        )
    name = " ".join(table.text("name", hint='write name = "skin", or whatever the surface is').split())
    if len(name) > _LONGEST_NAME:
        raise table.problem("is too long", "name", todo=f"use at most {_LONGEST_NAME} characters")
    return NamedPair(
        name=name,
        areas=areas,
        weight=table.number("weight", 1.0, options.area_weight),
        frames=_frames(table),
    )


def _grey(table: Table, angles: Mapping[str, Angle], options: SampleOptions) -> MarkedArea:
    found = _marked(table, angles, options, more=("reflectance",))
    if "reflectance" not in table:
        return found
    return replace(found, reflectance=table.number("reflectance", 1.0, options.reflectance))


def _marked(
    table: Table, angles: Mapping[str, Angle], options: SampleOptions, more: tuple[str, ...] = ()
) -> MarkedArea:
    table = Table(table.values, table.source, table.key, known=("angle", "area", "frames", *more))
    name = normal_name(table.text("angle", hint=f"name the angle: {', '.join(angles)}"))
    if name not in angles:
        todo = meant(name, list(angles), f"angles: {', '.join(angles)}")
        raise table.problem(f"{name!r} is not among the angles", "angle", todo=todo)
    if "area" not in table:
        raise table.problem("is missing", "area", todo=_AREA_HINT)
    return MarkedArea(angle=name, area=_area(table, "area", angles[name], options), frames=_frames(table))


def _area(table: Table, key: str, angle: Angle, options: SampleOptions) -> Area:
    points = _points(table, key)
    for x, y in points:
        for value in (x, y):
            if not 0.0 <= value <= 1.0:
                pixels = max(abs(x), abs(y)) > 2
                raise table.problem(
                    f"lies outside the frame ({x:g}, {y:g})",
                    key,
                    todo="write fractions of the frame's width and height"
                    + (", not pixels" if pixels else ", from 0 to 1"),
                )
    if _size(points) < options.smallest_area:
        raise table.problem("has no size", key, todo="drag it over a piece of the surface")
    left, top, right, bottom = angle.crop
    xs, ys = zip(*points, strict=True)
    inside = min(max(xs), 1 - right) > max(min(xs), left) and min(max(ys), 1 - bottom) > max(min(ys), top)
    if not inside:
        raise table.problem(
            f"lies in what the crop of {angle.name} leaves out",
            key,
            todo="areas are in fractions of the frame before it is cropped",
        )
    return Area(points=points)


def _points(table: Table, key: str) -> tuple[tuple[float, float], ...]:
    value = table.values[key]
    if not isinstance(value, list):
        raise table.problem("must be an area", key, todo=_AREA_HINT)
    if all(isinstance(item, list) for item in value) and len(value) >= 3:
        if any(len(item) != 2 for item in value):
            raise table.problem("has a corner that is no [x, y]", key, todo=_AREA_HINT)
        return tuple((_number(table, key, x), _number(table, key, y)) for x, y in value)
    if len(value) != 4 or any(isinstance(item, list) for item in value):
        raise table.problem("must be four numbers, or three or more corners", key, todo=_AREA_HINT)
    x0, y0, x1, y1 = (_number(table, key, item) for item in value)
    # A rectangle may be dragged from any corner.
    (x0, x1), (y0, y1) = sorted((x0, x1)), sorted((y0, y1))
    return (x0, y0), (x1, y0), (x1, y1), (x0, y1)


def _number(table: Table, key: str, value: Any) -> float:
    # Infinity and NaN are TOML numbers; both are outside of any frame, NaN without comparing so.
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value != value:
        raise table.problem("holds something that is no number", key, todo=_AREA_HINT)
    return float(value)


def _size(points: Sequence[tuple[float, float]]) -> float:
    """Return the area of a polygon as a share of the frame (the shoelace formula)."""
    following = (*points[1:], points[0])
    return abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(points, following, strict=True))) / 2


def _frames(table: Table) -> tuple[int, int] | None:
    if "frames" not in table:
        return None
    value = table.values["frames"]
    whole = isinstance(value, list) and all(isinstance(n, int) and not isinstance(n, bool) for n in value)
    if not whole or len(value) != 2 or not 0 <= value[0] <= value[1]:
        raise table.problem(
            "must be the first and the last frame", "frames", todo="for example frames = [0, 240], counted from 0"
        )
    return value[0], value[1]


def _either(table: Table, key: str, old: str) -> str:
    """Return which of two spellings of one key a table has, the new one if neither."""
    if key in table and old in table:
        raise table.problem(f"and {key} are one", old, todo=f"keep {key}")
    return old if old in table else key


def _names(setup: Table, key: str, pairs: Sequence[NamedPair]) -> tuple[str, ...]:
    """Read names of surfaces, each once: those of pairs, and those that may be found without a mark."""
    if key not in setup:
        return ()
    known = list(dict.fromkeys([pair.name for pair in pairs] + sorted(KNOWN_SURFACES)))
    names = setup.texts(key, hint=f'write {key} = ["skin"]')
    for name in names:
        if name not in known:
            todo = meant(name, known, f"known here: {', '.join(known)}")
            raise setup.problem(f"{name!r} is the name of no [[pair]]", key, todo=todo)
    return tuple(dict.fromkeys(names))
