"""Where a command line ends: every error becomes a line (`huemend.errors.line_and_code`) and an exit code.

==== ==========================================================================
code meaning
==== ==========================================================================
0    all angles matched
1    a failure of ours, or of the machine (out of memory, a library missing)
2    usage: an option or an argument that makes no sense
3    input that cannot be read or understood, or an output that cannot be written (a full disk);
     of a day, an output that cannot be written is 1 (`huemend.day.task`)
4    finished, an angle is to be reviewed
5    finished, an angle is unsolved (5 wins over 4)
130  interrupted from the keyboard (SIGINT)
141  whoever read what was asked for on stdout stopped reading (SIGPIPE)
143  told to end (SIGTERM)
==== ==========================================================================
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from types import FrameType
from typing import Any

import click

from huemend.cli.streams import fenced
from huemend.errors import FAILURE, INPUT, line_and_code, said_by_system

_INTERRUPTED, _PIPE, _TERMINATED = 130, 141, 143
_AGAIN = 0.05  # seconds


class Interrupted(BaseException):
    """Ctrl-C, on its way past click, which would print an empty line for it."""


class _Terminated(BaseException):
    """SIGTERM, as an exception: blocks unwind and temporary files go."""


def run(group: click.Group, args: Sequence[str] | None = None) -> int:
    """Run a command line and return its exit code; nothing but the code gets out.

    Commands of the group return an exit code, or None for 0. Without ``args`` those of the process serve.
    """
    state = {"debug": False}
    with fenced() as (stdout, _), _signals():
        code = _call(group, args, state)
        # What is still in the buffer fails here, where it can be told, rather than at the end of the process.
        stdout.flush()
        return _lost(stdout.failure, code) if stdout.failure is not None else code


def _call(group: click.Group, args: Sequence[str] | None, state: dict[str, bool]) -> int:
    try:
        code = group.main(
            args=None if args is None else list(args), prog_name="huemend", standalone_mode=False, obj=state
        )
        return code if isinstance(code, int) else 0
    except click.exceptions.Abort:
        return _print_error("interrupted", _INTERRUPTED)
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except SystemExit as error:
        return error.code if isinstance(error.code, int) else FAILURE
    except (Exception, Interrupted, KeyboardInterrupt, _Terminated) as error:
        if state["debug"]:
            traceback.print_exc()
        # A library that a signal hits while it loads may raise something of its own instead.
        return _explain(_raised[0]() if _raised and isinstance(error, Exception) else error)


def _lost(failure: OSError, code: int) -> int:
    """Return the exit code of a run whose words on stdout were what was asked for, and did not arrive."""
    if code in (FAILURE, INPUT, _INTERRUPTED, _TERMINATED):
        return code
    if isinstance(failure, BrokenPipeError):
        return _PIPE
    return _print_error(f"stdout: {said_by_system(failure)}; what was to be shown is lost", FAILURE)


def _explain(error: BaseException) -> int:
    match error:
        case KeyboardInterrupt() | Interrupted():
            # A terminal shows ^C and stays on that line.
            return _print_error("interrupted", _INTERRUPTED, before="\n" if sys.stderr.isatty() else "")
        case _Terminated():
            return _print_error("ended by SIGTERM", _TERMINATED)
        case UnicodeEncodeError() if sys.getfilesystemencoding() != "utf-8":
            name = f"no file can have {error.object[error.start]!a} in its name"
            return _print_error(f"{name} under this locale ({error.encoding}); set LC_ALL=C.UTF-8", INPUT)
        case _:
            text, code = line_and_code(error, smaller="give smaller pictures or fewer of them", again="run again")
            where = "; --debug shows where this happened" if isinstance(error, OSError) else ""
            return _print_error(text + where, code)


def _print_error(text: str, code: int, *, before: str = "") -> int:
    click.echo(f"{before}huemend: {text}", err=True)
    return code


#: What signals have raised so far in this run.
_raised: list[type[BaseException]] = []


def heed_signals() -> None:
    """Raise again what a signal has raised: a library whose import or callback it hit may have swallowed it.

    Asked at every step of the work, which would not come to another one otherwise.
    """
    if _raised and threading.current_thread() is threading.main_thread():
        raise _raised[0]


@contextmanager
def _signals() -> Iterator[None]:
    """Turn SIGTERM and Ctrl-C into exceptions while the block runs; what a callback swallows comes again."""

    def terminate(number: int, frame: FrameType | None) -> None:
        # A second one ends at once, should the unwinding hang on a dead disk.
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        _raised.append(_Terminated)
        raise _Terminated

    def interrupt(number: int, frame: FrameType | None) -> None:
        _raised.append(KeyboardInterrupt)
        raise KeyboardInterrupt

    def swallowed(hook: Any) -> None:
        # Raised inside a destructor or a weak reference's callback, an exception ends there and nowhere else.
        if isinstance(hook.exc_value, KeyboardInterrupt):
            # A real signal, which wakes what sleeps.
            again = threading.Timer(_AGAIN, os.kill, [os.getpid(), signal.SIGINT])
            again.daemon = True
            again.start()
        elif isinstance(hook.exc_value, _Terminated):
            os._exit(_TERMINATED)

    if threading.current_thread() is not threading.main_thread():
        yield  # signals never arrive here
        return
    before, of_interrupts = sys.unraisablehook, signal.getsignal(signal.SIGINT)
    sys.unraisablehook = swallowed
    signal.signal(signal.SIGTERM, terminate)
    # A shell's background jobs ignore Ctrl-C, which is meant for others.
    if of_interrupts is not signal.SIG_IGN:
        signal.signal(signal.SIGINT, interrupt)
    _raised.clear()
    try:
        yield
    finally:
        sys.unraisablehook = before
        if of_interrupts is not None:  # set by who embeds Python, it cannot be set from here
            signal.signal(signal.SIGINT, of_interrupts)
