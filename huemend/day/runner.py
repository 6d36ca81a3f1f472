"""Tasks through executors: a worker that dies takes at most its own task along, and that one is tried again."""

from __future__ import annotations

import time
from collections import Counter, deque
from collections.abc import Callable, Sequence
from concurrent.futures import CancelledError, Future
from queue import Empty, SimpleQueue
from typing import Protocol, TypeVar

from huemend.day.workers import Lane
from huemend.errors import HuemendError
from huemend.options import DayOptions

__all__ = ["run_tasks"]


class _Named(Protocol):
    @property
    def name(self) -> str: ...


Task = TypeVar("Task", bound=_Named)
Outcome = TypeVar("Outcome")


def run_tasks(
    tasks: Sequence[Task],
    call: Callable[[Task], Outcome],
    lanes: Sequence[Lane],
    *,
    give_up: Callable[[Task, BaseException | str], Outcome],
    on_done: Callable[[Outcome], None],
    on_wait: Callable[[str], None] = lambda hindrance: None,
    options: DayOptions | None = None,
) -> list[Outcome]:
    """Run every task; return their outcomes in the order of the tasks.

    A task whose worker died is a suspect: it waits until all others are done, and is then tried again with
    nothing else running, so that it can harm nobody and has the machine to itself. After ``tries`` deaths it is
    given up. Each task is begun at most ``tries`` times, so that the run ends whatever happens.

    Parameters
    ----------
    tasks : sequence
        Picklable; names differ.
    call : callable
        Runs one task in a worker.
    lanes : sequence of Lane
        Left open for more, but closed at once if this call is interrupted.
    give_up : callable
        Makes the outcome of a task that cannot be run, or whose call raised.
    on_done : callable
        Is reported every outcome when it is known.
    on_wait : callable
        Is reported what keeps every task from going on, once each time that something new does.
    options : DayOptions, optional
        How often a task is begun, how long there is no outcome until that is looked into, and how long every task
        may be kept from going on until all are given up.
    """
    options = options or DayOptions()
    tries = options.tries
    waiting, suspects = deque(tasks), deque[Task]()
    running: dict[Future[Outcome], tuple[int, Task]] = {}
    held = Counter[int]()
    ended = SimpleQueue[Future[Outcome]]()
    deaths: Counter[str] = Counter()
    outcomes: dict[str, Outcome] = {}
    lost: HuemendError | None = None

    def finish(task: Task, outcome: Outcome) -> None:
        outcomes[task.name] = outcome
        on_done(outcome)

    def start(number: int, task: Task) -> None:
        lane = lanes[number]
        try:
            future = lane.submit(call, task)
        except Exception as error:
            if not lane.died(error):
                raise
            # It died while it was idle.
            lane.rebuild()
            future = lane.submit(call, task)
        running[future] = number, task
        held[number] += 1
        future.add_done_callback(ended.put)

    def fill() -> None:
        for number, lane in enumerate(lanes):
            for _ in range(min(lane.slots - held[number], len(waiting))):
                start(number, waiting.popleft())
        if suspects and not running and not waiting:
            start(0, suspects.popleft())

    def settle(future: Future[Outcome]) -> None:
        number, task = running.pop(future)
        held[number] -= 1
        error = CancelledError() if future.cancelled() else future.exception()
        if error is None:
            finish(task, future.result())
        elif not lanes[number].died(error):
            finish(task, give_up(task, error))
        else:
            bury(lanes[number], task, error)

    def next_ended() -> Future[Outcome]:
        reported, since = "", time.monotonic()
        while True:
            try:
                return ended.get(timeout=options.patience_seconds)
            except Empty:
                hindrance = "; ".join(filter(None, (lane.hindrance() for lane in lanes)))
                if hindrance not in ("", reported):
                    on_wait(hindrance)
                    since = time.monotonic()
                reported = hindrance
                if hindrance and time.monotonic() - since >= options.workerless_seconds:
                    raise HuemendError(
                        f"{hindrance}, for {options.workerless_seconds:g} s now",
                        todo="start some, or let it wait longer (--await-workers), and run again with --resume",
                    ) from None

    def bury(lane: Lane, task: Task, error: BaseException) -> None:
        deaths[task.name] += 1
        if deaths[task.name] >= tries:
            finish(task, give_up(task, f"the worker that ran it died, {tries} times (out of memory?)"))
        elif lane.blames(error):
            suspects.append(task)
        else:
            waiting.append(task)
        lane.rebuild()

    try:
        while lost is None and (waiting or suspects or running):
            try:
                fill()
                settle(next_ended())
            except HuemendError as error:
                lost = error
        if lost is not None:
            for lane in lanes:
                # What waits there waits for nothing.
                lane.close(now=True)
            for task in tasks:
                if task.name not in outcomes:
                    finish(task, give_up(task, lost))
    except BaseException:
        for lane in lanes:
            lane.close(now=True)
        raise
    return [outcomes[task.name] for task in tasks]
