"""The record as it is read again: by `bake`, `verify`, and the index of a day. Checked once, here.

What passes follows ``record.schema.json``: whoever is given it need not ask whether a key is there. What does not
is an ``OutputError`` in one line, whoever wrote it: an older version, another program, or somebody's editor.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, NoReturn

from huemend.base.reading import read_bounded
from huemend.base.schema import problem
from huemend.errors import OutputError
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


@cache
def _schema() -> Mapping[str, Any]:
    """Return the JSON Schema (2020-12) of the record."""
    text = files("huemend.write").joinpath("record.schema.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found


def _refuse(constant: str) -> NoReturn:
    """Refuse what Python would read beyond JSON: NaN and the infinities."""
    raise ValueError(f"{constant} is not JSON")
