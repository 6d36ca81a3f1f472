"""The output folder: files appear whole or not at all, and the record comes last.

The life of a folder, so that a run that died can be told from one that finished:

1. ``prepare`` makes the folder, takes the lock and checks that it can be written. An earlier result stays as
   it is, because the work that follows may still fail on bad input.
2. The first file written starts the exchange: a journal takes over what the earlier record listed, and the
   earlier ``report.json`` goes away. From here until ``finish`` the folder is *incomplete*.
3. Every file is written beside its place and moved there in one step.
4. ``finish`` writes ``report.json``, removes files of the earlier result that this one did not write again
   (those that nobody changed since), and drops the journal.
"""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import json
import os
import re
import stat
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping
from enum import StrEnum
from pathlib import Path, PurePosixPath
from types import TracebackType
from typing import Any, Self

from huemend.base.files import writing_problem
from huemend.base.lock import FolderLock
from huemend.errors import OutputError

__all__ = ["JOURNAL", "RECORD", "FolderState", "OutputFolder", "check_folder", "file_name", "read_record"]

#: The record, written last.
RECORD = "report.json"

#: Present from the first file written until the record is in place.
JOURNAL = ".huemend-unfinished"

_PART = ".huemend-part-"
_LARGEST_RECORD = 64 * 1024 * 1024
_counter = itertools.count()


class FolderState(StrEnum):
    """What an output folder holds."""

    COMPLETE = "complete"
    INCOMPLETE = "incomplete"
    ABSENT = "absent"


class OutputFolder:
    """One run's output folder, held under a lock; use it as a context manager.

    Parameters
    ----------
    out : Path
        Made, with its parents, if it does not exist.

    Raises
    ------
    OutputError
        If the folder cannot be made, written or locked, or holds a ``report.json`` that is not ours.
    """

    def __init__(self, out: Path) -> None:
        self.out = out
        self._lock = FolderLock(out)
        self._written: dict[str, tuple[str, int]] = {}
        self._earlier: dict[str, str] | None = None
        self._made: list[Path] = []

    def __enter__(self) -> Self:
        self.prepare()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._lock.release()
        # A run that found nothing to write leaves no empty folder behind; one that holds anything stays.
        for folder in self._made:
            with contextlib.suppress(OSError):
                folder.rmdir()

    @property
    def files(self) -> Mapping[str, str]:
        """Files written so far: path inside the folder (with ``/``) to sha256."""
        return {path: digest for path, (digest, _) in sorted(self._written.items())}

    def prepare(self) -> None:
        """Make the folder, lock it and prove that it can be written, before the long work starts."""
        if self._lock.held:
            return
        with _told(self.out):
            self._made = [folder for folder in (self.out, *self.out.parents) if not folder.exists()]
            self.out.mkdir(parents=True, exist_ok=True)
            self._lock.take()
            try:
                probe = self._part("probe")
                with open(probe, "xb") as file:
                    file.write(b"huemend\n")
                probe.unlink()
                _own_record(self.out)
            except BaseException:
                self._lock.release()
                raise

    def write_bytes(self, relative: str, data: bytes) -> str:
        """Write one file whole; return its sha256.

        Parameters
        ----------
        relative : str
            Path inside the folder, with ``/`` between its parts.
        """
        return self._place(relative, lambda part: _write(part, data))

    def write_text(self, relative: str, text: str) -> str:
        """Write one file of UTF-8 text with the line ends that the text has; return its sha256."""
        return self.write_bytes(relative, text.encode("utf-8"))

    def finish(self, record: Mapping[str, Any]) -> dict[str, Any]:
        """Write the record last, with every file's sha256, and clear away what the earlier result left.

        Parameters
        ----------
        record : mapping
            JSON-serialisable; ``files`` is added to it.

        Returns
        -------
        dict
            The record as written.
        """
        files = [
            {"path": path, "sha256": digest, "bytes": size}
            for path, (digest, size) in sorted(self._written.items())
        ]
        whole = {**record, "files": files}
        text = json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        self._start()
        for folder in {(self.out / path).parent for path in self._written}:
            _sync_folder(folder)
        with _told(self.out / RECORD):
            self._swap(self.out / RECORD, lambda part: _write(part, text.encode("utf-8")))
            _sync_folder(self.out)
        with _told(self.out):
            self._clear_earlier()
            (self.out / JOURNAL).unlink(missing_ok=True)
        return whole

    # -------------------------------------------------------------------------------------- inside

    def _place(self, relative: str, write: Callable[[Path], None]) -> str:
        inner = _inside(relative)
        if not self._lock.held:
            self.prepare()
        self._start()
        target = self.out / inner
        with _told(target):
            target.parent.mkdir(parents=True, exist_ok=True)
            self._note(str(inner))
            digest, size = self._swap(target, write)
        self._written[str(inner)] = (digest, size)
        return digest

    def _swap(self, target: Path, write: Callable[[Path], None]) -> tuple[str, int]:
        """Write beside the target, flush to the disk, and move into place in one step."""
        part = self._part(target.suffix, target.parent)
        try:
            write(part)
            with open(part, "r+b") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
                size = file.tell()
                os.fsync(file.fileno())
            os.replace(part, target)
        except BaseException:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
            raise
        return digest, size

    def _part(self, ending: str, folder: Path | None = None) -> Path:
        return (folder or self.out) / f"{_PART}{os.getpid()}-{next(_counter)}{ending}"

    def _start(self) -> None:
        """Turn a finished folder into an unfinished one, before the first file changes."""
        if self._earlier is not None:
            return
        with _told(self.out):
            journal = self.out / JOURNAL
            earlier = dict(_journal(journal))
            old = _own_record(self.out)
            if old is not None:
                earlier.update(_listed(old))
            for folder in {(self.out / path).parent for path in [RECORD, *earlier]}:
                for left in folder.glob(f"{_PART}*"):
                    left.unlink(missing_ok=True)
            lines = "".join(f"{digest or '-'} {path}\n" for path, digest in sorted(earlier.items()))
            self._swap(journal, lambda part: _write(part, lines.encode("utf-8")))
            (self.out / RECORD).unlink(missing_ok=True)
            _sync_folder(self.out)
            self._earlier = earlier

    def _note(self, relative: str) -> None:
        # Appended before the file appears: if this run dies, the next one knows what it may clear away.
        with open(self.out / JOURNAL, "a", encoding="utf-8") as file:
            file.write(f"- {relative}\n")

    def _clear_earlier(self) -> None:
        for relative, digest in (self._earlier or {}).items():
            path = self.out / relative
            if relative in self._written or relative == RECORD or path.is_symlink() or not path.is_file():
                continue
            # Somebody's change to a file of ours is somebody's work: leave it.
            if digest and _sha256(path) != digest:
                continue
            path.unlink(missing_ok=True)
            for folder in path.relative_to(self.out).parents[:-1]:
                with contextlib.suppress(OSError):
                    (self.out / folder).rmdir()


def read_record(out: Path) -> dict[str, Any] | None:
    """Return the record of a finished run, or None where there is none that can be read.

    The files that it lists are not looked at: see ``check_folder``.
    """
    try:
        return _own_record(out)
    except (OSError, OutputError):
        return None


def need_record(out: Path) -> dict[str, Any]:
    """Return the record of a finished run that something is to be done with.

    Raises
    ------
    OutputError
        There is none, or it cannot be read.
    """
    record = read_record(out)
    if record is None:
        there = (out / RECORD).exists()
        raise OutputError(
            f"{RECORD} is damaged, or from another program" if there else f"there is no {RECORD}",
            where=out,
            todo="run huemend match first, or say where its results are with --match",
        )
    return record


def check_folder(out: Path) -> FolderState:
    """Say whether a folder holds a whole result: the record, and every file that it lists, unchanged.

    Parameters
    ----------
    out : Path
        An output folder, or a place where one might be.
    """
    record = read_record(out)
    if record is None or (out / JOURNAL).exists():
        started = (out / JOURNAL).exists() or (out / RECORD).exists()
        return FolderState.INCOMPLETE if started else FolderState.ABSENT
    try:
        # Regular files only: a pipe in a file's place would never end.
        whole = all(
            (out / path).is_file() and _sha256(out / path) == digest for path, digest in _listed(record).items()
        )
    except OSError:
        whole = False
    return FolderState.COMPLETE if whole else FolderState.INCOMPLETE


_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


def file_name(*parts: str) -> str:
    """Join names to a file name that every disk can hold and that cannot leave its folder.

    Letters and digits of any script stay; all else becomes ``_``.

    >>> file_name("glaze-table", "wide")
    'glaze-table_wide'
    >>> file_name("..", "a/b c")
    '_a_b_c'
    """
    kept = []
    for part in parts:
        normal = unicodedata.normalize("NFC", part)
        kept.append("".join(c if c.isalnum() or c in "-_." else "_" for c in normal).strip("."))
    name = "_".join(kept)
    if _RESERVED.fullmatch(name):
        name = f"_{name}"
    # 255 bytes is what most disks allow; the caller still adds an ending.
    return name.encode("utf-8")[:180].decode("utf-8", "ignore")


def _inside(relative: str) -> PurePosixPath:
    path = PurePosixPath(relative)
    if path.is_absolute() or ".." in path.parts or not path.parts or "\\" in relative or "\n" in relative:
        raise OutputError("this path would leave the output folder", where=relative)
    return path


def _write(path: Path, data: bytes) -> None:
    # Plain open, so that the umask decides who may read the file; mkstemp would shut out everyone else.
    with open(path, "xb") as file:
        file.write(data)


def _sha256(path: Path) -> str:
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _sync_folder(folder: Path) -> None:
    # Makes the renames last through a power cut; some network disks and Windows do not offer it.
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _own_record(out: Path) -> dict[str, Any] | None:
    """Return the folder's record; None if there is none; OutputError if report.json is somebody else's."""
    path = out / RECORD
    try:
        facts = path.stat()
        if facts.st_size > _LARGEST_RECORD or stat.S_ISFIFO(facts.st_mode):
            raise ValueError
        text = path.read_text(encoding="utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return None
    except ValueError:
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


def _listed(record: Mapping[str, Any]) -> dict[str, str]:
    """Return the files of a record; entries that point outside the folder are not ours and are left out."""
    found: dict[str, str] = {}
    entries = record.get("files")
    for entry in entries if isinstance(entries, list) else []:
        if isinstance(entry, dict) and isinstance(entry.get("path"), str):
            with contextlib.suppress(OutputError):
                found[str(_inside(entry["path"]))] = str(entry.get("sha256", ""))
    return found


def _journal(path: Path) -> Iterable[tuple[str, str]]:
    try:
        lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    except FileNotFoundError:
        return
    for line in lines:
        digest, _, relative = line.partition(" ")
        with contextlib.suppress(OutputError):
            yield str(_inside(relative)), "" if digest == "-" else digest


@contextlib.contextmanager
def _told(where: Path) -> Iterator[None]:
    """Turn what the operating system says into one line of ours."""
    try:
        yield
    except OSError as error:
        raise writing_problem(error, where) from error
