"""Skin from faces: a photograph through two cameras, people told apart by clothes and place, never by face."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose
from skimage import data
from skimage.feature import Cascade

from huemend.correspond import face_finder
from huemend.correspond.face_finder import find_faces, find_faces_again
from huemend.correspond.faces import same_people
from huemend.correspond.people import find_people, skin_patches
from huemend.flow.read import read_setup
from huemend.model import LinearStill, Marks, Match
from huemend.options import CorrespondOptions, FaceOptions, MatchOptions
from huemend.sample.setupfile import load_setup
from huemend.validate.people import check_skin
from tests.correspond.made_views import (
    GAIN,
    MIX,
    ORIGIN,
    QUICK,
    SCALE,
    light,
    noisy,
    still_of,
    wide_and_close,
    wide_and_close_pairs,
)
from tests.correspond.sources import all_sources, face_source
from tests.correspond.test_areas import setup_of

#: Two sizes of the input are enough for faces of this size, and quicker.
OPTIONS = FaceOptions(sides=(512, 960))


@cache
def group() -> np.ndarray:
    """Two people: the astronaut, and her mirror image in other clothes."""
    one = light(data.astronaut())[:, 60:420]
    other = one[:, ::-1].copy()
    other[190:] = 0.6 * other[190:] + np.array([0.02, 0.1, 0.25], np.float32)
    return np.concatenate([one, other], axis=1)


def test_another_detector_finds_the_same_face() -> None:
    """Local binary patterns in a cascade (Ahonen 2006; Viola & Jones 2001), carried and run by scikit-image."""
    cascade = Cascade(data.lbp_frontal_face_cascade_filename())
    (other,) = cascade.detect_multi_scale(
        img=data.astronaut(), scale_factor=1.1, step_ratio=1, min_size=(60, 60), max_size=(150, 150)
    )
    (face,) = find_faces(wide_and_close()[0], OPTIONS)
    middle = np.array([other["c"] + other["width"] / 2, other["r"] + other["height"] / 2])
    assert np.hypot(*((face.box[:2] + face.box[2:]) / 2 - middle)) < 0.1 * other["width"]
    # All five points lie in what the other takes for the face.
    points = np.vstack([face.eyes, face.nose, face.mouth])
    assert (np.abs(points - middle) < 0.6 * other["width"]).all()


def test_a_face_is_found_in_both_views_at_its_place() -> None:
    wide, close = (find_faces(still, OPTIONS) for still in wide_and_close())
    assert len(wide) == len(close) == 1
    expected = (wide[0].nose - ORIGIN) * SCALE
    assert np.hypot(*(close[0].nose - expected)) < 0.25 * close[0].size
    assert close[0].size == pytest.approx(SCALE * wide[0].size, rel=0.15)
    assert wide[0].eyes[0, 0] < wide[0].nose[0] < wide[0].eyes[1, 0]
    assert wide[0].eyes[:, 1].max() < wide[0].nose[1] < wide[0].mouth[:, 1].min()


@cache
def demo() -> dict[str, LinearStill]:
    """The stills of the demo: two invented people at a table, each with a tight angle of their own."""
    setup = load_setup(Path(__file__).resolve().parents[2] / "demo" / "glaze-table" / "setup.toml")
    return {name: stills[0] for name, stills in read_setup(setup, MatchOptions()).stills.items()}


@pytest.mark.parametrize(("angle", "person"), [("left", 0), ("right", 1)])
def test_people_of_the_demo_are_found_in_both_views_and_not_mixed_up(angle: str, person: int) -> None:
    hero, close = demo()["wide"], demo()[angle]
    here, there = find_faces(hero, OPTIONS), find_faces(close, OPTIONS)
    assert (len(here), len(there)) == (2, 1)
    # Without any feature to say where: by the clothes alone.
    pairs = face_source(OPTIONS, hero, close)((hero,), (close,))
    assert pairs.label.tolist() == [f"skin of person {person + 1}"] * 3
    near = np.hypot(*(pairs.reference_xy - here[person].nose).T)
    assert (near < 2 * here[person].size).all()
    assert (np.hypot(*(pairs.angle_xy - there[0].nose).T) < 2 * there[0].size).all()


def test_faces_are_found_again_at_a_later_moment_with_less_work(monkeypatch: pytest.MonkeyPatch) -> None:
    still, seen = demo()["wide"], []
    first = find_faces(still, FaceOptions())
    later = replace(still, rgb=noisy(still.rgb, 7), moment=1)
    blob = face_finder.import_cv2().dnn.blobFromImage
    monkeypatch.setattr(
        face_finder.import_cv2().dnn, "blobFromImage", lambda rgb, *rest: seen.append(rgb.size) or blob(rgb, *rest)
    )
    again = find_faces_again(later, first, FaceOptions())
    less, seen[:] = sum(seen), []
    find_faces(later, FaceOptions())
    assert less < 0.5 * sum(seen)
    assert len(again) == len(first) > 0
    for one, other in zip(first, again, strict=True):
        assert np.hypot(*(one.nose - other.nose)) < 0.2 * one.size


def test_a_smaller_picture_shows_the_same_people_in_the_same_places() -> None:
    still = demo()["wide"]
    height, width = still.rgb.shape[:2]
    half = (width // 2, height // 2)
    small = replace(
        still,
        rgb=cv2.resize(np.asarray(still.rgb), half, interpolation=cv2.INTER_AREA),
        **{name: cv2.resize(getattr(still, name).astype(np.uint8), half) > 0 for name in ("valid", "clipped")},
        reduced=width / half[0],
    )
    large = find_people(still, FaceOptions())
    for known in (None, large):
        again = find_people(small, FaceOptions(), known)
        assert len(again) == len(large) > 0
        for one, other in zip(large, again, strict=True):
            assert np.hypot(*(one.face.nose - other.face.nose)) < 0.2 * one.face.size
            assert other.face.size == pytest.approx(one.face.size, rel=0.15)
            for part in one.patches.keys() & other.patches.keys():
                # Light runs over a cheek, its colour hardly does.
                skin, there = one.patches[part], other.patches[part]
                assert_allclose(there.rgb / there.rgb[1], skin.rgb / skin.rgb[1], rtol=0.08)
                assert there.radius == pytest.approx(skin.radius, rel=0.15)


def test_no_face_is_found_where_there_is_none() -> None:
    assert find_faces(still_of(light(data.coffee()), "wide"), OPTIONS) == ()


@pytest.mark.slow
def test_skin_of_one_person_obeys_the_known_match() -> None:
    wide, close = wide_and_close()
    pairs = face_source(OPTIONS, wide, close)((wide,), (close,), wide_and_close_pairs())
    assert set(pairs.label.tolist()) == {"skin"} and len(pairs) >= 2
    assert len(np.unique(pairs.group)) == 1
    expected = pairs.reference_rgb @ (GAIN * MIX).T
    assert_allclose(np.log2(pairs.angle_rgb / expected), 0, atol=0.15)


def test_a_person_agrees_with_themselves_after_the_match() -> None:
    wide, close = wide_and_close()
    pairs = face_source(OPTIONS, wide, close)((wide,), (close,), wide_and_close_pairs())
    (person,) = check_skin(
        pairs, Match.from_matrix(np.linalg.inv(GAIN * MIX)), np.ones(len(pairs), bool), view_stops=0.0
    )
    assert person.before.exposure_stops == pytest.approx(np.log2(GAIN), abs=0.15)
    assert abs(person.after.exposure_stops) < 0.1
    assert person.after.error < 1.5 < person.before.error
    # Skin lies between red (about 30 degrees) and yellow (about 90) in CIELAB.
    assert 30 < person.hero.hue_degrees < 90
    assert abs(person.after.hue_degrees - person.hero.hue_degrees) < 3


def test_nobody_is_recognised_without_clothes_or_a_place() -> None:
    wide, close = wide_and_close()
    # The close view shows no clothes below the face, and nobody says where the face should be.
    cut = still_of(close.rgb[:420], "close")
    assert len(find_faces(cut, OPTIONS)) == 1
    assert len(face_source(OPTIONS, wide, cut)((wide,), (cut,))) == 0


def test_people_are_told_apart_by_their_clothes() -> None:
    both = still_of(group(), "wide")
    left, right = still_of(group()[:, :360] * 0.6, "close"), still_of(group()[:, 360:] * 0.6, "close")
    for single, name in ((left, "skin of person 1"), (right, "skin of person 2")):
        pairs = face_source(OPTIONS, both, single)((both,), (single,))
        assert set(pairs.label.tolist()) == {name}
        shift = np.log2(pairs.angle_rgb / pairs.reference_rgb)
        # The areas land on differently lit parts of a small face, which its pairs say of themselves; the colour
        # of the skin is what they vouch for.
        assert_allclose(shift[:, [0, 2]] - shift[:, 1:2], 0, atol=0.15)
        assert (np.abs(shift.mean(1) - np.log2(0.6)) < 3 * pairs.light_spread / np.log(2) + 0.15).all()
    # Swapped places change nothing.
    swapped = still_of(np.concatenate([group()[:, 360:], group()[:, :360]], axis=1), "close")
    pairs = face_source(OPTIONS, both, swapped)((both,), (swapped,))
    crossed = (pairs.reference_xy[:, 0] < 360) != (pairs.angle_xy[:, 0] < 360)
    assert len(pairs) >= 4 and crossed.all()


def test_numbers_stay_with_people_when_one_leaves() -> None:
    def moments(angle: str) -> tuple[LinearStill, ...]:
        alone = group().copy()
        alone[:, :360] = 0.05
        return still_of(group(), angle), replace(still_of(alone, angle), moment=1)

    both = moments("wide"), moments("close")
    pairs = face_source(OPTIONS, *both[0], *both[1])(*both)
    assert set(pairs.label[pairs.moment == 1].tolist()) == {"skin of person 2"}


def test_faces_say_nothing_without_the_network(monkeypatch: pytest.MonkeyPatch) -> None:
    assert face_finder.model_file() is not None
    monkeypatch.setattr(face_finder, "_MODEL", Path(__file__).parent / "none.onnx")
    assert face_finder.model_file() is None
    wide, close = wide_and_close()
    assert find_faces(wide, OPTIONS) == ()
    assert len(face_source(OPTIONS, wide, close)((wide,), (close,), wide_and_close_pairs())) == 0


@pytest.mark.slow
def test_a_setup_without_features_looks_for_no_faces() -> None:
    wide, close = wide_and_close()
    quiet = all_sources(setup_of(Marks()), CorrespondOptions(features=False), wide, close)
    assert len(quiet((wide,), (close,))) == 0
    blind = all_sources(setup_of(Marks()), QUICK, wide, close, faces=FaceOptions(look=False))
    assert "faces" not in blind((wide,), (close,)).source
    assert "faces" in all_sources(setup_of(Marks()), QUICK, wide, close)((wide,), (close,)).source


# ------------------------------------------------------------------------------------------------ patches


def painted(rgb: np.ndarray, place: np.ndarray, radius: float, colour: tuple[float, float, float]) -> LinearStill:
    out = np.array(rgb)
    y, x = np.mgrid[: out.shape[0], : out.shape[1]]
    out[np.hypot(x - place[0], y - place[1]) < radius] = colour
    return still_of(out, "wide")


def test_shine_does_not_count_as_skin() -> None:
    wide = wide_and_close()[0]
    (face,) = find_faces(wide, OPTIONS)
    plain = skin_patches(wide, face, OPTIONS)["left cheek"]
    shining = painted(wide.rgb, plain.place, 0.4 * plain.radius, (1.2, 1.15, 1.1))
    after = skin_patches(shining, face, OPTIONS)["left cheek"]
    assert_allclose(after.rgb, plain.rgb, rtol=0.06)


@pytest.mark.parametrize(("noise", "shown"), [(0.1, True), (0.6, False)])
def test_skin_that_drowns_in_noise_is_not_measured(noise: float, shown: bool) -> None:
    """Noise of a pixel as a share of mid-level skin: pixels picked by their red would show a redder face."""
    wide = wide_and_close()[0]
    (face,) = find_faces(wide, OPTIONS)
    patches = skin_patches(wide, face, OPTIONS)
    level = float(np.median([patch.rgb[2] for patch in patches.values()]))
    rgb = wide.rgb + noise * level * np.random.default_rng(0).normal(size=wide.rgb.shape)
    assert bool(skin_patches(still_of(np.maximum(rgb, 0), "wide"), face, OPTIONS)) is shown


def test_a_mask_is_no_skin() -> None:
    wide = wide_and_close()[0]
    (face,) = find_faces(wide, OPTIONS)
    patches = skin_patches(wide, face, OPTIONS)
    assert set(patches) >= {"left cheek", "right cheek"}
    masked = painted(wide.rgb, face.mouth.mean(0), 1.2 * face.size, (0.2, 0.3, 0.4))
    assert set(skin_patches(masked, face, OPTIONS)).isdisjoint({"left cheek", "right cheek"})


@pytest.mark.parametrize("spoil", ["clipped", "ignored"])
def test_clipped_and_ignored_skin_is_left_out(spoil: str) -> None:
    wide = wide_and_close()[0]
    (face,) = find_faces(wide, OPTIONS)
    marked = replace(wide, **{spoil: np.ones(wide.clipped.shape, bool)})
    assert skin_patches(marked, face, OPTIONS) == {}


# -------------------------------------------------------------------------------------------- who is who

NONE = float("nan")


@pytest.mark.parametrize(
    ("apart", "dress", "same"),
    [
        # Clothes decide, though features behind put both faces elsewhere.
        ([[9.0, 12.0], [20.0, 8.0]], [[0.2, 2.0], [2.5, 0.1]], [(0, 0), (1, 1)]),
        # Uniforms: place decides.
        ([[0.3, 9.0], [8.0, 0.2]], [[0.1, 0.12], [0.1, 0.1]], [(0, 0), (1, 1)]),
        # Uniforms, and nothing known of places: nobody.
        ([[NONE, NONE], [NONE, NONE]], [[0.1, 0.12], [0.1, 0.1]], []),
        # Other clothes at the right place: somebody else sits there.
        ([[0.2]], [[1.5]], []),
        # No clothes in frame: place must be near.
        ([[1.0]], [[NONE]], [(0, 0)]),
        ([[6.0]], [[NONE]], []),
        # Nothing known at all.
        ([[NONE]], [[NONE]], []),
        # A third person who is on one view only.
        ([[NONE], [NONE]], [[2.2], [0.1]], [(1, 0)]),
    ],
)
def test_who_is_who(apart: list[list[float]], dress: list[list[float]], same: list[tuple[int, int]]) -> None:
    assert same_people(np.array(apart), np.array(dress), OPTIONS) == same


def test_nobody_in_one_view_is_nobody() -> None:
    assert same_people(np.zeros((0, 2)), np.zeros((0, 2)), OPTIONS) == []
