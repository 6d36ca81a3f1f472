"""From a setup file's ``[encoding.<name>]`` table to an ``EncodingSpec`` (docs/encodings.md lists the keys)."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from math import isfinite, nan
from pathlib import Path
from typing import Any

from huemend.base.reading import read_bounded
from huemend.errors import SetupFileError
from huemend.model import EncodingSpec
from huemend.options import FileOptions

_HOW = ("curve", "form", "table")
_KEYS = (*_HOW, "gamut", "primaries", "white", "adaptation", "defined_in", "mid_grey_code")

#: Numbers of each parametric form (huemend.encodings.forms); a form's own module says what they mean.
_PARAMETERS = (
    *("base", "log_side_slope", "log_side_offset", "lin_side_slope", "lin_side_offset", "lin_side_break"),
    *("linear_slope", "linear_offset", "slope", "gain", "offset", "step", "break", "white_light", "darkest"),
    *("sigma", "beta", "gamma", "delta", "root_gain", "root_offset", "log_gain", "log_offset", "exponent"),
)

#: Most values of a table.
_MOST_VALUES = 131_072


def parse_encoding_spec(name: str, table: Mapping[str, Any], folder: Path | None = None) -> EncodingSpec:
    """Check one ``[encoding.<name>]`` table.

    Parameters
    ----------
    name : str
        What the setup file calls the encoding.
    table : mapping
        As TOML gives it.
    folder : Path, optional
        Where a file that ``table`` names is looked for.

    Returns
    -------
    EncodingSpec
        Whether its numbers make a curve is checked when the encoding is first used.

    Raises
    ------
    SetupFileError
        For an unknown or missing key, or a value of the wrong kind; names the key.
    """
    if not isinstance(table, Mapping):
        raise _problem(name, "", "must be a table", todo="write its keys under it")
    for key in table:
        if key not in _KEYS and key not in _PARAMETERS:
            close = get_close_matches(key, (*_KEYS, *_PARAMETERS), n=1)
            todo = f"did you mean {close[0]}?" if close else f"known here: {', '.join(_KEYS)} and a form's numbers"
            raise _problem(name, key, "is not a known key", todo=todo)
    how = _one_of(name, table, _HOW, "how light becomes code")
    _one_of(name, table, ("gamut", "primaries"), "which light the channels stand for")
    numbers = [key for key in table if key in _PARAMETERS]
    if how != "form" and numbers:
        raise _problem(name, numbers[0], "belongs to a form", todo='add form = "..." or leave it out')
    for key, owner in (("white", "primaries"), ("adaptation", "primaries"), ("defined_in", "")):
        if key in table and ((key == "defined_in" and how == "curve") or (owner and owner not in table)):
            what = "is that of the named curve" if key == "defined_in" else "is that of the named gamut"
            raise _problem(name, key, f"{what} already", todo="leave it out")
    return EncodingSpec(
        name=name,
        curve=_text(name, table, "curve"),
        form=_text(name, table, "form"),
        parameters={key: _number(name, key, table[key]) for key in numbers},
        table=_table(name, table["table"], folder) if how == "table" else (),
        gamut=_text(name, table, "gamut"),
        primaries=_primaries(name, table["primaries"]) if "primaries" in table else (),
        white=_point(name, "white", table.get("white", (0.3127, 0.3290)), positive=True),
        adaptation=_choice(name, table, "adaptation", ("bradford", "cat02")),
        defined_in=_choice(name, table, "defined_in", ("codes", "signal")),
        mid_grey_code=_number(name, "mid_grey_code", table["mid_grey_code"]) if "mid_grey_code" in table else None,
        file=(folder or Path()) / table["table"] if isinstance(table.get("table"), str) else None,
    )


def _problem(name: str, key: str, what: str, *, todo: str) -> SetupFileError:
    return SetupFileError(what, where=".".join(part for part in ("encoding", name, key) if part), todo=todo)


def _one_of(name: str, table: Mapping[str, Any], keys: tuple[str, ...], meaning: str) -> str:
    given = [key for key in keys if key in table]
    if len(given) != 1:
        what = "says twice" if given else "does not say"
        raise _problem(name, "", f"{what} {meaning}", todo=f"give one of {', '.join(keys)}")
    return given[0]


def _text(name: str, table: Mapping[str, Any], key: str) -> str:
    value = table.get(key)
    if key in table and not (isinstance(value, str) and value.strip()):
        raise _problem(name, key, "must be a text", todo=f'write it as {key} = "..."')
    return value.strip() if isinstance(value, str) else ""


def _choice(name: str, table: Mapping[str, Any], key: str, choices: tuple[str, ...]) -> str:
    """Return the choice as listed, in any case; the first one is the default."""
    value = table.get(key, choices[0])
    if not isinstance(value, str) or value.lower() not in choices:
        raise _problem(name, key, f"cannot be {value!r}", todo=f"use one of: {', '.join(choices)}")
    return value.lower()


def _number(name: str, key: str, value: object) -> float:
    try:
        number = float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else nan
    except OverflowError:  # a whole number of hundreds of digits
        number = nan
    if not isfinite(number):
        raise _problem(name, key, "must be a number", todo="write a plain number")
    return number


def _point(name: str, key: str, value: object, *, positive: bool = False) -> tuple[float, float]:
    if not isinstance(value, (list, tuple)) or len(value) != 2:
        raise _problem(name, key, "must be a chromaticity", todo=f"write it as {key} = [x, y]")
    x, y = _number(name, key, value[0]), _number(name, key, value[1])
    if positive and not (0 < x < 1 and 0 < y < 1):
        raise _problem(name, key, "is no chromaticity of a white", todo="for example white = [0.3127, 0.3290]")
    return x, y


def _primaries(name: str, value: object) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, list) or len(value) != 3:
        todo = "write primaries = [[x, y], [x, y], [x, y]] for red, green and blue"
        raise _problem(name, "primaries", "must hold three chromaticities", todo=todo)
    return tuple(_point(name, "primaries", point) for point in value)


def _table(name: str, value: object, folder: Path | None) -> tuple[float, ...]:
    if isinstance(value, str):
        value = _read_table(name, value, folder)
    if not isinstance(value, list) or not 2 <= len(value) <= _MOST_VALUES:
        todo = "give the scene-linear values at evenly spaced codes from 0 to 1, or a file of them"
        raise _problem(name, "table", f"must hold 2 to {_MOST_VALUES} numbers", todo=todo)
    return tuple(_number(name, "table", item) for item in value)


def _read_table(name: str, file: str, folder: Path | None) -> list[float]:
    """Read a text file of numbers, one a line; what follows a # is a remark."""
    path = (folder or Path()) / file
    try:
        lines = read_bounded(path, FileOptions().table).decode("utf-8-sig").splitlines()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise _problem(name, "table", f"{path} cannot be read ({reason})", todo="correct the path") from error
    numbers = []
    for count, line in enumerate(lines, start=1):
        text = line.partition("#")[0].strip()
        if not text:
            continue
        try:
            numbers.append(float(text))
        except ValueError:
            raise _problem(
                name, "table", f"line {count} of {path} is not a number", todo="write one number a line"
            ) from None
    return numbers
