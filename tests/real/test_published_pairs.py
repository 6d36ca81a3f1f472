"""Pairs, and the matches that rest on them, on real photographs whose answer somebody else published."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
import pytest

from huemend.base.units import AP1_LUMINANCE
from huemend.model import Fit, PairedColours, Rung
from huemend.options import ValidateOptions
from huemend.solve.fit import fit
from huemend.validate.proof import prove
from tests.correspond.made_views import pair_up
from tests.real.published import disparity, exif, homography, needs_opencv_doc, photograph

pytestmark = [needs_opencv_doc, pytest.mark.slow]


@cache
def pairs_of(reference: str, angle: str) -> PairedColours:
    return pair_up(photograph(reference, "wide"), photograph(angle, "close"))


def fitted(reference: str, angle: str) -> Fit:
    found = fit(pairs_of(reference, angle), view_stops=0.0)
    assert isinstance(found, Fit)
    return found


def test_a_wall_from_two_sides_lies_where_the_published_homography_puts_it() -> None:
    pairs = pairs_of("graf1.png", "graf3.png")
    at = np.column_stack([pairs.reference_xy, np.ones(len(pairs))]) @ homography().T
    off = np.hypot(*(at[:, :2] / at[:, 2:] - pairs.angle_xy).T)
    # Of a wall seen 40 degrees aside; measured at first: median 0.86 px, 79 % within 3 px.
    assert len(pairs) > 1000
    assert np.median(off) < 1.2
    assert (off < 3).mean() > 0.7


def test_a_stereo_pair_lies_where_the_published_disparity_puts_it() -> None:
    pairs, known = pairs_of("aloeL.jpg", "aloeR.jpg"), disparity()
    x, y = np.rint(pairs.reference_xy).astype(int).T
    found = pairs.reference_xy[:, 0] - pairs.angle_xy[:, 0]
    off = np.abs(found - known[y, x])
    off = off[np.isfinite(off)]
    # The rows of the pair are level; measured at first: median 0.42 px, 86 % within 3 px, rows 0.14 px.
    assert len(off) > 1000
    assert np.median(off) < 0.8 and (off < 3).mean() > 0.8
    assert np.median(np.abs(pairs.reference_xy[:, 1] - pairs.angle_xy[:, 1])) < 0.5


def test_one_camera_under_one_light_is_left_alone() -> None:
    found = fitted("aloeL.jpg", "aloeR.jpg")
    assert found.rung is Rung.NONE and found.match.is_identity
    proof = prove(pairs_of("aloeL.jpg", "aloeR.jpg"), found, ValidateOptions(), view_stops=0.0)
    assert proof.after.mean == proof.before.mean < 1.5


def by_opencv(reference: str, angle: str) -> float:
    """Stops between two photographs by OpenCV alone: SIFT, its ratio test (Lowe 2004), a homography by RANSAC, and
    the median ratio of linear light over the discs of the key points."""
    stills = [photograph(name, "x") for name in (reference, angle)]
    sift = cv2.SIFT_create(4000)
    seen = []
    for still in stills:
        shown = np.clip(255 * np.asarray(still.rgb).mean(-1) ** (1 / 2.2), 0, 255).astype(np.uint8)
        seen.append(sift.detectAndCompute(shown, None))
    both = cv2.BFMatcher().knnMatch(seen[0][1], seen[1][1], k=2)
    kept = [one for one, two in both if one.distance < 0.75 * two.distance]
    points = [
        np.array([seen[0][0][m.queryIdx].pt for m in kept], np.float32),
        np.array([seen[1][0][m.trainIdx].pt for m in kept], np.float32),
    ]
    _, inlier = cv2.findHomography(*points, cv2.RANSAC, 3.0)
    inlier = inlier.ravel() > 0
    levels = []
    for still, place in zip(stills, points, strict=True):
        soft = cv2.GaussianBlur((np.asarray(still.rgb) @ AP1_LUMINANCE).astype(np.float32), (0, 0), 4)
        levels.append(soft[np.rint(place[inlier, 1]).astype(int), np.rint(place[inlier, 0]).astype(int)])
    assert inlier.sum() > 40
    return float(np.median(np.log2(levels[0] / levels[1])))


def test_light_that_changed_between_two_pictures_is_found() -> None:
    first, second = exif("leuvenA.jpg"), exif("leuvenB.jpg")
    assert all(first[key] == second[key] for key in ("time", "aperture", "sensitivity"))
    found = fitted("leuvenA.jpg", "leuvenB.jpg")
    # The camera's own meter read 0.16 stop less light in the second (APEX brightness is in stops).
    metered = first["light"] - second["light"]
    interval = found.uncertainty.exposure_stops
    assert found.match.exposure_stops == pytest.approx(metered, abs=0.08)
    assert interval.low - 0.03 < metered < interval.high + 0.03
    # Key points alone, which lie where pictures have most contrast, say a little more: 0.19 to 0.25.
    assert found.match.exposure_stops == pytest.approx(by_opencv("leuvenA.jpg", "leuvenB.jpg"), abs=0.15)
