"""Everything that one setup hands on, and the record of it."""

from __future__ import annotations

import json
import os
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from huemend import record_schema
from huemend.cli.deliverables import lut_notes
from huemend.encodings.registry import find_encoding
from huemend.model import Place, Reason
from huemend.options import WriteOptions
from huemend.view import measurement_signal, rendered_hdr_signal, rendered_signal
from huemend.write.luts.cube import apply_cube
from huemend.write.luts.notes import highlight_loss
from huemend.write.record_reading import is_whole, match_of
from tests.luts import read_cube
from tests.write.small_setup import ENCODINGS, MATCH, a_result, hand_over

pytestmark = pytest.mark.slow

SCHEMA = record_schema()
QUICK = {"lut_size": 9, "colours": 500, "cdl_colours": 100}


def write(folder: Path, result: Any = None, **options: Any) -> dict[str, Any]:
    result = result or a_result(folder)
    pages = {"report.html": b"a page"}
    return hand_over(result, folder / "out", WriteOptions(**{**QUICK, **options}), pages)


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("setup")
    write(folder)
    return folder / "out"


@pytest.fixture(scope="module")
def record(out: Path) -> dict[str, Any]:
    return dict(json.loads((out / "report.json").read_text(encoding="utf-8")))


def test_the_record_follows_its_schema(record: dict[str, Any]) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.validate(record, SCHEMA, cls=jsonschema.Draft202012Validator)


@pytest.mark.parametrize(
    "harm",
    [
        lambda record: record.update(surprise=1),
        lambda record: record["angles"]["left"].update(verdict="perfect"),
        lambda record: record["angles"]["left"]["matrix"].pop(),
        lambda record: record["angles"]["top"].update(matrix=[[1, 0, 0]] * 3),
        lambda record: record["files"][0].update(path="/etc/passwd"),
        lambda record: record["files"][0].update(path="a/../../b"),
        lambda record: record["inputs"][0].update(source="/mnt/day1/a.png"),
        lambda record: record["angles"]["left"]["luts"][0].update(size=1),
        lambda record: record.pop("files"),
    ],
)
def test_the_schema_can_fail(record: dict[str, Any], harm: Any) -> None:
    harmed = json.loads(json.dumps(record))
    harm(harmed)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(harmed, SCHEMA, cls=jsonschema.Draft202012Validator)


def test_which_files_there_are(out: Path, record: dict[str, Any]) -> None:
    found = sorted(path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file())
    stem = "luts/glaze-table_"
    assert found == sorted(
        [f"{stem}{name}_{kind}.cube" for name in ENCODINGS for kind in ("working", "view")]
        + [f"{stem}{name}_match.{kind}" for name in ("left", "right") for kind in ("cube", "clf")]
        + ["glaze-table.ccc", "report.html", "report.json"]
    )
    assert [entry["path"] for entry in record["files"]] == [path for path in found if path != "report.json"]
    listed = [lut["path"] for entry in (*record["angles"].values(),) for lut in entry["luts"]]
    assert sorted(listed + [lut["path"] for lut in record["hero_luts"]]) == [
        p for p in found if p.startswith("luts")
    ]
    assert (out / "report.html").read_text() == "a page"
    assert is_whole(out)


def test_an_unsolved_angle_gets_its_conversions_and_no_match(out: Path, record: dict[str, Any]) -> None:
    entry = record["angles"]["top"]
    assert entry["matrix"] is None and entry["candidate"]["matrix"] is not None and entry["cdl"] is None
    assert {lut["kind"]: lut["matched"] for lut in entry["luts"]} == {"working": False, "view": False}
    assert match_of(entry) is None
    shot = find_encoding(ENCODINGS["top"])
    cube = read_cube(out / "luts/glaze-table_top_working.cube")
    assert "plain conversion, no match" in cube.title
    codes = np.array([[0.5, 0.375, 0.5]])
    np.testing.assert_allclose(
        apply_cube(cube, codes), find_encoding("ACEScct").encode(shot.decode(codes)), atol=1e-6
    )


@pytest.mark.parametrize("name", ["left", "right"])
def test_what_the_luts_do_at_their_nodes(out: Path, name: str) -> None:
    shot, cct = find_encoding(ENCODINGS[name]), find_encoding("ACEScct")
    codes = np.array([[0.5, 0.5, 0.5], [0.5, 0.375, 0.5], [0.625, 0.5, 0.375]])
    matched = MATCH.apply(shot.decode(codes))
    expected = {
        "match": shot.encode(matched),
        "working": cct.encode(matched),
        "view": rendered_signal(matched),
    }
    for kind, wanted in expected.items():
        cube = read_cube(out / f"luts/glaze-table_{name}_{kind}.cube")
        np.testing.assert_allclose(apply_cube(cube, codes), wanted, atol=1e-6)


def test_titles_say_where_a_lut_belongs(out: Path) -> None:
    title = read_cube(out / "luts/glaze-table_left_match.cube").title
    for words in ("left", "match", "S-Log3/S-Gamut3.Cine full range in", "ungraded camera log", "first operation"):
        assert words in title
    assert read_cube(out / "luts/glaze-table_right_match.cube").title.startswith("REVIEW before use")
    for path in out.glob("luts/*.cube"):
        assert ("REVIEW" in read_cube(path).title) == ("_right_" in path.name)
    text = (out / "luts/glaze-table_right_match.clf").read_text(encoding="utf-8")
    assert "REVIEW before use" in text
    corrections = ET.parse(out / "glaze-table.ccc").getroot()
    descriptions = [correction[0].text or "" for correction in corrections]
    assert [text.startswith("REVIEW before use") for text in descriptions] == [False, True]
    assert all("ACEScct, full range" in (correction[1].text or "") for correction in corrections)


def test_long_names_leave_room_for_what_matters(tmp_path: Path) -> None:
    write(tmp_path, a_result(tmp_path, name="s" * 150, names={"left": "l" * 150}))
    (path,) = tmp_path.rglob("*l_match.cube")
    assert "S-Log3/S-Gamut3.Cine full range in" in read_cube(path).title


def test_the_match_comes_back_out_of_the_record(record: dict[str, Any]) -> None:
    match = match_of(record["angles"]["left"])
    assert match is not None
    np.testing.assert_allclose(match.combined, MATCH.combined, atol=1e-7)


def test_numbers_that_are_none_are_null(record: dict[str, Any]) -> None:
    assert record["angles"]["left"]["uncertainty"]["saturated_error"] is None
    assert record["angles"]["right"]["held_out"]["upper"] is None
    assert record["verdict"] == "unsolved"


def test_no_machine_shows_in_what_is_handed_on(out: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    base = str(tmp_path_factory.getbasetemp())
    for path in out.rglob("*"):
        if path.is_file():
            data = path.read_bytes()
            assert base.encode() not in data, path
            assert os.uname().nodename.encode() not in data or len(os.uname().nodename) < 6
    if sys.platform == "linux":
        assert not list(out.glob(".huemend*"))


def test_the_same_setup_gives_the_same_bytes_anywhere(out: Path, tmp_path: Path) -> None:
    write(tmp_path)
    for path in sorted(out.rglob("*")):
        if path.is_file():
            assert (tmp_path / "out" / path.relative_to(out)).read_bytes() == path.read_bytes(), path.name


def test_into_the_hero_s_encoding(tmp_path: Path) -> None:
    record = write(tmp_path, target="hero")
    shot, hero = find_encoding(ENCODINGS["left"]), find_encoding(ENCODINGS["wide"])
    cube = read_cube(tmp_path / "out/luts/glaze-table_left_match.cube")
    codes = np.array([[0.5, 0.5, 0.5], [0.5, 0.375, 0.5]])
    np.testing.assert_allclose(apply_cube(cube, codes), hero.encode(MATCH.apply(shot.decode(codes))), atol=1e-6)
    luts = {lut["kind"]: lut for lut in record["angles"]["left"]["luts"]}
    assert luts["match"]["output"] == luts["clf"]["output"] == "LogC4/AWG4"
    assert luts["match"]["note"] == ""  # LogC4 holds more than S-Log3
    assert {lut["kind"] for lut in record["hero_luts"]} == {"working", "view"}


def test_a_hero_that_holds_less_is_told_with_the_lut(tmp_path: Path) -> None:
    result = a_result(tmp_path)
    angles = (replace(result.setup.angles[0], encoding="BT.709 camera"), *result.setup.angles[1:])
    result = replace(result, setup=replace(result.setup, angles=angles))
    record = write(tmp_path, result, target="hero")
    notes = list(lut_notes(record))
    assert len(notes) == 2 and notes[0].startswith("left: BT.709 camera ends ") and "highlights" in notes[0]


def test_a_hero_that_holds_less_is_told() -> None:
    # BT.709 ends at white, LogC4 at 469 times that (LogC4 Specification, 2022): log2(469) = 8.9 stops.
    loss = highlight_loss(find_encoding("LogC4/AWG4"), find_encoding("BT.709 camera"))
    assert 8.7 < loss < 9.0
    assert highlight_loss(find_encoding("BT.709 camera"), find_encoding("LogC4/AWG4")) == 0


@pytest.mark.parametrize(("lut_range", "expected"), [("media", "legal"), ("full", "full"), ("legal", "legal")])
def test_ranges(tmp_path: Path, lut_range: str, expected: str) -> None:
    record = write(tmp_path, a_result(tmp_path, range="legal"), lut_range=lut_range)
    jsonschema.validate(record, SCHEMA, cls=jsonschema.Draft202012Validator)
    shot = find_encoding(ENCODINGS["left"])
    cube = read_cube(tmp_path / "out/luts/glaze-table_left_match.cube")
    assert f"{expected} range in" in cube.title
    codes = np.array([[0.5, 0.5, 0.5], [0.5, 0.375, 0.5]])
    wanted = shot.encode(MATCH.apply(shot.decode(codes, expected)), expected)
    np.testing.assert_allclose(apply_cube(cube, codes), wanted, atol=1e-6)
    for lut in record["angles"]["left"]["luts"]:
        assert lut["input_range"] == expected
        assert lut["output_range"] == (expected if lut["kind"] in ("match", "clf") else "full")


@pytest.mark.parametrize(
    ("view", "rendering"),
    [
        ("plain", lambda rgb: measurement_signal(rgb, -0.5)),
        ("hdr", rendered_hdr_signal),
    ],
)
def test_the_other_views(tmp_path: Path, view: str, rendering: Any) -> None:
    write(tmp_path, view=view)
    cube = read_cube(tmp_path / "out/luts/glaze-table_left_view.cube")
    codes = np.array([[0.5, 0.5, 0.5], [0.5, 0.375, 0.5]])
    light = MATCH.apply(find_encoding(ENCODINGS["left"]).decode(codes))
    np.testing.assert_allclose(apply_cube(cube, codes), rendering(light), atol=1e-6)
    assert ("measurement view" if view == "plain" else "PQ") in cube.title


def test_another_working_space(tmp_path: Path) -> None:
    record = write(tmp_path, working_encoding="LogC4/AWG4")
    luts = {lut["kind"]: lut for lut in record["angles"]["left"]["luts"]}
    assert luts["working"]["output"] == "LogC4/AWG4"
    assert record["angles"]["left"]["cdl"]["input"] == "LogC4/AWG4, full range"


def test_without_clf_and_cdl(tmp_path: Path) -> None:
    record = write(tmp_path, clf=False, cdl=False)
    assert not list((tmp_path / "out").rglob("*.clf")) and record["ccc"] is None
    assert record["angles"]["left"]["cdl"] is None


def test_names_that_no_disk_likes(tmp_path: Path) -> None:
    names = {"wide": "Büro ../../x", "left": "A", "right": "a", "top": "舞台:1"}
    write(tmp_path, a_result(tmp_path, name="../up", names=names))
    found = [path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*.cube")]
    assert all(path.startswith("out/luts/") for path in found)
    # Two names that differ in case alone are two files on every disk.
    assert len({path.casefold() for path in found}) == len(found) == 4 * 2 + 2
    assert is_whole(tmp_path / "out")


def test_an_angle_that_becomes_unsolved_loses_its_match_lut(tmp_path: Path) -> None:
    first = a_result(tmp_path)
    write(tmp_path, first)
    later = replace(first, angles=tuple(replace(a, verdict="unsolved", match=None) for a in first.angles))
    write(tmp_path, later)
    assert not list((tmp_path / "out").rglob("*_match.*"))
    assert not (tmp_path / "out/glaze-table.ccc").exists()
    assert is_whole(tmp_path / "out")


def test_scene_linear_media_are_told_to_use_the_clf(tmp_path: Path) -> None:
    result = a_result(tmp_path)
    angles = tuple(replace(angle, encoding="ACEScg") for angle in result.setup.angles)
    result = replace(result, setup=replace(result.setup, angles=angles))
    luts = write(tmp_path, result)["angles"]["left"]["luts"]
    assert all(("use the CLF" in lut["note"]) == (lut["kind"] != "clf") for lut in luts)


def test_a_reason_with_a_place_follows_the_schema(tmp_path: Path) -> None:
    result = a_result(tmp_path)
    place = Place(moment=0, x=0.25, y=0.75, radius=0.05)
    told = replace(result["left"], reasons=(Reason(code="clips-early", text="Clips.", place=place),))
    record = write(tmp_path, replace(result, angles=(told, *result.angles[1:])))
    jsonschema.validate(record, SCHEMA, cls=jsonschema.Draft202012Validator)
    (reason,) = record["angles"]["left"]["reasons"]
    assert reason["place"] == {"moment": 0, "x": 0.25, "y": 0.75, "radius": 0.05}
    assert "place" not in record["angles"]["right"]["reasons"][0]
