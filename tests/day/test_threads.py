"""``--threads`` is for the whole of a machine: however many setups run at a time, they share it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import huemend.day.cluster
import huemend.day.run
import huemend.day.task
from huemend.base.cv import import_cv2
from huemend.base.tasks import usable_processors
from huemend.cli import huemend as group
from huemend.day.plan import find_day
from huemend.day.run import tasks_of
from huemend.day.task import SetupTask, Status, run_setup
from huemend.errors import InputError
from huemend.options import MatchOptions
from tests.day.days import make_day

Asked = Callable[..., int | None]


@pytest.fixture
def asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Asked:
    """Return the threads that every setup of a day of four is given."""
    folder = tmp_path / "day"
    for number in range(4):
        (folder / f"{number}").mkdir(parents=True)
        (folder / f"{number}" / "setup.toml").write_text("")
    seen: list[SetupTask] = []
    monkeypatch.setattr(huemend.day.run, "run_day", lambda tasks, *_, **__: seen.extend(tasks) or [])
    monkeypatch.setattr(huemend.day.cluster, "cluster_lanes", lambda address, **_: [])

    def call(*args: object, env: dict[str, str] | None = None) -> int | None:
        seen.clear()
        CliRunner().invoke(group, ["day", str(folder), "--quiet", *map(str, args)], env=env, obj={})
        (threads,) = {task.threads for task in seen}
        assert len(seen) == 4
        return threads

    return call


@pytest.mark.parametrize(
    ("args", "threads"),
    [
        (["--jobs", 1, "--threads", 6], 6),
        (["--jobs", 2, "--threads", 6], 3),
        (["--jobs", 4, "--threads", 6], 1),
        (["--jobs", 4, "--threads", 2], 1),
        (["--jobs", 64, "--threads", 8], 2),  # no more jobs than setups
        (["--scheduler", "tcp://host:1"], 1),
        (["--scheduler", "tcp://host:1", "--threads", 3], 3),
    ],
)
def test_they_are_shared_out(asked: Asked, args: list[object], threads: int) -> None:
    assert asked(*args) == threads


def test_without_it_the_processors_are(asked: Asked) -> None:
    assert asked("--jobs", 1) == usable_processors()
    assert asked("--jobs", 2) == max(1, usable_processors() // 2)


def test_by_variables(asked: Asked) -> None:
    assert asked(env={"HUEMEND_DAY_JOBS": "2", "HUEMEND_DAY_THREADS": "8"}) == 4


def test_a_setup_keeps_to_what_it_was_given(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import OpenImageIO

    seen: list[tuple[int, int]] = []

    def look(*_: object, **__: object) -> Any:
        seen.append((import_cv2().getNumThreads(), OpenImageIO.get_int_attribute("threads")))
        raise InputError("seen enough")

    monkeypatch.setattr(huemend.day.task, "match_and_write", look)
    before = import_cv2().getNumThreads(), OpenImageIO.get_int_attribute("threads")
    try:
        day = find_day(make_day(tmp_path / "day", 1))
        for threads in (1, 3):
            (task,) = tasks_of(day, tmp_path / "out", MatchOptions(), threads=threads)
            assert run_setup(task).status is Status.FAILED
    finally:
        import_cv2().setNumThreads(before[0])
        OpenImageIO.attribute("threads", before[1])
    assert seen == [(1, 1), (3, 3)]


def test_a_dry_run_by_variables_writes_nothing(tmp_path: Path) -> None:
    folder = make_day(tmp_path / "day", 1)
    env = {"HUEMEND_DAY_DRY_RUN": "1", "HUEMEND_DAY_JSON": "1"}
    done = CliRunner().invoke(group, ["day", str(folder)], env=env, obj={}, standalone_mode=False)
    assert json.loads(done.stdout)["setups"]["01"]["would"] == "run" and not (folder / "match").exists()
