"""What was written as it is read again, the record first: by `bake`, `verify`, and the index of a day.

What `read_record` passes follows ``record.schema.json``: whoever is given it need not ask whether a key is there.
What does not is an ``OutputError`` in one line, whoever wrote it: an older version, another program, or somebody's
editor.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path, PurePosixPath
from typing import Any, NoReturn

import numpy as np

from huemend.base.files import hash_regular, read_regular
from huemend.base.ledger import is_ledger
from huemend.base.originals import stands_on_links
from huemend.base.reading import read_bounded
from huemend.base.schema import problem
from huemend.errors import OutputError, said_by_system
from huemend.model import Match
from huemend.options import FileOptions

#: The record, written last.
RECORD = "report.json"

#: Present from the first file written until the record is in place.
JOURNAL = ".huemend-unfinished"

_OURS = "huemend-record/"
_AGAIN = "run huemend match again"
_AWAY = "move it away or choose another folder"


def read_record(out: Path, *, strict: bool = True) -> dict[str, Any] | None:
    """Return the record of an output folder; None where there is no such file, or an empty one.

    Without ``strict`` any record of huemend's will do, of whatever version; nothing in it can be relied on then.
    Raises OutputError where it cannot be read, is not huemend's, or is not as this version writes it.
    """
    path = out / RECORD
    try:
        data = read_bounded(path, FileOptions().record).strip()
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        raise OutputError(f"cannot be read ({said_by_system(error)})", where=path, todo=_AWAY) from error
    # A power cut can leave an empty file.
    return parse_record(data, path, strict=strict) if data else None


def parse_record(data: bytes, where: Path, *, strict: bool = True) -> dict[str, Any]:
    """Return the record that these bytes are, as `read_record` does; ``where`` names them in errors."""
    try:
        record = json.loads(data, parse_constant=_refuse)
    except (ValueError, RecursionError) as error:
        raise OutputError("is damaged, or from another program", where=where, todo=_AWAY) from error
    written_as = record.get("schema") if isinstance(record, dict) else None
    if not isinstance(written_as, str) or not written_as.startswith(_OURS):
        raise OutputError("was not written by huemend", where=where, todo=_AWAY)
    if strict:
        schema = record_schema()
        if written_as != schema["properties"]["schema"]["const"]:
            what = f"was written by another version of huemend ({written_as})"
            raise OutputError(what, where=where, todo=_AGAIN)
        if wrong := problem(record, schema):
            raise OutputError(f"is not as this version writes it: {wrong[:200]}", where=where, todo=_AGAIN)
    return dict(record)


def match_of(entry: Mapping[str, Any]) -> Match | None:
    """Return the match of an angle's entry in a record, or None; given its ``solved``, the match before a nudge.

    Raises KeyError, TypeError or ValueError if the entry does not follow the schema.
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


def read_inside(out: Path, relative: str) -> bytes | None:
    """Return the bytes of a regular file that a record lists; None for anything else, links among it."""
    try:
        path = out / inside(relative)
    except OutputError:
        return None
    if stands_on_links(out, relative) is not None:
        return None
    return read_regular(path, FileOptions().lut)


def holds_result(out: Path) -> bool:
    """Say whether a folder holds what a run of huemend wrote, whole or not."""
    with contextlib.suppress(OutputError):
        record = read_record(out, strict=False)
        if record is not None and isinstance(record.get("files"), list):
            return True
    return is_ledger(out / JOURNAL)


def is_whole(out: Path) -> bool:
    """Say whether a folder holds a whole result: the record, and every file that it lists, unchanged."""
    try:
        record = read_record(out, strict=False)
    except OutputError:
        return False
    if record is None or os.path.lexists(out / JOURNAL):
        return False
    return all(
        stands_on_links(out, path) is None and hash_regular(out / path) == digest
        for path, digest in listed_files(record).items()
    )


def inside(relative: str) -> PurePosixPath:
    path = PurePosixPath(relative)
    if path.is_absolute() or ".." in path.parts or not path.parts or "\\" in relative or "\n" in relative:
        raise OutputError("this path would leave the output folder", where=relative)
    return path


def listed_files(record: Mapping[str, Any]) -> dict[str, str]:
    """Return the files of a record; entries that point outside the folder are not ours and are left out."""
    found: dict[str, str] = {}
    entries = record.get("files")
    for entry in entries if isinstance(entries, list) else []:
        if isinstance(entry, dict) and isinstance(entry.get("path"), str):
            with contextlib.suppress(OutputError):
                found[str(inside(entry["path"]))] = str(entry.get("sha256", ""))
    return found


def record_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) that every ``report.json`` follows."""
    text = files("huemend.write").joinpath("record.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def _refuse(constant: str) -> NoReturn:
    """Refuse what Python would read beyond JSON: NaN and the infinities."""
    raise ValueError(f"{constant} is not JSON")
