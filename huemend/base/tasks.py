"""Threads: how many the libraries below may start, and the ways in which work is done by several of ours.

Several things are done at a time by `over`, whose calls docs/flow.md lists with their modules. The stages of a
clip that is baked run by `in_own_thread` (``apply/clips.py``); a worker of a day looks after its parent by
`watch` (``day/workers.py``, which starts the processes of a day). No other module starts a thread, but for the
timer of ``cli/boundary.py`` that sends a swallowed Ctrl-C again.

Products with a 3x3 gain nothing from threads, and a sum that is split among another number of threads rounds
differently: linear algebra gets one thread, so that a result does not depend on the machine. Pictures may be read
and resampled by several, which changes no value.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from itertools import islice
from threading import Thread, local
from typing import TypeVar, cast

from huemend.base.cv import import_cv2

_In = TypeVar("_In")
_Out = TypeVar("_Out")

#: What libraries read when they are loaded, and never again: linear algebra gets one thread, and OpenCV's threads
#: sleep between pieces of work, where they would keep a processor busy by asking for more.
CALM_LIBRARIES = {
    "OPENBLAS_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "BLIS_NUM_THREADS": "1",
    "VECLIB_MAXIMUM_THREADS": "1",
    "OPENCV_THREAD_POOL_ACTIVE_WAIT_WORKER": "0",
    "OPENCV_THREAD_POOL_ACTIVE_WAIT_MAIN": "0",
}


#: Of each thread, whether it does one of several things that are done at a time.
_ONE_OF_SEVERAL = local()


def usable_processors() -> int:
    """Return how many processors this process may use, which can be fewer than the machine has."""
    try:
        return len(os.sched_getaffinity(0)) or 1
    except AttributeError:  # macOS and Windows do not say
        return os.cpu_count() or 1


def allowed_threads() -> int:
    """Return how many threads do something at a time: no more than processors, or than OpenCV was allowed."""
    return max(1, min(usable_processors(), int(import_cv2().getNumThreads())))


def limit_threads(count: int) -> None:
    """Let the libraries of this process use at most ``count`` threads each, and linear algebra one.

    Linear algebra that is loaded already can be told only through threadpoolctl, where that is installed;
    start the process with ``CALM_LIBRARIES`` in its environment to be sure.
    """
    import OpenImageIO

    import_cv2().setNumThreads(count)
    OpenImageIO.attribute("threads", count)
    try:
        from threadpoolctl import threadpool_limits
    except ModuleNotFoundError:
        return
    threadpool_limits(1, user_api="blas")


def over(
    items: Iterable[_In], work: Callable[[_In], _Out], *, together: bool = True
) -> Generator[_Out, None, None]:
    """Yield what some work gives for each item, in the order of the items; several are done at a time.

    Nothing runs before the first result is asked for; from then on a little more is done than was taken. Where
    one thread is allowed, or where it is one of several itself, the items are done one after another, as
    without ``together``: where what several need at a time is more than the memory that may be used. The work
    spends nearly all its time in libraries that let other threads run, and changes nothing that another item's
    sees: then the results are the same with any number of threads. Who takes them piece by piece closes the
    iterator (``contextlib.closing``): an error then leaves nothing running. Raises what the work raises, for
    the first item that it fails on; what waited is dropped.
    """
    rest = iter(list(items))
    first = list(islice(rest, 2 * allowed_threads() + 1))
    threads = min(len(first), allowed_threads())
    if threads < 2 or not together or getattr(_ONE_OF_SEVERAL, "it_is", False):
        yield from map(work, first)
        yield from map(work, rest)
        return
    cv2 = import_cv2()
    before = int(cv2.getNumThreads())
    pool = ThreadPoolExecutor(threads, initializer=setattr, initargs=(_ONE_OF_SEVERAL, "it_is", True))
    try:
        # OpenCV's own threads would wait for one another, busily, beside ours.
        cv2.setNumThreads(max(1, before // threads))
        waiting = deque(pool.submit(work, item) for item in first)
        while waiting:
            result = waiting.popleft().result()
            waiting.extend(pool.submit(work, item) for item in islice(rest, 1))
            yield result
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        cv2.setNumThreads(before)


@contextmanager
def in_own_thread(items: Iterable[_Out], depth: int) -> Iterator[Iterator[_Out]]:
    """Take items in a thread of their own, at most ``depth`` of them ahead of whoever takes them from here.

    What goes wrong there is raised where the items are taken. The thread has ended when the block ends, however it
    ends; blocks within blocks make a chain.
    """
    rest, end = iter(items), object()
    pool = ThreadPoolExecutor(1)

    def taken() -> Iterator[_Out]:
        waiting = deque(pool.submit(next, rest, end) for _ in range(depth))
        while (item := waiting.popleft().result()) is not end:
            waiting.append(pool.submit(next, rest, end))
            yield cast(_Out, item)

    try:
        yield taken()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def watch(loop: Callable[[], object]) -> None:
    """Run something that ends with the process, in a thread of its own."""
    Thread(target=loop, daemon=True).start()
