"""Originals, which no writer may touch: the files that somebody's work rests on.

Whether a file may be written over is decided by `check_replaceable` of `huemend.base.files`, which asks the
``Guard`` that writers are given; `creating` writes over nothing, and `remove` asks the guard alone. A file is
known by its number on the disk, so that a link, a second hard link or another spelling of its name is the same
file, and by its place, so that a file which is gone for a moment keeps its name.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from huemend.errors import OutputError


@dataclass(frozen=True, kw_only=True)
class Guard:
    """A set of protected files."""

    #: Frozenset of (device, inode).
    numbers: frozenset[tuple[int, int]] = frozenset()
    #: Where the files lie, without links on the way.
    places: frozenset[str] = frozenset()

    @classmethod
    def over(cls, files: Iterable[Path]) -> Self:
        """Protect these files, and what they are links to."""
        numbers, places = set(), set()
        folders: dict[Path, str] = {}
        for path in files:
            folder = path.parent
            if folder not in folders:
                folders[folder] = os.path.realpath(folder)
            places.add(os.path.join(folders[folder], path.name))
            try:
                if path.is_symlink():
                    places.add(os.path.realpath(path))
                facts = os.stat(path)
            except OSError:
                continue  # gone, or out of reach: its place stays protected
            if facts.st_ino:
                numbers.add((facts.st_dev, facts.st_ino))
        return cls(numbers=frozenset(numbers), places=frozenset(places))

    def __or__(self, other: Guard) -> Guard:
        return Guard(numbers=self.numbers | other.numbers, places=self.places | other.places)

    def holds(self, path: Path) -> bool:
        """Say whether a path is a protected file, leads to one, or is another name of one."""
        if os.path.join(os.path.realpath(path.parent), path.name) in self.places:
            return True
        try:
            facts = os.stat(path)
        except OSError:
            return False
        return (facts.st_dev, facts.st_ino) in self.numbers

    def check(self, path: Path) -> None:
        """Refuse to write or remove a protected file, or a path that leads to one; raises OutputError."""
        if self.holds(path):
            raise OutputError("is a source of this setup", where=path, todo="choose another --out")


def stands_on_links(folder: Path, relative: str | os.PathLike[str]) -> Path | None:
    """Return the first part of a path below a folder that is a link, or None where each is what it seems.

    The folder may be a link itself, since somebody named it; of the path the last part counts, too.
    """
    place = folder
    for part in Path(relative).parts:
        place = place / part
        if place.is_symlink():
            return place
    return None
