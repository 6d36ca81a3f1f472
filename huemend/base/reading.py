"""The one way in for every file that is not media: regular files only, and never more than a bound.

A pipe, a device or a file that somebody else makes grow would block a run, or fill its memory. So nothing is
opened before it is known to be a regular file, what was opened is looked at once more (it may have been swapped),
and no more is read than the bound and one byte.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from io import BufferedReader
from pathlib import Path

from huemend.errors import InputError, said_by_system

_FLAGS = os.O_RDONLY | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
#: Where the system can be told not to follow a link in the last part of a path, and not to wait for a pipe.
PLAINLY = _FLAGS | getattr(os, "O_NOFOLLOW", 0)


class NotRegular(OSError):
    """A pipe, a device or a socket stands where a file was expected."""


class TooLarge(OSError):
    """The file holds more than its bound."""


@contextmanager
def open_regular(path: Path, *, follow: bool = True) -> Iterator[BufferedReader]:
    """Open a regular file for reading, links followed or not; nothing else is opened, so that nothing blocks.

    Raises NotRegular or OSError.
    """
    try:
        _check_regular(os.stat(path, follow_symlinks=follow), path)
        handle = os.open(path, _FLAGS if follow else PLAINLY)
    except ValueError as error:
        raise OSError(errno.EINVAL, "its name holds a NUL character", str(path)) from error
    with os.fdopen(handle, "rb") as file:
        _check_regular(os.fstat(handle), path)
        yield file


def _check_regular(facts: os.stat_result, path: Path) -> None:
    if stat.S_ISDIR(facts.st_mode):
        raise IsADirectoryError(errno.EISDIR, "is a folder", str(path))
    if not stat.S_ISREG(facts.st_mode):
        raise NotRegular(errno.EINVAL, "is not a file (a pipe or a device)", str(path))


def read_bounded(path: Path, most: int) -> bytes:
    """Return the bytes of a regular file, ``most`` at most; raises NotRegular, TooLarge or OSError."""
    with open_regular(path) as file:
        if os.fstat(file.fileno()).st_size > most:
            raise TooLarge(errno.EFBIG, f"over {_size(most)}", str(path))
        data = file.read(most + 1)
    if len(data) > most:
        raise TooLarge(errno.EFBIG, f"over {_size(most)}", str(path))
    return data


def read_input(path: Path, most: int, *, kind: type[InputError], what: str, todo: str) -> bytes:
    """Return the bytes, ``most`` at most, of a file that the user named.

    Raises an error of that ``kind``, in one line: ``what`` the file should be ("setup file", "EDL"), and
    ``todo`` where there is none.
    """
    try:
        return read_bounded(path, most)
    except FileNotFoundError as error:
        raise kind(f"there is no such {what}", where=path, todo=todo) from error
    except TooLarge as error:
        article = "an" if what[0] in "AEIOUaeiou" else "a"
        problem = f"is too large for {article} {what}: {error.strerror}"
        raise kind(problem, where=path, todo=f"name the {what}") from error
    except (NotRegular, IsADirectoryError) as error:
        raise kind(error.strerror or "is not a file", where=path, todo=f"name the {what}") from error
    except OSError as error:
        # A link that leads to itself is as good as none.
        if error.errno == errno.ELOOP:
            raise kind(f"there is no such {what}", where=path, todo=todo) from error
        raise kind(f"cannot be read ({said_by_system(error)})", where=path, todo="check the file") from error


def _size(count: int) -> str:
    """Return a number of bytes in words.

    >>> _size(4_000_000), _size(900)
    ('4 MB', '900 bytes')
    """
    return f"{count // 1_000_000} MB" if count >= 1_000_000 else f"{count} bytes"
