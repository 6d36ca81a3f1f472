"""Two views in, paired colours out: against known maps, and against a real stereo pair."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from skimage import data

from huemend.base.units import AP1_LUMINANCE
from huemend.correspond.pairs import balance_weights, join_pairs
from huemend.model import Fit, PairedColours
from huemend.options import CorrespondOptions
from huemend.solve.fit import fit
from tests.correspond.made_views import (
    GAIN,
    MIX,
    ORIGIN,
    SCALE,
    light,
    pair_up,
    still_of,
    strangers,
    wide_and_close,
    wide_and_close_pairs,
)
from tests.solve.made_pairs import make_pairs, surfaces

pytestmark = pytest.mark.slow

OPTIONS = CorrespondOptions()


def test_pairs_lie_where_the_known_map_puts_them() -> None:
    pairs = wide_and_close_pairs()
    assert len(pairs) > 400
    expected = (np.asarray(pairs.reference_xy) - ORIGIN) * SCALE
    off = np.hypot(*(pairs.angle_xy - expected).T) / SCALE
    assert np.median(off) < 1.0
    assert (off < 3).mean() > 0.9


def test_a_patch_covers_the_same_surface_in_both_views() -> None:
    radius = wide_and_close_pairs().radius
    assert_allclose(np.median(radius[:, 1] / radius[:, 0]), SCALE, rtol=0.05)


def test_words_that_are_burnt_into_both_frames_give_no_pairs() -> None:
    words = np.zeros((60, 440), np.uint8)
    cv2.putText(words, "01:13:22:09 A003C011", (8, 42), cv2.FONT_HERSHEY_DUPLEX, 1.0, 180, 2, cv2.LINE_AA)
    stills = []
    for still in wide_and_close():
        rgb, size = still.rgb.copy(), still.rgb.shape[1] / 512
        strip = cv2.resize(words, None, fx=size, fy=size, interpolation=cv2.INTER_LINEAR)[..., None] / 255
        for down in (20, 350):
            top, left = round(down * size), round(30 * size)
            rgb[top : top + len(strip), left : left + strip.shape[1]] = strip
        stills.append(replace(still, rgb=rgb))
    pairs = pair_up(*stills)
    assert pairs.rejected["burnt in"] > 20 and "burnt in" not in wide_and_close_pairs().rejected
    stand = np.abs(pairs.reference_xy / 512 - pairs.angle_xy / 600).max(1) < 0.004
    assert len(pairs) > 200 and stand.mean() < 0.01


def test_a_screen_that_shows_the_hero_gives_no_pairs() -> None:
    hero, angle = wide_and_close()
    rgb, small = angle.rgb.copy(), cv2.resize(hero.rgb, (240, 240), interpolation=cv2.INTER_AREA)
    rgb[10:250, 340:580] = small * [0.5, 0.8, 1.4]
    pairs = pair_up(hero, replace(angle, rgb=rgb))
    on_it = ((pairs.angle_xy > (340, 10)) & (pairs.angle_xy < (580, 250))).all(1)
    assert pairs.rejected["on a screen"] > 40 and "on a screen" not in wide_and_close_pairs().rejected
    assert len(pairs) > 200 and on_it.mean() < 0.01


def test_a_longer_lens_at_the_same_place_is_no_screen() -> None:
    wide, _ = wide_and_close()
    height, width = wide.rgb.shape[:2]
    long = still_of(np.asarray(wide.rgb[height // 4 : -height // 4, width // 4 : -width // 4]), "long")
    for pairs in (pair_up(long, wide), pair_up(wide, long)):
        assert len(pairs) > 200 and "on a screen" not in pairs.rejected


def test_the_colours_of_pairs_obey_the_known_match() -> None:
    pairs = wide_and_close_pairs()
    expected = pairs.reference_rgb @ (GAIN * MIX).T
    off = np.abs(pairs.angle_rgb / expected - 1)
    assert np.median(off) < 0.04


def test_the_match_is_recovered() -> None:
    found = fit(wide_and_close_pairs(), view_stops=0.0)
    assert isinstance(found, Fit)
    truth = np.linalg.inv(GAIN * MIX)
    assert found.match.exposure_stops == pytest.approx(-np.log2(GAIN), abs=0.05)
    assert_allclose(found.match.combined, truth, atol=0.1)
    assert_allclose(found.match.balance, (0, 0), atol=0.06)


def test_a_real_stereo_pair_agrees_with_its_true_disparity() -> None:
    # Middlebury 2014 "Motorcycle" (Scharstein et al. 2014), as scikit-image carries it, with measured disparity.
    left, right, disparity = (part[60:430] for part in data.stereo_motorcycle())
    pairs = pair_up(still_of(light(left), "left"), still_of(light(right), "right"))
    assert len(pairs) > 500
    x, y = np.rint(pairs.reference_xy).astype(int).T
    true = disparity[y, x]
    known = np.isfinite(true)
    assert known.mean() > 0.7
    moved = pairs.reference_xy - pairs.angle_xy
    off = np.hypot(moved[known, 0] - true[known], moved[known, 1])
    assert np.median(off) < 1.0
    assert (off < 3).mean() > 0.8
    # And the two cameras are one model with one setting: nothing is to be done.
    found = fit(pairs, view_stops=0.0)
    assert found and abs(found.match.exposure_stops) < 0.1


def test_pictures_that_share_nothing_give_no_pair() -> None:
    pairs = pair_up(*strangers())
    assert len(pairs) == 0
    assert pairs.found > 100
    found = fit(pairs, view_stops=0.0)
    assert not found
    assert found.reasons[0].code == "nothing-shared"


def test_clipped_and_ignored_areas_give_no_pair_and_are_counted() -> None:
    wide, close = wide_and_close()
    before = wide_and_close_pairs()
    clipped, ignored = np.zeros((2, *wide.clipped.shape), bool)
    # Face and collar, which the close view shows, too.
    clipped[60:130, 180:270] = True
    ignored[150:200, 150:300] = True
    pairs = pair_up(replace(wide, clipped=clipped, ignored=ignored), close)
    x, y = np.rint(before.reference_xy).astype(int).T
    assert clipped[y, x].sum() > 20 and ignored[y, x].sum() > 20
    x, y = np.rint(pairs.reference_xy).astype(int).T
    assert len(pairs) > 50 and not (clipped | ignored)[y, x].any()
    assert pairs.rejected["clipped"] > before.rejected["clipped"] + 40


def test_what_is_too_dark_gives_no_pair_and_is_counted() -> None:
    pairs = pair_up(*wide_and_close(), darkest=0.1)
    assert len(pairs) and pairs.rejected["dark"] > wide_and_close_pairs().rejected["dark"]
    for rgb in (pairs.reference_rgb, pairs.angle_rgb):
        assert (rgb @ AP1_LUMINANCE > 0.099).all()


def test_the_same_pictures_give_the_same_pairs() -> None:
    again, before = pair_up(*wide_and_close()), wide_and_close_pairs()
    assert_array_equal(again.angle_xy, before.angle_xy)
    assert_array_equal(again.angle_rgb, before.angle_rgb)


def test_places_are_those_of_the_still_whatever_the_matching_size() -> None:
    wide, close = wide_and_close()
    large = still_of(cv2.resize(np.asarray(close.rgb), None, fx=2, fy=2, interpolation=cv2.INTER_LINEAR), "close")
    pairs = pair_up(wide, large, width=600)
    expected = ((np.asarray(pairs.reference_xy) - ORIGIN) * SCALE + 0.5) * 2 - 0.5
    assert np.median(np.hypot(*(pairs.angle_xy - expected).T)) / (2 * SCALE) < 1.0


def test_moments_are_pooled_and_told_apart() -> None:
    rgb = surfaces(8)
    parts = [replace(make_pairs(rgb, rgb), moment=np.full(8, k), rejected={"dark": 2}) for k in (0, 1)]
    joined = join_pairs(parts, reference="wide", angle="left", options=OPTIONS)
    assert len(joined) == 16
    assert joined.moment.tolist() == [0] * 8 + [1] * 8
    assert joined.rejected["dark"] == 4


def test_more_pairs_than_the_bound_are_thinned_evenly() -> None:
    rgb = surfaces(400)
    options = replace(OPTIONS, most_pairs=100)
    joined = join_pairs([make_pairs(rgb, rgb)], reference="wide", angle="left", options=options)
    assert len(joined) == 100
    assert joined.rejected["thinned"] == 300
    assert len(np.unique(joined.group)) > 90


def test_a_crowded_cell_counts_little_more_than_a_lone_pair() -> None:
    # The design effect of cluster sampling (Kish 1965): n / (1 + (n - 1) * correlation).
    rgb = surfaces(1).repeat(20, axis=0) * np.geomspace(0.1, 10, 20)[:, None]
    weight = balance_weights(rgb, np.zeros(20, int), 0.3)
    assert weight.sum() <= 20 / (1 + 19 * 0.3) + 1e-9


def test_a_large_surface_of_one_colour_does_not_outvote_the_rest() -> None:
    colours = np.array([[0.2, 0.2, 0.2], [0.4, 0.05, 0.05], [0.05, 0.1, 0.6], [0.1, 0.5, 0.1]])
    count = [100, 3, 2, 1]
    weight = balance_weights(colours.repeat(count, axis=0), np.arange(106), 0.3)
    total = np.add.reduceat(weight, [0, 100, 103, 105])
    # A hundred times the area counts more, but nowhere near a hundred times.
    assert total[3] < total[0] < 25 * total[3]
    assert weight[0] < 0.3 * weight[-1]


def test_no_pairs_keep_what_is_known_of_why() -> None:
    none = PairedColours.empty("wide", "left", "features", found=7, rejected={"alone": 7})
    assert (len(none), none.found, none.rejected) == (0, 7, {"alone": 7})
    assert len(join_pairs([none], reference="wide", angle="left", options=OPTIONS)) == 0
