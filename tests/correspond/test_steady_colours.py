"""One set of places at several moments: what moved drops out there, what is steady is averaged."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose

from huemend.correspond.framing import SAME, Framing
from huemend.correspond.growth import Grown, cost_again, grow
from huemend.correspond.patches import Patches
from huemend.correspond.raster import make_picture
from huemend.correspond.stances import Follower, PictureId, Stance, moving_cameras, picture_id
from huemend.correspond.steady_colours import Sighting, sight, steady_colours
from huemend.model import LinearStill, PairedColours
from tests.correspond.made_views import (
    GAIN,
    MIX,
    ORIGIN,
    QUICK,
    SCALE,
    noisy,
    still_of,
    wide_and_close,
)
from tests.correspond.sources import SeeingSource
from tests.correspond.test_growth import seeds

#: Where somebody stands in the wide view, x0, y0, x1, y1: a part of what the close one shows.
PERSON = (200, 60, 290, 200)


def moment(
    number: int, *, person: str = "", light: tuple[float, float] = (1.0, 1.0)
) -> tuple[LinearStill, LinearStill]:
    """Shoot the two views again, with noise of their own; somebody in a plain shirt may stand in one of them."""
    pictures = []
    for at, (name, still) in enumerate(zip(("wide", "close"), wide_and_close(), strict=True)):
        rgb = noisy(light[at] * still.rgb, 10 + 2 * number + at)
        if person == name:
            x0, y0, x1, y1 = PERSON
            if name == "close":
                (x0, y0), (x1, y1) = (((np.array(p) - ORIGIN) * SCALE).astype(int) for p in ((x0, y0), (x1, y1)))
            rgb[max(y0, 0) : y1, max(x0, 0) : x1] = [0.6, 0.1, 0.1]
        pictures.append(still_of(rgb, name, moment=number))
    return pictures[0], pictures[1]


@cache
def grown() -> Grown:
    wide, close = (make_picture(still, 960) for still in wide_and_close())
    return grow(wide, close, seeds(40), np.zeros(40, int), QUICK)


def behind_the_person(places: np.ndarray, margin: float) -> np.ndarray:
    x0, y0, x1, y1 = PERSON
    x, y = places.T
    return (x > x0 + margin) & (x < x1 - margin) & (y > y0 + margin) & (y < y1 - margin)


def test_the_cost_of_the_same_pictures_is_that_of_growth() -> None:
    wide, close = (make_picture(still, 960) for still in wide_and_close())
    assert_allclose(cost_again(wide, close, grown(), QUICK.mismatch), grown().cost, rtol=1e-3, atol=1e-5)


@pytest.mark.parametrize("who", ["wide", "close"])
def test_a_person_in_one_view_drops_out_at_that_moment_only(who: str) -> None:
    calm = sight(*map(lambda s: make_picture(s, 960), moment(1)), grown(), (SAME, SAME), QUICK)
    walked = sight(*map(lambda s: make_picture(s, 960), moment(2, person=who)), grown(), (SAME, SAME), QUICK)
    behind, away = behind_the_person(grown().reference, 6), ~behind_the_person(grown().reference, -10)
    assert behind.sum() > 30 and away.sum() > 30
    assert calm.usable[behind].mean() > 0.9 and calm.usable[away].mean() > 0.9
    assert walked.usable[away].mean() > 0.9
    # A plain shirt before a plain piece of wall is explained; its colour is what tells it (below).
    assert walked.usable[behind].mean() < 0.6
    first = sight(*map(lambda s: make_picture(s, 960), moment(0)), grown(), (SAME, SAME), QUICK)
    steady = steady_colours([first, calm, walked], [0, 1, 2], QUICK.steady)
    assert (steady.moments[behind] <= 2).mean() > 0.97
    assert (steady.moments[away] == 3).mean() > 0.8
    expected = GAIN * steady.reference_rgb @ MIX.T
    kept = behind & (steady.moments > 0)
    off = np.abs(np.log(steady.angle_rgb[kept] / expected[kept])).max(1)
    assert np.median(off) < 0.06


def patches(reference: np.ndarray, angle: np.ndarray, noise: float = 0.01) -> Patches:
    n = len(reference)
    whole = np.ones(n, bool)
    return Patches(
        reference_rgb=reference,
        angle_rgb=angle,
        noise=np.full((n, 2), noise),
        clean=whole,
        lit=whole,
    )


def seen(number: int, angle_gain: float = 1.0, *, light: float = 1.0, n: int = 4) -> Sighting:
    rgb = light * np.random.default_rng(7).uniform(0.1, 0.8, (n, 3))
    return Sighting(moment=number, patches=patches(rgb, angle_gain * rgb), usable=np.ones(n, bool))


def test_noise_goes_down_with_the_square_root_of_the_moments() -> None:
    steady = steady_colours([seen(m) for m in range(4)], range(4), 0.15)
    assert_allclose(steady.noise, 0.005)
    assert (steady.moments == 4).all() and steady.moment == 0


def test_a_cloud_that_both_see_changes_no_ratio_and_leaves_all_moments_in() -> None:
    steady = steady_colours([seen(m, light=gain) for m, gain in enumerate((1.0, 0.5, 0.4, 1.0))], range(4), 0.15)
    assert (steady.moments == 4).all()
    assert_allclose(steady.angle_rgb, steady.reference_rgb)


def test_an_iris_that_is_pulled_does_not_blur_what_most_moments_say() -> None:
    half = 2.0**-0.5
    sightings = [seen(0), seen(1), seen(2), seen(3, half), seen(4, half)]
    steady = steady_colours(sightings, range(5), 0.15)
    assert_allclose(steady.angle_rgb, steady.reference_rgb)
    assert (steady.moments == 3).all()


def test_halves_are_judged_by_the_middle_of_all() -> None:
    sightings = [seen(0), seen(1), seen(2), seen(3, 3.0)]
    odd = steady_colours(sightings, [1, 3], 0.15)
    assert (odd.moments == 1).all() and odd.moment == 1


def test_a_patch_that_is_shown_at_no_moment_says_nothing() -> None:
    hidden = replace(seen(0), usable=np.array([True, True, False, False]))
    steady = steady_colours([hidden, replace(hidden, moment=1)], [0, 1], 0.15)
    assert steady.moments.tolist() == [2, 2, 0, 0]
    assert np.isfinite(steady.reference_rgb).all() and np.isfinite(steady.noise).all()


@cache
def followed() -> tuple[tuple[LinearStill, ...], tuple[LinearStill, ...]]:
    moments = [moment(0), moment(1), moment(2, person="wide"), moment(3, light=(0.6, 0.6))]
    return tuple(one for one, _ in moments), tuple(other for _, other in moments)


def paired(
    wide: tuple[LinearStill, ...], close: tuple[LinearStill, ...]
) -> tuple[PairedColours, dict[PictureId, Stance]]:
    """Pair two angles whose cameras were followed."""
    followers = Follower(QUICK), Follower(QUICK)
    for follower, stills in zip(followers, (wide, close), strict=True):
        for still in stills:
            follower.see(still)
    stances = followers[0].stances | followers[1].stances
    return SeeingSource(QUICK, stances)(wide, close), stances


def test_features_are_looked_for_once_where_nothing_moved() -> None:
    wide, close = followed()
    pairs, stances = paired(wide, close)
    single = SeeingSource(QUICK)(wide[:1], close[:1])
    assert {stance.first.moment for stance in stances.values()} == {0} and moving_cameras(stances) == set()
    assert pairs.found == single.found and pairs.matched == single.matched
    # Every place twice, from other moments, and in one group.
    assert len(pairs) > 1.8 * len(single)
    assert len(np.unique(pairs.group)) == len(np.unique(single.group))
    assert np.median(pairs.noise) < 0.85 * np.median(single.noise)


def test_a_camera_that_was_bumped_is_matched_apart() -> None:
    wide, close = followed()
    bumped = tuple(
        replace(still, rgb=np.roll(still.rgb, (9, 14), (0, 1))) if still.moment >= 2 else still for still in close
    )
    pairs, stances = paired(wide, bumped)
    assert [stances[picture_id(still)].first.moment for still in bumped] == [0, 0, 2, 2]
    assert moving_cameras(stances) == {"close"}
    assert {stances[picture_id(still)].first.moment for still in wide} == {0}
    assert set(np.unique(pairs.moment)) == {0, 1, 2, 3}
    truth = (pairs.reference_xy - ORIGIN) * SCALE + np.where(pairs.moment >= 2, 1, 0)[:, None] * [14, 9]
    assert np.median(np.hypot(*(pairs.angle_xy - truth).T)) < 2
    for number in range(4):
        at = pairs.moment == number
        assert np.median(np.hypot(*(pairs.angle_xy - truth)[at].T)) < 2.5


def test_framings_are_known_against_any_earlier_one() -> None:
    first = Framing(matrix=((1.1, 0.0, 4.0), (0.0, 1.1, -2.0)), shift=9.0, agreeing=40)
    later = Framing(matrix=((0.9, -0.1, 1.0), (0.1, 0.9, 3.0)), shift=8.0, agreeing=40)
    places = np.random.default_rng(1).uniform(0, 500, (20, 2))
    assert_allclose(later.since(first).places(first.places(places)), later.places(places))
    assert later.since(SAME) is later and later.since(later) is SAME


def test_a_camera_that_never_stands_still_is_matched_anew_only_so_often(monkeypatch: pytest.MonkeyPatch) -> None:
    wide, close = followed()
    monkeypatch.setattr("huemend.correspond.pairs.MOST_STANCES", 2)
    moving = {picture_id(still): Stance(picture_id(still), SAME) for still in close}
    pairs = SeeingSource(QUICK, moving)(wide, close)
    assert set(np.unique(pairs.moment)) == {0, 1}
