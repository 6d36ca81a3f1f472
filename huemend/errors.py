"""Everything that huemend raises on purpose.

::

    HuemendError                 exit 1   a failure of ours, or of the machine
    ├── MissingLibraryError      exit 1   a library is not installed or cannot load
    └── InputError               exit 3   input that cannot be read or understood
        ├── SetupFileError                the setup file
        ├── EncodingError                 a camera encoding that is not known
        ├── MediaError                    a picture or a clip
        ├── LutError                      a LUT file
        ├── TimelineError                 an edit decision list or a timeline
        └── OutputError                   the output folder

`line_and_code` makes of any error its line and its exit code. Footage that cannot support a match is not an error:
see ``huemend.model.NoFit``.
"""

from __future__ import annotations

import errno
import os
from os import PathLike

__all__ = [
    "FAILURE",
    "INPUT",
    "EncodingError",
    "HuemendError",
    "InputError",
    "LutError",
    "MediaError",
    "MissingLibraryError",
    "OutputError",
    "SetupFileError",
    "TimelineError",
    "line_and_code",
    "said_by_system",
    "visible",
]

#: Exit codes: a failure of ours or of the machine; input that cannot be read, or an output that cannot be written.
FAILURE, INPUT = 1, 3

#: What the operating system says when a path that the user gave is at fault, rather than the machine.
_PATH_AT_FAULT = frozenset(
    {
        errno.EACCES,
        errno.EEXIST,
        errno.EISDIR,
        errno.ELOOP,
        errno.ENAMETOOLONG,
        errno.ENOENT,
        errno.ENOTDIR,
        errno.EPERM,
        errno.EROFS,
    }
)


def visible(text: str) -> str:
    r"""Return text in which what cannot be seen is shown by its escape.

    What would move a cursor, or change colour or reading direction of a terminal, is so shown and not done. Bytes
    of a file name that is not UTF-8, which Python holds as halves of surrogate pairs, are shown as bytes.

    >>> print(visible("a\x1b[2J\u202e\udcff"))
    a\x1b[2J\u202e\xff
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else _escape(c) for c in text)


def _escape(character: str) -> str:
    code = ord(character)
    # PEP 383: a byte that is no UTF-8 stands at this distance.
    original = chr(code - 0xDC00) if 0xDC80 <= code <= 0xDCFF else character
    return original.encode("unicode_escape").decode("ascii")


class HuemendError(Exception):
    """One problem, told in one line: where, what, and what to do next.

    Parameters
    ----------
    what : str
        What is wrong, without a full stop.
    where : str or path, optional
        The file, key or area concerned.
    todo : str, optional
        What the user can do next, without a full stop.
    """

    exit_code = FAILURE

    def __init__(self, what: str, *, where: str | PathLike[str] | None = None, todo: str | None = None) -> None:
        self.what = what
        self.where = None if where is None else str(where)
        self.todo = todo
        super().__init__(what)

    def __str__(self) -> str:
        text = self.what if self.where is None else f"{self.where}: {self.what}"
        if self.todo:
            text = f"{text}; {self.todo}"
        # One problem is one line, whatever a library put into its message or a user into a file name; what would
        # move a cursor or change colour or reading direction of a terminal is shown, not done.
        return visible(" ".join(text.split()))

    def __reduce__(self) -> tuple[object, ...]:
        # Exceptions cross process borders in `huemend day`; keyword-only arguments need a hand there.
        return _rebuild, (type(self), self.what, self.where, self.todo)


def said_by_system(error: OSError) -> str:
    """Return what the operating system says of an error, to go into a line of ours."""
    return (error.strerror or str(error) or type(error).__name__).lower()


def line_and_code(error: BaseException, *, smaller: str, again: str) -> tuple[str, int]:
    """Return the line that tells of an error, and the exit code that stands for it.

    Parameters
    ----------
    smaller : str
        What to do where there is not enough memory.
    again : str
        What to run again, with ``--debug``, where the fault is ours.
    """
    match error:
        case HuemendError():
            return str(error), error.exit_code
        case MemoryError():
            return f"not enough memory; {smaller}", FAILURE
        case OSError():
            where = f"{visible(os.fsdecode(error.filename))}: " if error.filename else ""
            return f"{where}{said_by_system(error)}", INPUT if error.errno in _PATH_AT_FAULT else FAILURE
        case _:
            text = " ".join(f"{type(error).__name__}: {error}".split())
            todo = f"{again} with --debug and send us what it prints"
            return f"a fault in huemend, not in your footage ({text}); {todo}", FAILURE


def _rebuild(kind: type[HuemendError], what: str, where: str | None, todo: str | None) -> HuemendError:
    return kind(what, where=where, todo=todo)


class MissingLibraryError(HuemendError):
    """A library is missing or cannot be loaded on this machine."""


class InputError(HuemendError):
    """Input that cannot be read or understood."""

    exit_code = INPUT


class SetupFileError(InputError):
    """The setup file cannot be read, or says something that makes no sense."""


class EncodingError(InputError):
    """A camera encoding that is not known."""


class MediaError(InputError):
    """A picture or a clip that cannot be read, or holds nothing to measure."""


class LutError(InputError):
    """A LUT file that does not follow its specification."""


class TimelineError(InputError):
    """An edit decision list or a timeline that cannot be read."""


class OutputError(InputError):
    """The output folder cannot be written."""
