"""Surfaces that both views show: laid over one another rightly, chosen as an eye goes, measured as they differ.

The views are cut from one photograph (the astronaut of scikit-image, a NASA portrait in the public domain) by
known maps, so where a place lies on each is known from outside of the code under test.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from huemend.model import Match, SetupResult, Verdict
from huemend.model.people import SkinCheck, SkinColour
from huemend.model.reasons import by_gravity
from huemend.model.setup import Nudge
from huemend.options import ReportOptions
from huemend.view import delta_e2000, measurement_lab
from huemend.write.report import crop_choice
from huemend.write.report.alignment import UNMOVED, Alignment, align, cut_square, likeness
from huemend.write.report.crop_choice import FEWEST, MOST, choose_surfaces
from huemend.write.report.crops import crops_of, differs_most, worst_of
from huemend.write.report.left_over import left_over, left_words, of_skin
from huemend.write.report.sameness import found_once, stands_out, whole_detail
from huemend.write.report.strip_section import crop_name, strips_section
from huemend.write.report.summary import summary
from huemend.write.report.surfaces import Candidate, Kind, Surface

from .factory import MATCHES, gallery_of, make_result, photograph

pytestmark = pytest.mark.slow

TURNED = np.array([[1.9, -0.35, 40.0], [0.3, 1.7, -25.0]])
"""A map as of a closer camera that is turned and stands to the side."""


@pytest.fixture(scope="module")
def result() -> SetupResult:
    return make_result(width=960, samples=900)


def crops(result: SetupResult, name: str = "left", **options: int):
    gallery = gallery_of(result, ReportOptions(**options))
    return crops_of(result[name], result, gallery), gallery


def scattered(count: int, wrong: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(1)
    here = 200 + rng.uniform(-60, 60, (count, 2))
    there = here @ TURNED[:, :2].T + TURNED[:, 2] + rng.normal(0, 0.4, (count, 2))
    there[:wrong] = rng.uniform(0, 900, (wrong, 2))
    return here, there


def test_a_known_map_is_found_among_wrong_pairs() -> None:
    here, there = scattered(22, 8)
    found = align(here, there, np.full(22, 1.8), np.array([200.0, 200.0]), 90.0)
    assert found is not None and found.affine
    corners = np.array([[160.0, 160.0], [240.0, 160.0], [240.0, 240.0], [160.0, 240.0]])
    wanted = corners @ TURNED[:, :2].T + TURNED[:, 2]
    got = corners @ found.to_angle[:, :2].T + found.to_angle[:, 2]
    assert np.abs(got - wanted).max() < 2.5


def test_few_pairs_give_a_shift_at_their_own_scale() -> None:
    here, there = scattered(3, 0)
    found = align(here, there, np.full(3, 1.8), np.array([200.0, 200.0]), 90.0)
    assert found is not None and not found.affine
    np.testing.assert_allclose(found.to_angle[:, :2], 1.8 * np.eye(2))
    assert align(here, there, np.full(3, 1.8), np.array([2000.0, 200.0]), 90.0) is None


@pytest.mark.parametrize("scale", [0.4, 1.0, 3.0])
def test_a_cut_shows_what_the_map_says(scale: float) -> None:
    y, x = np.mgrid[0:300, 0:300].astype(np.float32)
    ramp = np.stack([x + 1, y + 1, np.ones_like(x)], axis=2) / 300
    map_ = np.array([[scale, 0.0, 20.0], [0.0, scale, 30.0]])
    cut = cut_square(ramp, map_, np.array([60.0, 50.0]), 40.0, 20)
    # The middle of pixel (3, 5) of twenty over a square of 40 about (60, 50), in pixels of the ramp.
    there = map_ @ np.array([40 + 3.5 * 2, 30 + 5.5 * 2, 1.0])
    np.testing.assert_allclose(cut[5, 3, :2], (there + 1) / 300, rtol=0.01)


def test_likeness_knows_the_same_place_whatever_the_exposure() -> None:
    scene = photograph().astype(np.float32)
    one, other = (np.ascontiguousarray(scene[y : y + 80, x : x + 80]) for y, x in ((60, 190), (300, 40)))
    assert likeness(one, 2.3 * one * np.array([1.1, 1.0, 0.8], np.float32)) > 0.95
    assert likeness(one, other) < 0.4
    assert abs(likeness(np.full((80, 80, 3), 0.2, np.float32), other)) < 0.2


def test_a_place_stands_out_where_it_lies_and_a_repeated_one_nowhere() -> None:
    picture = photograph().astype(np.float32)
    turned = np.array([[0.9, -0.2, 90.0], [0.2, 0.9, 20.0]])
    size = (picture.shape[1], picture.shape[0])
    other = cv2.warpAffine(picture, turned, size)
    place = np.array([220.0, 120.0])
    assert stands_out(picture, 1.7 * other, turned, place, 60.0) > 0.2
    beside = np.add(turned, [[0.0, 0.0, 25.0], [0.0, 0.0, 0.0]])
    assert stands_out(picture, other, beside, place, 60.0) < 0
    # The same column over and over, as of an edge, and the same tile over and over: as alike, and anywhere.
    edge = np.repeat(picture[:, 220:221], size[0], axis=1)
    tiles = np.tile(picture[100:118, 200:218], (28, 28, 1))
    for repeated in (edge, tiles):
        assert likeness(*[cut_square(repeated, UNMOVED, place, 60.0, 40)] * 2) > 0.99
        assert stands_out(repeated, repeated, UNMOVED, place, 60.0) < 0.05


def test_a_tile_that_repeats_further_off_is_found_twice() -> None:
    picture = photograph().astype(np.float32)
    turned = np.array([[0.9, -0.2, 90.0], [0.2, 0.9, 20.0]])
    size = (picture.shape[1], picture.shape[0])
    place = np.array([220.0, 120.0])
    other, whole = 1.7 * cv2.warpAffine(picture, turned, size), whole_detail(picture, 60.0)
    assert found_once(picture, other, turned, place, 60.0, whole) > 0.2
    # A wall of one tile, a hundred pixels wide: beyond the square's own side, and in the hero alone.
    wall = np.tile(picture[70:170, 170:270], (5, 5, 1))
    seen = cv2.warpAffine(np.roll(wall, (40, 40), axis=(0, 1)), turned, size)
    at = np.add(turned, [[0.0, 0.0, 0.9 * 40 - 0.2 * 40], [0.0, 0.0, 0.2 * 40 + 0.9 * 40]])
    assert stands_out(wall, seen, at, place, 60.0) > 0.2
    assert found_once(wall, seen, at, place, 60.0, whole_detail(wall, 60.0)) < 0.05


def test_strips_show_one_place_of_the_photograph(result: SetupResult) -> None:
    for name in ("left", "right"):
        hero, angle = result.stills["wide"][0].rgb, result.stills[name][0].rgb
        shown = choose_surfaces(result[name], result.stills, 0)
        assert FEWEST <= len(shown) <= MOST
        for surface in shown:
            one = cut_square(hero, UNMOVED, surface.centre, surface.side, 96)
            other = cut_square(angle, surface.alignment.to_angle, surface.centre, surface.side, 96)
            assert likeness(one, other) > 0.5, (name, surface.kind)
        centres = np.array([surface.centre for surface in shown])
        far = np.hypot(*(centres[:, None] - centres[None]).transpose(2, 0, 1)) + 1e9 * np.eye(len(shown))
        assert far.min() > 0.5 * min(surface.side for surface in shown)


def test_skin_comes_first_and_what_is_trusted_least_last(result: SetupResult) -> None:
    kinds = [surface.kind for surface in choose_surfaces(result["left"], result.stills, 0)]
    assert kinds[0] is Kind.SKIN
    assert Kind.GROUND not in kinds[:-1]
    assert kinds.index(Kind.OFF) > max(n for n, kind in enumerate(kinds) if kind is Kind.PLACE)


def test_of_what_hardly_knows_its_light_only_clothes_straight_below_a_face_are_compared(
    result: SetupResult,
) -> None:
    left = result["left"]
    unlit = replace(left.pairs, light_spread=np.ones(len(left.pairs)))
    shown = choose_surfaces(replace(left, pairs=unlit), result.stills, 0)
    face, *others = shown
    assert face.kind is Kind.SKIN and all(one.kind is Kind.CLOTHES for one in others)
    assert all(abs(one.centre[0] - face.centre[0]) < 0.6 * face.side for one in others)


def test_where_little_else_is_shared_clothes_are_looked_at_more_closely(
    result: SetupResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(crop_choice, "FEWEST", MOST)
    shown = choose_surfaces(result["left"], result.stills, 0)
    kinds = [surface.kind for surface in shown]
    assert kinds[:4] == [Kind.SKIN, Kind.CLOTHES, Kind.CLOTHES, Kind.CLOTHES]
    hero, angle = result.stills["wide"][0].rgb, result.stills["left"][0].rgb
    for surface in shown[1:4]:
        assert shown[0].centre[1] < surface.centre[1] < shown[0].centre[1] + 2.4 * shown[0].side
        one = cut_square(hero, UNMOVED, surface.centre, surface.side, 96)
        assert likeness(one, cut_square(angle, surface.alignment.to_angle, surface.centre, surface.side, 96)) > 0.5


def test_hero_and_match_agree_in_every_strip(result: SetupResult) -> None:
    shown, gallery = crops(result, crop_pixels=64)
    for crop in shown:
        strip = gallery.pixels[crop.picture.id].astype(int)
        shot, hero, matched = (strip[:, n * 64 : (n + 1) * 64][12:-12, 12:-12].mean(axis=(0, 1)) for n in range(3))
        assert crop.states == ("as shot", "hero", "matched")
        assert np.abs(matched - hero).max() < np.abs(shot - hero).max()
        assert crop.after is not None and crop.after.error < crop.before.error


def test_numbers_are_those_of_a_known_difference() -> None:
    rng = np.random.default_rng(2)
    hero = np.array([0.3, 0.16, 0.1]) * rng.uniform(0.7, 1.3, (60, 1))
    angle = 2**0.25 * hero * np.array([1.0, 1.0, 2**-0.2])
    angle[:15] = rng.uniform(0.05, 0.5, (15, 3))  # something that only one view shows
    left = left_over(hero, angle, 0.0)
    assert left.red_green == pytest.approx(0.0, abs=0.01)
    assert left.blue_green == pytest.approx(-0.2, abs=0.01)
    # 0.25 stop, less what AP1 luminance (ACES S-2014-004: 0.0536...) loses with the blue.
    weights = np.array([0.2722287, 0.6740818, 0.0536895])
    wanted = np.log2(2**0.25 * (hero[0] * [1, 1, 2**-0.2]) @ weights / (hero[0] @ weights))
    assert left.stops == pytest.approx(wanted, abs=0.01)
    lab = measurement_lab(np.array([[0.3, 0.16, 0.1], [0.3, 0.16, 0.1 * 2**-0.2]]) * 0.99, 0.0)
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1]))
    assert left.hue_degrees == pytest.approx(hue[1] - hue[0], abs=1.0)
    assert left.saturation > 0.03
    assert left.error > float(delta_e2000(lab[0], lab[1])) - 0.5
    assert "stop, hue +" in left_words(left)[0]


def test_greys_speak_of_red_and_blue_and_white_of_nothing() -> None:
    grey = np.full((40, 3), 0.2)
    off = left_over(grey, grey * np.array([1.02, 1.0, 0.98]), 0.0)
    assert left_words(off) == ["+0.01 stop, red +0.03, blue −0.03"]
    assert left_words(left_over(np.full((40, 3), 3.0), grey, 0.0)) == ["clips in the measurement view"]
    # As shot it has a hue and matched it has none: both are told in the terms of a grey.
    tinted = left_over(grey * np.array([1.0, 0.7, 0.4]), grey * np.array([1.1, 0.7, 0.3]), 0.0)
    assert "hue" in left_words(tinted)[0]
    assert [("hue" in said, "red" in said) for said in left_words(off, tinted)] == [(False, True)] * 2


def test_skin_is_measured_on_skin_alone(result: SetupResult) -> None:
    def skin(stops: float, hue: float, saturation: float, error: float) -> SkinColour:
        return SkinColour(hue_degrees=hue, saturation=saturation, exposure_stops=stops, error=error)

    person = SkinCheck(
        name="skin", samples=3, hero=skin(0, 359, 20, 0), before=skin(0.4, 5, 25, 6), after=skin(0.05, 1, 21, 1.2)
    )
    held = result["left"].held_out
    assert held is not None
    left = replace(result["left"], people=(person,), held_out=replace(held, areas={}))
    shown, _ = crops(replace(result, angles=(left, result["right"])))
    after = shown[0].after
    assert after is not None
    assert (after.stops, after.hue_degrees, after.error) == (0.05, 2.0, 1.2)
    assert after.saturation == pytest.approx(0.05)
    assert left_words(after) == ["+0.05 stop, hue +2°, saturation +5 %"]
    assert "difference 1.2, light aside" in strips_section(left, result, shown, "left")
    top = str(summary(replace(result, angles=(left,)), {}))
    assert "skin: 6.0 → 1.2, at +0.05 stop" in top
    # What the proof held out of it is the one figure that the page gives.
    proven = replace(held, areas={"skin": (replace(held.before, mean=5.5), replace(held.after, mean=0.9))})
    before, after = of_skin(replace(left, held_out=proven), person)
    assert (before.error, after.error, after.stops) == (5.5, 0.9, 0.05)
    # Of a match that was nudged it knows only what was there before.
    nudged = replace(left, held_out=proven, angle=replace(left.angle, nudge=Nudge(exposure=0.3)))
    before, after = of_skin(nudged, person)
    assert (before.error, after.error) == (5.5, 1.2)
    # The top of the page tells what the LUTs add, and of what that is made.
    top = str(summary(replace(result, angles=(nudged,)), {}))
    solved = MATCHES["left"].exposure_stops
    assert f"+{solved + 0.3:.2f}<" in top and f"solved +{solved:.2f}, nudged +0.30" in top


def test_a_wrong_match_shows_in_the_numbers(result: SetupResult) -> None:
    """Where the fit set the right pairs aside, they still speak under the strips."""
    wrong = Match.from_matrix(2**0.7 * MATCHES["left"].combined)
    found = replace(result["left"], match=wrong, agrees=np.zeros(len(result["left"].pairs), bool))
    shown, _ = crops(replace(result, angles=(found, result["right"])))
    assert np.median([crop.left.stops for crop in shown]) == pytest.approx(0.7, abs=0.1)


def test_an_unsolved_angle_shows_what_there_was(result: SetupResult) -> None:
    found = replace(result["left"], match=None, verdict=Verdict.UNSOLVED, held_out=None)
    shown, _ = crops(replace(result, angles=(found, result["right"])))
    assert len(shown) >= FEWEST
    assert all(crop.states == ("as shot", "hero") and crop.after is None for crop in shown)


def test_too_few_strips_are_explained(result: SetupResult) -> None:
    shown, _ = crops(result)
    for count, said in ((len(shown), ""), (2, "Only 2 strips are shown"), (1, "Only one strip is shown")):
        page = str(strips_section(result["left"], result, shown[:count], "left"))
        assert said in page and ("Only" in page) == bool(said)


def test_the_worst_of_all_angles_come_first(result: SetupResult) -> None:
    own = {name: crops(result, name)[0] for name in ("left", "right")}
    assert not worst_of(own, 3), "what nobody notices is not worth a look"
    assert differs_most(own["left"]) is None
    own = {
        name: [replace(crop, after=replace(crop.left, error=2 * crop.left.error + 1)) for crop in some]
        for name, some in own.items()
    }
    worst = worst_of(own, 3)
    trusted = [crop for some in own.values() for crop in some if crop.surface.kind is not Kind.GROUND]
    errors = sorted((crop.left.error for crop in trusted), reverse=True)
    assert [own[name][n].left.error for name, n in worst] == errors[:3]
    most = differs_most(own["left"])
    assert most is not None and own["left"][most].left.error == max(crop.left.error for crop in own["left"])
    plain = [replace(crop, surface=replace(crop.surface, kind=Kind.GROUND)) for crop in own["left"]]
    assert differs_most([*plain[:most], *own["left"][most:]]) == most and differs_most(plain) is None
    page = str(strips_section(result["left"], result, own["left"], "left"))
    assert page.count(", the most<") == 1 and f"{max(c.left.error for c in own['left']):.1f}, the most" in page
    unsolved = {"left": [replace(crop, after=None) for crop in own["left"]], "right": own["right"]}
    assert {name for name, _ in worst_of(unsolved, 3)} == {"right"}, "what has no match is balanced by hand anyway"
    size = result.stills["wide"][0].rgb.shape
    names = [crop_name(crop, (size[0], size[1])) for crop in own["left"]]
    assert names[0] == "skin"
    for face, below in (
        ("skin", "clothes"),
        ("skin of person 2", "clothes of person 2"),
        ("Anna's skin", "below Anna's skin"),
        ("oxskin coat", "below oxskin coat"),
    ):
        surface = replace(own["left"][0].surface, kind=Kind.CLOTHES, name=face)
        assert crop_name(replace(own["left"][0], surface=surface), (size[0], size[1])) == below


def test_the_gravest_reason_comes_first() -> None:
    codes = ["proven", "uncertain", "new-one", "loose", "nothing-shared"]
    assert by_gravity(codes, code=str) == ["nothing-shared", "loose", "new-one", "uncertain", "proven"]


@pytest.mark.parametrize(
    ("across", "shift", "heard", "carried"),
    [(0.3, 4.0, True, True), (0.3, 12.0, True, False), (0.8, 4.0, True, False), (0.3, 4.0, False, False)],
)
def test_clothes_are_told_by_moving_with_the_face_above(
    across: float, shift: float, heard: bool, carried: bool
) -> None:
    """What lies behind a person shifts against the face by parallax; the square has 40 pixels on the angle."""

    def square(kind: Kind, centre: tuple[float, float], side: float, shift: float) -> Candidate:
        there = Alignment(to_angle=np.array([[2.0, 0.0, shift], [0.0, 2.0, 0.0]]), affine=True)
        surface = Surface(kind=kind, name="", moment=0, centre=np.array(centre), side=side, alignment=there)
        return Candidate(surface=surface, alike=0.9, light=0.2, detail=0.2)

    face, one = square(Kind.SKIN, (100, 50), 40, 0.0), square(Kind.PLACE, (100 + across * 40, 100), 20, shift)
    assert crop_choice._is_carried(SimpleNamespace(is_heard=lambda _: heard), one, face) is carried
