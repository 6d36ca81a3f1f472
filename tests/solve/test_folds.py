"""Folds hold out whole places, and about as much each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from huemend.model import PairedColours
from huemend.options import SolveOptions
from huemend.solve.folds import spatial_folds
from tests.solve.made_pairs import make_pairs, surfaces

OPTIONS = SolveOptions()


@pytest.fixture(scope="module")
def pairs() -> PairedColours:
    rgb = surfaces(600)
    return make_pairs(rgb, rgb, group=np.random.default_rng(0).integers(0, 200, 600))


def test_a_group_is_held_out_whole(pairs: PairedColours) -> None:
    fold = spatial_folds(pairs, OPTIONS)
    assert fold.shape == (600,)
    for group in np.unique(pairs.group):
        assert len(np.unique(fold[pairs.group == group])) == 1


def test_every_fold_holds_out_a_fair_share(pairs: PairedColours) -> None:
    load = np.bincount(spatial_folds(pairs, OPTIONS), pairs.weight, minlength=OPTIONS.folds)
    assert len(load) == OPTIONS.folds
    assert load.min() > 0.4 * load.mean()
    assert load.max() < 1.8 * load.mean()


def test_neighbours_are_held_out_together(pairs: PairedColours) -> None:
    # Roberts et al. 2017: blocks, not single places; far more neighbours share a fold than chance would have it.
    fold = spatial_folds(pairs, OPTIONS)
    places = np.asarray(pairs.reference_xy)
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    near = (apart > 0) & (apart < 60)
    assert (fold[:, None] == fold[None])[near].mean() > 2 / OPTIONS.folds


def test_a_heavy_place_is_not_joined_by_others() -> None:
    rgb = surfaces(40)
    weight = np.ones(40)
    weight[:4] = 100
    fold = spatial_folds(make_pairs(rgb, rgb, weight=weight), OPTIONS)
    assert (fold[4:] != fold[0]).all()


def test_the_same_pairs_are_dealt_alike(pairs: PairedColours) -> None:
    assert_array_equal(spatial_folds(pairs, OPTIONS), spatial_folds(pairs, OPTIONS))


def test_the_numbers_of_groups_do_not_matter() -> None:
    rgb = surfaces(12)
    pairs = make_pairs(rgb, rgb, group=np.repeat(np.arange(6), 2))
    renamed = replace(pairs, group=np.asarray(pairs.group) * 1000 + 7)
    assert_array_equal(spatial_folds(pairs, OPTIONS), spatial_folds(renamed, OPTIONS))
