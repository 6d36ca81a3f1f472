"""One run at a time in one output folder.

Where the disk offers it, the lock is the operating system's own (``flock``; on network disks the server's):
it ends with the process that holds it, however that process ends, so a lock file that a dead run left behind
locks nobody out. Some network disks offer no locks. There the lock is a file that only one process can
create; one that a dead process of this machine left is recognised by its process number.

A lock file is opened without following a link, is a regular file of one name that is empty or says whose it is,
and is not changed before it is held: whatever else has its name is somebody's, and is left as it is.
"""

from __future__ import annotations

import contextlib
import errno
import os
import platform
import re
import stat
from pathlib import Path

from huemend.base.files import read_regular, short_tag
from huemend.base.reading import PLAINLY
from huemend.errors import OutputError

try:
    import fcntl
except ImportError:  # Windows: the lock is the file that only one process can create
    fcntl = None  # type: ignore[assignment]

#: Name of the lock file; it goes away with the run.
LOCK = ".huemend-lock"

_OWNER = re.compile(r"\S+ \d+\n?")
_LONGEST = 512
_NOT_OFFERED = {errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP, errno.EINVAL}


class FolderLock:
    """A lock on one folder, or on one name in it.

    Parameters
    ----------
    folder : Path
        Must exist when the lock is taken.
    name : str, optional
        A file in it: others may work on others.
    """

    def __init__(self, folder: Path, name: str | None = None) -> None:
        ending = "" if name is None else f"-{short_tag(name)}"
        self._where = folder if name is None else folder / name
        self._how = "in this folder" if name is None else "on this file"
        self._path = folder / f"{LOCK}{ending}"
        self._owner_path = folder / f"{LOCK}-owner{ending}"
        self._handle: int | None = None

    @property
    def held(self) -> bool:
        """True between ``take`` and ``release``."""
        return self._handle is not None

    def take(self) -> None:
        """Take the lock; raises OutputError with who holds it, or OSError if the folder cannot be written."""
        if fcntl is None or not self._take_from_system():
            self._take_by_creation()

    def release(self) -> None:
        """Give the lock back; harmless if it is not held."""
        if self._handle is None:
            return
        # Removed while it is still ours, so that nobody's fresh lock file is removed in its place.
        for path in (self._path, self._owner_path):
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)
        os.close(self._handle)
        self._handle = None

    def _take_from_system(self) -> bool:
        while True:
            handle = self._open()
            try:
                self._check_ours(handle, self._path)
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                # The holder before us may have removed the file between our open and our lock.
                if not self._is_current(handle):
                    os.close(handle)
                    continue
                os.ftruncate(handle, 0)
                os.lseek(handle, 0, os.SEEK_SET)
                os.write(handle, _owner().encode())
            except BlockingIOError:
                os.close(handle)
                raise self._refusal(self._path) from None
            except OSError as error:
                os.close(handle)
                if error.errno in _NOT_OFFERED:
                    return False
                raise
            except BaseException:
                os.close(handle)
                raise
            self._handle = handle
            return True

    def _open(self) -> int:
        try:
            return os.open(self._path, os.O_RDWR | os.O_CREAT | PLAINLY, 0o666)
        except OSError as error:
            if error.errno in (errno.ELOOP, errno.EISDIR, errno.ENXIO):
                raise _foreign(self._path) from None
            raise

    @staticmethod
    def _check_ours(handle: int, path: Path) -> None:
        """Refuse what is no lock file: it would be emptied, or removed."""
        facts = os.fstat(handle)
        # Where the system cannot be told not to follow links, the path must still be the file itself.
        plain = stat.S_ISREG(facts.st_mode) and facts.st_nlink <= 1 and not path.is_symlink()
        if not plain or facts.st_size > _LONGEST:
            raise _foreign(path)
        os.lseek(handle, 0, os.SEEK_SET)
        text = os.read(handle, _LONGEST).decode("utf-8", "replace")
        if text and not _OWNER.fullmatch(text):
            raise _foreign(path)

    def _is_current(self, handle: int) -> bool:
        try:
            there = os.stat(self._path)
        except FileNotFoundError:
            return False
        return os.path.samestat(there, os.fstat(handle))

    def _take_by_creation(self) -> None:
        for _ in range(2):
            try:
                handle = os.open(self._owner_path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
            except FileExistsError:
                self._check_owner_file()
                if not self._is_stale():
                    raise self._refusal(self._owner_path) from None
                with contextlib.suppress(FileNotFoundError):
                    self._owner_path.unlink()
                continue
            os.write(handle, _owner().encode())
            self._handle = handle
            return
        raise self._refusal(self._owner_path)

    def _check_owner_file(self) -> None:
        try:
            handle = os.open(self._owner_path, os.O_RDONLY | PLAINLY)
        except FileNotFoundError:
            return
        except OSError as error:
            raise _foreign(self._owner_path) from error
        try:
            self._check_ours(handle, self._owner_path)
        finally:
            os.close(handle)

    def _is_stale(self) -> bool:
        """Return True only where the process that made the lock surely runs no more."""
        machine, number = _holder(self._owner_path)
        if machine != platform.node() or number is None or os.name == "nt":
            return False  # on Windows os.kill would do what it says
        try:
            os.kill(number, 0)
        except ProcessLookupError:
            return True
        except OSError:
            return False
        return False

    def _refusal(self, path: Path) -> OutputError:
        machine, number = _holder(path)
        who = f" (process {number} on {machine})" if number is not None else ""
        return OutputError(
            f"another run works {self._how}{who}",
            where=self._where,
            todo=f"wait for it, choose another folder, or remove {path.name} if that run is no more",
        )


def _foreign(path: Path) -> OutputError:
    return OutputError("was not written by huemend", where=path, todo="move it away or choose another folder")


def _holder(path: Path) -> tuple[str, int | None]:
    """Return machine and process number as a lock file names them."""
    words = (read_regular(path, _LONGEST) or b"").decode("utf-8", "replace").split()
    if len(words) == 2 and words[1].isdecimal():
        return words[0], int(words[1])
    return "", None


def _owner() -> str:
    # Kept out of everything that is handed on; it only tells a second run whom to wait for.
    return f"{platform.node() or '-'} {os.getpid()}\n"
