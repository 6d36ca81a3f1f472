"""Memory that is free but still held: the C library keeps what large pictures leave between smaller things."""

from __future__ import annotations

import ctypes
import sys


def give_back() -> None:
    """Hand memory that nothing uses back to the system, where the C library can be told to (glibc's malloc_trim).

    It takes some milliseconds, and what is asked for next has to be fetched again: for the end of a long piece of
    work, not for a loop.
    """
    if sys.platform != "linux":
        return
    # musl has no such function.
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if trim is not None:
        trim(0)
