"""The one place where an error becomes a line and an exit code.

==== ==========================================================================
code meaning
==== ==========================================================================
0    all angles matched
1    a failure of ours, or of the machine (disk full, a library missing)
2    usage: an option or an argument that makes no sense
3    input that cannot be read or understood, or an output that cannot be written
4    finished, an angle is to be reviewed
5    finished, an angle is unsolved (5 wins over 4)
130  interrupted from the keyboard (SIGINT)
141  whoever read our output stopped reading (SIGPIPE)
143  told to end (SIGTERM)
==== ==========================================================================
"""

from __future__ import annotations

import errno
import os
import signal
import sys
import traceback
from collections.abc import Sequence
from types import FrameType

import click

from huemend.errors import HuemendError

__all__ = ["PipeClosed", "run"]

_FAILURE, _INPUT, _INTERRUPTED, _PIPE, _TERMINATED = 1, 3, 130, 141, 143

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


class PipeClosed(BaseException):
    """Whoever read our output is gone; click would end with code 1, which says a failure of ours."""


class _Terminated(BaseException):
    """SIGTERM, as an exception: blocks unwind and temporary files go."""


def run(group: click.Group, args: Sequence[str] | None = None) -> int:
    """Run a command line and return its exit code; nothing but the code gets out.

    Parameters
    ----------
    group : click.Group
        Its commands return an exit code, or None for 0.
    args : sequence of str, optional
        Without the program's name; those of the process if None.
    """
    state = {"debug": False}
    _listen_for_sigterm()
    try:
        code = group.main(
            args=None if args is None else list(args), prog_name="huemend", standalone_mode=False, obj=state
        )
        # What is still in the buffer fails here, where it can be told, rather than at the end of the process.
        sys.stdout.flush()
        return code if isinstance(code, int) else 0
    except click.exceptions.Abort:
        return _tell("interrupted", _INTERRUPTED)
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except SystemExit as error:
        return error.code if isinstance(error.code, int) else _FAILURE
    except (Exception, KeyboardInterrupt, PipeClosed, _Terminated) as error:
        if state["debug"] and not isinstance(error, (BrokenPipeError, PipeClosed)):
            traceback.print_exc()
        return _explain(error)


def _explain(error: BaseException) -> int:
    match error:
        case HuemendError():
            return _tell(str(error), error.exit_code)
        case KeyboardInterrupt():
            return _tell("interrupted", _INTERRUPTED)
        case _Terminated():
            return _tell("ended by SIGTERM", _TERMINATED)
        case BrokenPipeError() | PipeClosed():
            # Python flushes stdout once more on its way out and would complain.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return _PIPE
        case MemoryError():
            return _tell("not enough memory; give smaller pictures or fewer of them", _FAILURE)
        case OSError():
            where = f"{error.filename}: " if error.filename else ""
            reason = (error.strerror or str(error) or type(error).__name__).lower()
            code = _INPUT if error.errno in _PATH_AT_FAULT else _FAILURE
            return _tell(f"{where}{reason}; --debug shows where this happened", code)
        case _:
            text = " ".join(f"{type(error).__name__}: {error}".split())
            return _tell(
                f"a fault in huemend, not in your footage ({text}); "
                "run again with --debug and send us what it prints",
                _FAILURE,
            )


def _tell(text: str, code: int) -> int:
    try:
        click.echo(f"huemend: {text}", err=True)
    except OSError:
        pass  # nobody listens; the code still tells
    return code


def _listen_for_sigterm() -> None:
    def terminate(number: int, frame: FrameType | None) -> None:
        # A second one ends at once, should the unwinding hang on a dead disk.
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        raise _Terminated

    try:
        signal.signal(signal.SIGTERM, terminate)
    except ValueError:
        pass  # not in the main thread, where signals never arrive
