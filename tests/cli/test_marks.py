"""What the lines of a setup file that mark areas change, and the one clear line of each that makes no sense."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from huemend.media.pictures import write_picture
from tests.cli.conftest import picture

pytestmark = pytest.mark.slow

ALL = (0.1, 0.1, 0.4, 0.5)
SPOTS = ((0.05, 0.05), (0.30, 0.05), (0.55, 0.05), (0.80, 0.05))
COLOURS = ((0.36, 0.25, 0.18), (0.1, 0.2, 0.35), (0.3, 0.3, 0.3), (0.12, 0.25, 0.08))


def area(x: float, y: float, width: float = 0.12, height: float = 0.2) -> str:
    return f"[{x:.3f}, {y:.3f}, {x + width:.3f}, {y + height:.3f}]"


def codes(linear: np.ndarray) -> np.ndarray:
    return (np.log2(np.maximum(linear, 0.008)) + 9.72) / 17.52  # ACEScct above its toe (S-2016-001)


@pytest.fixture
def marked(setup_file: Path) -> Path:
    """The setup of conftest with four patches of colour in the corners: the angle is half a stop down."""
    for name, seed, gain in (("wide", 1, 1.0), ("left", 2, 2**-0.5)):
        values = picture(seed, gain)
        for (x, y), rgb in zip(SPOTS, COLOURS, strict=True):
            rows, columns = (
                slice(round(180 * y), round(180 * (y + 0.2))),
                slice(round(320 * x), round(320 * (x + 0.12))),
            )
            values[rows, columns] = codes(np.array(rgb) * gain)
        write_picture(setup_file.parent / f"{name}.png", values, 16)
    return setup_file


def lines(setup: Path, text: str) -> None:
    setup.write_text(setup.read_text() + text)


def test_marks_only_rests_on_the_pairs_and_nothing_else(run: Any, marked: Path) -> None:
    lines(
        marked,
        "".join(f'[[pair]]\nname = "p{k}"\nhero = {area(*s)}\nleft = {area(*s)}\n' for k, s in enumerate(SPOTS)),
    )
    code, _, _ = run("match", marked, "--quiet", "--no-pictures", "--marks-only", "--out", marked.parent / "out")
    found = json.loads((marked.parent / "out" / "report.json").read_text())["angles"]["left"]
    assert code == 4 and found["verdict"] == "review"
    assert (found["samples"]["source"], found["samples"]["pairs"]) == ("areas", 4)
    assert found["reasons"][0]["code"] == "by-hand"
    assert found["exposure_stops"] == pytest.approx(0.5, abs=0.05)


def test_marks_only_without_marks_solves_nothing(run: Any, setup_file: Path) -> None:
    code, shown, _ = run("match", setup_file, "--quiet", "--no-pictures", "--marks-only")
    assert code == 5 and "UNSOLVED" in shown


PAIR = '[[pair]]\nname = "p"\nhero = {0}\nleft = {1}\n'
HERE = str(list(ALL))
MARKS = {
    "pair": 'name = "p"\nhero = [0.1, 0.1, 0.4, 0.5]\nleft = {area}\n',
    "ignore": 'angle = "left"\narea = {area}\n',
    "neutral": 'angle = "left"\narea = {area}\n',
}
SHAPES = {
    "outside the frame": ("[0.5, 0.5, 1.2, 0.9]", "lies outside the frame (1.2, 0.5)"),
    "in pixels": ("[100, 100, 400, 300]", "not pixels"),
    "of no size": ("[0.2, 0.2, 0.2, 0.6]", "has no size"),
    "a line": ("[[0.1, 0.1], [0.2, 0.2], [0.3, 0.3]]", "has no size"),
    "too few corners": ("[[0.1, 0.1], [0.2, 0.2]]", "must be four numbers, or three or more corners"),
    "crossing itself": ("[[0.1, 0.1], [0.5, 0.5], [0.5, 0.1], [0.1, 0.5]]", "has no size"),
}


def refused(run: Any, setup: Path, said: str) -> None:
    out = setup.parent / "out"
    code, stdout, stderr = run("match", setup, "--quiet", "--no-pictures", "--out", out)
    assert (code, stdout) == (3, ""), stderr
    assert stderr.count("\n") == 1 and stderr.startswith("huemend: ") and said in stderr, stderr
    assert not out.exists() or list(out.iterdir()) == []


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("kind", MARKS)
def test_an_area_that_is_none(run: Any, marked: Path, kind: str, shape: str) -> None:
    written, said = SHAPES[shape]
    lines(marked, f"[[{kind}]]\n" + MARKS[kind].format(area=written))
    refused(run, marked, said)


@pytest.mark.parametrize("kind", MARKS)
def test_an_area_on_no_angle(run: Any, marked: Path, kind: str) -> None:
    lines(marked, f"[[{kind}]]\n" + MARKS[kind].format(area=HERE).replace("left", "lefft"))
    refused(run, marked, "did you mean left?")


@pytest.mark.parametrize("kind", MARKS)
def test_an_area_in_what_the_crop_leaves_out(run: Any, marked: Path, kind: str) -> None:
    text = marked.read_text().replace('["left.png"]', '["left.png"]\ncrop = [0.0, 0.6, 0.0, 0.0]')
    marked.write_text(text + f"[[{kind}]]\n" + MARKS[kind].format(area=HERE))
    refused(run, marked, "lies in what the crop of left leaves out")


@pytest.mark.parametrize("kind", ["pair", "neutral"])
@pytest.mark.parametrize(("level", "said"), [(1.0, "is clipped (100% of it)"), (0.0, "is black")])
def test_an_area_on_clipped_or_black_pixels(run: Any, marked: Path, kind: str, level: float, said: str) -> None:
    values = picture(2)
    values[:100, :140] = level
    write_picture(marked.parent / "left.png", values, 16)
    lines(marked, f"[[{kind}]]\n" + MARKS[kind].format(area=HERE))
    refused(run, marked, said)


@pytest.mark.parametrize("kind", ["pair", "neutral"])
def test_an_area_that_is_ignored(run: Any, marked: Path, kind: str) -> None:
    lines(marked, f"[[{kind}]]\n" + MARKS[kind].format(area=HERE))
    lines(marked, '[[ignore]]\nangle = "left"\narea = [0, 0, 1, 0.6]\n')
    refused(run, marked, "lies in an area that the setup file ignores")


@pytest.mark.parametrize("kind", MARKS)
def test_frames_beyond_the_stills(run: Any, marked: Path, kind: str) -> None:
    lines(marked, f"[[{kind}]]\n" + MARKS[kind].format(area=HERE) + "frames = [1, 4]\n")
    refused(run, marked, f"{kind}[1].frames: begins at 1, and ")


def test_an_ignored_frame_leaves_nothing_to_match(run: Any, setup_file: Path) -> None:
    lines(setup_file, '[[ignore]]\nangle = "left"\narea = [0, 0, 1, 1]\n')
    code, shown, _ = run("match", setup_file, "--quiet", "--no-pictures")
    assert code == 5 and "UNSOLVED" in shown


def test_what_is_ignored_moves_nothing(run: Any, setup_file: Path) -> None:
    """Most of the angle is under a warm lamp that the hero does not see: without it, the rest gives the match."""
    stops = np.zeros((180, 320, 3))
    stops[:, 110:] = (0.25, 0.0, -0.4)
    write_picture(setup_file.parent / "left.png", picture(1, 2**-0.5) + stops / 17.52, 16)
    balance = {}
    for said in ("", '[[ignore]]\nangle = "left"\narea = [0.34, 0, 1, 1]\n'):
        lines(setup_file, said)
        out = setup_file.parent / f"out{len(balance)}"
        run("match", setup_file, "--quiet", "--no-pictures", "--out", out)
        found = json.loads((out / "report.json").read_text())["angles"]["left"]
        matrix = np.array(found["matrix"] or found["candidate"]["matrix"])
        red, green, blue = np.log2(matrix.sum(1))
        balance[said] = np.hypot(red - green, blue - green)
    without, ignored = balance.values()
    assert without > 0.2 and ignored < 0.05
