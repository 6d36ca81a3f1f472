"""``python -m huemend``, and where the installed command begins.

Little is loaded here, so that Ctrl-C is answered from the first moment on: the command line itself takes a tenth
of a second to load, and Python would answer with a traceback until then.
"""

from __future__ import annotations

import os
import signal

_INTERRUPTED = 130


def _end(*_: object) -> None:
    """End at once: nothing has begun."""
    try:
        os.write(2, b"huemend: interrupted\n")
    finally:
        os._exit(_INTERRUPTED)


def main() -> None:
    """Run the command line of this process and end it."""
    # A shell's background jobs ignore Ctrl-C, which is meant for others.
    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:
        signal.signal(signal.SIGINT, _end)
    from huemend.cli import main as run

    run()


if __name__ == "__main__":
    main()
