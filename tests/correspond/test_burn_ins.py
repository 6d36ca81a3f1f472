"""What is burnt into both frames is left out; cameras at one place, or side by side, keep all they show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.correspond.burn_ins import without_burn_ins
from huemend.correspond.features import Candidates
from huemend.options import CorrespondOptions
from tests.correspond.test_clusters import both, elsewhere, some

OPTIONS = CorrespondOptions()
WIDTHS = (960, 960)
SET = elsewhere(some(40, seed=1))
MARKS = some(20, scale=1.0)


def left(candidates: Candidates, widths: tuple[int, int] = WIDTHS) -> tuple[int, int]:
    rest, count = without_burn_ins(candidates, widths, OPTIONS)
    return len(rest), count


def test_what_stands_at_one_place_of_both_frames_is_left_out() -> None:
    assert left(both(SET, MARKS)) == (40, 20)
    # In a frame of half the width all of it is half as far and half as large.
    half = replace(both(SET, MARKS), angle=both(SET, MARKS).angle / 2, scale=both(SET, MARKS).scale - 1)
    assert left(half, (960, 480)) == (40, 20)


def test_a_letter_that_is_taken_for_another_is_left_out_with_them() -> None:
    astray = replace(MARKS, angle=MARKS.angle[::-1])
    assert left(both(both(SET, MARKS), astray)) == (40, 40)


@pytest.mark.parametrize(
    "candidates",
    [
        some(60, scale=1.0),
        both(SET, some(7, scale=1.0)),
        SET,
        SET.take(np.zeros(0, int)),
        # What moved before one camera, or is taken for something else.
        both(some(60, scale=1.0), elsewhere(some(20, seed=1))),
    ],
)
def test_cameras_at_one_place_and_a_few_by_chance_are_left_alone(candidates: Candidates) -> None:
    assert left(candidates) == (len(candidates), 0)


def test_a_middle_that_stands_still_between_two_focal_lengths_is_left_alone() -> None:
    rng = np.random.default_rng(4)
    place = rng.uniform(0, 960, (3000, 2)) * np.array([1, 9 / 16])
    seen = replace(
        some(3000), reference=place, angle=(place - 270) * 1.06 + 270, scale=np.full(3000, np.log2(1.06))
    )
    step = np.abs(seen.angle - seen.reference).max(1)
    assert (step < 1.5).sum() >= 8 and np.median(step) > 10
    assert left(seen) == (3000, 0)


def test_cameras_side_by_side_are_left_alone() -> None:
    # From far to near: what is farthest stands still, the next by a few pixels.
    near = some(40, seed=1, scale=1.0, shift=5.0)
    beside = replace(near, reference=near.reference + 300, angle=near.angle + 300)
    assert left(both(MARKS, beside)) == (60, 0)
