"""What somebody wishes of some colours: what it gains there, costs elsewhere, and where it does nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.flow.wishes import heed_wishes
from huemend.model import Area, Fit, Marks, Match, NamedPair, PairedColours, Rung, Verdict
from huemend.options import SolveOptions, ValidateOptions
from huemend.solve.fit import fit
from huemend.solve.nearest import Wish, faded, nearest
from huemend.validate.decide import decide
from huemend.validate.doubts import doubts_of
from huemend.validate.proof import Proven, prove
from huemend.view import delta_e2000, measurement_lab
from tests.solve.made_pairs import MIX, make_pairs, surfaces
from tests.validate.made_fits import a_proof, evidence

SOLVE, VALIDATE = SolveOptions(), ValidateOptions()
TRUE = Match.from_matrix(2**0.5 * MIX)
#: By how much skin is off the match of all else, as make-up is that two cameras see apart.
APART = np.array([1.05, 1.0, 0.96])
LEAST = Marks(least_error_on=("skin",))


def scene(apart: np.ndarray = APART, match: Match = TRUE) -> PairedColours:
    """240 surfaces, and 40 pairs on two people's skin that no match of the rest brings home."""
    random = np.random.default_rng(5)
    skin = np.array([0.42, 0.30, 0.22]) * np.exp(random.normal(0, 0.25, (40, 1)))
    rgb = np.concatenate([surfaces(240, seed=1), skin])
    hero = match.apply(rgb) * np.exp(random.normal(0, 0.06, (280, 1)) + random.normal(0, 0.02, rgb.shape))
    hero[240:] *= apart
    label = np.array([""] * 240 + ["skin of person 1"] * 20 + ["skin of person 2"] * 20)
    order = np.arange(280)
    order[:240] = random.permutation(240)  # neighbours on a picture are not neighbours in the table
    return make_pairs(hero, rgb, group=order // 4, label=label)


@pytest.fixture(scope="module")
def plain() -> tuple[PairedColours, Fit]:
    pairs = scene()
    found = fit(pairs, SOLVE, view_stops=0.0)
    assert isinstance(found, Fit)
    return pairs, found


def heeded(pairs: PairedColours, found: Fit, marks: Marks, solve: SolveOptions = SOLVE) -> Fit:
    return heed_wishes(pairs, found, marks, solve, VALIDATE, view_stops=0.0)


def off(pairs: PairedColours, match: Match, some: slice, apart: np.ndarray = APART) -> float:
    """Mean CIEDE2000 from the truth of some surfaces under a match, whatever noise their pairs carry."""
    rgb = np.asarray(pairs.angle_rgb)
    true = TRUE.apply(rgb)
    true[pairs.label != ""] *= apart
    labs = (measurement_lab(each[some]) for each in (true, match.apply(rgb)))
    return float(delta_e2000(*labs).mean())


SKIN, REST = slice(240, None), slice(0, 240)


def test_the_least_error_is_where_it_was_asked_for(plain: tuple[PairedColours, Fit]) -> None:
    pairs, found = plain
    first = heeded(pairs, found, LEAST)
    assert off(pairs, first.match, SKIN) < 0.75 * off(pairs, found.match, SKIN)
    assert off(pairs, first.match, REST) <= off(pairs, found.match, REST) + 0.3
    told = first.least_error
    assert told is not None and told.names == ("skin",)
    assert told.there[1] < told.there[0]
    assert told.elsewhere[0] <= told.elsewhere[1] <= np.hypot(told.elsewhere[0], SOLVE.least_error_cost)


def test_what_it_gained_and_cost_is_told_beside_the_verdict(plain: tuple[PairedColours, Fit]) -> None:
    pairs, found = plain
    first = heeded(pairs, found, LEAST)
    told = first.least_error
    assert told is not None
    proof = prove(pairs, first, VALIDATE, view_stops=0.0)
    decision = decide(evidence(pairs, first, proof), VALIDATE)
    (reason,) = [reason for reason in decision.reasons if reason.code == "least-error"]
    for before, after in (told.there, told.elsewhere):
        assert f"{before:.1f} -> {after:.1f}" in reason.text
    without = replace(first, notes=(), least_error=None)
    assert decision.verdict is decide(evidence(pairs, without, proof), VALIDATE).verdict


def test_more_may_be_gained_where_more_may_be_spent(plain: tuple[PairedColours, Fit]) -> None:
    pairs, found = plain
    errors = [
        off(pairs, heeded(pairs, found, LEAST, replace(SOLVE, least_error_cost=cost)).match, SKIN)
        for cost in (0.1, 0.3, 0.6)
    ]
    assert errors == sorted(errors, reverse=True) and errors[2] < errors[0]


def test_the_folds_are_moved_by_what_they_may_see(plain: tuple[PairedColours, Fit]) -> None:
    """Held out, skin is judged by matches that other skin moved: the proof stays one."""
    pairs, found = plain
    first = heeded(pairs, found, LEAST)
    held = prove(pairs, first, VALIDATE, view_stops=0.0)
    before = prove(pairs, replace(found, agrees=first.agrees), VALIDATE, view_stops=0.0)
    for person in ("skin of person 1", "skin of person 2"):
        assert held.areas[person][1].mean < before.areas[person][1].mean
    # A fold that holds all there is of a name knows of none.
    fold = np.where(np.arange(280) < 240, found.fold, 0)
    alone = replace(found, fold=fold, hidden=fold == np.arange(SOLVE.folds)[:, None])
    moved = heeded(pairs, alone, LEAST)
    assert (moved.fold_matches[0].combined == alone.fold_matches[0].combined).all()
    assert (moved.fold_matches[1].combined != alone.fold_matches[1].combined).any()


def test_of_clips_no_fold_is_moved_by_moments_that_it_is_judged_by() -> None:
    pairs = scene()
    both = PairedColours.concat([pairs, replace(pairs, moment=pairs.moment + 4)])
    found = fit(both, SOLVE, view_stops=0.0)
    assert isinstance(found, Fit)
    inside = np.char.startswith(both.label, "skin")
    for number, hidden in enumerate(found.hidden):
        target = np.array(both.reference_rgb)
        moved = nearest(both, found, Wish(inside=inside, target_rgb=target), 4.0, SOLVE)
        # What a fold does not see may be anything: its early half, late half and region alike.
        target[hidden] *= [1.2, 1.0, 0.8]
        other = nearest(both, found, Wish(inside=inside, target_rgb=target), 4.0, SOLVE)
        assert (hidden & inside & (found.fold != number)).any()
        assert (moved.fold_matches[number].combined == other.fold_matches[number].combined).all()
        assert (moved.match.combined != other.match.combined).any()


def test_intervals_hold_the_match_that_was_moved(plain: tuple[PairedColours, Fit]) -> None:
    pairs, found = plain
    kept = heeded(pairs, found, Marks(keep_as_shot=("skin",), keep_limit=0.5))
    for moved in (heeded(pairs, found, LEAST), kept, faded(found, 0.2)):
        red, blue = moved.match.balance
        sure = moved.uncertainty
        for value, interval in (
            (moved.match.exposure_stops, sure.exposure_stops),
            (red, sure.red_green_stops),
            (blue, sure.blue_green_stops),
        ):
            assert interval.low <= value <= interval.high


def test_nothing_is_moved_where_nothing_is_wished_or_shown(plain: tuple[PairedColours, Fit]) -> None:
    pairs, found = plain
    assert heeded(pairs, found, Marks()) is found
    faceless = replace(pairs, label=np.full(280, ""))
    moved = heeded(faceless, found, LEAST)
    assert moved.match is found.match and moved.least_error is None
    assert [note.code for note in moved.notes] == ["not-seen"]
    named = replace(pairs, label=np.where(pairs.label == "", "", "Anna's Skin"))
    assert [note.code for note in heeded(named, found, LEAST).notes] == ["least-error"]
    # What is marked on other angles alone is not missed on this one.
    area = Area(points=((0, 0), (1, 0), (1, 1)))
    cup = NamedPair(name="cup", areas={"wide": area, "right": area})
    assert not heeded(faceless, found, Marks(pairs=(cup,), least_error_on=("cup",))).notes


def test_a_settled_angle_is_not_spoilt() -> None:
    """Skin apart, all else settled: the whole must not end worse than as shot for it."""
    pairs = scene(match=Match())
    found = fit(pairs, SOLVE, view_stops=0.0)
    assert isinstance(found, Fit) and found.rung is Rung.NONE
    moved = heeded(pairs, found, LEAST)
    held = prove(pairs, moved, VALIDATE, view_stops=0.0)
    assert held.after.mean <= held.before.mean
    assert decide(evidence(pairs, moved, held), VALIDATE).verdict is not Verdict.UNSOLVED


def test_skin_that_matches_already_costs_the_rest_next_to_nothing() -> None:
    pairs = scene(np.ones(3))
    found = fit(pairs, SOLVE, view_stops=0.0)
    assert isinstance(found, Fit)
    moved = heeded(pairs, found, LEAST)
    for some in (SKIN, REST):
        assert off(pairs, moved.match, some, np.ones(3)) < off(pairs, found.match, some, np.ones(3)) + 0.3


def test_skin_that_cannot_match_more_closely_says_so(plain: tuple[PairedColours, Fit]) -> None:
    pairs, found = plain
    moved = heeded(pairs, found, LEAST, replace(SOLVE, implausible_mix=0.0))
    (note,) = moved.notes
    assert "nothing that the rest allows brings it nearer" in note.text
    assert moved.match is found.match


# ------------------------------------------------------------------------------------------- keep as shot


def moves(pairs: PairedColours, match: Match, some: slice) -> float:
    shot = np.asarray(pairs.angle_rgb)[some]
    return float(delta_e2000(measurement_lab(shot), measurement_lab(match.apply(shot))).mean())


def test_what_stays_as_shot_lets_the_rest_match() -> None:
    """Red cups are right as shot, and no light is off: the mix alone must give way, and only there."""
    mix = Match.from_matrix(np.array([[1.12, -0.10, -0.02], [0.03, 0.92, 0.05], [-0.02, -0.08, 1.10]]))
    random = np.random.default_rng(2)
    rgb = np.concatenate([surfaces(240, seed=1), np.array([0.30, 0.06, 0.04]) * random.uniform(0.6, 1.4, (20, 1))])
    group = np.concatenate([random.permutation(240) // 4, 60 + np.arange(20) // 4])
    pairs = make_pairs(mix.apply(rgb), rgb, group=group, label=np.array([""] * 240 + ["cup"] * 20))
    found = fit(pairs, SOLVE, view_stops=0.0)
    assert isinstance(found, Fit)
    cups, rest = slice(240, None), slice(0, 240)

    def left(match: Match) -> float:
        labs = (measurement_lab(each[rest]) for each in (mix.apply(rgb), match.apply(rgb)))
        return float(delta_e2000(*labs).mean())

    area = Area(points=((0, 0), (1, 0), (1, 1)))
    cup = NamedPair(name="cup", areas={"wide": area, "left": area})
    limit = 0.5 * moves(pairs, found.match, cups)
    held = heeded(pairs, found, Marks(pairs=(cup,), keep_as_shot=("cup",), keep_limit=limit))
    assert moves(pairs, held.match, cups) <= limit + 1e-6
    shares = [share for share in np.linspace(0, 1, 101) if moves(pairs, faded(found, share).match, cups) <= limit]
    whole = faded(found, max(shares))
    assert left(held.match) < 0.7 * left(whole.match)
    # What costs the rest so little is no doubt.
    assert [note.code for note in held.notes] == ["stays-as-shot"] and held.doubts == found.doubts
    # Where it was marked on another angle alone, nobody said that it is right on this one.
    elsewhere = NamedPair(name="cup", areas={"wide": area, "right": area})
    other = heeded(pairs, found, Marks(pairs=(elsewhere,), keep_as_shot=("cup",), keep_limit=limit))
    assert other.match is found.match and not other.notes


def test_what_came_first_is_told_as_it_is_left_by_what_stays_as_shot(plain: tuple[PairedColours, Fit]) -> None:
    pairs, found = plain
    held = heeded(
        pairs,
        found,
        Marks(least_error_on=("skin",), keep_as_shot=("skin",), keep_limit=moves(pairs, found.match, SKIN) / 2),
    )
    assert held.least_error is not None
    before, after = held.least_error.there
    assert after > before + 0.5
    (said,) = (note.text for note in held.notes if note.code == "least-error")
    assert f"{before:.1f} -> {after:.1f} CIEDE2000 there" in said


@pytest.mark.parametrize(("share", "told"), [(0.97, "stays-as-shot"), (0.5, "kept-as-shot")])
def test_only_a_wish_that_the_rest_pays_for_is_a_doubt(
    plain: tuple[PairedColours, Fit], share: float, told: str
) -> None:
    pairs, found = plain
    limit = share * moves(pairs, found.match, SKIN)
    held = heeded(pairs, found, Marks(keep_as_shot=("skin",), keep_limit=limit))
    assert [reason.code for reason in (*held.doubts, *held.notes)] == [told]
    assert bool(held.doubts) == (told == "kept-as-shot")
    assert moves(pairs, held.match, SKIN) <= limit + 1e-6


def test_where_holding_costs_more_than_fading_all_is_faded(plain: tuple[PairedColours, Fit]) -> None:
    """Half a stop of light cannot be kept from one colour and given to all others by any camera."""
    pairs, found = plain
    held = heeded(pairs, found, Marks(keep_as_shot=("skin",), keep_limit=0.5))
    assert moves(pairs, held.match, SKIN) <= 0.5 + 1e-6
    shares = np.linspace(0, 1, 201)
    whole = faded(found, max(s for s in shares if moves(pairs, faded(found, s).match, SKIN) <= 0.5))
    assert off(pairs, held.match, REST) <= off(pairs, whole.match, REST) + 0.1


def test_what_stays_as_shot_is_no_doubt_for_being_off_the_hero(plain: tuple[PairedColours, Fit]) -> None:
    pairs, found = plain
    held = heeded(pairs, found, Marks(keep_as_shot=("skin",), keep_limit=0.5))
    proof = a_proof(areas={"skin": 9.0, "cup": 9.0})
    told = doubts_of(Proven(fit=held, held_out=proof), pairs, 0.0, ValidateOptions())
    assert [doubt.label for doubt in told if doubt.code == "area"] == ["cup"]
