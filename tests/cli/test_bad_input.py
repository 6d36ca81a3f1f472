"""Bad input to `huemend match`: exit code 3, one clear line, nothing half-written."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import OpenImageIO as oiio
import pytest

from huemend.media.pictures import write_picture


def edit(old: str, new: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        path = folder / "setup.toml"
        text = path.read_text()
        assert old in text
        path.write_text(text.replace(old, new))

    return change


def flat(level: float) -> Callable[[Path], None]:
    return lambda folder: write_picture(folder / "left.png", np.full((90, 160, 3), level), 16)


def noisy(low: float, high: float) -> Callable[[Path], None]:
    """No two pixels alike, and yet nothing to measure: a lens cap, or a flare that fills the frame."""
    values = np.random.default_rng(0).uniform(low, high, (90, 160, 3))
    return lambda folder: write_picture(folder / "left.png", values, 16)


def without_colour(folder: Path) -> None:
    write_picture(folder / "left.png", np.random.default_rng(0).random((90, 160, 1)).repeat(3, axis=2), 16)


def cut_short(folder: Path) -> None:
    data = (folder / "left.png").read_bytes()
    (folder / "left.png").write_bytes(data[: len(data) // 2])


def cut_short_jpeg(folder: Path) -> None:
    write_picture(folder / "left.jpg", np.random.default_rng(0).random((90, 160, 3)), 8)
    data = (folder / "left.jpg").read_bytes()
    (folder / "left.jpg").write_bytes(data[: len(data) // 2])
    edit("left.png", "left.jpg")(folder)


def two_sizes(folder: Path) -> None:
    write_picture(folder / "left2.png", np.random.default_rng(0).random((90, 162, 3)), 16)
    (folder / "wide2.png").write_bytes((folder / "wide.png").read_bytes())
    edit('["left.png"]', '["left.png", "left2.png"]')(folder)
    edit('["wide.png"]', '["wide.png", "wide2.png"]')(folder)


def two_pixels(folder: Path) -> None:
    spec = oiio.ImageSpec(2, 1, 3, oiio.UINT16)
    output = oiio.ImageOutput.create(str(folder / "left.png"))
    assert output.open(str(folder / "left.png"), spec)
    assert output.write_image(np.array([[[0, 1, 2], [3, 4, 5]]], np.uint16))
    output.close()


def nan_in_exr(folder: Path) -> None:
    values = np.random.default_rng(0).random((90, 160, 3)).astype(np.float32)
    values[3, 5] = np.nan
    spec = oiio.ImageSpec(160, 90, 3, oiio.HALF)
    output = oiio.ImageOutput.create(str(folder / "left.exr"))
    assert output.open(str(folder / "left.exr"), spec) and output.write_image(values)
    output.close()
    edit("left.png", "left.exr")(folder)


BAD: dict[str, tuple[Callable[[Path], object], str]] = {
    "a missing setup file": (lambda folder: (folder / "setup.toml").unlink(), "there is no such setup file"),
    "a missing still": (lambda folder: (folder / "left.png").unlink(), "left.png: there is no such file"),
    "no hero": (edit('hero = "wide"\n', ""), "setup.hero: is missing"),
    "a hero not among the angles": (edit('hero = "wide"', 'hero = "widw"'), "did you mean wide?"),
    "an unknown encoding": (
        edit('"left.png"]\nencoding = "ACEScct"', '"left.png"]\nencoding = "ACESct"'),
        'setup.toml: angle.left.encoding: encoding "ACESct" is not known; did you mean "ACEScct"?',
    ),
    "the hero's file once more": (
        edit('["left.png"]', '["wide.png"]'),
        "angle.left.media: names the same as wide",
    ),
    "an encoding to fill in": (edit('"ACEScct"', '"?"'), "is still to be filled in"),
    "an empty still": (lambda folder: (folder / "left.png").write_bytes(b""), "is an empty file"),
    "a still cut short": (cut_short, "is cut short"),
    "a JPEG cut short": (cut_short_jpeg, "is damaged or cut short"),
    "text under a still's name": (lambda folder: (folder / "left.png").write_text("no"), "is not a picture"),
    "a folder under a still's name": (edit('["left.png"]', '["."]'), "is a folder"),
    "two sizes in an angle": (two_sizes, "left2.png: is 162 x 90 pixels"),
    "two pixels": (two_pixels, "is only 2 x 1 pixels"),
    "all black": (flat(0.0), "left.png: is all black"),
    "all clipped": (flat(1.0), "left.png: is all clipped"),
    "no colour": (without_colour, "left.png: has no colour: its three channels are equal"),
    "black with noise": (noisy(0.0, 0.06), "left.png"),
    "clipped with noise": (noisy(0.9999, 1.0), "left.png"),
    "NaN in an EXR": (nan_in_exr, "holds NaN or infinite values in 1 pixel (the first at x 5, y 3)"),
}


@pytest.mark.parametrize("what", BAD)
def test_bad_input(run: Any, setup_file: Path, what: str) -> None:
    spoil, said = BAD[what]
    spoil(setup_file.parent)
    before = sorted(setup_file.parent.rglob("*"))
    out = setup_file.parent / "results"
    code, stdout, stderr = run("match", setup_file, "--out", out, "--quiet", "--no-pictures")
    assert code == 3, stderr
    assert stdout == ""
    assert stderr.count("\n") == 1 and stderr.startswith("huemend: ")
    assert said in stderr
    assert [path for path in sorted(setup_file.parent.rglob("*")) if path != out] == before
    assert not out.exists() or list(out.iterdir()) == []


@pytest.mark.slow
def test_an_earlier_result_survives_bad_input(run: Any, setup_file: Path) -> None:
    out = setup_file.parent / "results"
    code, _, _ = run("match", setup_file, "--out", out, "--quiet", "--no-pictures", "--fail-on", "never")
    assert code == 0
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    assert out / "report.json" in before
    cut_short(setup_file.parent)
    assert run("match", setup_file, "--out", out, "--quiet", "--no-pictures")[0] == 3
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before


def test_an_output_folder_that_cannot_be_written(run: Any, setup_file: Path) -> None:
    """A file in its way, which stops root too; the footage is not even read."""
    (setup_file.parent / "taken").write_text("notes")
    code, stdout, stderr = run(
        "match", setup_file, "--out", setup_file.parent / "taken" / "results", "--quiet", "--no-pictures"
    )
    assert (code, stdout) == (3, "")
    assert stderr.count("\n") == 1 and "taken" in stderr
    assert (setup_file.parent / "taken").read_text() == "notes"


def test_the_installed_script_ends_the_same_way(setup_file: Path) -> None:
    script, gone = Path(sys.executable).parent / "huemend", setup_file.parent / "gone.toml"
    done = subprocess.run([str(script), "match", str(gone)], capture_output=True, text=True)
    assert done.returncode == 3 and done.stdout == ""
    assert done.stderr == f"huemend: {gone}: there is no such setup file; `huemend new FOLDER` drafts one\n"
