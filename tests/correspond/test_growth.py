"""From a few features to a grid of patches, against a known map."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from huemend.correspond.features import Candidates
from huemend.correspond.growth import Grown, grow
from huemend.correspond.raster import make_picture
from tests.correspond.made_views import ORIGIN, QUICK, SCALE, strangers, wide_and_close


def seeds(count: int, *, error: float = 0.0, seed: int = 0) -> Candidates:
    """Places that the close view shows, with their true counterparts but for an error in reference pixels."""
    rng = np.random.default_rng(seed)
    reference = ORIGIN + rng.uniform(20, [220, 180], (count, 2))
    return Candidates(
        reference=reference,
        angle=(reference - ORIGIN + error * rng.normal(size=(count, 2))) * SCALE,
        scale=np.full(count, np.log2(SCALE)),
        tint=np.zeros((count, 2)),
        distinct=np.ones(count),
        found=count,
    )


@cache
def grown(error: float = 0.0) -> Grown:
    wide, close = (make_picture(still, 960) for still in wide_and_close())
    return grow(wide, close, seeds(40, error=error), np.arange(40) % 2, QUICK)


def off(found: Grown) -> np.ndarray:
    return np.hypot(*(found.angle - (found.reference - ORIGIN) * SCALE).T) / SCALE


@pytest.mark.parametrize("error", [0.0, 1.0])
def test_patches_lie_where_the_known_map_puts_them(error: float) -> None:
    # Seeds that are a pixel off are mended by the search.
    found = grown(error)
    assert len(found.reference) > 10 * 40
    assert np.median(off(found)) < (0.5 if error == 0 else 1.0)
    assert np.quantile(off(found), 0.9) < 3


def test_the_local_map_knows_the_scale() -> None:
    scale = np.sqrt(np.abs(np.linalg.det(grown().affine)))
    assert np.median(scale) == pytest.approx(SCALE, rel=0.05)


def test_every_patch_kept_is_explained() -> None:
    found = grown()
    assert (found.cost < 1).all()
    assert found.tried >= len(found.reference)
    assert set(np.unique(found.cluster)) <= {0, 1}
    assert np.isfinite(found.angle).all()


def test_patches_stay_inside_of_the_angle() -> None:
    height, width = wide_and_close()[1].rgb.shape[:2]
    assert (grown().angle >= 0).all() and (grown().angle < [width, height]).all()


def test_the_same_seeds_grow_the_same_patches() -> None:
    wide, close = (make_picture(still, 960) for still in wide_and_close())
    again = grow(wide, close, seeds(40), np.arange(40) % 2, QUICK)
    assert_array_equal(again.angle, grown().angle)
    assert_allclose(again.cost, grown().cost, rtol=0)


def test_wrong_seeds_hardly_grow() -> None:
    wide, other = (make_picture(still, 960) for still in strangers())
    rng = np.random.default_rng(3)
    wrong = Candidates(
        reference=rng.uniform(40, [560, 360], (40, 2)),
        angle=rng.uniform(40, [400, 260], (40, 2)),
        scale=np.zeros(40),
        tint=np.zeros((40, 2)),
        distinct=np.ones(40),
        found=40,
    )
    found = grow(wide, other, wrong, np.zeros(40, int), QUICK)
    assert len(found.reference) < 0.25 * found.tried


def test_patches_grow_on_beyond_the_reach_of_any_feature() -> None:
    """A map is handed on from patch to patch: a step of the reference is an enlarged step of the angle."""
    wide, close = (make_picture(still, 960) for still in wide_and_close())
    reference = ORIGIN + np.random.default_rng(0).uniform([80, 60], [140, 120], (15, 2))
    few = replace(
        seeds(15),
        reference=reference,
        angle=(reference - ORIGIN) * SCALE,
    )
    options = replace(QUICK, reach=20.0)
    found = grow(wide, close, few, np.zeros(15, int), options)
    apart = np.hypot(*(found.reference[:, None] - reference[None]).transpose(2, 0, 1)).min(1)
    beyond = apart > options.reach
    assert beyond.sum() > 100
    assert np.median(off(found)[beyond]) < 0.5
