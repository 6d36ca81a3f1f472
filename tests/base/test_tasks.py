"""What is done at a time, in order and with the same results as one after another."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from threading import get_ident

import pytest

from huemend.base.cv import import_cv2
from huemend.base.tasks import in_own_thread, over, usable_processors


@pytest.fixture(autouse=True)
def four_threads() -> Iterator[None]:
    cv2 = import_cv2()
    before = cv2.getNumThreads()
    cv2.setNumThreads(4)
    yield
    cv2.setNumThreads(before)


def test_results_come_in_the_order_of_the_items() -> None:
    assert list(over(range(40), lambda n: n * n)) == [n * n for n in range(40)]


def test_work_that_is_one_of_several_does_its_own_in_turn() -> None:
    def inner(_: int) -> int:
        return len(set(over(range(8), lambda _: get_ident())))

    # Fewer than there are threads, so that some would be left.
    assert list(over(range(2), inner)) == [1, 1]


def test_only_a_little_more_is_done_than_was_taken() -> None:
    done: list[int] = []
    with closing(over(range(1000), done.append)) as results:
        next(results)
    assert len(done) < 20


def test_opencv_gets_the_threads_that_are_left_and_all_of_them_back() -> None:
    cv2 = import_cv2()
    threads = min(4, usable_processors())
    assert set(over(range(8), lambda _: cv2.getNumThreads())) == {4 // threads}
    assert cv2.getNumThreads() == 4


def test_what_goes_wrong_reaches_who_asks() -> None:
    def fail(number: int) -> int:
        raise ValueError(f"not {number}")

    with pytest.raises(ValueError, match="not 3"):
        list(over([3, 4, 5], fail))
    assert import_cv2().getNumThreads() == 4


def test_work_within_work_is_done_in_turn() -> None:
    import_cv2().setNumThreads(2)

    def within(number: int) -> set[int]:
        return set(over(range(8), lambda _: get_ident()))

    assert [len(idents) for idents in over(range(4), within)] == [1] * 4


def test_one_thread_gives_what_several_do_and_starts_none() -> None:
    import_cv2().setNumThreads(1)
    assert set(over(range(40), lambda _: get_ident())) == {get_ident()}


def test_a_thread_of_its_own_runs_only_so_far_ahead() -> None:
    made: list[int] = []

    def items() -> Iterator[int]:
        for number in range(100):
            made.append(number)
            yield number

    with in_own_thread(items(), 2) as taken:
        assert next(taken) == 0
    assert len(made) < 10


def test_a_chain_of_threads_hands_on_every_item_and_every_error() -> None:
    def items(last: int) -> Iterator[int]:
        yield from range(last)
        raise ValueError("broken")

    seen = []
    with (
        pytest.raises(ValueError, match="broken"),
        in_own_thread(items(20), 2) as first,
        in_own_thread((2 * number for number in first), 2) as second,
    ):
        for number in second:
            seen.append(number)
    assert seen == list(range(0, 40, 2))
