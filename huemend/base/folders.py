"""Folders: made without following links to elsewhere, removed when empty, placed whole."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from huemend.base.files import PART, output_errors
from huemend.base.originals import stands_on_links
from huemend.errors import OutputError


def make_folders(folder: Path, within: Path | None = None) -> list[Path]:
    """Make a folder and those above it; return what was made, the innermost first.

    Below ``within`` no part of the path may be a link, which would lead the writing elsewhere: raises
    OutputError.
    """
    if within is not None:
        check_no_link(within, folder.relative_to(within))
    made: list[Path] = []
    with output_errors(folder):
        made += [place for place in (folder, *folder.parents) if not place.exists()]
        folder.mkdir(parents=True, exist_ok=True)
    return made


def check_no_link(folder: Path, relative: str | os.PathLike[str]) -> None:
    """Refuse a path below a folder of which a part is a link, the last one counted; raises OutputError."""
    link = stands_on_links(folder, relative)
    if link is not None:
        raise OutputError("is a link that leads elsewhere", where=link, todo="move it away")


def remove_empty(folders: Iterable[Path]) -> None:
    """Remove those folders that hold nothing."""
    for folder in folders:
        with suppress(OSError):
            folder.rmdir()


def sync_folder(folder: Path) -> None:
    """Make the renames in a folder last through a power cut; some network disks and Windows do not offer it."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def place_folder(source: Path, folder: Path) -> None:
    """Copy a folder to a place that is free or an empty folder, whole or not at all; raises OutputError."""
    with output_errors(folder):
        empty = folder.is_dir() and not folder.is_symlink() and not any(folder.iterdir())
        if os.path.lexists(folder) and not empty:
            raise OutputError("is there already", where=folder, todo="name a folder that is new or empty")
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=PART, dir=folder.parent) as staging:
            copied = Path(staging) / source.name
            bytecode = shutil.ignore_patterns("__pycache__")
            shutil.copytree(source, copied, copy_function=shutil.copyfile, ignore=bytecode)
            if empty:
                folder.rmdir()
            os.rename(copied, folder)
