"""Runs that are killed, and workers that are: the short forms of what the benches do at length.

HUEMEND_KILLS says how often ``match`` and ``day`` are killed.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.bench.kills import try_all
from tests.bench.many import make_many, survive

pytestmark = [pytest.mark.slow, pytest.mark.kills]


def test_what_a_killed_run_leaves_is_whole_and_mended(tmp_path: Path) -> None:
    kills = int(os.environ.get("HUEMEND_KILLS", "1"))
    tally = try_all(tmp_path, match=kills, day=kills, at_once=1, seed=5)
    assert not tally.wrong, "\n".join(tally.wrong)
    killed = sum(count for what, count in tally.seen.items() if ": killed" in what)
    assert killed == 2 * kills and tally.seen["match: files looked at"] > 5
    assert any("two at once" in what for what in tally.seen)


@pytest.mark.cluster
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_a_cluster_whose_workers_are_killed_does_every_setup_once(tmp_path: Path) -> None:
    pytest.importorskip("distributed", reason="needs dask and distributed")
    survived = survive(make_many(tmp_path / "day", 10, marked=True), kills=2, marked=True)
    assert survived.good, str(survived)
    assert survived.kills >= 1
