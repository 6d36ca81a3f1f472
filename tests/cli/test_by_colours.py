"""``--by-colours``: asked for or not, what a run of the command line says and writes."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from huemend.media.pictures import write_picture
from huemend.options import ColourOptions
from tests.cli.conftest import picture
from tests.conftest import Run

pytestmark = pytest.mark.slow

PALETTE = np.array(
    [
        [0.42, 0.30, 0.22], [0.20, 0.13, 0.09], [0.30, 0.20, 0.12], [0.55, 0.54, 0.52], [0.35, 0.10, 0.07],
        [0.10, 0.13, 0.28], [0.12, 0.22, 0.09], [0.50, 0.40, 0.15], [0.16, 0.30, 0.33], [0.06, 0.06, 0.06],
    ]
)  # fmt: skip
#: What brings the angle back to the hero: about half a stop, warmer.
GAIN = 2**0.5 * np.array([1.06, 1.0, 0.88])
#: The angle looks at sides of the set that are lit less, as is assumed of views that share no surface.
LIT = 2 ** -ColourOptions().darker


def blobs(seed: int) -> np.ndarray:
    """Soft fields of a palette without any detail that features could hold on to, shaded across the frame."""
    rng = np.random.default_rng(seed)
    ys, xs = np.mgrid[0:270, 0:480] / 480
    places = rng.uniform([0, 0], [0.56, 1], (40, 2))
    nearest = ((ys[..., None] - places[:, 0]) ** 2 + (xs[..., None] - places[:, 1]) ** 2).argmin(-1)
    shade = np.exp2(0.5 * np.sin(5 * xs + rng.uniform(0, 6)) * np.cos(4 * ys + rng.uniform(0, 6)))
    light = PALETTE[rng.permutation(40) % len(PALETTE)][nearest] * shade[..., None]
    return light * (1 + 0.02 * rng.normal(size=light.shape))


def codes(linear: np.ndarray) -> np.ndarray:
    return (np.log2(np.maximum(linear, 0.008)) + 9.72) / 17.52  # ACEScct above its toe (S-2016-001)


@pytest.fixture
def wide_views(tmp_path: Path) -> Path:
    """A hero, an angle that shows the same colours elsewhere, and one that shows other colours."""
    pictures = {
        "wide": codes(blobs(1)),
        "side": codes(blobs(2) * LIT / GAIN),
        "alien": codes(blobs(3) ** [0.3, 1.0, 2.5]),
    }
    said = '[setup]\nname = "far"\nhero = "wide"\n'
    for name, values in pictures.items():
        write_picture(tmp_path / f"{name}.png", values, 16)
        said += f'[angle.{name}]\nmedia = ["{name}.png"]\nencoding = "ACEScct"\n'
    path = tmp_path / "setup.toml"
    path.write_text(said)
    return path


def reasons(record: dict[str, object], angle: str) -> list[str]:
    return [reason["code"] for reason in record["angles"][angle]["reasons"]]  # type: ignore[index]


def test_it_is_asked_for_and_always_to_be_reviewed(run: Run, wide_views: Path) -> None:
    code, out, _ = run("match", wide_views, "--json")
    record = json.loads(out)
    assert code == 5
    for name in ("side", "alien"):
        assert record["angles"][name]["verdict"] == "unsolved"
        assert reasons(record, name) == ["nothing-shared"]
        assert "--by-colours" in record["angles"][name]["reasons"][0]["todo"]
    assert not list((wide_views.parent / "match" / "luts").glob("*_match.cube"))

    code, out, _ = run("match", wide_views, "--json", "--by-colours")
    record = json.loads(out)
    assert code == 5  # The alien has nothing that the hero shows, by colours either.
    assert record["angles"]["alien"]["verdict"] == "unsolved"
    assert reasons(record, "alien") == ["nothing-shared", "colours-apart"]
    side = record["angles"]["side"]
    assert side["verdict"] == "review" and side["held_out"] is None
    assert reasons(record, "side")[0] == "by-colours"
    shrinkage = ColourOptions().shrinkage
    assert side["exposure_stops"] == pytest.approx(0.5 * shrinkage, abs=0.2)
    balance = np.log2(np.array(side["matrix"]).sum(1))
    assert balance - balance[1] == pytest.approx(shrinkage * (np.log2(GAIN) - np.log2(GAIN[1])), abs=0.04)
    cubes = [path.name for path in (wide_views.parent / "match" / "luts").glob("*_match.cube")]
    assert cubes == ["far_side_match.cube"]
    title = (wide_views.parent / "match" / "luts" / cubes[0]).read_text().partition("\n")[0]
    assert "review" in title.lower()
    page = (wide_views.parent / "match" / "report.html").read_text("utf-8")
    assert "colours alone" in page


def test_a_variable_asks_for_it_too(run: Run, wide_views: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HUEMEND_MATCH_BY_COLOURS", "1")
    _, out, _ = run("match", wide_views, "--json", "--no-pictures")
    assert json.loads(out)["angles"]["side"]["verdict"] == "review"


def test_an_angle_that_is_solved_without_it_keeps_every_byte(run: Run, setup_file: Path) -> None:
    write_picture(setup_file.parent / "side.png", picture(7) ** 1.4, 16)
    with setup_file.open("a") as said:
        said.write('[angle.side]\nmedia = ["side.png"]\nencoding = "ACEScct"\n')
    records, cubes = [], []
    for more in ((), ("--by-colours",)):
        out = setup_file.parent / f"out{len(more)}"
        _, text, _ = run("match", setup_file, "--json", "--no-pictures", "--out", out, *more)
        records.append(json.loads(text)["angles"]["left"])
        cubes.append([path.read_bytes() for path in sorted(out.rglob("luts/bench_left*"))])
    assert records[0] == records[1] and records[0]["verdict"] != "unsolved"
    assert cubes[0] == cubes[1] and cubes[0]


def test_a_day_can_ask_for_it(run: Run, wide_views: Path) -> None:
    code, out, _ = run("day", wide_views.parent, "--json", "--by-colours", "--no-pictures", "--jobs", 1)
    assert code == 5
    assert "review" in out
