"""How many threads the libraries below may start.

Products with a 3x3 gain nothing from threads, and a sum that is split among another number of threads rounds
differently: linear algebra gets one thread, so that a result does not depend on the machine. Pictures may be
read and resampled by several, which changes no value.
"""

from __future__ import annotations

import os

from huemend.cv import import_cv2

__all__ = ["ONE_THREAD", "limit_threads", "usable_processors"]

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


def usable_processors() -> int:
    """Return how many processors this process may use, which can be fewer than the machine has."""
    try:
        return len(os.sched_getaffinity(0)) or 1
    except AttributeError:  # macOS and Windows do not say
        return os.cpu_count() or 1


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
