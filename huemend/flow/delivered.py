"""A match LUT as it was delivered: looked at before anything is baked or measured with it.

A LUT is what the record says of it only while it is the file that was written, in a folder whose run came to its
end, and used on what it was made for: media in the same encoding and range.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from huemend.base.originals import stands_on_links
from huemend.encodings.registry import encoding_of, find_encoding
from huemend.errors import EncodingError, LutError, OutputError
from huemend.model import Angle, Setup
from huemend.sample.footage import is_clip
from huemend.write.record_reading import JOURNAL, RECORD, read_inside, read_record

_AGAIN = "run huemend match again"


@dataclass(frozen=True, kw_only=True)
class MatchLut:
    """A delivered match LUT."""

    path: Path
    #: Of the file, as they were written with the record.
    data: bytes
    sha256: str
    #: What the record says of it.
    entry: Mapping[str, Any]


def delivered_record(delivered: Path, option: str = "--match") -> dict[str, Any]:
    """Return the record of an output folder whose last run came to its end; ``option`` names such a folder.

    Raises OutputError if there is none, it cannot be read, or a run was interrupted since.
    """
    record = read_record(delivered)
    if record is None:
        todo = f"run huemend match first, or say where its results are with {option}"
        raise OutputError(f"there is no {RECORD}", where=delivered, todo=todo)
    if (delivered / JOURNAL).exists():
        raise OutputError("holds what an interrupted run left", where=delivered, todo=_AGAIN)
    return record


def match_lut(record: Mapping[str, Any], delivered: Path, setup: Setup, name: str) -> MatchLut | None:
    """Find an angle's match LUT, if it got one, and check that it is as written and fits what the angle is now.

    Raises OutputError if record and setup disagree on encoding or range; LutError if the LUT is gone, or
    another.
    """
    said = record["angles"][name]
    entry = next((each for each in said["luts"] if each["kind"] == "match"), None)
    if entry is None:
        return None
    _check_camera(setup, setup[name], said, delivered)
    _check_range(record, setup[name], said, delivered)
    if entry["output"] != entry["input"]:
        _check_hero(setup, entry["output"], delivered)
    path = delivered / entry["path"]
    written = next((each["sha256"] for each in record["files"] if each["path"] == entry["path"]), None)
    if written is None or stands_on_links(delivered, entry["path"]) is not None:
        raise LutError("is not a file that was written with the record", where=path, todo=_AGAIN)
    data = read_inside(delivered, entry["path"])
    if data is None:
        raise LutError("cannot be read: it is gone, or is no file", where=path, todo=_AGAIN)
    digest = hashlib.sha256(data).hexdigest()
    if digest != written:
        raise LutError("is not the LUT that was written with the record", where=path, todo=_AGAIN)
    return MatchLut(path=path, data=data, sha256=digest, entry=entry)


def check_hero(record: Mapping[str, Any], delivered: Path, setup: Setup) -> None:
    """Check that the hero is decoded as it was when matched, for who measures against it; raises OutputError."""
    for entry in record["hero_luts"][:1]:
        _check_hero(setup, entry["input"], delivered)


def _check_camera(setup: Setup, angle: Angle, said: Mapping[str, Any], delivered: Path) -> None:
    now = encoding_of(angle.name, setup)
    try:
        then = find_encoding(said["encoding"], exposure_index=said["exposure_index"], custom=setup.encodings)
    except EncodingError:
        raise _disagree(delivered, f"{angle.name} was {said['encoding']}", now.name) from None
    if (now.name, now.curve.form) != (then.name, then.curve.form):
        index = f" at exposure index {angle.exposure_index}" if now.name == then.name else ""
        raise _disagree(delivered, f"{angle.name} was {then.name}", f"{now.name}{index}")


def _check_range(record: Mapping[str, Any], angle: Angle, said: Mapping[str, Any], delivered: Path) -> None:
    if is_clip(angle.media) and not angle.range_stated:
        return  # the clip's own tag says it, and what goes through the LUT is brought to the LUT's range
    then = next((each["range"] for each in record["inputs"] if each["angle"] == angle.name), said["range"])
    if then != angle.range:
        raise _disagree(delivered, f"{angle.name} was {then} range", f"{angle.range} range")


def _check_hero(setup: Setup, then: str, delivered: Path) -> None:
    now = encoding_of(setup.hero, setup)
    if now.name != then:
        raise _disagree(delivered, f"the hero {setup.hero} was {then}", now.name)


def _disagree(delivered: Path, then: str, now: str) -> OutputError:
    return OutputError(
        f"{then} when it was matched, and the setup file now says {now}",
        where=delivered / RECORD,
        todo="correct the setup file, or run huemend match again",
    )
