"""Which setups a day's folder holds, and what ``day.toml`` says for all of them."""

from __future__ import annotations

import glob
import os
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from huemend.base.guard import Guard
from huemend.base.text import told_apart
from huemend.day.index import INDEX, TABLE
from huemend.encodings.registry import find_encoding
from huemend.errors import EncodingError, InputError
from huemend.model import EncodingSpec
from huemend.options import DayOptions, SampleOptions
from huemend.sample.encoding_table import parse_encoding_spec
from huemend.sample.names import natural_key, normal_name, unsafe
from huemend.sample.setupfile import ANGLE_KEYS
from huemend.sample.stills import is_media
from huemend.sample.tables import Table
from huemend.sample.tomlfile import read_toml
from huemend.write.outputs import file_name
from huemend.write.record_reading import holds_result

#: What marks a folder as a setup.
SETUP_FILE = "setup.toml"

#: What a day's folder may hold beside its setups.
DAY_FILE = "day.toml"

_TOP_KEYS = ("day", "angle", "encoding")
_DAY_KEYS = ("name", "hero")
_MEDIA_HINT = "write media = \"A*\", which files of a setup's folder are this angle's"


@dataclass(frozen=True, kw_only=True)
class DaySetup:
    """One setup of a day."""

    #: Its folder, relative to the day's, with ``/``: where its results go under the output folder.
    name: str
    #: Its setup file, which need not exist where ``defaults`` say everything.
    path: Path
    #: What ``day.toml`` says for it, as tables of a setup file.
    defaults: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Day:
    """A folder of setups, in natural order of their names."""

    name: str
    folder: Path
    setups: tuple[DaySetup, ...]


def find_day(
    folder: Path,
    *,
    leave_out: Path | None = None,
    options: DayOptions | None = None,
) -> Day:
    """Find the setups in a folder.

    A folder with a ``setup.toml`` is a setup; so is one without, if ``day.toml`` says which of its files are
    which angle's. Folders inside a setup are not looked into. A link to a folder is followed once.

    Parameters
    ----------
    leave_out : Path, optional
        The output folder, should it lie inside.
    options : DayOptions, optional
        Bounds.

    Raises
    ------
    InputError
        The folder cannot be read, ``day.toml`` says something that makes no sense, or there is no setup.
    """
    options = options or DayOptions()
    try:
        names = os.listdir(folder)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"cannot be read ({reason})", where=folder, todo="name the folder of a day") from error
    defaults = _read_day_file(folder / DAY_FILE) if DAY_FILE in names else {}
    name = defaults.get("day", {}).get("name") or folder.resolve().name or "day"
    shared: dict[str, Any] = {key: defaults[key] for key in ("setup", "encoding") if key in defaults}
    angles = defaults.get("angle", {})
    found: list[DaySetup] = []
    # What the day itself writes beside its setups is nobody's folder.
    taken = {INDEX, TABLE}
    for place in _folders(folder, leave_out, options, lambda place: _is_setup(place, angles)):
        own: dict[str, Any] = {}
        if defaults:
            media = _media_by_angle(place, angles)
            chosen = {key: {**angles[key], "media": files} for key, files in media.items()}
            if (place / SETUP_FILE).exists():
                chosen = {**angles, **chosen}
            own = {**shared, "angle": chosen}
        where = _name(place, folder, taken)
        if own:
            own["setup"] = {"name": where.replace("/", " "), **own.get("setup", {})}
        found.append(DaySetup(name=where, path=place / SETUP_FILE, defaults=own))
    if not found:
        raise InputError(
            f"holds no folder with a {SETUP_FILE}",
            where=folder,
            todo=f"draft them with `huemend new`, or write a {DAY_FILE} (docs/day.md)",
        )
    return Day(name=normal_name(name), folder=folder, setups=tuple(found))


def day_guard(day: Day) -> Guard:
    """Protect what a day is read from; each setup's own media are protected by its own run."""
    return Guard.over([day.folder / DAY_FILE, *(setup.path for setup in day.setups)])


def _read_day_file(path: Path) -> dict[str, Any]:
    """Read what holds for the whole day; the tables come back in the form of a setup file's."""
    top = Table(read_toml(path, SampleOptions()), path, known=_TOP_KEYS)
    out: dict[str, Any] = {}
    custom: list[EncodingSpec] = []
    if "day" in top:
        day = top.table("day", _DAY_KEYS)
        if "name" in day:
            out["day"] = {"name": day.text("name")}
        if "hero" in day:
            out["setup"] = {"hero": day.text("hero")}
    if "encoding" in top:
        out["encoding"] = {
            name: _anchored(values, path.parent) for name, values in top.table("encoding").values.items()
        }
        custom = [parse_encoding_spec(name, values, path) for name, values in out["encoding"].items()]
    if "angle" in top:
        tables = top.table("angle")
        out["angle"] = {}
        for key in tables.values:
            why = unsafe(normal_name(key))
            if why:
                raise tables.problem(f"the name {why}", ascii(key)[1:-1], todo="choose a plain name")
            table = tables.table(key, ANGLE_KEYS)
            if "encoding" in table:
                _check_encoding(table, custom)
            if "media" in table and any("\0" in text for text in table.texts("media", hint=_MEDIA_HINT)):
                raise table.problem("holds a NUL character", "media", todo=_MEDIA_HINT)
            out["angle"][key] = dict(table.values)
    return out


def _check_encoding(table: Table, custom: Sequence[EncodingSpec]) -> None:
    """Complain about a name once for the day, rather than in every setup."""
    try:
        find_encoding(table.text("encoding"), custom=custom)
    except EncodingError as error:
        where = f"{table.source}: {table.key}.encoding"
        raise EncodingError(error.what, where=where, todo=error.todo) from error


def _anchored(values: Any, folder: Path) -> Any:
    """Make the file that an encoding's table may name independent of the setup it is used in."""
    if isinstance(values, Mapping) and isinstance(values.get("table"), str):
        return {**values, "table": str((folder / values["table"]).absolute())}
    return values


def _folders(
    folder: Path, leave_out: Path | None, options: DayOptions, is_setup: Callable[[Path], bool]
) -> Iterator[Path]:
    """Yield the folders that are setups, in natural order, each once however many links lead to it."""
    skipped = None if leave_out is None else leave_out.resolve()
    seen: set[tuple[int, int]] = set()
    waiting = [(folder, 0)]
    while waiting:
        place, depth = waiting.pop()
        try:
            facts = os.stat(place)
            # The system's number for a folder; where it has none (some network disks), depth is the bound.
            number = (facts.st_dev, facts.st_ino)
            if (facts.st_ino and number in seen) or place.resolve() == skipped or _is_result(place):
                continue
            seen.add(number)
            if len(seen) > options.most_folders:
                raise InputError(
                    f"holds more than {options.most_folders} folders", where=folder, todo="name a smaller one"
                )
            if is_setup(place):
                yield place
                continue
            with os.scandir(place) as entries:
                inner = [entry.name for entry in entries if entry.name[0] != "." and entry.is_dir()]
        except OSError:
            continue  # a folder that cannot be read, or a link that leads nowhere, holds no setup for us
        if depth < options.depth:
            waiting += [(place / name, depth + 1) for name in sorted(inner, key=natural_key, reverse=True)]


def _is_result(place: Path) -> bool:
    """Say whether a folder holds results of huemend's and no setup; a file that only has the name says nothing."""
    return not (place / SETUP_FILE).exists() and holds_result(place)


def _is_setup(place: Path, angles: Mapping[str, Any]) -> bool:
    if (place / SETUP_FILE).exists():
        return True
    return len(_media_by_angle(place, angles)) > 1


def _media_by_angle(place: Path, angles: Mapping[str, Any]) -> dict[str, list[str]]:
    """Say which files of a folder are which angle's; angles that have none are left out.

    Without ``media``, an angle's files are those that begin with its name, not followed by a letter (A001.mov and
    A_02.png are A's), and those in a folder of that name. Cameras name files so (common practice, no source).
    """
    out: dict[str, list[str]] = {}
    for key, table in angles.items():
        if "media" in table:
            given = table["media"]
            patterns = given if isinstance(given, list) else [given]
            names = {name for pattern in patterns for name in glob.glob(pattern, root_dir=place)}
        else:
            begins = re.compile(re.escape(key) + r"(?![^\W\d_])", re.IGNORECASE)
            names = {name for name in os.listdir(place) if begins.match(name)}
            folders = [name for name in names if (place / name).is_dir()]
            names |= {f"{sub}/{name}" for sub in folders for name in os.listdir(place / sub)}
        media = [n for n in names if is_media(Path(n)) and Path(n).name[0] != "." and (place / n).is_file()]
        if media:
            # A glob-like name ("take[2].png") that exists is taken as it stands by the setup file's reader.
            out[key] = sorted(media, key=natural_key)
    return out


def _name(place: Path, folder: Path, taken: set[str]) -> str:
    """Name a setup after its folder; what no disk or page could show is replaced, and no two share a name."""
    parts = place.relative_to(folder).parts or (folder.resolve().name or "day",)
    kept = [part if not unsafe(part) else file_name(ascii(part)[1:-1]) or "setup" for part in parts]
    return told_apart(normal_name("/".join(kept)), taken)
