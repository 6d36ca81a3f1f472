"""Paired colours are a table: every column goes along, whatever is done with the rows."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from huemend.model import PairedColours
from huemend.model.pairs import _COLUMNS
from huemend.options import SolveOptions
from huemend.solve.marks import marks_beside
from tests.solve.made_pairs import make_pairs, surfaces


def some_pairs(count: int, seed: int = 0) -> PairedColours:
    """Return pairs no column of which is all alike."""
    rng = np.random.default_rng(seed)
    rgb = surfaces(count)
    return replace(
        make_pairs(rgb, rgb),
        by_hand=rng.random(count) < 0.5,
        light_spread=rng.uniform(0, 2, count),
        moment=rng.integers(0, 3, count),
        group=rng.integers(0, 5, count),
        label=rng.choice(["", "skin"], count),
        found=10 * count,
        matched=2 * count,
        rejected={"dark": count},
    )


def rows(pairs: PairedColours) -> list[tuple[object, ...]]:
    return [tuple(np.ravel(getattr(pairs, name)[i]).tolist() for name in _COLUMNS) for i in range(len(pairs))]


def test_every_array_is_a_column() -> None:
    pairs = some_pairs(4)
    arrays = [item.name for item in fields(pairs) if isinstance(getattr(pairs, item.name), np.ndarray)]
    assert arrays == list(_COLUMNS)


def test_rows_keep_all_their_columns() -> None:
    pairs = some_pairs(12)
    assert rows(pairs.take(np.array([7, 2]))) == [rows(pairs)[7], rows(pairs)[2]]
    assert rows(pairs.take(pairs.by_hand)) == [
        row for row, hand in zip(rows(pairs), pairs.by_hand, strict=True) if hand
    ]


def test_parts_stand_below_one_another() -> None:
    one, other = some_pairs(5), replace(some_pairs(7, seed=1), source="areas", rejected={"dark": 1, "alone": 2})
    both = PairedColours.concat([one, other])
    assert rows(both) == rows(one) + rows(other)
    assert (both.found, both.matched, both.rejected) == (120, 24, {"dark": 6, "alone": 2})
    assert both.source == f"{one.source} areas"


def test_groups_of_parts_stay_apart_if_asked() -> None:
    one, other = some_pairs(20), some_pairs(30, seed=1)
    apart = PairedColours.concat([one, other], apart=True)
    assert not set(apart.group[:20]) & set(apart.group[20:])
    for part, group in ((one.group, apart.group[:20]), (other.group, apart.group[20:])):
        assert_array_equal(part[:, None] == part, group[:, None] == group)


def test_no_pairs_are_a_table_too() -> None:
    none = PairedColours.empty("wide", "left", "areas", found=3)
    none.check()
    assert len(none) == 0 and none.found == 3
    some = some_pairs(4)
    assert rows(PairedColours.concat([none, some])) == rows(some)


@pytest.mark.parametrize(
    ("changed", "complaint"),
    [
        ({"noise": np.zeros((3, 2))}, "noise has 3 rows, weight has 4"),
        ({"radius": np.zeros((4, 3))}, r"a row of radius has the shape \(3,\)"),
        ({"light_spread": np.array([0, 0, np.nan, 0])}, "light_spread holds values that are not finite"),
    ],
)
def test_a_table_that_is_none_is_named(changed: dict[str, np.ndarray], complaint: str) -> None:
    with pytest.raises(ValueError, match=complaint):
        replace(some_pairs(4), **changed).check()


def test_what_is_marked_beside_found_pairs_stays_so_among_some_of_them() -> None:
    rgb = surfaces(12)
    found = make_pairs(rgb, rgb, group=np.arange(12))
    area = replace(found.take(np.arange(2)), by_hand=np.ones(2, bool))
    both = marks_beside(PairedColours.concat([found, area], apart=True), SolveOptions())
    assert both.marked_beside.tolist() == both.by_hand.tolist()
    assert not marks_beside(area, SolveOptions()).marked_beside.any()
    assert both.take(both.by_hand).marked_beside.all()
