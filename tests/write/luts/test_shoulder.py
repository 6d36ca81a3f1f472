"""Neutral highlights: nothing below the knee, no tint where the camera clips, and the same light all the way."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from huemend import record_schema
from huemend.base.units import AP1_LUMINANCE
from huemend.encodings.registry import find_encoding
from huemend.flow.bake import bake_angle
from huemend.media.pictures import read_picture, write_picture
from huemend.model import Angle, LinearStill, Match, Setup, SetupResult
from huemend.options import WriteOptions
from huemend.write.luts.cube import apply_cube
from huemend.write.luts.kinds import shoulder_of
from huemend.write.luts.shoulder import NeutralShoulder
from tests.luts import read_cube
from tests.write.small_setup import ENCODINGS, MATCH, a_result, hand_over

SLOG3 = find_encoding("S-Log3/S-Gamut3.Cine")
SCHEMA = record_schema()
#: Half a stop of balance and a strong mix.
STRONG = Match.from_matrix(1.4 * np.array([[1.35, -0.1, 0.05], [0.0, 0.95, 0.02], [-0.05, 0.08, 0.72]]))


def still(clip_light: tuple[float, float, float] | None) -> LinearStill:
    rgb = np.full((4, 4, 3), 0.2, np.float32)
    flat = np.zeros((4, 4), bool)
    return LinearStill(
        rgb=rgb,
        valid=~flat,
        clipped=flat,
        angle="left",
        moment=0,
        source="left.png",
        full_size=(4, 4),
        clip_light=clip_light,
    )


def shoulder(clip: float = np.inf, stops: float = 1.0) -> NeutralShoulder:
    made = NeutralShoulder.of([still((clip, clip, clip))], SLOG3, range="full", stops=stops)
    assert made is not None
    return made


def through(made: NeutralShoulder, codes: np.ndarray, match: Match = STRONG) -> tuple[np.ndarray, np.ndarray]:
    plain = match.apply(SLOG3.decode(codes))
    return plain, made.apply(codes, plain)


# ----------------------------------------------------------------------------------------- the shoulder


def test_it_stands_under_the_largest_code_where_the_stills_do_not_clip() -> None:
    for made in (shoulder(), NeutralShoulder.of([still(None)], SLOG3, range="full", stops=1.0)):
        assert made is not None and made.top == (1.0, 1.0, 1.0) and not made.measured


def test_the_knee_lies_the_stops_under_the_clip() -> None:
    made = shoulder(9.0, stops=1.5)
    assert made.measured
    # The curve's own decode says what light a code stands for.
    np.testing.assert_allclose(SLOG3.to_light(np.array([made.top, made.knee])), [[9.0] * 3, [9 / 2**1.5] * 3])


def test_channels_clip_where_each_of_them_clips_and_the_lowest_still_counts() -> None:
    stills = [still((9.0, 12.0, np.inf)), still((10.0, 8.0, np.inf))]
    made = NeutralShoulder.of(stills, SLOG3, range="full", stops=1.0)
    assert made is not None
    np.testing.assert_allclose(SLOG3.to_light(np.array(made.top))[:2], [9.0, 8.0])
    assert made.top[2] == 1.0


def test_a_legal_range_gives_the_same_light() -> None:
    full, legal = (
        NeutralShoulder.of([still((9.0, 9.0, 9.0))], SLOG3, range=name, stops=1.0) for name in ("full", "legal")
    )
    assert full is not None and legal is not None and legal.top != full.top
    light = np.array([[6.0, 7.0, 8.0], [9.0, 9.0, 9.0], [1.0, 1.0, 1.0]])
    np.testing.assert_allclose(
        full.weight(SLOG3.encode(light)), legal.weight(SLOG3.encode(light, "legal")), atol=1e-12
    )


def test_scene_linear_media_that_clip_above_one_have_none() -> None:
    linear = find_encoding("ACEScg")
    assert NeutralShoulder.of([still((9.0, 9.0, 9.0))], linear, range="full", stops=1.0) is None
    assert NeutralShoulder.of([still(None)], linear, range="full", stops=1.0) is None
    assert NeutralShoulder.of([still((0.8, 0.8, 0.8))], linear, range="full", stops=1.0) is not None


def test_what_is_clipped_comes_out_neutral_and_as_bright() -> None:
    made = shoulder(9.0)
    codes = np.array([made.top, [0.99, 0.95, 1.0], [1.0, 1.0, 1.0]])
    plain, out = through(made, codes)
    assert (np.ptp(plain, axis=1) > 0.2 * plain.max(axis=1)).all()
    np.testing.assert_allclose(np.ptp(out, axis=1), 0.0, atol=1e-12)
    np.testing.assert_allclose(out @ AP1_LUMINANCE, plain @ AP1_LUMINANCE, rtol=1e-12)


def test_a_lamp_that_clips_in_one_channel_keeps_its_colour() -> None:
    made = shoulder(9.0)
    plain, out = through(made, np.array([[1.0, 0.5, 0.4], [1.0, 1.0, 0.4]]))
    np.testing.assert_array_equal(out, plain)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.floats(0.0, 1.0), min_size=3, max_size=3))
def test_below_the_knee_not_a_bit_changes(code: list[float]) -> None:
    made = shoulder(9.0)
    codes = np.array([code])
    plain, out = through(made, codes)
    if (codes <= np.array(made.knee)).any():
        assert out.tobytes() == plain.tobytes()
    np.testing.assert_allclose(out @ AP1_LUMINANCE, plain @ AP1_LUMINANCE, rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("tint", [(1.0, 1.0, 1.0), (1.0, 0.9, 0.8), (0.8, 0.9, 1.0)])
def test_light_that_grows_only_loses_colour_and_smoothly(tint: tuple[float, float, float]) -> None:
    made = shoulder(9.0)
    light = np.geomspace(1.0, 14.0, 3000)[:, None] * np.array(tint)
    codes = np.minimum(SLOG3.curve.form.encode(light), made.top)
    plain, out = through(made, codes)
    np.testing.assert_allclose(out @ AP1_LUMINANCE, plain @ AP1_LUMINANCE, rtol=1e-12)
    if len(set(tint)) == 1:
        # Of coloured light one channel is held at its clip while the others still grow: it has to give way.
        assert (np.diff(out, axis=0) >= -1e-9).all()
    spread = np.ptp(out, axis=1) / out.max(axis=1)
    before = np.ptp(plain, axis=1) / plain.max(axis=1)
    assert (spread <= before + 1e-12).all()
    weight = made.weight(codes)
    assert (np.diff(weight) >= 0).all()
    # Smooth: no step between neighbours, and none of the slope.
    assert np.abs(np.diff(weight)).max() < 0.01 and np.abs(np.diff(weight, 2)).max() < 2e-4


# ---------------------------------------------------------------------------------------------- the files


def strong(folder: Path) -> SetupResult:
    """Return a small setup whose left angle clips at 9 and has a strong match."""
    result = a_result(folder)
    angles = tuple(replace(each, match=STRONG if each.match is not None else None) for each in result.angles)
    stills = {name: tuple(replace(s, clip_light=(9.0,) * 3) for s in own) for name, own in result.stills.items()}
    return replace(result, angles=angles, stills=stills)


def write(folder: Path, result: SetupResult, **told: Any) -> dict[str, Any]:
    return hand_over(result, folder, WriteOptions(**told))


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any], dict[str, Any]]:
    folder = tmp_path_factory.mktemp("shoulder")
    result = strong(folder)
    off = write(folder / "off", result, lut_size=33)
    on = write(folder / "on", result, lut_size=33, neutral_highlights=True)
    return folder, off, on


def test_nothing_below_the_knee_changes_in_any_node(written: tuple[Path, Any, Any]) -> None:
    folder, _, _ = written
    made = shoulder(9.0)
    for kind in ("match", "working", "view"):
        off, on = (
            read_cube(folder / which / f"luts/glaze-table_left_{kind}.cube").table for which in ("off", "on")
        )
        axis = np.linspace(0.0, 1.0, 33)
        blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
        near = (np.stack([red, green, blue], axis=-1) > np.array(made.knee)).all(axis=-1)
        np.testing.assert_array_equal(on[~near], off[~near])
        assert near.any() and not np.array_equal(on[near], off[near])


def test_a_clipped_window_comes_out_neutral(written: tuple[Path, Any, Any]) -> None:
    folder, _, _ = written
    clip = SLOG3.curve.form.encode(np.full((1, 3), 9.0))
    off, on = (
        SLOG3.decode(apply_cube(read_cube(folder / which / "luts/glaze-table_left_match.cube"), clip))
        for which in ("off", "on")
    )
    tint_off, tint_on = (np.ptp(np.log2(light)) for light in (off, on))
    # The clip lies between two nodes: what interpolation leaves of the tint is a twentieth.
    assert tint_off > 0.5 and tint_on < 0.05


def test_files_that_cannot_hold_it_are_the_same_but_for_their_words(written: tuple[Path, Any, Any]) -> None:
    folder, off, on = written
    clf_off, clf_on = (
        (folder / which / "luts/glaze-table_left_match.clf").read_text().splitlines() for which in ("off", "on")
    )
    different = [line for one, line in zip(clf_off, clf_on, strict=True) if one != line]
    assert all("id=" in line or "<Description>" in line for line in different)
    assert any("without neutral highlights" in line for line in different)
    assert on["angles"]["left"]["cdl"] == off["angles"]["left"]["cdl"]
    assert "no neutral highlights" in (folder / "on/glaze-table.ccc").read_text()
    assert "neutral highlights" not in (folder / "off/glaze-table.ccc").read_text()


def test_record_and_titles_say_which_files_hold_it(written: tuple[Path, Any, Any]) -> None:
    folder, off, on = written
    jsonschema.validate(on, SCHEMA, cls=jsonschema.Draft202012Validator)
    assert on["options"]["write"]["neutral_highlights"] is True
    for lut in on["angles"]["left"]["luts"]:
        assert ("run to neutral" in lut["note"]) == (lut["kind"] != "clf")
        assert ("without the neutral highlights" in lut["note"]) == (lut["kind"] == "clf")
    assert all("neutral" not in lut["note"] for lut in (*off["angles"]["left"]["luts"], *on["hero_luts"]))
    assert all("neutral" not in lut["note"] for lut in on["angles"]["top"]["luts"])
    for kind in ("match", "working", "view"):
        title = read_cube(folder / f"on/luts/glaze-table_left_{kind}.cube").title
        assert "(match, neutral highlights)" in title


def test_the_error_of_a_lut_is_measured_with_the_shoulder_in_it(tmp_path: Path) -> None:
    result = strong(tmp_path)
    # Colours in and about the shoulder alone, none of them usable for a match.
    rng = np.random.default_rng(0)
    rgb = rng.uniform(4.0, 9.0, (24, 32, 3)).astype(np.float32)
    over = np.ones((24, 32), bool)
    lit = replace(result.stills["left"][0], rgb=rgb, valid=~over, clipped=over)
    result = replace(result, stills={**result.stills, "left": (lit,)})
    on = write(tmp_path / "on", result, lut_sizes=(9,), neutral_highlights=True)
    off = write(tmp_path / "off", result, lut_sizes=(9,))
    error = {
        which: next(lut for lut in record["angles"]["left"]["luts"] if lut["kind"] == "match")["error_codes"]
        for which, record in (("on", on), ("off", off))
    }
    assert error["off"]["p99"] == 0.0  # no usable colour
    assert error["on"]["p99"] > 3.0


def test_a_match_that_tints_nothing_has_no_shoulder(tmp_path: Path) -> None:
    result = a_result(tmp_path)
    exposure = replace(result["left"], match=Match(exposure_stops=0.5))
    result = replace(result, angles=(exposure, *result.angles[1:]))
    options = WriteOptions(neutral_highlights=True)
    assert shoulder_of("left", result, options) is None
    assert shoulder_of("right", result, options) is not None
    assert shoulder_of("top", result, options) is None  # unsolved
    assert shoulder_of("wide", result, options) is None  # the hero
    assert shoulder_of("right", result, WriteOptions()) is None
    assert ENCODINGS["left"] == SLOG3.name and MATCH.matrix is not None


def test_a_bake_takes_the_tint_out_of_a_clipped_window(written: tuple[Path, Any, Any], tmp_path: Path) -> None:
    """The delivered file, through libavfilter, as ``huemend bake`` runs it."""
    folder, _, _ = written
    picture = np.full((48, 64, 3), 0.41)
    picture[:, 32:] = SLOG3.curve.form.encode(np.array(9.0))
    write_picture(tmp_path / "left.png", picture)
    angle = Angle(name="left", media=(tmp_path / "left.png",), encoding=SLOG3.name)
    setup = Setup(name="glaze-table", hero="wide", angles=(angle,), source=tmp_path / "setup.toml")
    baked = bake_angle(setup, "left", folder / "on", tmp_path / "baked")
    out = SLOG3.decode(read_picture(baked.paths[0]).codes.astype(float))
    grey, window = out[:, :32].reshape(-1, 3).mean(axis=0), out[:, 32:].reshape(-1, 3).mean(axis=0)
    assert np.ptp(np.log2(window)) < 0.05
    # Mid-grey gets the match as it is.
    np.testing.assert_allclose(grey, STRONG.apply(SLOG3.decode(np.full((1, 3), 0.41)))[0], rtol=0.01)
