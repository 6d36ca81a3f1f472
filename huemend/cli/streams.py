"""Standard streams: what is shown there is harmless, and a stream that is closed or full ends no work.

On farms and under cron both streams may be closed, full, or read by nobody. Two rules follow. A word about what
was written elsewhere (`say`, and all of stderr) may be lost. Where stdout itself is what was asked for (a record
with ``--json``, a list), losing it is a failure, which the exit code tells when all else is done.
"""

from __future__ import annotations

import logging
import os
import sys
import threading
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Any, BinaryIO, TextIO

import click

from huemend.base.text import json_text


class Fence:
    """A text stream in front of a standard stream; in front of nothing where that was closed from the beginning.

    What moves a cursor or turns the reading direction is written as the escape that JSON has for it, so that JSON
    stays the same JSON. A carriage return passes at the ends of what is written at once, for progress.
    """

    def __init__(self, inner: TextIO | None) -> None:
        self._inner = inner
        self._deaf = inner is None
        self._lost: OSError | None = None
        #: What is written now may be lost.
        self.optional = False
        #: Why something that may not be lost was.
        self.failure: OSError | None = None

    def write(self, text: str) -> int:
        """Write, or remember that it could not be written."""
        self._try(lambda inner: inner.write(_harmless(text, inner.encoding or "utf-8")))
        return len(text)

    def flush(self) -> None:
        """Hand on what is held back."""
        if not self._deaf:
            self._try(lambda inner: inner.flush())

    def isatty(self) -> bool:
        """Say whether somebody sits at a terminal behind it."""
        return self._inner is not None and not self._deaf and self._inner.isatty()

    def fileno(self) -> int:
        """Return the number of the file below."""
        if self._inner is None:
            raise OSError("this stream is closed")
        return self._inner.fileno()

    @property
    def buffer(self) -> BinaryIO:
        """Where bytes go, which are let through as they are: completion writes them."""
        if self._inner is None:
            raise AttributeError("this stream is closed")
        return self._inner.buffer

    @property
    def encoding(self) -> str:
        """What it writes."""
        return (self._inner.encoding if self._inner is not None else None) or "utf-8"

    @property
    def errors(self) -> str:
        """What is done with text that the encoding has no signs for: there is none left."""
        return "backslashreplace"

    def writable(self) -> bool:
        """It always is, from outside."""
        return True

    def _try(self, call: Callable[[TextIO], object]) -> None:
        if self._deaf or self._inner is None:
            if not self.optional:
                self.failure = self._lost
            return
        try:
            call(self._inner)
        except ValueError:
            self._deaf = True  # closed by somebody meanwhile
        except OSError as error:
            self._deaf, self._lost = True, error
            if not self.optional:
                self.failure = error
            # Python hands on once more, at its very end, what could not be written, and would complain.
            with suppress(OSError, ValueError):
                nowhere = os.open(os.devnull, os.O_WRONLY)
                os.dup2(nowhere, self._inner.fileno())
                os.close(nowhere)


def _harmless(text: str, encoding: str) -> str:
    body = text.strip("\r")
    if not body.isprintable():
        body = "".join(c if c.isprintable() or c in "\n\t" else _escape(c) for c in body)
    try:
        body.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        body = "".join(c if c.isascii() else _escape(c) for c in body)
    if body == text:
        return text
    lead = len(text) - len(text.lstrip("\r"))
    return text[:lead] + body + (text[lead + len(text.strip("\r")) :])


def _escape(character: str) -> str:
    return json_text(character, indent=None, ascii_only=True)[1:-1]


@contextmanager
def fenced() -> Iterator[tuple[Fence, Fence]]:
    """Put fences before stdout and stderr for as long as the block runs."""
    before = sys.stdout, sys.stderr
    out, err = Fence(before[0]), Fence(before[1])
    sys.stdout, sys.stderr = out, err
    try:
        yield out, err
    finally:
        sys.stdout, sys.stderr = before


def say(text: str) -> None:
    """Show a word about what was done: lost where nobody can take it, which is no failure."""
    stream: Any = sys.stdout
    stream.optional = True
    try:
        click.echo(text)
    finally:
        stream.optional = False


def say_json(value: Any) -> None:
    """Print JSON."""
    click.echo(json_text(value))


def fill_closed() -> None:
    """Open what is closed of the three standard streams, onto nothing.

    Else the next file that is opened takes the free number, and what a library writes to stderr goes into it.
    """
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            # The lowest free number is taken, which is this one.
            os.open(os.devnull, os.O_RDWR)
            os.set_inheritable(number, True)


def hush_libraries() -> None:
    """Keep stderr for huemend's own lines: libraries write warnings there, in C, behind everybody's back.

    What they find wrong they also tell by their return values, which are looked at. ``--debug`` leaves them alone.
    """
    with suppress(OSError, ValueError, AttributeError):
        own = os.dup(sys.stderr.fileno())
        stream = open(own, "w", encoding=sys.stderr.encoding, errors="backslashreplace", buffering=1)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stderr.fileno())
        os.close(nowhere)
        sys.stderr = stream
    if not sys.warnoptions:
        warnings.showwarning = _nothing
    # Without any handler, Python's own of last resort prints.
    logging.getLogger().addHandler(logging.NullHandler())
    threading.excepthook = _nothing
    # At the very end, too, when libraries are taken down.
    sys.unraisablehook = _nothing


def _nothing(*_: object, **__: object) -> None:
    """Do nothing."""
