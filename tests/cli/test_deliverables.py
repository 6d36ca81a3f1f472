"""What is handed on, told on the command line; and measured again by `huemend verify`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.conftest import Run
from tests.luts import read_cube

pytestmark = pytest.mark.slow


EDL = """TITLE: BENCH
001  LEFT     V     C        01:00:10:00 01:00:14:12 10:00:00:00 10:00:04:12
002  A009     V     C        01:00:10:00 01:00:12:00 10:00:04:12 10:00:06:12
003  WIDE     V     C        01:00:10:00 01:00:12:00 10:00:06:12 10:00:08:12
"""


def test_luts_as_told_and_a_timeline(run: Run, setup_file: Path) -> None:
    (setup_file.parent / "cut.edl").write_text(EDL)
    code, out, err = run(
        "match", setup_file, "--target", "hero", "--lut-range", "legal", "--lut-size", 9, "--view", "plain",
        "--working-encoding", "logc4/awg4", "--edl", setup_file.parent / "cut.edl", "--clip", "left=A009",
        "--json", "--no-pictures",
    )  # fmt: skip
    assert code in (0, 4), err
    record = json.loads(out)
    folder = setup_file.parent / "match"
    luts = {lut["kind"]: lut for lut in record["angles"]["left"]["luts"]}
    assert {lut["size"] for lut in luts.values()} == {9, None}
    assert {lut["input_range"] for lut in luts.values()} == {"legal"}
    assert luts["working"]["output"] == "LogC4/AWG4" and "measurement view" in luts["view"]["output"]
    assert "legal range in" in read_cube(folder / luts["match"]["path"]).title
    assert record["options"]["write"]["target"] == "hero"
    clips = (folder / "bench_clips.csv").read_text().splitlines()
    assert [line.split(",")[7] for line in clips[1:]] == ["left", "left", "wide"]
    graded = (folder / "bench_cdl.edl").read_text()
    assert graded.count("*ASC_SOP") == 2
    # Both clips of the left angle say what their CDL works in; the events stay as they came.
    assert graded.count("* CDL IS MEANT IN LOGC4/AWG4, FULL RANGE") == 2
    assert [line for line in graded.splitlines() if not line.startswith("*")] == EDL.splitlines()
    assert {entry["path"] for entry in record["files"]} >= {"bench_clips.csv", "bench_cdl.edl"}


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (("--clip", "left=A*"), 2, "--clip needs --edl"),
        (("--edl-rate", "24"), 2, "--edl-rate needs --edl"),
        (("--edl", "cut.otio", "--edl-rate", "24"), 2, "states its rate"),
        (("--edl", "cut.edl", "--clip", "nobody=A*"), 2, "ANGLE=PATTERN, with one of wide, left"),
        (("--edl", "cut.edl", "--clip", "left"), 2, "ANGLE=PATTERN"),
        (("--edl", "nowhere.edl"), 3, "nowhere.edl: there is no such EDL"),
        (("--edl", "setup.toml"), 3, "there is no event"),
        (("--working-encoding", "acescg"), 3, "name a log space"),
        (("--working-encoding", "slog3"), 3, "name its gamut too"),
        (("--lut-size", "1"), 2, "not in the range"),
        (("--target", "other"), 2, "'angle', 'hero'"),
    ],
)
def test_what_makes_no_sense_is_told_before_the_work(
    run: Run, setup_file: Path, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...], code: int, words: str
) -> None:
    monkeypatch.chdir(setup_file.parent)
    (setup_file.parent / "cut.edl").write_text(EDL)
    found, out, err = run("match", setup_file, *options)
    assert (found, out) == (code, "")
    assert words in err
    assert not (setup_file.parent / "match").exists()


def test_verify(run: Run, setup_file: Path) -> None:
    code, _, err = run("verify", setup_file)
    assert code == 3 and "run huemend match first" in err
    matched, _, _ = run("match", setup_file, "--quiet", "--no-pictures", "--no-pictures", "--fail-on", "never")
    assert matched == 0
    before = {path: path.read_bytes() for path in (setup_file.parent / "match").rglob("*") if path.is_file()}
    code, out, err = run("verify", setup_file, "--json")
    result = json.loads(out)
    assert result["schema"] == "huemend-verify/1"
    left = result["angles"]["left"]
    assert code == {"matched": 0, "review": 4, "unsolved": 5}[left["verdict"]]
    assert left["held_out"]["after"]["mean"] < left["held_out"]["before"]["mean"] / 2
    assert abs(left["exposure_drift"]) < 0.02
    code, out, _ = run("verify", setup_file, "--quiet", "--fail-on", "never")
    assert code == 0 and "left: " in out and "a match of these frames would add" in out
    assert left["same_stills"] and "it was matched on these very stills" in out and "-0.00" not in out
    assert {path: path.read_bytes() for path in before} == before
