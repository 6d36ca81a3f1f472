"""How many threads the libraries below may start.

Products with a 3x3 gain nothing from threads, and a sum that is split among another number of threads rounds
differently: linear algebra gets one thread, so that a result does not depend on the machine. Pictures may be
read and resampled by several, which changes no value.
"""

from __future__ import annotations

import os
from collections import OrderedDict, deque
from collections.abc import Callable, Hashable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import islice
from threading import Lock
from typing import Generic, Self, TypeVar

from huemend.base.cv import import_cv2

__all__ = ["ONE_THREAD", "Crew", "Once", "allowed_threads", "do", "limit_threads", "usable_processors"]

_Key = TypeVar("_Key", bound=Hashable)
_In = TypeVar("_In")
_Out = TypeVar("_Out")

#: What linear algebra libraries read when they are loaded, and never again.
ONE_THREAD = {
    name: "1"
    for name in (
        "OPENBLAS_NUM_THREADS",
        "OMP_NUM_THREADS",
        "MKL_NUM_THREADS",
        "BLIS_NUM_THREADS",
        "VECLIB_MAXIMUM_THREADS",
    )
}


def do(work: Callable[[], _Out]) -> _Out:
    """Do a piece of work that needs nothing more, for a crew that is given such pieces."""
    return work()


def usable_processors() -> int:
    """Return how many processors this process may use, which can be fewer than the machine has."""
    try:
        return len(os.sched_getaffinity(0)) or 1
    except AttributeError:  # macOS and Windows do not say
        return os.cpu_count() or 1


def allowed_threads() -> int:
    """Return how many threads do something at a time: no more than processors, or than OpenCV was allowed.

    Raises
    ------
    MissingLibraryError
        OpenCV cannot be loaded.
    """
    return max(1, min(usable_processors(), int(import_cv2().getNumThreads())))


def limit_threads(count: int) -> None:
    """Let the libraries of this process use at most ``count`` threads each, and linear algebra one.

    Linear algebra that is loaded already can be told only through threadpoolctl, where that is installed; start
    the process with ``ONE_THREAD`` in its environment to be sure.

    Raises
    ------
    MissingLibraryError
        OpenCV cannot be loaded.
    """
    import OpenImageIO

    import_cv2().setNumThreads(count)
    OpenImageIO.attribute("threads", count)
    try:
        from threadpoolctl import threadpool_limits
    except ModuleNotFoundError:
        return
    threadpool_limits(1, user_api="blas")


class Crew:
    """Threads that do the same for every angle; nearly all the time is spent in libraries that let others run.

    Parameters
    ----------
    tasks : int
        How many there are to do at most. No more threads are started than are allowed.

    Raises
    ------
    MissingLibraryError
        OpenCV cannot be loaded.
    """

    def __init__(self, tasks: int) -> None:
        self._before = int(import_cv2().getNumThreads())
        self._threads = max(1, min(tasks, allowed_threads()))
        self._pool = ThreadPoolExecutor(self._threads)

    def __enter__(self) -> Self:
        # OpenCV's own threads would wait for one another, busily, beside ours.
        import_cv2().setNumThreads(max(1, self._before // self._threads))
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        import_cv2().setNumThreads(self._before)
        self._pool.shutdown(wait=kind is None, cancel_futures=True)

    def each(self, work: Callable[[_In], _Out], items: Iterable[_In]) -> Iterator[_Out]:
        """Return what the work gives for each item, in their order.

        It begins at once, and runs only a little ahead of who takes the results.
        """
        rest = iter(items)
        ahead = deque(self._pool.submit(work, item) for item in islice(rest, 2 * self._threads + 1))
        return self._taken(work, rest, ahead)

    def _taken(
        self, work: Callable[[_In], _Out], rest: Iterator[_In], ahead: deque[Future[_Out]]
    ) -> Iterator[_Out]:
        while ahead:
            yield ahead.popleft().result()
            ahead.extend(self._pool.submit(work, item) for item in islice(rest, 1))


class Once(Generic[_Key, _Out]):
    """Values that are made when they are first asked for, once each however many threads ask at a time.

    Parameters
    ----------
    keep : int, optional
        Of so many the one that was not asked for the longest is forgotten, and made again if need be.
    """

    def __init__(self, keep: int | None = None) -> None:
        self._keep = keep
        self._lock = Lock()
        self._locks: dict[_Key, Lock] = {}
        self._values: OrderedDict[_Key, _Out] = OrderedDict()

    def get(self, key: _Key, make: Callable[[], _Out]) -> _Out:
        """Return the value of a key; who asks while another thread makes it waits for that."""
        with self._lock:
            own = self._locks.setdefault(key, Lock())
        with own:
            with self._lock:
                if key in self._values:
                    self._values.move_to_end(key)
                    return self._values[key]
            value = make()
            with self._lock:
                self._values[key] = value
                if self._keep is not None and len(self._values) > self._keep:
                    self._values.popitem(last=False)
            return value
