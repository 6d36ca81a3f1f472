"""Files that huemend keeps writing to one place: baked media, the pages of a day.

Unlike a result with its record, such a place may hold other files, and may be written by several runs at a time.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

from huemend.base.files import (
    check_replaceable,
    clear_parts,
    hash_regular,
    new_part,
    output_errors,
    put,
    short_tag,
)
from huemend.base.folders import check_no_link, make_folders, remove_empty
from huemend.base.ledger import Ledger
from huemend.base.lock import FolderLock
from huemend.base.originals import Guard
from huemend.errors import OutputError

#: What huemend wrote in a folder, so that it can be told from what others did.
LEDGER = ".huemend-written"


class Kept:
    """A folder, or one file in a folder, that this run writes; use it as a context manager.

    Parameters
    ----------
    folder : Path
        Made, with its parents, if it does not exist; removed again if nothing comes of it.
    guard : Guard
        What is never written over or removed.
    names : sequence of str
        The files that are written.
    alone : bool
        False lets other runs write other files in the folder at the same time; only one file is written then.

    Raises
    ------
    OutputError
        If the folder cannot be made, written or locked, or a ledger in it is not huemend's.
    """

    def __init__(self, folder: Path, guard: Guard, names: Sequence[str], *, alone: bool = True) -> None:
        self.folder = folder
        self._guard = guard
        self._names = tuple(names)
        self._ledger_name = f"{LEDGER}{'' if alone else f'-{short_tag(names[0])}'}"
        self._lock = FolderLock(folder, None if alone else names[0])
        self._ledger: Ledger | None = None
        self._made: list[Path] = []

    def __enter__(self) -> Self:
        self._made = make_folders(self.folder)
        try:
            with output_errors(self.folder):
                self._lock.take()
                # Whoever wrote parts of this and did not end is dead: the lock is ours.
                clear_parts(self.folder, [*self._names, self._ledger_name])
            self._ledger = Ledger(self.folder / self._ledger_name, self._guard)
        except BaseException:
            self._leave()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None and self._ledger is not None:
                self._ledger.settle()
        finally:
            self._leave()

    def _leave(self) -> None:
        if self._ledger is not None:
            self._ledger.close()
        self._lock.release()
        remove_empty(self._made)

    @property
    def ledger(self) -> Ledger:
        """What was written here."""
        if self._ledger is None:
            raise ValueError("the folder is not held")
        return self._ledger

    def check_source(self, name: str) -> None:
        """Refuse a name under which a source of the setup stands; raises OutputError."""
        self._guard.check(self.folder / name)

    def check(self, name: str, *, overwrite: bool = True) -> None:
        """Refuse a file that is not to be written: raises OutputError for a source, a link, or somebody's file.

        Without ``overwrite`` what huemend wrote is refused, too.
        """
        path = self.folder / name
        self._guard.check(path)
        check_no_link(self.folder, name)
        if overwrite:
            check_replaceable(path, self._guard, own=lambda _: self.ledger.owns(name))
        elif path.exists():
            raise OutputError("is there already", where=path, todo="choose another --out, or --overwrite")

    def write(self, name: str, data: bytes) -> None:
        """Write a whole file, as `writing` does; one that holds just that already is left as it is."""
        if self.ledger.owns(name) and hash_regular(self.folder / name) == hashlib.sha256(data).hexdigest():
            return
        with self.writing(name) as part:
            part.write_bytes(data)

    @contextmanager
    def writing(self, name: str, job: str = "", *, overwrite: bool = True) -> Iterator[Path]:
        """Yield the name of a temporary file that takes the place of ``name`` when the block ends well.

        ``job`` says what it is written for, so that another run can tell whether it is done already. What
        others wrote is never replaced, and without ``overwrite`` nothing is; raises OutputError.
        """
        self.check(name, overwrite=overwrite)
        path = self.folder / name
        with output_errors(path):
            part = new_part(path)
            try:
                yield part
                digest = hash_regular(part)
                if digest is None:
                    raise OutputError("was taken away while it was written", where=path, todo="run again")
                self.ledger.note(name, digest, job)
                self.check(name, overwrite=overwrite)
                put(part, path, self._guard, own=lambda _: self.ledger.owns(name))
            finally:
                part.unlink(missing_ok=True)
        self.ledger.confirm(name, digest)
