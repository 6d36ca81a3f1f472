"""Handing free memory back."""

from __future__ import annotations

import ctypes
import resource
import sys
from pathlib import Path

import pytest

from huemend.base import memory
from huemend.base.memory import give_back

GLIBC = sys.platform == "linux" and hasattr(ctypes.CDLL(None), "malloc_trim")


def held() -> float:
    """Return how many megabytes this process holds: proc(5), statm, second field, in pages."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 1e6


@pytest.mark.skipif(not GLIBC, reason="this C library cannot be told to")
def test_what_nothing_uses_goes_back_to_the_system() -> None:
    blocks = [bytearray(100_000) for _ in range(2000)]
    last = blocks[-1]  # one small thing at the top of the heap keeps all below it
    del blocks
    before = held()
    give_back()
    assert before - held() > 100 and len(last) == 100_000


@pytest.mark.parametrize("platform", ["win32", "darwin", "linux"])
def test_other_systems_and_libraries_are_left_alone(platform: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(memory.sys, "platform", platform)
    monkeypatch.setattr(memory.ctypes, "CDLL", lambda name: object())
    give_back()
