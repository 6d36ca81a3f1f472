"""Features of pictures, and candidates between them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose

from huemend.correspond.clusters import believed
from huemend.correspond.features import Candidates, Features, find_candidates, find_features, join_features
from huemend.correspond.raster import feature_picture, log_luminance, make_picture
from huemend.model import LinearStill
from tests.correspond.made_views import MIX, ORIGIN, QUICK, SCALE, still_of, strangers, wide_and_close


def features(still: LinearStill, most: int = 1500, squeeze: float = 1.0) -> Features:
    return find_features(make_picture(still, 960), still.rgb.shape[1], most, squeeze)


@cache
def candidates() -> Candidates:
    wide, close = wide_and_close()
    picture = make_picture(wide, 960)
    reference = find_features(picture, 2 * wide.rgb.shape[1], QUICK.reference_features)
    return find_candidates(reference, features(close), QUICK)


def test_descriptors_are_of_unit_length() -> None:
    found = features(wide_and_close()[0])
    assert len(found) > 200
    # RootSIFT (Arandjelovic & Zisserman 2012): a dot product is a similarity.
    assert_allclose(np.linalg.norm(found.descriptor, axis=1), 1, atol=1e-4)
    height, width = wide_and_close()[0].rgb.shape[:2]
    assert (found.places >= -1).all() and (found.places <= [width, height]).all()


def test_exposure_hardly_changes_what_is_found() -> None:
    wide = wide_and_close()[0]
    found, dim = features(wide), features(still_of(wide.rgb / 4, "wide"))
    apart = np.abs(found.places[:, None] - dim.places[None]).max(-1).min(1)
    assert (apart < 1).mean() > 0.6


@pytest.mark.parametrize("squeeze", [0.7, 1.4])
def test_features_of_a_squeezed_view_lie_where_the_picture_shows_them(squeeze: float) -> None:
    wide = wide_and_close()[0]
    plain, squeezed = features(wide, 1500), features(wide, 300, squeeze)
    off = squeezed.places[:, None] - plain.places[None]
    nearest = np.linalg.norm(off, axis=2).argmin(1)
    off = off[np.arange(len(off)), nearest]
    assert len(squeezed) >= 300
    # By chance they would lie some pixels apart; a squeeze blurs, and moves each a little, but not all one way.
    assert np.median(np.hypot(*off.T)) < 0.8
    assert np.abs(np.median(off, axis=0)).max() < 0.2


def test_features_of_several_views_are_put_side_by_side() -> None:
    wide = wide_and_close()[0]
    one, other = features(wide, 200), features(wide, 200, 0.7)
    both = join_features([one, other])
    assert len(both) == len(one) + len(other)
    assert_allclose(both.places[len(one) :], other.places)
    assert_allclose(both.descriptor[: len(one)], one.descriptor)


def test_features_of_ignored_areas_are_left_out() -> None:
    wide = wide_and_close()[0]
    ignored = np.zeros(wide.clipped.shape, bool)
    ignored[:, 256:] = True
    found = features(replace(wide, ignored=ignored))
    assert len(found) and (found.places[:, 0] < 256).all()


def test_a_blank_picture_has_none() -> None:
    found = features(still_of(np.full((120, 160, 3), 0.18, np.float32), "wide"))
    assert len(found) == 0
    assert len(find_candidates(found, found, QUICK)) == 0
    assert len(find_candidates(features(wide_and_close()[0], 100), found, QUICK)) == 0


def test_candidates_of_two_views_of_one_scene_hold_many_right_ones() -> None:
    found = candidates()
    off = np.hypot(*(found.angle - (found.reference - ORIGIN) * SCALE).T) / SCALE
    right = off < 3
    assert right.sum() > 40
    # A right one knows the difference of scale between the views, and is more distinct than a wrong one.
    assert np.median(found.scale[right]) == pytest.approx(np.log2(SCALE), abs=0.2)
    assert np.median(found.distinct[right]) > np.median(found.distinct[~right])


def test_nearly_all_that_is_believed_is_right() -> None:
    found = candidates()
    label, _ = believed(found, QUICK)
    off = np.hypot(*(found.angle - (found.reference - ORIGIN) * SCALE).T) / SCALE
    assert (label >= 0).sum() > 30
    assert (off[label >= 0] < 4).mean() > 0.95


def test_nothing_is_believed_of_pictures_that_share_nothing() -> None:
    one, other = (features(still) for still in strangers())
    found = find_candidates(one, other, QUICK)
    assert found.found == len(other)
    assert (believed(found, QUICK)[0] < 0).all()


def test_colours_that_are_far_apart_are_no_candidates() -> None:
    wide = wide_and_close()[0]
    own = features(wide, 400)
    assert len(find_candidates(own, own, QUICK)) > 200
    # Red and blue change places: the same drawing in other paint.
    other = features(still_of(wide.rgb[..., ::-1] * [4, 1, 0.25], "close"), 400)
    assert len(find_candidates(own, other, QUICK)) < 0.3 * len(find_candidates(own, own, QUICK))


def test_nothing_of_a_turned_view_is_believed() -> None:
    wide = wide_and_close()[0]
    own = features(wide, 400)
    turned = features(still_of(np.rot90(wide.rgb).copy() @ MIX.T.astype(np.float32), "close"), 400)
    upright, on_its_side = (believed(find_candidates(own, other, QUICK), QUICK)[0] for other in (own, turned))
    assert (upright >= 0).sum() > 100
    assert not (on_its_side >= 0).any()


def made_features(count: int, seed: int) -> Features:
    rng = np.random.default_rng(seed)
    descriptor = np.abs(rng.normal(size=(count, 128))).astype(np.float32)
    return Features(
        places=rng.uniform(0, 500, (count, 2)),
        size=rng.uniform(2, 20, count),
        turn=rng.uniform(0, 360, count),
        descriptor=descriptor / np.linalg.norm(descriptor, axis=1, keepdims=True),
        chroma=np.zeros((count, 2)),
    )


def test_the_nearest_feature_turned_alike_is_found_as_by_looking_at_all() -> None:
    angle, reference = made_features(400, 1), made_features(700, 2)
    options = replace(QUICK, neighbours=1, ratio=9.0, slack=9.0, upright=25.0)
    found = find_candidates(reference, replace(angle, descriptor=reference.descriptor[:400]), options)
    # Every feature is its own nearest; the pairs that remain are those turned no more than 25 degrees apart.
    turned = np.abs((angle.turn - reference.turn[:400] + 180) % 360 - 180)
    same = (found.angle[:, None] == angle.places[None]).all(-1) & (
        found.reference[:, None] == reference.places[:400]
    ).all(-1)
    assert set(np.nonzero(same)[1]) == set(np.nonzero(turned < 25)[0])


def test_features_that_are_turned_otherwise_do_not_make_one_less_distinct() -> None:
    # Two features of one look: where both are upright each says little, where one lies on its side each says much.
    reference, angle = made_features(80, 3), made_features(80, 4)
    reference = replace(reference, turn=np.full(80, 10.0))
    twin = angle.descriptor.copy()
    twin[0] = twin[1] = reference.descriptor[0]
    options = replace(QUICK, neighbours=1, ratio=9.0, slack=9.0)

    def distinct(turn: float) -> float:
        turns = np.full(80, 10.0)
        turns[1] = turn
        found = find_candidates(reference, replace(angle, descriptor=twin, turn=turns), options)
        own = (found.angle == angle.places[0]).all(1) & (found.reference == reference.places[0]).all(1)
        return float(found.distinct[own].max())

    assert distinct(10.0) < 0.5 < distinct(100.0)


def test_too_few_features_turned_alike_are_no_error() -> None:
    angle, reference = made_features(5, 5), made_features(30, 6)
    reference = replace(reference, turn=np.r_[np.full(29, 180.0), 0.0])
    assert len(find_candidates(reference, replace(angle, turn=np.zeros(5)), QUICK)) <= 5


def test_a_dot_product_is_the_hellinger_kernel_of_sift() -> None:
    """Arandjelovic & Zisserman 2012, section 3: on OpenCV's own SIFT, the overlap of two histograms of sum 1."""
    wide = wide_and_close()[0]
    found = features(wide)
    sift = cv2.SIFT_create(nfeatures=1500, contrastThreshold=0.012, edgeThreshold=15)
    raw = sift.detectAndCompute(feature_picture(log_luminance(np.asarray(wide.rgb))), None)[1].astype(float)
    share = raw / raw.sum(1, keepdims=True)
    assert_allclose(found.descriptor[:40] @ found.descriptor[40:80].T,
                    np.sqrt(share[:40]) @ np.sqrt(share[40:80]).T, atol=1e-5)  # fmt: skip


@pytest.mark.parametrize("enlarged", [1, 2])
def test_features_lie_where_the_picture_has_them_at_any_size(enlarged: int) -> None:
    # Round spots at places between pixels. SIFT itself is off by a part of a pixel of the picture that it is shown
    # (OpenCV's doubling, half of one at worst); a wrong turn between pixel centres adds a quarter of a pixel more.
    rng = np.random.default_rng(0)
    spots = np.array([(40 + 50 * i, 40 + 50 * j) for i in range(5) for j in range(4)]) + rng.uniform(
        -0.5, 0.5, (20, 2)
    )
    y, x = np.mgrid[:240, :320]
    light = 0.1 + sum(0.4 * np.exp(-((x - u) ** 2 + (y - v) ** 2) / 32) for u, v in spots)
    still = still_of(light[..., None] * np.ones(3), "spots")
    found = find_features(make_picture(still, 960), 320 * enlarged, 500)
    step = found.places[:, None] - spots[None]
    near = np.hypot(*step.transpose(2, 0, 1))
    own = step[np.arange(len(step)), near.argmin(1)][near.min(1) < 2]
    assert len(own) > 40
    assert np.abs(own.mean(0)).max() < 0.25 + 0.3 * (enlarged == 1)
