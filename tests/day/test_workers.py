"""Processes that die, are told to end, or lose their parent."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from huemend.day.runner import Lane, run_tasks
from huemend.day.workers import process_lanes
from huemend.options import DayOptions
from tests.day.calls import Call, act

pytestmark = pytest.mark.slow


@pytest.fixture
def lanes() -> Iterator[list[Lane]]:
    found = process_lanes(2, DayOptions(grace_seconds=5))
    yield found
    for lane in found:
        lane.close(now=True)


def run(lanes: list[Lane], calls: list[Call]) -> list[str]:
    return run_tasks(
        calls,
        act,
        lanes,
        options=DayOptions(tries=2),
        give_up=lambda call, error: f"gave up {call.name}",
        on_done=lambda outcome: None,
    )


def test_a_worker_that_is_killed_takes_only_its_own_task_along(lanes: list[Lane], tmp_path: Path) -> None:
    whats = ["", "die once", "", "die", "terminate once", ""]
    calls = [Call(f"{number}", tmp_path, what) for number, what in enumerate(whats)]
    assert run(lanes, calls) == ["done 0", "done 1", "done 2", "gave up 3", "done 4", "done 5"]
    begun = {call.name: len((tmp_path / f"{call.name}.begun").read_text()) for call in calls}
    assert begun == {"0": 1, "1": 2, "2": 1, "3": 2, "4": 2, "5": 1}
    assert not (tmp_path / "4.part").exists(), "SIGTERM gives a worker time to clear away"


def test_workers_load_linear_algebra_with_one_thread(lanes: list[Lane], tmp_path: Path) -> None:
    before = os.environ.get("OPENBLAS_NUM_THREADS")
    assert run(lanes, [Call("a", tmp_path, "environment")]) == ["1"]
    assert os.environ.get("OPENBLAS_NUM_THREADS") == before


def wait_until_gone(number: int, seconds: float = 20.0) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            os.kill(number, 0)
        except ProcessLookupError:
            return True
        if Path(f"/proc/{number}/stat").exists() and Path(f"/proc/{number}/stat").read_text().split()[2] == "Z":
            return True
        time.sleep(0.05)
    return False


@pytest.mark.skipif(not Path("/proc").exists(), reason="needs /proc to find the children of a process")
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL], ids=["told to end", "killed"])
def test_no_worker_outlives_its_parent(tmp_path: Path, number: signal.Signals) -> None:
    script = tmp_path / "parent.py"
    script.write_text(
        textwrap.dedent("""
        import signal, sys
        from pathlib import Path
        from huemend.day.runner import run_tasks
        from huemend.day.workers import process_lanes
        from tests.day.calls import Call, act

        if __name__ == "__main__":
            signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
            call = Call("sleeper", Path(sys.argv[1]), "sleep")
            run_tasks([call], act, process_lanes(1), give_up=lambda t, e: None, on_done=lambda o: None)
        """)
    )
    root = str(Path(__file__).parents[2])
    parent = subprocess.Popen(
        [sys.executable, str(script), str(tmp_path)],
        env={**os.environ, "PYTHONPATH": root},
        stderr=subprocess.PIPE,
        text=True,
    )
    mark, end = tmp_path / "sleeper.begun", time.monotonic() + 60
    while not mark.exists() and time.monotonic() < end:
        time.sleep(0.02)
    children = Path(f"/proc/{parent.pid}/task/{parent.pid}/children").read_text().split()
    assert mark.exists() and children
    parent.send_signal(number)
    _, said = parent.communicate(timeout=30)
    assert parent.returncode == (143 if number is signal.SIGTERM else -signal.SIGKILL)
    assert all(wait_until_gone(int(child)) for child in children)
    assert "Traceback" not in said
