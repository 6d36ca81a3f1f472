"""The public names as docs/python.md and README show them: run as they stand there."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from skimage.transform import downscale_local_mean

import huemend
from huemend.base.units import acescct_encode
from huemend.media.pictures import write_picture
from tests.correspond.made_views import wide_and_close

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parent.parent


def blocks(name: str) -> list[str]:
    return re.findall(r"```python\n(.*?)```", (ROOT / name).read_text(encoding="utf-8"), re.DOTALL)


@pytest.fixture(scope="module")
def bakery(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the setup that the documents speak of."""
    folder = tmp_path_factory.mktemp("shoot")
    (folder / "bakery").mkdir()
    for name, still in zip(("wide", "left"), wide_and_close(), strict=True):
        # A quarter of their pixels, as many as can still be matched: nothing here looks at what comes of it.
        small = downscale_local_mean(np.asarray(still.rgb), (2, 2, 1))
        write_picture(folder / "bakery" / f"{name}.png", acescct_encode(small), 16)
    angles = "".join(
        f'[angle.{name}]\nmedia = ["{name}.png"]\nencoding = "ACEScct"\n' for name in ("wide", "left")
    )
    (folder / "bakery" / "setup.toml").write_text(f'[setup]\nname = "bakery"\nhero = "wide"\n{angles}')
    return folder


@pytest.fixture(scope="module")
def result(bakery: Path) -> huemend.SetupResult:
    return huemend.match_setup(huemend.load_setup(bakery / "bakery" / "setup.toml"))


def test_the_documents_show_what_runs(
    bakery: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(bakery)
    (readme,) = blocks("README.md")
    load, look, without, options, _ = blocks("docs/python.md")
    # README tells the same as the page.
    assert readme == load
    names: dict[str, object] = {"pixels": np.full((2, 3), 0.18)}
    exec(load, names)
    told = capsys.readouterr().out
    assert re.match(r"<left: (matched|review), [+-]\d\.\d\d stop, \d+\.\d -> \d+\.\d>\n  \w", told), told
    record = json.loads((bakery / "bakery/match/report.json").read_text(encoding="utf-8"))
    assert record["schema"] == huemend.record_schema()["properties"]["schema"]["const"]
    exec(look, names)
    exec(without, names)
    assert isinstance(names["setup"], huemend.Setup)
    exec(options.splitlines()[0], names)


def test_one_call_writes_the_files_of_two(result: huemend.SetupResult, tmp_path: Path) -> None:
    one = huemend.match_and_write(result.setup, tmp_path / "one")
    assert huemend.write_match(result, tmp_path / "two") == tmp_path / "two"
    files = sorted(path.relative_to(tmp_path / "one") for path in (tmp_path / "one").rglob("*") if path.is_file())
    assert Path("report.json") in files and len(files) > 5
    for file in files:
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes(), file
    assert one["left"].verdict in (huemend.Verdict.MATCHED, huemend.Verdict.REVIEW)


def test_a_day_in_one_process_goes_on_after_bad_input(
    bakery: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(bakery / "bakery", tmp_path / "bakery")
    names: dict[str, object] = {"huemend": huemend}
    exec(blocks("docs/python.md")[-1], names)
    good, bad = tmp_path / "bakery" / "setup.toml", tmp_path / "none.toml"
    told = names["match_day"]([str(bad), str(good)])  # type: ignore[operator]
    assert "there is no such setup file" in told[str(bad)]
    assert told[str(good)] in ("matched", "review")


def test_reprs_fit_a_notebook(result: huemend.SetupResult) -> None:
    assert repr(result.setup) == "<bakery, hero wide: left>"
    assert repr(result).startswith("<bakery, hero wide: left ")
    left = result["left"]
    for value in (left, left.match, left.held_out, result.stills["wide"][0]):
        assert len(repr(value)) < 600 and "\n" not in repr(value)
    assert "<256x256x3 float32>" in repr(result.stills["wide"][0])
    assert repr(huemend.Match()).startswith("Match(exposure_stops=0.0, matrix=[[1.0, 0.0, 0.0], ")
    with pytest.raises(KeyError, match="no angle 'lft'; there are left"):
        result["lft"]


def run(*args: str, content: str, folder: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "huemend", *args]
    return subprocess.run(command, input=content, capture_output=True, text=True, cwd=folder)


def test_a_setup_may_come_from_standard_input(bakery: Path, tmp_path: Path) -> None:
    said = (bakery / "bakery" / "setup.toml").read_text(encoding="utf-8")
    done = run("match", "-", "--out", str(tmp_path / "out"), "--quiet", "--fail-on", "never", content=said,
               folder=bakery / "bakery")  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "out" / "report.json").is_file()
    # What comes that way is held to what a file is held to, and told as what it is.
    done = run("match", "-", content="hero = ", folder=tmp_path)
    assert done.returncode == 3 and done.stderr.startswith("huemend: standard input: is not valid TOML")
    done = run("match", "-", content="# " + "x" * 3_000_000, folder=tmp_path)
    assert done.returncode == 3 and "standard input: is too large for a setup file" in done.stderr
    assert list(tmp_path.iterdir()) == [tmp_path / "out"]


def test_help_of_match_takes_a_moment() -> None:
    # Processor time of the child, which a busy machine does not stretch as it does the clock's.
    script = (
        "import os, subprocess, sys\n"
        "command = [sys.executable, '-m', 'huemend', 'match', '--help']\n"
        "subprocess.run(command, stdout=subprocess.DEVNULL, check=True)\n"
        "times = os.times()\nprint(times.children_user + times.children_system)"
    )
    spent = min(
        float(subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout)
        for _ in range(3)
    )
    assert spent < 0.3
