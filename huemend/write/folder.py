"""The output folder: files appear whole or not at all, and the record comes last.

The life of a folder, so that a run that died can be told from one that finished:

1. ``prepare`` makes the folder, takes the lock and checks that it can be written. An earlier result stays as
   it is, because the work that follows may still fail on bad input.
2. The first file written, or taken over from the earlier result, starts the exchange: a journal takes over what
   the earlier record listed, and the earlier ``report.json`` goes away. From here until ``finish`` the folder is
   *incomplete*.
3. Every file is written beside its place, noted in the journal with its hash, and moved there in one step.
4. ``finish`` writes ``report.json``, removes files of the earlier result that this one did not write again,
   and drops the journal.

What is replaced or removed is only what an earlier run wrote there and nobody changed since, by its hash, and the
earlier ``report.json``, which lists those hashes; never a source of the setup, nor anything that a link on the way
leads to.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePosixPath
from types import TracebackType
from typing import Any, Self

from huemend.base.files import check_replaceable, clear_parts, output_errors, put, remove, write_part
from huemend.base.folders import check_no_link, make_folders, remove_empty, sync_folder
from huemend.base.ledger import Ledger
from huemend.base.lock import FolderLock
from huemend.base.originals import Guard, stands_on_links
from huemend.write.outputs import is_output
from huemend.write.record_reading import JOURNAL, RECORD, inside, listed_files, read_record


class OutputFolder:
    """One run's output folder, held under a lock; use it as a context manager.

    It is made, with its parents, if it does not exist. What ``guard`` holds is never written over or removed, and
    no part of the path below ``within`` may be a link. That files of ``names`` can be written is checked before
    the long work starts. Raises OutputError if the folder cannot be made, written or locked, or holds a
    ``report.json`` that is not ours.
    """

    def __init__(self, out: Path, guard: Guard, *, within: Path | None = None, names: Iterable[str] = ()) -> None:
        self.out = out
        self._guard = guard
        self._within = within
        self.expected = tuple(names)
        self._lock = FolderLock(out)
        self._written: dict[str, tuple[str, int]] = {}
        self._journal: Ledger | None = None
        self._started = False
        self._made: list[Path] = []

    def __enter__(self) -> Self:
        self.prepare()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._journal is not None:
            self._journal.close()
        self._lock.release()
        # A run that found nothing to write leaves no empty folder behind; one that holds anything stays.
        remove_empty(self._made)

    def prepare(self) -> None:
        """Make the folder, lock it and prove that it can be written, before the long work starts."""
        if self._lock.held:
            return
        self._made = make_folders(self.out, self._within)
        try:
            with output_errors(self.out):
                self._lock.take()
                write_part(self.out / "probe", b"huemend\n")
                clear_parts(self.out, ["probe"])
            self._check(RECORD)
            self._journal = self._read_journal()
            for name in (JOURNAL, *self.expected):
                self._check(name)
        except BaseException:
            self._lock.release()
            remove_empty(self._made)
            raise

    def write_bytes(self, relative: str, data: bytes) -> str:
        """Write one file whole, at a path inside the folder with ``/`` between its parts; return its sha256."""
        path = str(inside(relative))
        if not self._lock.held:
            self.prepare()
        journal = self._start()
        target = self.out / path
        digest = hashlib.sha256(data).hexdigest()
        self._check(path)
        with output_errors(target):
            make_folders(target.parent, self.out)
            part = write_part(target, data)
            # Noted before the file appears: if this run dies, the next one knows what it may clear away.
            journal.note(path, digest)
            put(part, target, self._guard, own=lambda _: self._owns(path))
        journal.confirm(path, digest)
        self._written[path] = (digest, len(data))
        return digest

    def write_text(self, relative: str, text: str) -> str:
        """Write one file of UTF-8 text with the line ends that the text has; return its sha256."""
        return self.write_bytes(relative, text.encode("utf-8"))

    def take_over(self, relative: str, digest: str | None) -> bool:
        """Count a file of an earlier run, that is there as it left it, among those of this run; say if it is.

        This starts the exchange, as writing a file does, whether the file is there or not.
        """
        path = str(inside(relative))
        target = self.out / path
        if digest is None or self._guard.holds(target) or self._start().standing(path) != digest:
            return False
        self._written[path] = (digest, target.stat().st_size)
        return True

    def finish(self, record: Mapping[str, Any]) -> dict[str, Any]:
        """Write the record last, and clear away what the earlier result left; return the record as it was written.

        To what is given, ready for JSON, ``files`` is added: every file with its sha256.
        """
        files = [
            {"path": path, "sha256": digest, "bytes": size}
            for path, (digest, size) in sorted(self._written.items())
        ]
        whole = {**record, "files": files}
        text = json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        journal = self._start()
        for folder in {(self.out / path).parent for path in self._written}:
            sync_folder(folder)
        with output_errors(self.out / RECORD):
            part = write_part(self.out / RECORD, text.encode("utf-8"))
            put(part, self.out / RECORD, self._guard, own=lambda _: False)
            sync_folder(self.out)
        with output_errors(self.out):
            self._clear_earlier(journal)
            journal.drop()
        return whole

    # -------------------------------------------------------------------------------------- inside

    def _read_journal(self) -> Ledger:
        """Gather what earlier runs wrote here: what their record lists, and what a journal says of killed ones."""
        journal = Ledger(self.out / JOURNAL, self._guard)
        old = read_record(self.out, strict=False)
        if old is not None:
            journal.take_over(listed_files(old))
        return journal

    def _owns(self, path: str) -> bool:
        """Say whether what stands in a place inside the folder is as an earlier run left it."""
        if path == RECORD:
            return not self._started
        if self._journal is None:
            return False
        return self._journal.stood if path == JOURNAL else self._journal.owns(path)

    def _check(self, path: str) -> None:
        """Refuse a place that a link leads out of, or where somebody else's file stands."""
        check_no_link(self.out, path)
        check_replaceable(self.out / path, self._guard, own=lambda _: self._owns(path))

    def _start(self) -> Ledger:
        """Turn a finished folder into an unfinished one, before the first file changes."""
        if self._journal is None:
            raise ValueError("the folder is not held")
        if self._started:
            return self._journal
        self._check(RECORD)
        read_record(self.out, strict=False)  # raises where another program has written it since
        with output_errors(self.out):
            places = {(self.out / path).parent for path in (RECORD, *self._journal.names)}
            for folder in places:
                if stands_on_links(self.out, folder.relative_to(self.out)) is None:
                    clear_parts(folder)
            self._journal.open()
            remove(self.out / RECORD, self._guard)
            sync_folder(self.out)
        self._started = True
        return self._journal

    def _clear_earlier(self, journal: Ledger) -> None:
        for path in journal.names:
            if path in self._written or not is_output(path):
                continue
            # Somebody's change to a file of ours is somebody's work: leave it.
            if not journal.owns(path):
                continue
            remove(self.out / path, self._guard)
            remove_empty(self.out / folder for folder in PurePosixPath(path).parents[:-1])
