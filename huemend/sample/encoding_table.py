"""From a setup file's ``[encoding.<name>]`` table to an ``EncodingSpec`` (docs/encodings.md lists the keys)."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path

from huemend.base.reading import read_bounded
from huemend.encodings.custom import FORMS
from huemend.model import EncodingSpec
from huemend.options import FileOptions
from huemend.sample.tables import Table, meant

_HOW = ("curve", "form", "table")
_KEYS = (*_HOW, "gamut", "primaries", "white", "adaptation", "defined_in", "mid_grey_code")

#: The numbers of all parametric forms; ``break`` is a word that TOML may use and Python may not.
_PARAMETERS = tuple(dict.fromkeys(item.name.rstrip("_") for form in FORMS.values() for item in fields(form)))
#: Words that may be written in any case; the first is meant where there is none.
_CHOICES = {"adaptation": ("bradford", "cat02"), "defined_in": ("codes", "signal")}

#: Most values of a table.
_MOST_VALUES = 131_072
_FINITE = (-sys.float_info.max, sys.float_info.max)
_PRIMARIES_HINT = "write primaries = [[x, y], [x, y], [x, y]] for red, green and blue"
_TABLE_HINT = "give the scene-linear values at evenly spaced codes from 0 to 1, or a file of them"


def parse_encoding_spec(name: str, values: object, source: Path) -> EncodingSpec:
    """Check one ``[encoding.<name>]`` table; whether its numbers make a curve is checked when it is first used.

    A file that ``table`` names is looked for beside ``source``, which these stand in. Raises SetupFileError
    for an unknown or missing key, or a value of the wrong kind; names the key.
    """
    if isinstance(values, Mapping):
        values = {k: v.lower() if k in _CHOICES and isinstance(v, str) else v for k, v in values.items()}
    table = Table(values, source, f"encoding.{name}")
    for key in table.values:
        if key not in (*_KEYS, *_PARAMETERS):
            todo = meant(key, (*_KEYS, *_PARAMETERS), f"known here: {', '.join(_KEYS)} and a form's numbers")
            raise table.problem("is not a known key", key, todo=todo)
    how = _one_of(table, _HOW, "how light becomes code")
    _one_of(table, ("gamut", "primaries"), "which light the channels stand for")
    numbers = [key for key in table.values if key in _PARAMETERS]
    if how != "form" and numbers:
        raise table.problem("belongs to a form", numbers[0], todo='add form = "..." or leave it out')
    owned = {"defined_in": "curve", "white": "gamut", "adaptation": "gamut"}
    for key, owner in owned.items():
        if key in table and owner in table:
            raise table.problem(f"is that of the named {owner} already", key, todo="leave it out")
    curve, form, gamut = (table.text(key).strip() if key in table else "" for key in ("curve", "form", "gamut"))
    adaptation, defined_in = (
        table.choice(key, {word: word for word in words}, words[0]) for key, words in _CHOICES.items()
    )
    white = table.numbers("white", (0.3127, 0.3290), (0.001, 0.999), hint="for example white = [0.3127, 0.3290]")
    file = table.values.get("table")
    return EncodingSpec(
        name=name,
        curve=curve,
        form=form,
        parameters={key: table.number(key, 0.0, _FINITE) for key in numbers},
        table=_light(table) if how == "table" else (),
        gamut=gamut,
        primaries=_primaries(table) if "primaries" in table else (),
        white=(white[0], white[1]),
        adaptation=adaptation,
        defined_in=defined_in,
        mid_grey_code=table.number("mid_grey_code", 0.0, _FINITE) if "mid_grey_code" in table else None,
        file=source.absolute().parent / file if isinstance(file, str) else None,
    )


def _one_of(table: Table, keys: tuple[str, ...], meaning: str) -> str:
    given = [key for key in keys if key in table]
    if len(given) != 1:
        what = "says twice" if given else "does not say"
        raise table.problem(f"{what} {meaning}", todo=f"give one of {', '.join(keys)}")
    return given[0]


def _primaries(table: Table) -> tuple[tuple[float, float], ...]:
    value = table.values["primaries"]
    if not isinstance(value, list) or len(value) != 3:
        raise table.problem("must hold three chromaticities", "primaries", todo=_PRIMARIES_HINT)
    points = Table(dict(zip(("red", "green", "blue"), value, strict=True)), table.source, f"{table.key}.primaries")
    found = (points.numbers(colour, (0.0, 0.0), _FINITE, hint=_PRIMARIES_HINT) for colour in points.values)
    return tuple((x, y) for x, y in found)


def _light(table: Table) -> tuple[float, ...]:
    value = table.values["table"]
    if isinstance(value, str):
        value = _read_numbers(table, value)
    if not isinstance(value, list) or not 2 <= len(value) <= _MOST_VALUES:
        raise table.problem(f"must hold 2 to {_MOST_VALUES} numbers", "table", todo=_TABLE_HINT)
    own = Table({"table": value}, table.source, table.key)
    return own.numbers("table", (0.0,) * len(value), _FINITE, hint=_TABLE_HINT)


def _read_numbers(table: Table, file: str) -> list[float]:
    """Read a text file of numbers, one a line; what follows a # is a remark."""
    path = table.source.parent / file
    try:
        lines = read_bounded(path, FileOptions().table).decode("utf-8-sig").splitlines()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise table.problem(f"{path} cannot be read ({reason})", "table", todo="correct the path") from error
    numbers = []
    for count, line in enumerate(lines, start=1):
        try:
            numbers += [float(text)] if (text := line.partition("#")[0].strip()) else []
        except ValueError:
            what = f"line {count} of {path} is not a number"
            raise table.problem(what, "table", todo="write one number a line") from None
    return numbers
