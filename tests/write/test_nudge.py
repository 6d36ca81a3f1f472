"""A nudge: what somebody wants beyond the match, in every output and apart from what was solved."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import PyOpenColorIO as ocio
import pytest

import huemend.flow.verify
from huemend.base.units import AP1_LUMINANCE
from huemend.encodings.registry import encodings_of, find_working_encoding
from huemend.errors import SetupFileError
from huemend.flow.deliver import as_delivered
from huemend.model import Match, Nudge, SetupResult, Verdict
from huemend.options import WriteOptions
from huemend.sample.setupfile import load_setup
from huemend.validate.people import check_skin
from huemend.view import delta_e2000, measurement_lab
from huemend.write.record_reading import match_of
from huemend.write.report.terminal import terminal_table
from huemend.write.report.words import nudge_words
from tests.write.small_setup import MATCH, a_result, hand_over

pytestmark = pytest.mark.slow

NUDGE = Nudge(exposure=0.05, red=0.02, blue=-0.03)


def nudged_result(folder: Path, nudge: Nudge = NUDGE) -> SetupResult:
    """The small setup with every angle nudged."""
    result = a_result(folder)
    setup = replace(result.setup, angles=tuple(replace(angle, nudge=nudge) for angle in result.setup.angles))
    angles = tuple(replace(found, angle=setup[found.angle.name]) for found in result.angles)
    return replace(result, setup=setup, angles=angles)


def written(result: SetupResult, out: Path) -> dict:
    hand_over(result, out, WriteOptions(lut_size=65))
    return json.loads((out / "report.json").read_text("utf-8"))


@pytest.mark.parametrize("match", [Match(), MATCH, replace(MATCH, flare=np.full(3, 0.002))])
def test_it_adds_to_exposure_and_balance_exactly(match: Match) -> None:
    nudged = match.nudged(NUDGE)
    assert nudged.exposure_stops == pytest.approx(match.exposure_stops + 0.05, abs=1e-12)
    assert nudged.balance == pytest.approx((match.balance[0] + 0.02, match.balance[1] - 0.03), abs=1e-12)
    # One gain for each channel of the matched light, and nothing else.
    rgb = np.random.default_rng(0).uniform(0.01, 2.0, (50, 3))
    gains = nudged.apply(rgb) / match.apply(rgb)
    assert np.ptp(gains, axis=0).max() < 1e-10
    assert np.log2(gains[0] / gains[0, 1]) == pytest.approx([0.02, 0.0, -0.03], abs=1e-10)


def test_under_a_contrast_the_picture_is_nudged_by_as_much() -> None:
    match = replace(MATCH, contrast=1.3)
    rgb = np.full((1, 3), 0.5)
    light = [AP1_LUMINANCE @ found.apply(rgb)[0] for found in (match, match.nudged(Nudge(exposure=0.2)))]
    assert np.log2(light[1] / light[0]) == pytest.approx(0.2, abs=1e-9)


def test_no_nudge_changes_no_bit() -> None:
    assert MATCH.nudged(Nudge()) is MATCH


def test_cube_clf_and_cdl_carry_it(tmp_path: Path) -> None:
    result, plain = nudged_result(tmp_path), a_result(tmp_path)
    record = written(result, tmp_path / "out")
    shot = encodings_of(result.setup)["left"]
    # Nodes of the cube, so that no interpolation stands between: codes of 20 to 45 sixty-fourths.
    codes = np.ascontiguousarray(np.random.default_rng(1).integers(20, 45, (200, 3)) / 64, np.float32)
    wanted = shot.encode(plain["left"].match.nudged(NUDGE).apply(shot.decode(codes, range="full")), range="full")
    for kind in ("cube", "clf"):
        out = codes.copy()
        transform = ocio.FileTransform(
            str(tmp_path / f"out/luts/glaze-table_left_match.{kind}"), interpolation=ocio.INTERP_TETRAHEDRAL
        )
        ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor().applyRGB(out)
        assert np.abs(out - wanted).max() < 1e-4, kind
    # The CDL comes as close to the nudged match as it says itself.
    entry = record["angles"]["left"]["cdl"]
    tree = ET.fromstring((tmp_path / "out" / record["ccc"]).read_text("utf-8"))
    slope = next(node.text for node in tree.iter() if node.tag.endswith("Slope") and node.text)
    assert [float(v) for v in slope.split()] == entry["slope"]
    held = plain["left"].pairs.angle_rgb
    working = find_working_encoding("ACEScct")
    transform = ocio.CDLTransform(
        slope=entry["slope"], offset=entry["offset"], power=entry["power"], sat=entry["saturation"]
    )
    transform.setStyle(ocio.CDL_ASC)
    out = np.ascontiguousarray(working.encode(held, range="full"), np.float32)
    ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor().applyRGB(out)
    labs = (measurement_lab(x, -0.5) for x in (working.decode(out, range="full"), MATCH.nudged(NUDGE).apply(held)))
    assert np.nanmean(delta_e2000(*labs)) < entry["residual"]["mean"] + 0.1


def test_the_record_keeps_solved_and_nudged_apart(tmp_path: Path) -> None:
    record = written(nudged_result(tmp_path), tmp_path / "out")
    left, top = record["angles"]["left"], record["angles"]["top"]
    assert left["nudge"] == {"exposure": 0.05, "red": 0.02, "blue": -0.03}
    assert left["exposure_stops"] == pytest.approx(left["solved"]["exposure_stops"] + 0.05, abs=1e-7)
    assert match_of(left["solved"]).combined == pytest.approx(MATCH.combined, abs=1e-7)
    assert match_of(left).combined == pytest.approx(MATCH.nudged(NUDGE).combined, abs=1e-7)
    assert top["nudge"] is None and top["solved"] is None and top["matrix"] is None
    said = terminal_table(record)
    assert "left: nudged after the solve by exposure +0.05, red +0.02, blue -0.03 stop" in said
    # The table holds what was solved.
    assert f"{MATCH.exposure_stops:+.2f} (-0.10 to +0.10)" in said


def test_the_page_says_what_was_nudged(tmp_path: Path) -> None:
    result = nudged_result(tmp_path)
    said = nudge_words(result["left"])
    assert said.startswith("Nudged after the solve: exposure +0.05 stop, red +0.02 stop, blue −0.03 stop.")
    assert nudge_words(result["top"]) == "There is no match to nudge: the nudge in the setup file was not used."
    assert nudge_words(a_result(tmp_path)["left"]) == ""


def test_a_face_is_told_as_it_is_delivered_and_as_shot_as_ever(tmp_path: Path) -> None:
    """A nudge took the strip of a face from samples of skin to the pixels there: other figures as shot, too."""
    result = nudged_result(tmp_path, Nudge(exposure=0.1))
    left = result["left"]
    left = replace(left, pairs=replace(left.pairs, label=np.full(len(left.pairs), "skin")))
    people = check_skin(left.pairs, left.match, left.agrees, view_stops=result.view_stops)
    (told,) = as_delivered(replace(result, angles=(replace(left, people=people), *result.angles[1:])))[
        "left"
    ].people
    assert told.before == people[0].before
    assert told.after.exposure_stops == pytest.approx(people[0].after.exposure_stops + 0.1, abs=1e-9)


def test_a_nudge_is_no_error_of_the_match(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    nudged = nudged_result(tmp_path, Nudge(exposure=0.5, red=0.2))
    written(nudged, tmp_path / "out")
    result = replace(nudged, view_stops=-6.0)
    monkeypatch.setattr(huemend.flow.verify, "match_setup", lambda *_, **__: result)
    left = next(found for found in huemend.flow.verify.verify_setup(result.setup, tmp_path / "out"))
    assert left.verdict is Verdict.MATCHED and left.held_out.after.mean < 0.1
    assert abs(left.exposure_drift) < 1e-6 and abs(left.red_green_drift) < 1e-6


SETUP = """
[setup]
name = "glaze-table"
hero = "wide"
[angle.wide]
media = ["wide.png"]
encoding = "LogC4/AWG4"
[angle.left]
media = ["left.png"]
encoding = "V-Log/V-Gamut"
"""


def setup_file(folder: Path, line: str) -> Path:
    for name in ("wide", "left"):
        (folder / f"{name}.png").touch()
    path = folder / "setup.toml"
    path.write_text(SETUP + line, "utf-8")
    return path


def test_the_setup_file_says_it(tmp_path: Path) -> None:
    setup = load_setup(setup_file(tmp_path, "nudge = {exposure = 0.05, blue = -0.02}"))
    assert setup["left"].nudge == Nudge(exposure=0.05, red=0.0, blue=-0.02)
    assert setup["wide"].nudge == Nudge()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("nudge = 0.05", "nudge: must be stops by name"),
        ("nudge = {green = 0.1}", "nudge.green: is not a known key"),
        ("nudge = {exposure = 20.0}", "nudge.exposure: cannot be 20.0"),
        ("nudge = {red = nan}", "nudge.red: cannot be nan"),
        ('nudge = {red = "a little"}', "nudge.red: cannot be 'a little'"),
    ],
)
def test_a_nudge_that_is_none(tmp_path: Path, line: str, said: str) -> None:
    with pytest.raises(SetupFileError) as error:
        load_setup(setup_file(tmp_path, line))
    assert said in str(error.value)


def test_the_hero_is_not_nudged(tmp_path: Path) -> None:
    path = setup_file(tmp_path, "")
    path.write_text(
        path.read_text("utf-8").replace('"wide.png"]', '"wide.png"]\nnudge = {exposure = 0.1}'), "utf-8"
    )
    with pytest.raises(SetupFileError, match="hero"):
        load_setup(path)
