"""Days of tiny setups: the pictures of a textured wall, seen by two or three cameras."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.day.days import make_day

MakeDay = Callable[..., Path]


@pytest.fixture
def a_day(tmp_path: Path) -> MakeDay:
    """Make a day of so many setups in a folder of its own."""

    def make(count: int = 2, **told: object) -> Path:
        return make_day(tmp_path / "day", count, **told)

    return make
