"""Folds hold out whole places, and about as much each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from huemend.model import PairedColours
from huemend.options import SolveOptions, ValidateOptions
from huemend.solve.fit import fit
from huemend.solve.folds import deal_out, spatial_folds
from huemend.validate.proof import prove
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


def twice(pairs: PairedColours) -> PairedColours:
    """See every place at two moments."""
    return PairedColours.concat([pairs, replace(pairs, moment=pairs.moment + 4)])


def test_of_one_moment_places_alone_are_held_out(pairs: PairedColours) -> None:
    folds, region = deal_out(pairs, OPTIONS), spatial_folds(pairs, OPTIONS)
    assert_array_equal(folds.judged, region)
    assert_array_equal(folds.hidden, region == np.arange(OPTIONS.folds)[:, None])


def test_no_fold_is_judged_at_moments_that_its_fit_saw(pairs: PairedColours) -> None:
    both = twice(pairs)
    folds = deal_out(both, OPTIONS)
    for number, hidden in enumerate(folds.hidden):
        judged = folds.judged == number
        assert judged.any() and hidden[judged].all() and not hidden.all()
        assert not set(both.moment[judged]) & set(both.moment[~hidden])
        assert not set(both.group[judged]) & set(both.group[~hidden])
    # Every place is judged once, half of them early and half late.
    assert (folds.judged >= 0).sum() == len(pairs)
    assert set(both.moment[folds.judged >= 0]) == {0, 4}


def test_a_place_that_was_seen_in_one_half_only_is_kept_for_the_other_folds(pairs: PairedColours) -> None:
    alone = replace(pairs.take(np.arange(20)), group=pairs.group[:20] + 1000)
    folds = deal_out(PairedColours.concat([twice(pairs), alone]), OPTIONS)
    judged, hidden = folds.judged[-20:], folds.hidden[:, -20:]
    assert (judged >= 0).all()
    assert_array_equal(hidden, judged == np.arange(OPTIONS.folds)[:, None])


def test_a_camera_that_drifts_over_the_moments_is_seen_by_the_proof() -> None:
    """Held out, one of the two halves is off by it all."""
    rgb = surfaces(300)
    steady = make_pairs(rgb, rgb, group=np.arange(300) // 3)
    later = replace(steady, angle_rgb=steady.angle_rgb * 2**0.3, moment=steady.moment + 4)
    drifted = PairedColours.concat([steady, later])
    proven = []
    for pairs in (twice(steady), drifted):
        found = fit(pairs, view_stops=0.0)
        assert found
        proven.append(prove(pairs, found, ValidateOptions(), view_stops=0.0).after.mean)
    calm, held_out = proven
    assert calm < 0.1 and held_out > 1
