"""Threads that do the same for every angle."""

from __future__ import annotations

import time
from collections.abc import Iterator
from threading import Event

import pytest

from huemend.base.cv import import_cv2
from huemend.base.tasks import Crew, Once, usable_processors


@pytest.fixture(autouse=True)
def four_threads() -> Iterator[None]:
    cv2 = import_cv2()
    before = cv2.getNumThreads()
    cv2.setNumThreads(4)
    yield
    cv2.setNumThreads(before)


def test_results_come_in_the_order_of_the_items() -> None:
    with Crew(3) as crew:
        assert list(crew.each(lambda n: n * n, range(40))) == [n * n for n in range(40)]


def test_a_crew_runs_only_a_little_ahead_of_who_takes_its_results() -> None:
    done: list[int] = []
    with Crew(2) as crew:
        results = crew.each(done.append, range(1000))
        next(results)
    assert len(done) < 20


def test_opencv_gets_the_threads_that_the_crew_leaves_and_all_of_them_back() -> None:
    cv2 = import_cv2()
    threads = min(4, usable_processors())
    with Crew(64) as crew:
        assert set(crew.each(lambda _: cv2.getNumThreads(), range(8))) == {4 // threads}
    assert cv2.getNumThreads() == 4


def test_what_goes_wrong_in_a_thread_reaches_who_asks() -> None:
    def fail(number: int) -> int:
        raise ValueError(f"not {number}")

    with pytest.raises(ValueError, match="not 3"), Crew(2) as crew:
        list(crew.each(fail, [3, 4, 5]))
    assert import_cv2().getNumThreads() == 4


def test_a_value_is_made_once_however_many_threads_ask() -> None:
    made: list[int] = []
    once: Once[str, int] = Once()

    def make() -> int:
        made.append(1)
        time.sleep(0.05)
        return len(made)

    with Crew(4) as crew:
        assert set(crew.each(lambda _: once.get("key", make), range(8))) == {1}
    assert len(made) == 1


def test_what_was_not_asked_for_the_longest_is_made_again() -> None:
    made: list[str] = []
    once: Once[str, None] = Once(keep=2)
    for key in ("a", "b", "a", "c", "a", "b"):
        once.get(key, lambda key=key: made.append(key))  # type: ignore[misc]
    assert made == ["a", "b", "c", "b"]


def test_a_crew_begins_before_anybody_takes_a_result() -> None:
    begun = Event()
    with Crew(2) as crew:
        results = crew.each(lambda _: begun.set(), [1])
        assert begun.wait(5)
        assert list(results) == [None]
