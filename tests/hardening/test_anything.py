"""The short form of ``python -m tests.hardening.anything``; HUEMEND_WORLDS says of how many worlds."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.hardening.anything import draw_worlds

pytestmark = pytest.mark.slow

WORLDS = int(os.environ.get("HUEMEND_WORLDS", "12"))


@pytest.fixture(autouse=True)
def _alarm() -> None:
    """Each of the many commands that are run here has an alarm of its own."""


def test_no_file_of_somebody_s_changes_a_byte(tmp_path: Path) -> None:
    tally = draw_worlds(tmp_path.resolve(), WORLDS, seed=int(os.environ.get("HUEMEND_SEED", "1")))
    assert not tally.wrong, "\n".join(tally.wrong)
    # The worlds are worth something only if commands also come to their ends in them.
    done = sum(count for what, count in tally.seen.items() if what.endswith(("code 0", "code 4", "code 5")))
    assert done > WORLDS / 6 and len(tally.seen) > 6, tally.seen
