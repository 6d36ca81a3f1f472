"""Marked areas as evidence: how much they count, and when they are not believed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from huemend.correspond.sources import weighed
from huemend.model import NO_LIGHT, Fit, Match, PairedColours
from huemend.options import CorrespondOptions, SolveOptions, ValidateOptions
from huemend.solve.fit import fit
from huemend.solve.ladder import moved_by
from huemend.solve.marks import marks_beside, without_contradictions
from huemend.solve.prior import matrix_to_theta
from huemend.solve.residuals import Samples
from huemend.solve.robust import scales
from huemend.validate.proof import prove, proven
from huemend.view import delta_e2000, measurement_lab
from tests.solve.made_pairs import make_pairs

OPTIONS, SOLVE = CorrespondOptions(), SolveOptions()
TRUE = Match.from_matrix(2**0.4 * np.array([[1.08, -0.03, 0.0], [0.0, 0.97, 0.01], [0.0, 0.02, 0.9]]))
SKIN = np.array([0.47, 0.32, 0.22])


def found_pairs(count: int = 240, seed: int = 0) -> PairedColours:
    """What features found: many colours, each a little off."""
    random = np.random.default_rng(seed)
    rgb = 0.18 * np.exp2(random.normal(0, 0.8, (count, 1))) * np.exp2(random.normal(0, 0.35, (count, 3)))
    noise = np.exp(random.normal(0, 0.08, (count, 1)) + random.normal(0, 0.008, (count, 3)))
    return make_pairs(TRUE.apply(rgb) * noise, rgb)


def marked(reference: np.ndarray, angle: np.ndarray, weight: float = 1.0, name: str = "skin") -> PairedColours:
    """One marked area as `AreaSource` gives it."""
    pair = make_pairs(reference[None], angle[None], weight=np.array([OPTIONS.area_weight * weight]))
    return replace(
        pair,
        by_hand=np.ones(1, bool),
        light_spread=np.full(1, 0.25),
        noise=np.full((1, 2), 0.015),
        label=np.array([name]),
    )


def together(*parts: PairedColours) -> PairedColours:
    return marks_beside(weighed(PairedColours.concat(parts, apart=True), OPTIONS), SOLVE)


def off(match: Match, rgb: np.ndarray = SKIN) -> float:
    """How far a match is from the true one, in stops of the worst channel."""
    return float(np.abs(np.log2(match.apply(rgb) / TRUE.apply(rgb))).max())


@given(st.floats(0.01, 100), st.floats(0.01, 100), st.integers(1, 4))
def test_more_weight_counts_more_and_saturates(one: float, other: float, areas: int) -> None:
    low, high = sorted((one, other))
    found = found_pairs(60)
    parts = [
        together(found, *[marked(TRUE.apply(SKIN), SKIN, weight) for _ in range(areas)]) for weight in (low, high)
    ]
    worth = [float(pairs.weight[pairs.by_hand].sum()) for pairs in parts]
    assert worth[0] <= worth[1] + 1e-12 and worth[1] < areas * OPTIONS.area_most
    # What was found keeps its weight.
    assert (parts[0].weight[~parts[0].by_hand] == found.weight).all()


def test_where_areas_are_all_there_is_they_count_as_stated() -> None:
    pairs = PairedColours.concat([marked(TRUE.apply(SKIN), SKIN, weight) for weight in (1.0, 10.0)], apart=True)
    assert weighed(pairs, OPTIONS) is pairs


@pytest.mark.parametrize("weight", [1.0, 10.0, 100.0])
def test_an_area_under_other_light_wrecks_nothing(weight: float) -> None:
    """The right surface, a quarter of a stop darker and a little bluer in one view, however much it is trusted."""
    found = found_pairs()
    plain = fit(found, SOLVE, view_stops=0.0)
    shown = TRUE.apply(SKIN) * np.exp2([-0.25, -0.25, -0.2])
    hinted = fit(together(found, marked(shown, SKIN, weight)), SOLVE, view_stops=0.0)
    assert plain and hinted and hinted.rung is plain.rung
    for rgb in (SKIN, np.array([0.2, 0.2, 0.2]), np.array([0.05, 0.15, 0.08])):
        assert off(hinted.match, rgb) < off(plain.match, rgb) + 0.05


def test_a_right_area_is_believed() -> None:
    pairs = together(found_pairs(), marked(TRUE.apply(SKIN) * 1.1, SKIN, 10.0))
    kept, odd = without_contradictions(pairs, SOLVE)
    assert len(kept) == len(pairs) and not odd


@pytest.mark.parametrize("wall", [[0.3, 0.3, 0.3], [0.1, 0.25, 0.4], [0.02, 0.015, 0.01]])
def test_the_wrong_thing_is_left_out_and_named(wall: list[float]) -> None:
    found = found_pairs()
    pairs = together(found, marked(TRUE.apply(SKIN), np.array(wall), 10.0, "blouse"))
    kept, odd = without_contradictions(pairs, SOLVE)
    assert len(kept) == len(found) and [one.label for one in odd] == ["blouse"]
    assert odd[0].pictures
    # What all else gives is the match; what it alone would give takes the wall to the skin's luminance.
    assert odd[0].others[0] == pytest.approx(TRUE.exposure_stops, abs=0.08)
    luminance = np.array([0.2722287, 0.6740818, 0.0536895])
    wanted = np.log2(luminance @ TRUE.apply(SKIN) / (luminance @ TRUE.apply(np.array(wall))))
    assert odd[0].alone[0] - odd[0].others[0] == pytest.approx(wanted, abs=0.1)


def test_what_a_wrong_mark_named_is_nameless_but_faces_stay_faces() -> None:
    """Where one view shows a blouse and the other a wall, found pairs of both bear its name."""
    found, wall = found_pairs(), np.array([0.1, 0.25, 0.4])
    named = replace(found, label=np.where(np.arange(240) < 8, "blouse", ""))
    blouse, skin = (marked(TRUE.apply(SKIN), wall, 10.0, name) for name in ("blouse", "skin"))
    assert (without_contradictions(together(named, blouse), SOLVE)[0].label == "").all()
    right = marked(TRUE.apply(SKIN), SKIN, 10.0, "blouse")
    assert (without_contradictions(together(named, blouse, right), SOLVE)[0].label == "blouse").sum() == 9
    face = replace(named, label=np.where(named.label == "blouse", "skin", ""))
    assert (without_contradictions(together(face, skin), SOLVE)[0].label == "skin").sum() == 8


def test_a_wrong_grey_says_nothing_of_exposure() -> None:
    grey = marked(np.array([0.5, 0.5, 0.5]), np.array([0.1, 0.25, 0.4]), 10.0, "neutral")
    grey = replace(grey, light_spread=np.full(1, 3 * NO_LIGHT))
    (odd,) = without_contradictions(together(found_pairs(), grey), SOLVE)[1]
    assert np.isnan(odd.alone[0]) and np.isfinite(odd.alone[1:]).all()


@pytest.mark.parametrize("red", [0.7, 0.85, 1.0, 1.2, 1.35, 1.5])
def test_where_nothing_was_found_near_it_an_area_moves_no_colour_by_more_than_is_told(red: float) -> None:
    """A marked red, right or wrong, beside pairs of dull colours: it is named, or hardly moves anything."""
    random = np.random.default_rng(0)
    rgb = 0.18 * np.exp2(random.normal(0, 0.8, (120, 1)) + random.normal(0, 0.08, (120, 3)))
    noise = np.exp(random.normal(0, 0.08, (120, 1)) + random.normal(0, 0.008, (120, 3)))
    found = make_pairs(TRUE.apply(rgb) * noise, rgb)
    cup = np.array([0.4, 0.06, 0.04])
    kept, odd = without_contradictions(together(found, marked(TRUE.apply(cup) * [red, 1, 1], cup, 100.0)), SOLVE)
    free, held = fit(found, SOLVE, view_stops=0.0), fit(kept, SOLVE, view_stops=0.0)
    assert free and held
    assert len(odd) == 0 if red == 1.0 else len(odd) == 1 or 0.8 < red < 1.3
    seen = np.array([SKIN, [0.2, 0.2, 0.2], cup])
    labs = (measurement_lab(each.match.apply(seen)) for each in (free, held))
    told = held.uncertainty
    assert (delta_e2000(*labs) < [told.skin_error, told.neutral_error, told.saturated_error]).all()


@pytest.mark.parametrize(("veil", "thing", "named"), [(0.04, 1.0, 0), (0.04, 5.0, 1), (0.0, 1.0, 0)])
def test_a_dark_area_under_haze_is_held_against_a_match_with_flare(veil: float, thing: float, named: int) -> None:
    """A hazy angle's dark cloth, marked rightly, is far off what has no flare; the wrong thing is off both."""
    found, cloth = found_pairs(), np.array([0.03, 0.01, 0.008])
    hazy = replace(found, angle_rgb=found.angle_rgb + veil)
    dark = marked(TRUE.apply(cloth), cloth * [1, thing, 1] + veil, name="cloth")
    odd = without_contradictions(together(hazy, dark), SOLVE)[1]
    assert len(odd) == named


@pytest.mark.parametrize(("red", "named"), [(1.09, 0), (1.25, 1)])
def test_an_area_is_no_surer_for_found_pairs_that_agree_well(red: float, named: int) -> None:
    """A mark that is known to 3 % in each view is right when it is 9 % off, however well found pairs agree."""
    random = np.random.default_rng(3)
    rgb = 0.18 * np.exp2(random.normal(0, 0.8, (240, 1))) * np.exp2(random.normal(0, 0.35, (240, 3)))
    found = make_pairs(TRUE.apply(rgb) * np.exp(random.normal(0, 0.002, (240, 3))), rgb)
    area = replace(marked(TRUE.apply(SKIN) * [red, 1, 1], SKIN), noise=np.full((1, 2), 0.03))
    assert len(without_contradictions(together(found, area), SOLVE)[1]) == named


def test_of_areas_alone_the_odd_one_is_named() -> None:
    colours = ([0.47, 0.32, 0.22], [0.2, 0.2, 0.2], [0.05, 0.1, 0.3], [0.4, 0.1, 0.06])
    right = [marked(TRUE.apply(np.array(rgb)), np.array(rgb), name=f"area {k}") for k, rgb in enumerate(colours)]
    wrong = marked(np.array([0.1, 0.3, 0.1]), np.array([0.3, 0.1, 0.3]), name="wrong")
    pairs = PairedColours.concat([*right[:2], wrong, *right[2:]], apart=True)
    kept, odd = without_contradictions(pairs, SOLVE)
    assert [one.label for one in odd] == ["wrong"] and not odd[0].pictures
    assert set(kept.label) == {f"area {k}" for k in range(4)}


def test_an_area_of_balance_alone_has_no_light_to_be_wrong_about() -> None:
    grey = replace(marked(TRUE.apply(SKIN), 0.2 * SKIN), light_spread=np.full(1, 3.0))
    assert not without_contradictions(together(found_pairs(), grey), SOLVE)[1]


def test_many_areas_in_another_light_say_no_more_of_light_than_one() -> None:
    """Six right surfaces, each lit a third of a stop apart: exposure stays where pairs found it."""
    found = found_pairs(60)
    random = np.random.default_rng(4)
    colours = 0.2 * np.exp2(random.normal(0, 0.35, (6, 3)))
    lit = [marked(TRUE.apply(rgb) * 2**-0.35, rgb, 10.0, f"area {k}") for k, rgb in enumerate(colours)]
    free, held = (fit(pairs, SOLVE, view_stops=0.0) for pairs in (found, together(found, *lit)))
    assert free and held
    assert abs(held.match.exposure_stops - free.match.exposure_stops) < 0.03


def test_areas_neither_choose_a_rung_nor_deal_out_what_was_found() -> None:
    found = found_pairs(96, seed=3)
    places = np.random.default_rng(1).uniform(0, 900, (96, 2))
    found = replace(found, reference_xy=places[found.group])
    lit = [marked(TRUE.apply(SKIN) * [1.05, 1, 1], SKIN, 100.0, f"skin {k}") for k in range(6)]
    both = together(found, *lit)
    free, held = fit(found, SOLVE, view_stops=0.0), fit(both, SOLVE, view_stops=0.0)
    assert free and held
    assert (held.fold[:96] == free.fold).all()
    assert held.rung is free.rung
    # Each area is held out with what lies about it.
    for row in range(96, len(both)):
        nearest = np.square(found.reference_xy - both.reference_xy[row]).sum(1).argmin()
        assert held.fold[row] == free.fold[nearest]


@pytest.mark.parametrize("weight", [1.0, 100.0])
def test_an_area_that_meets_the_match_within_its_own_noise_asks_for_nothing(weight: float) -> None:
    found = found_pairs()
    plain = fit(found, SOLVE, view_stops=0.0)
    assert plain
    shown = plain.match.apply(SKIN) * [1.01, 1, 0.99]
    held = fit(together(found, marked(shown, SKIN, weight)), SOLVE, view_stops=0.0)
    assert held and held.uncertainty == plain.uncertainty and held.agrees.all() == plain.agrees.all()
    assert [note.code for note in held.notes] == ["mark-met"]
    for one, other in zip((held.match, *held.fold_matches), (plain.match, *plain.fold_matches), strict=True):
        assert (one.combined == other.combined).all()


def test_what_goes_beyond_its_noise_is_asked_for_and_more_weight_asks_more() -> None:
    found = found_pairs(40)
    plain = fit(found, SOLVE, view_stops=0.0)
    assert plain
    shown = plain.match.apply(SKIN) * [1.08, 1, 1]
    held = [
        fit(together(found, marked(shown, SKIN, weight)), SOLVE, view_stops=0.0) for weight in (1.0, 10.0, 100.0)
    ]
    moved = [red_moved(plain, each) for each in held if each]
    assert 0.01 < moved[0] < moved[1] < moved[2] < np.log2(1.08)
    assert not any(each.notes for each in held if each)


def test_an_area_that_meets_the_match_holds_it_against_others() -> None:
    """Two red cups ask for more red; skin, which is marked as it comes out, gives way less than unmarked."""
    found, red = found_pairs(40), np.array([0.45, 0.2, 0.12])
    plain = fit(found, SOLVE, view_stops=0.0)
    assert plain
    cups = [
        marked(plain.match.apply(red * part) * [1.1, 1, 1], red * part, 10.0, f"cup {part}") for part in (1, 0.6)
    ]
    skin = [marked(plain.match.apply(SKIN * part), SKIN * part, 10.0) for part in (1, 0.5)]
    free, held = (
        fit(together(found, *cups), SOLVE, view_stops=0.0),
        fit(together(found, *cups, *skin), SOLVE, view_stops=0.0),
    )
    assert free and held
    assert 0 < red_moved(plain, held) < 0.75 * red_moved(plain, free)


def test_areas_that_agree_do_not_make_found_pairs_seem_to() -> None:
    found = found_pairs(40)
    met = [marked(TRUE.apply(SKIN * part), SKIN * part, 100.0, f"skin {part}") for part in (0.3, 0.6, 0.9, 1.2)]
    learnt = []
    for pairs in (found, together(found, *met)):
        samples = Samples.of(pairs, SOLVE)
        residual = samples.residual(np.r_[matrix_to_theta(TRUE.combined), np.zeros(13)])
        learnt.append(scales(samples, residual, samples.weight, (0.1, 1.0), 40, SOLVE))
    assert learnt[0] == pytest.approx(learnt[1], rel=1e-12)


def red_moved(one: Fit, other: Fit) -> float:
    """By how many stops of red over green skin comes out redder."""
    stops = np.log2(other.match.apply(SKIN) / one.match.apply(SKIN))
    return float(stops[0] - stops[1])


def test_areas_do_not_drop_what_speaks_against_them() -> None:
    """Three areas pull red up: the found pairs that this leaves behind still judge the match."""
    found, red = found_pairs(24, seed=1), np.array([0.45, 0.2, 0.12])
    shares = (1.0, 0.7, 0.5)
    cups = [marked(TRUE.apply(red * share) * [1.2, 1, 1], red * share, 100.0, f"cup {share}") for share in shares]
    unbound = replace(SOLVE, hint_moves=9.0)
    free, held = fit(found, SOLVE, view_stops=0.0), fit(together(found, *cups), unbound, view_stops=0.0)
    assert free and held
    assert off(held.match) > off(free.match) + 0.05
    assert held.agrees[:24][free.agrees].all()


def test_areas_move_what_was_found_no_further_than_they_may() -> None:
    """The same three, once bound: a part of what they ask for, and said so."""
    found, red = found_pairs(24, seed=1), np.array([0.45, 0.2, 0.12])
    cups = [
        marked(TRUE.apply(red * share) * [1.2, 1, 1], red * share, 100.0, f"cup {share}")
        for share in (1.0, 0.7, 0.5)
    ]
    free = fit(found, SOLVE, view_stops=0.0)
    for limit, options in ((0.2, SOLVE), (0.4, replace(SOLVE, hint_moves=0.4))):
        held = fit(together(found, *cups), options, view_stops=0.0)
        assert free and held
        assert limit / 4 < moved_by(held.match, found, 0.0, since=free.match) <= limit
        (note,) = held.notes
        assert f"only as far as that moves what was found elsewhere by {limit} CIEDE2000" in note.text


def test_all_areas_take_part_in_the_proof_however_many_pairs_there_are() -> None:
    options = replace(SOLVE, fold_pairs=100)
    found, area = found_pairs(240), marked(TRUE.apply(SKIN), SKIN)
    free, held = fit(found, options, view_stops=0.0), fit(together(found, area), options, view_stops=0.0)
    assert free and held
    assert free.explained == held.explained


def test_found_pairs_are_proven_as_they_are_without_areas_and_never_better() -> None:
    """Areas that agree with one another pull; the proof of what was found is not the surer for it."""
    found = replace(found_pairs(200), reference_xy=np.random.default_rng(1).uniform(0, 900, (200, 2)))
    lit = [marked(TRUE.apply(SKIN * share) * [1.1, 1, 1], SKIN * share, 100.0, "skin") for share in (1, 0.7, 0.4)]
    both = together(found, *lit)
    free, held = fit(found, SOLVE, view_stops=0.0), fit(both, SOLVE, view_stops=0.0)
    assert free and held
    assert held.alone
    assert (held.agrees[:200] == free.agrees).all() and held.rung is free.rung
    for without, plain in zip(held.alone.fold_matches, free.fold_matches, strict=True):
        np.testing.assert_allclose(without.combined, plain.combined, rtol=1e-12)
    assert held.alone.uncertainty == free.uncertainty and (held.alone.match.combined == free.match.combined).all()
    plain, alone = (
        prove(found, free, ValidateOptions(), view_stops=0.0),
        prove(both, held.alone, ValidateOptions(), view_stops=0.0),
    )
    assert (alone.before, alone.after, alone.upper) == (plain.before, plain.after, plain.upper)
    assert (held.match.combined != free.match.combined).any()
    told = proven(both, held, ValidateOptions(), view_stops=0.0).held_out
    assert told.after.mean >= plain.after.mean and told.upper >= plain.upper


def test_areas_carry_a_match_where_what_was_found_would_not() -> None:
    """Six places of next to no weight pin nothing; with three areas there is a match, and it says so."""
    found = replace(found_pairs(6), weight=np.full(6, 0.6))
    areas = [marked(TRUE.apply(rgb), rgb, name=f"area {k}") for k, rgb in enumerate(np.eye(3) * 0.2 + 0.1)]
    both = together(found, *areas)
    assert not fit(found, SOLVE, view_stops=0.0) and not both.marked_beside.any()
    held = fit(both, SOLVE, view_stops=0.0)
    assert held and [doubt.code for doubt in held.doubts] == ["by-hand"] and held.alone is None


def test_areas_do_not_make_a_strange_mix_pass() -> None:
    """What was found asks for a mix beyond what is believed; areas that ask for none do not talk it down."""
    options = replace(SOLVE, implausible_mix=0.5)
    random = np.random.default_rng(3)
    rgb = 0.18 * np.exp2(random.normal(0, 0.8, (24, 1))) * np.exp2(random.normal(0, 0.35, (24, 3)))
    turned = Match.from_matrix(np.eye(3) + 0.15 * np.array([[0, -1, 1], [1, 0, -1], [-1, 1, 0]]))
    found = make_pairs(turned.apply(rgb), rgb)
    colours = 0.2 * np.exp2(random.normal(0, 0.35, (6, 3)))
    both = together(found, *[marked(each, each, 100.0, f"area {k}") for k, each in enumerate(colours)])
    for pairs in (found, both):
        fitted = fit(pairs, options, view_stops=0.0)
        assert fitted and "strange-mix" in {doubt.code for doubt in fitted.doubts}
