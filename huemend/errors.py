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

Footage that cannot support a match is not an error: see ``huemend.model.NoFit``.
"""

from __future__ import annotations

from os import PathLike

__all__ = [
    "EncodingError",
    "HuemendError",
    "InputError",
    "LutError",
    "MediaError",
    "MissingLibraryError",
    "OutputError",
    "SetupFileError",
    "TimelineError",
    "said_by_system",
    "visible",
]


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

    exit_code = 1

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


def _rebuild(kind: type[HuemendError], what: str, where: str | None, todo: str | None) -> HuemendError:
    return kind(what, where=where, todo=todo)


class MissingLibraryError(HuemendError):
    """A library is missing or cannot be loaded on this machine."""


class InputError(HuemendError):
    """Input that cannot be read or understood."""

    exit_code = 3


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
