"""Options that few runs ask for, through the command line: `--segments`, `--neutral-highlights`, `day --carry`."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from huemend.media.pictures import write_picture
from tests.cli.conftest import picture
from tests.clipmaker import write_clip
from tests.conftest import Run
from tests.day.days import files_of, make_day, shot

pytestmark = pytest.mark.slow


def planes(camera: int, frame: int, stops: float) -> list[np.ndarray]:
    """Codes of a made wall, G'B'R' in ten bits."""
    codes = np.clip(np.rint(shot(7, 2.0**stops, 1000 * camera + frame) * 1023), 0, 1023).astype(int)
    return [codes[..., 1], codes[..., 2], codes[..., 0]]


def test_a_take_whose_light_steps_is_matched_in_parts(run: Run, tmp_path: Path) -> None:
    lines = ["[setup]", 'name = "take"', 'hero = "wide"']
    # The camera on the left opens up by most of a stop after two and a half seconds.
    for camera, (name, step) in enumerate({"wide": 0.0, "left": 0.8}.items()):
        write_clip(
            tmp_path / f"{name}.mkv",
            lambda frame, camera=camera, step=step: planes(camera, frame, step if frame >= 62 else 0.0),
            frames=125,
            size=(180, 320),
            pix_fmt="gbrp10le",
            color_range=2,
            matrix=0,
        )
        lines += [f"[angle.{name}]", f'media = ["{name}.mkv"]', 'encoding = "ACEScct"', 'range = "full"']
    (tmp_path / "setup.toml").write_text("\n".join(lines) + "\n")
    code, out, err = run("match", tmp_path / "setup.toml", "--segments", "--no-pictures")
    assert code == 4, err
    whole = json.loads((tmp_path / "match" / "report.json").read_text())
    assert "drift" in [reason["code"] for reason in whole["angles"]["left"]["reasons"]]
    parts = sorted((tmp_path / "match-segments").iterdir())
    first, *_, last = (json.loads((part / "report.json").read_text())["angles"]["left"] for part in parts)
    assert len(parts) >= 2 and out.count("hero: wide") == 1 + len(parts)
    # A stop is a factor of two on scene-linear light (common practice, no source).
    assert first["exposure_stops"] == pytest.approx(0.0, abs=0.05)
    assert last["exposure_stops"] == pytest.approx(-0.8, abs=0.05)
    assert all(len(list((part / "luts").glob("*left_match.cube"))) == 1 for part in parts)


def test_neutral_highlights_are_in_the_luts_and_said(run: Run, setup_file: Path) -> None:
    # A camera that is off in balance: where it clips, its match would tint what is white.
    write_picture(setup_file.parent / "left.png", picture(1, np.array([0.5, 0.7, 0.9])), 16)
    plain, rolled = setup_file.parent / "plain", setup_file.parent / "rolled"
    told = ("--no-pictures", "--lut-size", 17, "--out")
    assert run("match", setup_file, *told, plain)[0] == 0
    code, _, err = run("match", setup_file, "--neutral-highlights", *told, rolled)
    assert code == 0, err
    kinds = {"match": True, "working": True, "clf": False}
    for kind, differs in kinds.items():
        ending = "match.clf" if kind == "clf" else f"{kind}.cube"
        one, other = (next(folder.glob(f"luts/*left_{ending}")).read_text() for folder in (plain, rolled))
        numbers = [[line for line in text.splitlines() if line[:1] in "0123456789-"] for text in (one, other)]
        assert (numbers[0] != numbers[1]) == differs, kind
    record = json.loads((rolled / "report.json").read_text())
    notes = {lut["kind"]: lut["note"] for lut in record["angles"]["left"]["luts"]}
    assert "run to neutral" in notes["match"] and "without the neutral highlights" in notes["clf"]
    # What the record tells of a LUT is told of what is baked with it, too.
    code, _, err = run("bake", setup_file, "left", "--match", rolled, "--quiet")
    assert (code, err.count("\n")) == (0, 1) and "left_match.cube: highlights run to neutral" in err


def test_a_day_that_carries_changes_nothing_where_every_setup_is_matched(run: Run, tmp_path: Path) -> None:
    day = make_day(tmp_path / "day", 2)
    assert run("day", day, "--jobs", 1, "--no-pictures")[0] == 0
    before = files_of(day / "match")
    code, out, err = run("day", day, "--jobs", 1, "--no-pictures", "--carry", "--resume")
    assert code == 0, err
    assert out.startswith("01: 1 matched") and "02: 1 matched" in out
    after = files_of(day / "match")
    assert {name for name in before if before[name] != after.get(name)} <= {".huemend-written"}
