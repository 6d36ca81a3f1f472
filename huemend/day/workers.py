"""Processes of this machine that setups run in, executors of ``concurrent.futures``."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing.context import SpawnContext, SpawnProcess
from types import FrameType
from typing import Any

from huemend.base.tasks import CALM_LIBRARIES, watch
from huemend.day.runner import Lane
from huemend.options import DayOptions


class _Ended(BaseException):
    """SIGTERM in a worker, as an exception: blocks unwind and temporary files go."""


class _Busy:
    """Whether this worker works on a task, so that SIGTERM knows what there is to clear away."""

    now = False


def _start_worker() -> None:
    """Get a worker process ready to end cleanly: on SIGTERM, and when the process that started it is gone."""
    # Ctrl-C reaches the whole group of processes; the parent decides what becomes of its workers.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _end)
    watch(_follow_parent)


def _end(number: int, frame: FrameType | None) -> None:
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    if _Busy.now:
        raise _Ended
    os.kill(os.getpid(), signal.SIGTERM)


def _follow_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os.kill(os.getpid(), signal.SIGTERM)


def _guarded(call: Callable[..., Any], *args: Any) -> Any:
    _Busy.now = True
    try:
        return call(*args)
    except _Ended:
        # Everything is cleared away; the executor would hand this on as a result and keep the worker.
        os.kill(os.getpid(), signal.SIGTERM)
        raise
    finally:
        _Busy.now = False


class _Watched(SpawnContext):
    """Starts processes afresh, so that they load their libraries with one thread, and knows which it started."""

    def __init__(self) -> None:
        super().__init__()
        self.started: list[SpawnProcess] = []

    def Process(self, *args: Any, **kwargs: Any) -> SpawnProcess:  # type: ignore[override]
        process = SpawnProcess(*args, **kwargs)
        self.started.append(process)
        return process


@contextmanager
def _environment(values: dict[str, str]) -> Iterator[None]:
    before = {name: os.environ.get(name) for name in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


class ProcessLane:
    """A process of this machine: a pool of one, so that a death is surely the work of the task it held."""

    slots = 1

    def __init__(self, options: DayOptions) -> None:
        self._grace = options.grace_seconds
        self._context = _Watched()
        self._pool: ProcessPoolExecutor | None = None

    def submit(self, call: Callable[..., Any], *args: Any) -> Future[Any]:
        """Start a call, and the process for it if there is none."""
        if self._pool is None:
            self._context = _Watched()
            self._pool = ProcessPoolExecutor(1, mp_context=self._context, initializer=_start_worker)
        # A pool starts its processes when it is given work.
        with _environment(CALM_LIBRARIES):
            return self._pool.submit(_guarded, call, *args)

    def died(self, error: BaseException) -> bool:
        """A broken pool lost its process."""
        return isinstance(error, BrokenExecutor)

    def blames(self, error: BaseException) -> bool:
        """Nothing else ran in this process."""
        return True

    def rebuild(self) -> None:
        """Drop the broken pool; the next call starts another."""
        self.close(now=True)

    def hindrance(self) -> str:
        """Nothing: a process that is gone breaks its pool, which is told at once."""
        return ""

    def close(self, *, now: bool = False) -> None:
        """End the process: with SIGTERM at once, or when its task is done."""
        pool, self._pool = self._pool, None
        if pool is None:
            return
        if now:
            for process in self._context.started:
                process.terminate()
            for process in self._context.started:
                process.join(self._grace)
                if process.is_alive():
                    process.kill()
        pool.shutdown(wait=True, cancel_futures=True)


def process_lanes(jobs: int, options: DayOptions | None = None) -> list[Lane]:
    """Return ``jobs`` processes of this machine to run setups in; they start when they are needed."""
    return [ProcessLane(options or DayOptions()) for _ in range(jobs)]
