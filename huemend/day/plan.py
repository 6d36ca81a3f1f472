"""Which setups a day's folder holds, and what ``day.toml`` says for all of them."""

from __future__ import annotations

import glob
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from huemend.base.originals import Guard
from huemend.base.text import told_apart
from huemend.day.index import INDEX, TABLE
from huemend.encodings.registry import find_encoding
from huemend.errors import EncodingError, InputError, said_by_system
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


def find_day(folder: Path, *, leave_out: Path | None = None, options: DayOptions | None = None) -> Day:
    """Find the setups in a folder, but for those of the output folder (``leave_out``), should it lie inside.

    A folder with a ``setup.toml`` is a setup; so is one without, if ``day.toml`` says which of its files are which
    angle's. Folders inside a setup are not looked into. A link to a folder is followed once. Raises InputError
    where the folder cannot be read, ``day.toml`` says something that makes no sense, or there is no setup.
    """
    options = options or DayOptions()
    try:
        names = os.listdir(folder)
    except OSError as error:
        raise InputError(
            f"cannot be read ({said_by_system(error)})", where=folder, todo="name the folder of a day"
        ) from error
    file = _read_day_file(folder / DAY_FILE) if DAY_FILE in names else _DayFile()
    found: list[DaySetup] = []
    # What the day itself writes beside its setups is nobody's folder.
    taken = {INDEX, TABLE}
    for place, media in _setup_folders(folder, leave_out, options, file.angles):
        name, path = _name(place, folder, taken), place / SETUP_FILE
        defaults = file.defaults(name, media, beside_file=path.exists())
        found.append(DaySetup(name=name, path=path, defaults=defaults))
    if not found:
        raise InputError(
            f"holds no folder with a {SETUP_FILE}",
            where=folder,
            todo=f"draft them with `huemend new`, or write a {DAY_FILE} (docs/day.md)",
        )
    return Day(name=normal_name(file.name or folder.resolve().name or "day"), folder=folder, setups=tuple(found))


def day_guard(day: Day) -> Guard:
    """Protect what a day is read from; each setup's own media are protected by its own run."""
    return Guard.over([day.folder / DAY_FILE, *(setup.path for setup in day.setups)])


@dataclass(frozen=True, kw_only=True)
class _DayFile:
    """What holds for the whole day."""

    name: str = ""
    hero: str = ""
    #: Mapping of name to table, as in a setup file.
    encodings: Mapping[str, Any] = field(default_factory=dict)
    angles: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def defaults(self, name: str, media: Mapping[str, list[str]], *, beside_file: bool) -> dict[str, Any]:
        """Return what it says for one setup, whose files go by angle, as the tables of a setup file.

        A setup with a file of its own, which this lies ``beside_file``, may name media of the other angles there.
        """
        if self == _DayFile():
            return {}
        named = self.angles if beside_file else {}
        own = {key: {**self.angles[key], "media": files} for key, files in media.items()}
        setup = {"name": name.replace("/", " ")} | ({"hero": self.hero} if self.hero else {})
        encodings = {"encoding": self.encodings} if self.encodings else {}
        return {"setup": setup, **encodings, "angle": {**named, **own}}


def _read_day_file(path: Path) -> _DayFile:
    top = Table(read_toml(path, SampleOptions()), path, known=_TOP_KEYS)
    day = top.table("day", _DAY_KEYS) if "day" in top else None
    name, hero = (day.text(key) if day is not None and key in day else "" for key in _DAY_KEYS)
    tables = top.table("encoding").values if "encoding" in top else {}
    encodings = {name: _anchored(values, path.parent) for name, values in tables.items()}
    custom = [parse_encoding_spec(name, values, path) for name, values in encodings.items()]
    angles = _angles(top.table("angle"), custom) if "angle" in top else {}
    return _DayFile(name=name, hero=hero, encodings=encodings, angles=angles)


def _angles(tables: Table, custom: Sequence[EncodingSpec]) -> dict[str, Mapping[str, Any]]:
    """Check what is said of every angle, and return it as it was said."""
    for key in tables.values:
        why = unsafe(normal_name(key))
        if why:
            raise tables.problem(f"the name {why}", ascii(key)[1:-1], todo="choose a plain name")
        table = tables.table(key, ANGLE_KEYS)
        if "encoding" in table:
            _check_encoding(table, custom)
        if "media" in table and any("\0" in text for text in table.texts("media", hint=_MEDIA_HINT)):
            raise table.problem("holds a NUL character", "media", todo=_MEDIA_HINT)
    return {key: dict(tables.table(key).values) for key in tables.values}


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


def _setup_folders(
    folder: Path, leave_out: Path | None, options: DayOptions, angles: Mapping[str, Mapping[str, Any]]
) -> Iterator[tuple[Path, dict[str, list[str]]]]:
    """Yield the folders that are setups, in natural order, each once however many links lead to it.

    With each come its files by angle, as far as ``angles`` of the day's file say which are whose.
    """
    skipped = None if leave_out is None else leave_out.resolve()
    seen: set[tuple[int, int]] = set()
    waiting = [(folder, 0)]
    while waiting:
        place, depth = waiting.pop()
        try:
            facts = os.stat(place)
            # The system's number for a folder; where it has none (some network disks), depth is the bound.
            number = (facts.st_dev, facts.st_ino)
            if (facts.st_ino and number in seen) or place.resolve() == skipped:
                continue
            if not (place / SETUP_FILE).exists() and holds_result(place):
                continue  # results of huemend's; a file that only has the name of one says nothing
            seen.add(number)
            if len(seen) > options.most_folders:
                raise InputError(
                    f"holds more than {options.most_folders} folders", where=folder, todo="name a smaller one"
                )
            media = _media_by_angle(place, angles)
            if (place / SETUP_FILE).exists() or len(media) > 1:
                yield place, media
                continue
            with os.scandir(place) as entries:
                inner = [entry.name for entry in entries if entry.name[0] != "." and entry.is_dir()]
        except OSError:
            continue  # a folder that cannot be read, or a link that leads nowhere, holds no setup for us
        if depth < options.depth:
            waiting += [(place / name, depth + 1) for name in sorted(inner, key=natural_key, reverse=True)]


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
