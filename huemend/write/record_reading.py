"""The record as it is read again: by `bake`, `verify`, and the index of a day. Whoever reads one does it here.

What `load_record` passes follows ``record.schema.json``: whoever is given it need not ask whether a key is there.
What does not is an ``OutputError`` in one line, whoever wrote it: an older version, another program, or somebody's
editor.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, NoReturn

import numpy as np

from huemend.base.reading import NotRegular, TooLarge, read_bounded
from huemend.base.schema import problem
from huemend.errors import OutputError
from huemend.model import Match
from huemend.options import FileOptions

#: The record, written last.
RECORD = "report.json"

_OURS = "huemend-record/"
_AGAIN = "run huemend match again"


def load_record(out: Path) -> dict[str, Any] | None:
    """Return the record of an output folder; None where there is no such file, or an empty one.

    Raises
    ------
    OutputError
        ``report.json`` cannot be read, is not huemend's, or does not follow the schema.
    """
    path = out / RECORD
    try:
        data = read_bounded(path, FileOptions().record)
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise OutputError(f"cannot be read ({reason})", where=path, todo="move it away") from error
    if not data.strip():
        return None  # what a power cut can leave
    return parse_record(data, path)


def parse_record(data: bytes, where: Path) -> dict[str, Any]:
    """Return the record that these bytes are; ``where`` names them in errors.

    Raises
    ------
    OutputError
        They are none.
    """
    try:
        record = json.loads(data, parse_constant=_refuse)
    except (ValueError, RecursionError) as error:
        raise OutputError("is damaged, or from another program", where=where, todo=_AGAIN) from error
    schema = record.get("schema") if isinstance(record, dict) else None
    if not isinstance(schema, str) or not schema.startswith(_OURS):
        raise OutputError("was not written by huemend", where=where, todo="move it away or choose another folder")
    if schema != _schema()["properties"]["schema"]["const"]:
        raise OutputError(f"was written by another version of huemend ({schema})", where=where, todo=_AGAIN)
    wrong = problem(record, _schema())
    if wrong is not None:
        raise OutputError(f"is not as this version writes it: {wrong[:200]}", where=where, todo=_AGAIN)
    return dict(record)


def read_record(out: Path) -> dict[str, Any] | None:
    """Return the record of a finished run, or None where there is none that can be read.

    Any record of huemend's, of whatever version: it is not held to the schema (`load_record` is), and the files
    that it lists are not looked at (`check_folder` does).
    """
    try:
        return own_record(out)
    except (OSError, OutputError):
        return None


def need_record(out: Path) -> dict[str, Any]:
    """Return the record of a finished run that something is to be done with.

    Raises
    ------
    OutputError
        There is none, or it cannot be read.
    """
    record = load_record(out)
    if record is None:
        todo = "run huemend match first, or say where its results are with --match"
        raise OutputError(f"there is no {RECORD}", where=out, todo=todo)
    return record


def own_record(out: Path) -> dict[str, Any] | None:
    """Return the folder's record, of whatever version; None where there is none.

    Raises
    ------
    OutputError
        ``report.json`` is somebody else's.
    """
    path = out / RECORD
    try:
        text = read_bounded(path, FileOptions().record).decode("utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (ValueError, NotRegular, TooLarge):
        text = "-"
    if not text.strip():
        return None  # what a power cut can leave
    try:
        record = json.loads(text)
    except (ValueError, RecursionError):
        record = None
    if not isinstance(record, dict) or not str(record.get("schema", "")).startswith("huemend-"):
        raise OutputError(
            "this file was not written by huemend", where=path, todo="move it away or choose another folder"
        )
    return record


def match_of(entry: Mapping[str, Any]) -> Match | None:
    """Return the match that one angle of a record delivers, or None for an unsolved angle.

    Parameters
    ----------
    entry : mapping
        ``record["angles"][name]``; its ``solved``, where there was a nudge, for the match before it.

    Raises
    ------
    KeyError, TypeError, ValueError
        If the entry does not follow the schema.
    """
    if entry["matrix"] is None:
        return None
    return Match(
        exposure_stops=float(entry["exposure_stops"]),
        matrix=np.array(entry["matrix"], float),
        flare=np.array(entry["flare"], float),
        contrast=float(entry["contrast"]),
        roots=np.array(entry.get("roots") or np.zeros((3, 3)), float),
    )


@cache
def _schema() -> Mapping[str, Any]:
    """Return the JSON Schema (2020-12) of the record."""
    text = files("huemend.write").joinpath("record.schema.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found


def _refuse(constant: str) -> NoReturn:
    """Refuse what Python would read beyond JSON: NaN and the infinities."""
    raise ValueError(f"{constant} is not JSON")
