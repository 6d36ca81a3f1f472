"""Tasks through lanes that break: nothing is lost, nothing runs twice at once, and the run ends."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import pytest

from huemend.day.runner import run_tasks
from huemend.errors import HuemendError
from huemend.options import DayOptions

TRIES = 3


@dataclass(frozen=True)
class Named:
    name: str


class ThreadLane:
    """A lane of threads whose deaths are exceptions; it counts what it is asked."""

    def __init__(self, slots: int = 1, *, blames: bool = True, rebuilds: int = 1000) -> None:
        self.slots, self._blames, self._rebuilds = slots, blames, rebuilds
        self.pool = ThreadPoolExecutor(slots)
        self.rebuilt, self.closed_now = 0, False
        self.hindrances: list[str] = []

    def submit(self, call: Callable[..., Any], *args: Any) -> Future[Any]:
        return self.pool.submit(call, *args)

    def died(self, error: BaseException) -> bool:
        return isinstance(error, BrokenExecutor)

    def blames(self, error: BaseException) -> bool:
        return self._blames

    def rebuild(self) -> None:
        self.rebuilt += 1
        if self.rebuilt > self._rebuilds:
            raise HuemendError("no scheduler answers")

    def hindrance(self) -> str:
        return self.hindrances.pop(0) if self.hindrances else ""

    def close(self, *, now: bool = False) -> None:
        self.closed_now |= now
        self.pool.shutdown(wait=not now, cancel_futures=now)


class Work:
    """Calls that die as often as they are told to, and note what ran beside them."""

    def __init__(self, deaths: dict[str, int] | None = None, faults: Sequence[str] = ()) -> None:
        self.deaths, self.faults = dict(deaths or {}), faults
        self.begun: list[str] = []
        self.beside: dict[str, int] = {}
        self._now = 0
        self._lock = threading.Lock()

    def __call__(self, task: Named) -> str:
        with self._lock:
            self.begun.append(task.name)
            self.beside[task.name] = self._now
            self._now += 1
        try:
            if self.deaths.get(task.name, 0) > 0:
                self.deaths[task.name] -= 1
                raise BrokenExecutor("the process is gone")
            if task.name in self.faults:
                raise ValueError("a fault")
            return f"done {task.name}"
        finally:
            with self._lock:
                self._now -= 1


def run(work: Work, lanes: list[ThreadLane], count: int = 12) -> tuple[list[str], list[str]]:
    heard: list[str] = []
    outcomes = run_tasks(
        [Named(f"{number:02}") for number in range(count)],
        work,
        lanes,
        options=DayOptions(tries=TRIES),
        give_up=lambda task, error: f"gave up {task.name}: {error}",
        on_done=heard.append,
    )
    for lane in lanes:
        lane.close()
    return outcomes, heard


@pytest.mark.parametrize("lanes", [1, 3])
def test_outcomes_come_in_the_order_of_the_tasks(lanes: int) -> None:
    outcomes, heard = run(Work(), [ThreadLane() for _ in range(lanes)])
    assert outcomes == [f"done {number:02}" for number in range(12)]
    assert sorted(heard) == outcomes


def test_no_tasks() -> None:
    assert run(Work(), [ThreadLane()], count=0) == ([], [])


def test_a_task_whose_worker_died_is_tried_again_when_the_others_are_done() -> None:
    work, lanes = Work({"03": 1}), [ThreadLane(), ThreadLane()]
    outcomes, _ = run(work, lanes)
    assert outcomes == [f"done {number:02}" for number in range(12)]
    assert work.begun[-1] == "03" and work.begun.count("03") == 2 and work.beside["03"] == 0
    assert sum(lane.rebuilt for lane in lanes) == 1


def test_tries_are_bounded_and_the_others_are_served() -> None:
    work = Work({"00": 99, "07": 99})
    outcomes, heard = run(work, [ThreadLane(), ThreadLane()])
    assert work.begun.count("00") == work.begun.count("07") == TRIES
    assert [o for o in outcomes if o.startswith("done")] == [f"done {n:02}" for n in range(12) if n not in (0, 7)]
    assert outcomes[0] == "gave up 00: the worker that ran it died, 3 times (out of memory?)"
    assert len(heard) == 12


def test_a_fault_is_no_death() -> None:
    work = Work(faults=["05"])
    outcomes, _ = run(work, [ThreadLane()])
    assert outcomes[5] == "gave up 05: a fault" and work.begun.count("05") == 1


def test_what_a_lost_scheduler_had_is_nobodys_fault() -> None:
    """It goes back among the others instead of waiting to run alone."""
    work = Work({"00": 1})
    outcomes, _ = run(work, [ThreadLane(blames=False)])
    assert outcomes[0] == "done 00" and work.begun[-1] == "00"
    assert len(work.begun) == 13


def test_nothing_left_to_run_on() -> None:
    work = Work({"02": 99})
    outcomes, heard = run(work, [ThreadLane(rebuilds=0)])
    assert outcomes[:2] == ["done 00", "done 01"]
    assert outcomes[2:] == [f"gave up {number:02}: no scheduler answers" for number in range(2, 12)]
    assert len(heard) == 12


def test_an_interruption_closes_every_lane_at_once() -> None:
    def stop(outcome: str) -> None:
        raise KeyboardInterrupt

    lanes = [ThreadLane(), ThreadLane()]
    with pytest.raises(KeyboardInterrupt):
        run_tasks([Named("a")], Work(), lanes, give_up=lambda t, e: "", on_done=stop)
    assert all(lane.closed_now for lane in lanes)


def test_a_queue_is_kept_full_and_never_overfull() -> None:
    work = Work()
    run(work, [ThreadLane(slots=4)], count=40)
    assert len(work.begun) == 40 and max(work.beside.values()) <= 3


def test_what_keeps_all_tasks_waiting_is_told_once_each_time() -> None:
    lane = ThreadLane()
    lane.hindrances = ["", "no workers", "no workers", "", "no workers"]
    released = threading.Event()
    heard: list[str] = []

    def act(task: Named) -> str:
        assert released.wait(10)
        return task.name

    def hear(hindrance: str) -> None:
        heard.append(hindrance)
        if len(heard) == 2:
            released.set()

    outcomes = run_tasks(
        [Named("a")],
        act,
        [lane],
        give_up=lambda task, error: f"gave up {task.name}: {error}",
        on_done=lambda outcome: None,
        on_wait=hear,
        options=DayOptions(tries=TRIES, patience_seconds=0.01),
    )
    assert (outcomes, heard) == (["a"], ["no workers", "no workers"])


def test_what_keeps_all_tasks_waiting_is_not_waited_for_without_end() -> None:
    """A wait that was interrupted by an outcome, or by a worker that came, begins anew."""
    lane = ThreadLane()
    lane.hindrances = ["no workers"] * 3 + [""] + ["no workers"] * 10_000
    heard: list[str] = []
    released = threading.Event()
    try:
        outcomes = run_tasks(
            [Named("a"), Named("b")],
            lambda task: str(released.wait(10)),
            [lane],
            give_up=lambda task, error: f"gave up {task.name}: {error}",
            on_done=lambda outcome: None,
            on_wait=heard.append,
            options=DayOptions(patience_seconds=0.01, workerless_seconds=0.1),
        )
    finally:
        released.set()
    assert heard == ["no workers", "no workers"] and lane.closed_now
    assert [outcome.partition(",")[0] for outcome in outcomes] == [
        "gave up a: no workers",
        "gave up b: no workers",
    ]
