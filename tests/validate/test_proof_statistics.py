"""The statistics of the proof: what its upper end covers, and which colours can prove anything."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from huemend.model import HeldOut
from huemend.options import ValidateOptions
from huemend.validate.proof import measure
from tests.solve.made_pairs import make_pairs, surfaces

OPTIONS = ValidateOptions()
GROUPS, PER = 12, 16


def by_places(seed: int) -> HeldOut:
    """A proof whose errors are common to the pairs of one place, as a lamp or a reflection makes them."""
    rng = np.random.default_rng(seed)
    group = np.repeat(np.arange(GROUPS), PER)
    rgb = surfaces(GROUPS * PER, 11)
    tint = np.exp(0.12 * np.abs(rng.normal(size=GROUPS)))[group]
    shot = rgb * np.stack([tint, np.ones_like(tint), np.ones_like(tint)], axis=1)
    pairs = make_pairs(rgb, shot, group=group)
    return measure(pairs, shot, np.ones(len(group), bool), replace(OPTIONS, seed=seed), view_stops=0.0)


@pytest.mark.slow
def test_the_upper_end_is_as_far_away_as_places_scatter() -> None:
    # Drawn anew, the places give another mean; nine draws of ten (to be exact 95 of 100) shall lie below the
    # upper end of a typical one. Places, not pairs, are independent: taking the 16 pairs of a place for
    # independent ones would bring the upper end to a quarter of its distance.
    proofs = [by_places(seed) for seed in range(60)]
    means = np.array([proof.after.mean for proof in proofs])
    reach = float(np.median([proof.upper - proof.after.mean for proof in proofs]))
    assert reach == pytest.approx(stats.norm.ppf(0.95) * means.std(ddof=1), rel=0.35)
    # A bootstrap of twelve covers a little less than it claims (Davison & Hinkley 1997, section 5.7).
    covered = np.mean([proof.upper >= means.mean() for proof in proofs])
    assert covered >= 0.8


def test_what_the_match_clips_proves_nothing() -> None:
    # Two colours that the hero shows as they are, and that the match lifts over display white: the view would
    # show both as white, and a difference of stops as none.
    rgb = np.array([[0.9, 0.9, 0.9], [0.5, 0.5, 0.5], [0.2, 0.1, 0.1]])
    matched = rgb * np.array([[8.0], [1.0], [1.0]])
    proof = measure(make_pairs(rgb, rgb), matched, np.ones(3, bool), OPTIONS, view_stops=0.0)
    assert np.isnan(proof.error_after).tolist() == [True, False, False]
    assert proof.after.n == 2
    assert proof.clipped_share == pytest.approx(1 / 3)
    assert proof.after.mean < 1e-6
