"""Tasks through executors: a worker that dies takes at most its own task along, and that one is tried again."""

from __future__ import annotations

import time
from collections import Counter, deque
from collections.abc import Callable, Sequence
from concurrent.futures import CancelledError, Future
from queue import Empty, SimpleQueue
from typing import Any, Generic, Protocol, TypeVar

from huemend.errors import HuemendError
from huemend.options import DayOptions


class _Named(Protocol):
    @property
    def name(self) -> str: ...


Task = TypeVar("Task", bound=_Named)
Outcome = TypeVar("Outcome")


class Lane(Protocol):
    """An executor that can be replaced when it breaks; it is given ``slots`` tasks at a time."""

    slots: int

    def submit(self, call: Callable[..., Any], *args: Any) -> Future[Any]:
        """Start a call in a worker."""

    def died(self, error: BaseException) -> bool:
        """Say whether an error tells of a worker's death rather than of the task itself."""

    def blames(self, error: BaseException) -> bool:
        """Say whether a death may be the work of the very task that it is reported for."""

    def rebuild(self) -> None:
        """Get ready for more after a death; raises HuemendError where there is nothing left to run on."""

    def hindrance(self) -> str:
        """Say in a few words what keeps every task from going on; empty if nothing does."""

    def close(self, *, now: bool = False) -> None:
        """End; ``now`` does not wait for what is running."""


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
    """Run every task, picklable and each of another name; return their outcomes in the order of the tasks.

    A task whose worker died is a suspect: it waits until all others are done, and is then tried again with nothing
    else running, so that it can harm nobody and has the machine to itself. After ``tries`` deaths it is given up.
    Each task is begun at most ``tries`` times, so that the run ends whatever happens.

    ``give_up`` makes the outcome of a task that cannot be run, or whose call raised. ``on_done`` hears every
    outcome when it is known, ``on_wait`` what keeps every task from going on, once each time that something new
    does. The lanes are left open for more, but closed at once if this call is interrupted.
    """
    run = _Run(tasks, call, lanes, give_up, on_done, options or DayOptions())
    try:
        while run.waiting or run.suspects or run.running:
            try:
                run.fill()
                run.settle(run.next_ended(on_wait))
            except HuemendError as error:
                run.abandon(error)
    except BaseException:
        run.close()
        raise
    return [run.outcomes[task.name] for task in tasks]


class _Run(Generic[Task, Outcome]):
    """The tasks of one call: which wait, which run where, and what became of the others."""

    def __init__(
        self,
        tasks: Sequence[Task],
        call: Callable[[Task], Outcome],
        lanes: Sequence[Lane],
        give_up: Callable[[Task, BaseException | str], Outcome],
        on_done: Callable[[Outcome], None],
        options: DayOptions,
    ) -> None:
        self.tasks, self.call, self.lanes = tasks, call, lanes
        self.give_up, self.on_done, self.options = give_up, on_done, options
        self.outcomes: dict[str, Outcome] = {}
        self.waiting, self.suspects = deque(tasks), deque[Task]()
        self.running: dict[Future[Outcome], tuple[int, Task]] = {}
        self.held = Counter[int]()
        self.ended = SimpleQueue[Future[Outcome]]()
        self.deaths = Counter[str]()

    def fill(self) -> None:
        """Give every lane as many tasks as it takes; a suspect only where nothing else is left."""
        for number, lane in enumerate(self.lanes):
            for _ in range(min(lane.slots - self.held[number], len(self.waiting))):
                self._start(number, self.waiting.popleft())
        if self.suspects and not self.running and not self.waiting:
            self._start(0, self.suspects.popleft())

    def next_ended(self, on_wait: Callable[[str], None]) -> Future[Outcome]:
        """Wait for a task to end, say what keeps all from it, and raise where that stays so for long."""
        reported, since = "", time.monotonic()
        while True:
            try:
                return self.ended.get(timeout=self.options.patience_seconds)
            except Empty:
                hindrance = "; ".join(filter(None, (lane.hindrance() for lane in self.lanes)))
                if hindrance not in ("", reported):
                    on_wait(hindrance)
                    since = time.monotonic()
                reported = hindrance
                if hindrance and time.monotonic() - since >= self.options.workerless_seconds:
                    raise HuemendError(
                        f"{hindrance}, for {self.options.workerless_seconds:g} s now",
                        todo="start some, or let it wait longer (--await-workers), and run again with --resume",
                    ) from None

    def settle(self, future: Future[Outcome]) -> None:
        """Take the outcome of a task that has ended, or see to one whose worker died."""
        number, task = self.running.pop(future)
        self.held[number] -= 1
        error = CancelledError() if future.cancelled() else future.exception()
        if error is None:
            self._finish(task, future.result())
        elif not self.lanes[number].died(error):
            self._finish(task, self.give_up(task, error))
        else:
            self._bury(self.lanes[number], task, error)

    def abandon(self, error: HuemendError) -> None:
        """Give up every task that has no outcome yet."""
        self.close()
        self.waiting.clear()
        self.suspects.clear()
        self.running.clear()
        for task in self.tasks:
            if task.name not in self.outcomes:
                self._finish(task, self.give_up(task, error))

    def close(self) -> None:
        """Close the lanes at once: what waits there waits for nothing."""
        for lane in self.lanes:
            lane.close(now=True)

    def _finish(self, task: Task, outcome: Outcome) -> None:
        self.outcomes[task.name] = outcome
        self.on_done(outcome)

    def _start(self, number: int, task: Task) -> None:
        lane = self.lanes[number]
        try:
            future = lane.submit(self.call, task)
        except Exception as error:
            if not lane.died(error):
                raise
            # It died while it was idle.
            lane.rebuild()
            future = lane.submit(self.call, task)
        self.running[future] = number, task
        self.held[number] += 1
        future.add_done_callback(self.ended.put)

    def _bury(self, lane: Lane, task: Task, error: BaseException) -> None:
        """Try the task of a worker that died again, by itself if it may be to blame, or give it up."""
        tries = self.options.tries
        self.deaths[task.name] += 1
        if self.deaths[task.name] >= tries:
            self._finish(task, self.give_up(task, f"the worker that ran it died, {tries} times (out of memory?)"))
        elif lane.blames(error):
            self.suspects.append(task)
        else:
            self.waiting.append(task)
        lane.rebuild()
