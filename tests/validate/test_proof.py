"""The proof is made on samples that the match did not use."""

from __future__ import annotations

from dataclasses import replace

import colour
import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from huemend.model import Match, PairedColours
from huemend.options import SolveOptions, ValidateOptions
from huemend.solve.fit import fit
from huemend.solve.marks import marks_beside
from huemend.validate.doubts import doubts_of
from huemend.validate.proof import measure, prove, proven
from tests.solve.made_pairs import make_pairs, shaken, surfaces
from tests.validate.made_fits import a_fit

OPTIONS = ValidateOptions()
RGB = surfaces(200)
ONE_STOP = Match(exposure_stops=1.0)


def test_each_pair_is_measured_by_the_match_that_did_not_see_it() -> None:
    # Five folds, five matches: only the right one for each fold leaves nothing.
    matches = tuple(Match(exposure_stops=0.1 * k) for k in range(5))
    fold = np.arange(200) % 5
    reference = RGB * 2.0 ** (0.1 * fold[:, None])
    pairs = make_pairs(reference, RGB)
    proof = prove(pairs, a_fit(200, ONE_STOP, fold=fold, fold_matches=matches), OPTIONS, view_stops=0.0)
    assert np.nanmax(proof.error_after) < 1e-6
    swapped = prove(pairs, a_fit(200, ONE_STOP, fold=fold, fold_matches=matches[::-1]), OPTIONS, view_stops=0.0)
    assert np.nanmax(swapped.error_after) > 1
    assert_array_equal(proof.fold, fold)


def test_a_fit_that_learnt_its_samples_by_heart_does_not_pass() -> None:
    # The whole fit meets every pair exactly; the matches without them are off by half a stop.
    pairs = make_pairs(2 * RGB, RGB)
    fitted = a_fit(200, ONE_STOP, fold_matches=(Match(exposure_stops=0.5),) * 5)
    assert prove(pairs, fitted, OPTIONS, view_stops=0.0).after.mean > 3


def test_a_region_that_contradicts_is_not_hidden() -> None:
    # A third of the picture stands in light one stop brighter, in colours found nowhere else there.
    rgb = surfaces(180, 4)
    poisoned = np.arange(180) < 60
    rgb[poisoned] *= [1.6, 1.0, 0.6]
    reference = np.where(poisoned[:, None], 2.0, 1.0) * rgb
    pairs = make_pairs(reference, rgb)
    found = fit(pairs, view_stops=0.0)
    assert found
    # Judged on all pairs, so that the robust loss cannot look away either.
    proof = prove(pairs, replace(found, agrees=np.ones(180, bool)), OPTIONS, view_stops=0.0)
    clean = fit(make_pairs(rgb, rgb), view_stops=0.0)
    assert clean
    assert proof.after.mean > 2
    assert prove(make_pairs(rgb, rgb), clean, OPTIONS, view_stops=0.0).after.mean < 0.1
    assert np.nanmean(proof.error_after[poisoned]) > 4


def test_the_error_is_colour_sciences_ciede2000_of_the_view() -> None:
    # ISO/CIE 11664-6 as colour-science has it, from ACEScg by its own matrices (D65, BT.709, no curve: light).
    patches = RGB[RGB.max(1) < 0.4][:40]
    pairs = make_pairs(patches * 1.1, patches)
    after = measure(pairs, np.array(patches), np.ones(len(patches), bool), OPTIONS, view_stops=0.0).error_after
    to_709 = colour.matrix_RGB_to_RGB("ACEScg", "ITU-R BT.709", "CAT02")

    def lab(rgb: np.ndarray) -> np.ndarray:
        space = colour.RGB_COLOURSPACES["ITU-R BT.709"]
        xyz = np.clip(rgb @ to_709.T, 0, 1) @ space.matrix_RGB_to_XYZ.T
        return colour.XYZ_to_Lab(xyz, space.whitepoint)

    expected = colour.delta_E(lab(patches * 1.1), lab(patches), method="CIE 2000")
    seen = np.isfinite(after)
    assert seen.sum() > 20
    assert_allclose(after[seen], expected[seen], atol=2e-3)


def test_light_beyond_the_view_is_counted_and_left_out() -> None:
    rgb = RGB.copy()
    rgb[:50] = [3.0, 3.0, 3.0]
    proof = measure(make_pairs(rgb, rgb), rgb, np.ones(200, bool), OPTIONS, view_stops=0.0)
    assert np.isnan(proof.error_after[:50]).all()
    assert proof.clipped_share >= 0.25


def test_wrong_pairs_are_left_out_but_their_own_errors_are_told() -> None:
    used = np.arange(200) >= 20
    shot = RGB.copy()
    shot[~used] = shot[~used][:, ::-1] * 0.3
    proof = measure(make_pairs(RGB, shot), shot, used, OPTIONS, view_stops=0.0)
    assert proof.after.mean < 1e-6
    assert np.nanmean(proof.error_after[~used]) > 5


def test_a_pair_that_took_no_part_is_not_measured() -> None:
    fold = np.where(np.arange(200) < 30, -1, 0)
    proof = measure(make_pairs(RGB, RGB), RGB, np.ones(200, bool), OPTIONS, fold=fold, view_stops=0.0)
    assert np.isnan(proof.error_after[:30]).all()


def test_noise_of_single_patches_averages_out_over_a_colour() -> None:
    # One colour seen a hundred times: errors that are not common to it are not the match's.
    rng = np.random.default_rng(1)
    grey = np.full((100, 3), 0.18)
    noisy = grey * (1 + 0.05 * rng.normal(size=(100, 3)))
    proof = measure(make_pairs(grey, noisy), noisy, np.ones(100, bool), OPTIONS, view_stops=0.0)
    assert proof.after.n == 1
    assert proof.after.mean < 0.3 * np.nanmean(proof.error_after)


def test_a_large_surface_does_not_bury_the_rest() -> None:
    # Weights of a crowd fall before they come here; equal weights over colours give the mean over colours.
    rgb = np.array([[0.18, 0.18, 0.18], [0.4, 0.1, 0.05], [0.05, 0.2, 0.4]])
    proof = measure(make_pairs(rgb * [1.2, 1, 1], rgb), rgb, np.ones(3, bool), OPTIONS, view_stops=0.0)
    assert proof.after.mean == pytest.approx(np.nanmean(proof.error_after), rel=1e-6)


def test_named_areas_are_told_apart() -> None:
    label = np.where(np.arange(200) < 40, "skin", "").astype("<U32")
    shot = RGB.copy()
    shot[:40] *= [1.15, 1, 1]
    proof = measure(make_pairs(RGB, shot, label=label), shot, np.ones(200, bool), OPTIONS, view_stops=0.0)
    assert set(proof.areas) == {"skin"}
    assert proof.areas["skin"][1].mean > 2 > proof.after.mean


def test_an_area_is_off_by_what_its_patches_share_and_not_by_what_they_scatter_by() -> None:
    label = np.where(np.arange(200) < 4, "skin", "").astype("<U32")
    off = {}
    # Red of the four patches: up and down about what is right, or up by as much on every one.
    for name, red in (("scattered", [1.15, 0.85, 1.15, 0.85]), ("common", [1.15] * 4)):
        shot = RGB.copy()
        shot[:4, 0] *= red
        proof = measure(make_pairs(RGB, shot, label=label), shot, np.ones(200, bool), OPTIONS, view_stops=0.0)
        assert proof.areas["skin"][1].mean > 2
        off[name] = proof.areas_off["skin"]
    assert off["scattered"] < 1 < 2 < off["common"]


def test_an_area_is_not_shown_to_be_off_by_what_was_measured_as_its_noise() -> None:
    label = np.where(np.arange(200) < 3, "skin", "").astype("<U32")
    shot = RGB.copy()
    shot[:3, 2] *= 1.3
    off = []
    for noise in (0.01, 0.05, 0.2):
        pairs = make_pairs(RGB, shot, label=label)
        pairs = replace(pairs, noise=np.where(label[:, None] == "skin", noise, pairs.noise))
        off.append(measure(pairs, shot, np.ones(200, bool), OPTIONS, view_stops=0.0).areas_off["skin"])
    assert off[0] > off[1] > 0 == off[2]


def test_one_patch_shows_no_more_than_pairs_scatter_by() -> None:
    rng = np.random.default_rng(2)
    shot = RGB.copy()
    shot[:, ::2] *= np.exp(0.05 * rng.normal(size=(200, 2)))
    label = np.where(np.arange(200) < 1, "skin", "").astype("<U32")
    proof = measure(make_pairs(RGB, shot, label=label), shot, np.ones(200, bool), OPTIONS, view_stops=0.0)
    alone, typical = proof.error_after[0], np.nanmedian(proof.error_after)
    assert proof.areas_off["skin"] == pytest.approx(np.sqrt(max(alone**2 - typical**2, 0)), abs=0.1)


def test_the_upper_end_lies_above_the_mean_and_closes_in_with_places() -> None:
    few, _ = shaken(RGB[:24], RGB[:24], seed=1, shading=0.15, wrong=0)
    many, _ = shaken(np.tile(RGB, (5, 1)), np.tile(RGB, (5, 1)), seed=1, shading=0.15, wrong=0)
    gaps = []
    for pairs in (few, many):
        proof = measure(pairs, np.asarray(pairs.angle_rgb), np.ones(len(pairs), bool), OPTIONS, view_stops=0.0)
        gaps.append(proof.upper - proof.after.mean)
    assert 0 < gaps[1] < gaps[0]


@pytest.mark.parametrize(("gaining", "sure"), [(8, False), (200, True)])
def test_a_gain_of_one_place_alone_is_not_sure(gaining: int, sure: bool) -> None:
    # One place of 25 is a stop off as shot and met by the match, which spoils all others a little.
    inside = np.arange(200) < gaining
    shot, matched = RGB.copy(), RGB * 1.02
    shot[inside] /= 2
    matched[inside] = RGB[inside]
    pairs = make_pairs(RGB, shot, group=np.arange(200) // 8)
    proof = measure(pairs, matched, np.ones(200, bool), OPTIONS, view_stops=0.0)
    assert proof.before.mean > proof.after.mean
    assert (proof.least_gain > 0) is sure


def test_no_pairs_prove_nothing() -> None:
    none = make_pairs(np.zeros((0, 3)), np.zeros((0, 3)))
    proof = measure(none, np.zeros((0, 3)), np.zeros(0, bool), OPTIONS, view_stops=0.0)
    assert (proof.after.n, proof.upper, proof.clipped_share) == (0, 0, 0)


def with_marks(match: Match, count: int = 6) -> tuple[PairedColours, PairedColours]:
    """Return pairs that are a little off a match, and the same beside areas that meet it exactly."""
    off = np.exp(np.random.default_rng(3).normal(0, 0.06, (200, 3)))
    found = make_pairs(match.apply(RGB) * off, RGB, group=np.arange(200) // 4)
    cup = np.full(count, "cup")
    area = make_pairs(match.apply(RGB[:count]), RGB[:count], label=cup, weight=np.full(count, 4.0))
    both = PairedColours.concat([found, replace(area, by_hand=np.ones(count, bool))], apart=True)
    return found, marks_beside(both, SolveOptions())


def test_marked_areas_beside_found_pairs_are_told_apart_and_prove_nothing_of_the_rest() -> None:
    found, both = with_marks(ONE_STOP)
    alone, beside = (prove(pairs, a_fit(len(pairs), ONE_STOP), OPTIONS, view_stops=0.0) for pairs in (found, both))
    assert (beside.before, beside.after) == (alone.before, alone.after)
    assert beside.upper == alone.upper and alone.after.mean > 0.3
    assert beside.areas["cup"][1].mean < 1e-6 and not alone.areas


def test_marked_areas_do_not_outvote_found_pairs_that_disagree() -> None:
    found, both = with_marks(ONE_STOP)
    used = np.arange(206) >= 130  # a third of what was found, and every area
    for pairs in (found, both):
        fitted = a_fit(len(pairs), ONE_STOP, used=used[: len(pairs)])
        doubts = doubts_of(proven(pairs, fitted, OPTIONS, view_stops=0.0), pairs, 0.0, OPTIONS)
        assert "divided" in {doubt.code for doubt in doubts}


def test_where_areas_are_all_there_is_they_judge() -> None:
    _, both = with_marks(ONE_STOP)
    areas = marks_beside(both.take(both.by_hand), SolveOptions())
    proof = prove(areas, a_fit(len(areas), ONE_STOP), OPTIONS, view_stops=0.0)
    assert proof.after == proof.areas["cup"][1] and proof.after.n > 3


def test_names_that_marks_gave_make_no_more_colours_of_what_was_found() -> None:
    found, both = with_marks(ONE_STOP)
    label = np.array(both.label)
    label[:200:3] = "cup"
    named = prove(replace(both, label=label), a_fit(206, ONE_STOP), OPTIONS, view_stops=0.0)
    assert named.after == prove(found, a_fit(200, ONE_STOP), OPTIONS, view_stops=0.0).after
    assert named.areas["cup"][1].n > 6


def test_a_marked_area_that_disagrees_is_told_all_the_same() -> None:
    found, both = with_marks(ONE_STOP)
    off = np.array(both.angle_rgb)
    off[200:] *= [1.3, 1, 0.8]
    used = np.arange(206) < 200
    proof = prove(replace(both, angle_rgb=off), a_fit(206, ONE_STOP, used=used), OPTIONS, view_stops=0.0)
    assert proof.areas_off["cup"] > 3
    assert proof.after == prove(found, a_fit(200, ONE_STOP), OPTIONS, view_stops=0.0).after
