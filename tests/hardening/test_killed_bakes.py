"""The short form of ``python -m tests.bench.kill_bakes``; HUEMEND_KILLS says how often each kind is killed."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.bench.kill_bakes import try_bakes

pytestmark = [pytest.mark.slow, pytest.mark.kills]


@pytest.fixture(autouse=True)
def _alarm() -> None:
    """Many processes are run here, each with a bound of its own."""


def test_what_a_killed_bake_leaves_is_whole_and_mended(tmp_path: Path) -> None:
    kills = int(os.environ.get("HUEMEND_KILLS", "1"))
    tally = try_bakes(tmp_path.resolve(), kills, frames=32 if kills == 1 else 80, seed=3)
    assert not tally.wrong, "\n".join(tally.wrong)
    assert sum(count for what, count in tally.seen.items() if what.endswith(": killed")) >= 4 * kills - 2
