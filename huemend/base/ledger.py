"""What huemend wrote: each file's hash, noted before the file appears.

A file is huemend's to replace or remove only while it is as the ledger says. A run that is killed between the note
and the file leaves a note of a file that never came, which harms nothing.
"""

from __future__ import annotations

import json
import os
import re
import stat
from collections.abc import Mapping
from pathlib import Path

from huemend.base.files import hash_regular, output_errors, read_regular, remove, replace_text
from huemend.base.originals import Guard, stands_on_links
from huemend.base.reading import PLAINLY
from huemend.errors import OutputError

_HEADER = "huemend-written/1"
_LARGEST = 256 * 1024 * 1024
_SHA256 = re.compile(r"[0-9a-f]{64}")


class Ledger:
    """A ledger file; only who holds the lock on what it tells of may open it.

    Parameters
    ----------
    path : Path
        Of the ledger; names in it are relative to its folder.

    Raises
    ------
    OutputError
        What stands there is no ledger, or cannot be read.
    """

    def __init__(self, path: Path, guard: Guard) -> None:
        self._path = path
        self._guard = guard
        # File to hash to the job that it was written for.
        self._notes: dict[str, dict[str, str]] = {}
        self._handle: int | None = None
        self.stood = self._read()

    @property
    def names(self) -> tuple[str, ...]:
        """The files that were noted, in order."""
        return tuple(sorted(self._notes))

    def take_over(self, files: Mapping[str, str]) -> None:
        """Note files that another record lists: path to sha256. Written with the next `open`."""
        for name, digest in files.items():
            if _SHA256.fullmatch(digest) and _stays_inside(name):
                self._notes.setdefault(name, {})[digest] = ""

    def owns(self, name: str) -> bool:
        """Say whether a file is there and is as it was noted; the whole of it is read for that."""
        return self.standing(name) is not None

    def standing(self, name: str) -> str | None:
        """Return the hash of a file that is as it was noted; None for any other."""
        noted = self._notes.get(name)
        if not noted or stands_on_links(self._path.parent, name) is not None:
            return None
        digest = hash_regular(self._path.parent / name)
        return digest if digest in noted else None

    def job(self, name: str) -> str | None:
        """Return the job that a file which is as it was noted was written for; None for any other."""
        digest = self.standing(name)
        return None if digest is None else self._notes[name][digest]

    def open(self) -> None:
        """Write the ledger anew, and get ready for more notes; again does nothing.

        A file of its own, so that notes are never added to what has a second name elsewhere.
        """
        if self._handle is not None:
            return
        lines = [_line(name, digest, job) for name in self.names for digest, job in self._notes[name].items()]
        replace_text(self._path, "".join([f"{_HEADER}\n", *lines]), self._guard, own=lambda _: self.stood)
        self.stood = True
        with output_errors(self._path):
            self._handle = os.open(self._path, os.O_WRONLY | os.O_APPEND | PLAINLY)

    def note(self, name: str, digest: str, job: str = "") -> None:
        """Note a file that is about to appear."""
        self.open()
        self._notes.setdefault(name, {})[digest] = job
        if self._handle is not None:
            with output_errors(self._path):
                os.write(self._handle, _line(name, digest, job).encode("ascii"))

    def close(self) -> None:
        """Let go of the file."""
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None

    def confirm(self, name: str, digest: str) -> None:
        """Forget what was noted of a file before it came to be as it was noted last."""
        self._notes[name] = {digest: self._notes[name][digest]}

    def settle(self) -> None:
        """Write the ledger anew without what was noted before, if this run noted anything and has ended well."""
        if self._handle is not None:
            self.close()
            self.open()
            self.close()

    def drop(self) -> None:
        """Remove the ledger."""
        self.close()
        if self.stood:
            remove(self._path, self._guard)

    def _read(self) -> bool:
        try:
            facts = os.lstat(self._path)
        except (FileNotFoundError, NotADirectoryError):
            return False
        with output_errors(self._path):
            if not stat.S_ISREG(facts.st_mode) or facts.st_size > _LARGEST:
                raise _foreign(self._path)
            text = self._path.read_text(encoding="ascii", errors="replace")
        if not text:
            return True  # what a power cut can leave
        header, *lines = text.split("\n")
        if header != _HEADER:
            raise _foreign(self._path)
        for line in lines:
            self._read_line(line)
        return True

    def _read_line(self, line: str) -> None:
        try:
            said = json.loads(line)
            digest, job, name = said
        except (ValueError, TypeError, RecursionError):
            return  # cut short by a kill
        if all(isinstance(each, str) for each in said) and _SHA256.fullmatch(digest) and _stays_inside(name):
            self._notes.setdefault(name, {})[digest] = job


def is_ledger(path: Path) -> bool:
    """Say whether a file is a ledger."""
    data = read_regular(path, _LARGEST)
    return data is not None and data.startswith(_HEADER.encode())


def _stays_inside(name: str) -> bool:
    path = Path(name)
    return bool(path.parts) and not path.is_absolute() and ".." not in path.parts and "\0" not in name


def _line(name: str, digest: str, job: str) -> str:
    return json.dumps([digest, job, name]) + "\n"


def _foreign(path: Path) -> OutputError:
    return OutputError("was not written by huemend", where=path, todo="move it away or choose another folder")
