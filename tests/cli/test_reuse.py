"""An earlier match written again with other nudges: as if it had been solved with them, and never otherwise."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from huemend.cli import huemend
from huemend.cli.boundary import run as run_group
from tests.conftest import Run
from tests.correspond.test_areas import pair_line, write_views

pytestmark = pytest.mark.slow

NUDGE = "nudge = {exposure = 0.05, blue = -0.02}\n"


def arguments(setup: Path, *more: str) -> list[str]:
    return ["match", str(setup), "--fail-on", "never", "--marks-only", "--quiet", *more]


def files(out: Path) -> dict[str, bytes]:
    return {str(path.relative_to(out)): path.read_bytes() for path in sorted(out.rglob("*")) if path.is_file()}


@pytest.fixture(scope="module")
def matched(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a setup and its match: two flat views, four marked areas."""
    folder = tmp_path_factory.mktemp("again")
    at = write_views(folder)
    marks = "".join(pair_line(f"area {k}", k, at) for k in (0, 3, 7, 14))
    text = '[setup]\nname = "small"\nhero = "wide"\n'
    for name in ("wide", "close"):
        text += f'[angle.{name}]\nmedia = ["{name}.png"]\nencoding = "S-Log3/S-Gamut3.Cine"\n#{name}\n'
    (folder / "setup.toml").write_text(text + marks, "utf-8")
    assert run_group(huemend, arguments(folder / "setup.toml")) == 0
    return folder


@pytest.fixture
def copied(matched: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "copy"
    shutil.copytree(matched, folder)
    return folder / "setup.toml"


def change(setup: Path, old: str, new: str) -> None:
    text = setup.read_text("utf-8")
    assert old in text
    setup.write_text(text.replace(old, new), "utf-8")


def test_without_a_change_every_byte_comes_out_again(copied: Path, run: Run) -> None:
    before = files(copied.parent / "match")
    luts = {path: path.stat().st_ino for path in (copied.parent / "match/luts").iterdir()}
    assert run(*arguments(copied, "--reuse"))[0] == 0
    assert files(copied.parent / "match") == before
    # LUTs that stand there as they would come out are not written again.
    assert luts and {path: path.stat().st_ino for path in luts} == luts


def test_a_nudge_comes_out_as_if_it_had_been_there_from_the_start(copied: Path, tmp_path: Path, run: Run) -> None:
    change(copied, "#close\n", NUDGE)
    assert run(*arguments(copied, "--reuse"))[0] == 0
    again = files(copied.parent / "match")
    fresh = tmp_path / "fresh"
    assert run(*arguments(copied, "--out", str(fresh)))[0] == 0
    assert again == files(fresh)
    record = json.loads(again["report.json"])
    assert record["angles"]["close"]["nudge"] == {"exposure": 0.05, "red": 0.0, "blue": -0.02}
    # And away again: what was solved is not touched.
    change(copied, NUDGE, "")
    assert run(*arguments(copied, "--reuse"))[0] == 0
    assert json.loads(files(copied.parent / "match")["report.json"])["angles"]["close"]["nudge"] is None


def test_nothing_is_solved(copied: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def solve(*_: object, **__: object) -> None:
        raise AssertionError("solved anew")

    monkeypatch.setattr("huemend.flow.angles.fit", solve)
    monkeypatch.setattr("huemend.flow.match.detect_all", solve)
    # Nor is anything chosen or made that a nudge leaves as it is: here, all.
    monkeypatch.setattr("huemend.write.report.crops.choose_surfaces", solve)
    monkeypatch.setattr("huemend.write.luts.cube.make_cube", solve)
    monkeypatch.setattr("huemend.write.luts.cdl.closest_cdl", solve)
    assert run(*arguments(copied, "--reuse"))[0] == 0


def test_a_file_that_is_gone_is_made_again(copied: Path, run: Run) -> None:
    before = files(copied.parent / "match")
    next((copied.parent / "match/luts").glob("*close_match.cube")).unlink()
    assert run(*arguments(copied, "--reuse"))[0] == 0
    assert files(copied.parent / "match") == before


def refused(run: Run, setup: Path, *more: str) -> str:
    before = files(setup.parent / "match")
    code, out, said = run(*arguments(setup, "--reuse", *more))
    assert code == 3 and not out and "match without --reuse" in said, said
    assert len(said.strip().splitlines()) == 1
    assert files(setup.parent / "match") == before
    return said


def test_another_mark_is_no_nudge(copied: Path, run: Run) -> None:
    change(copied, 'name = "area 3"', 'name = "area three"')
    assert "more that is new than nudges" in refused(run, copied)


def test_another_picture_is_named(copied: Path, run: Run) -> None:
    shutil.copy(copied.parent / "wide.png", copied.parent / "close.png")
    assert "close.png is not the picture that was matched" in refused(run, copied)


def test_another_option_is_named(copied: Path, run: Run) -> None:
    assert "solve.roots was True, and now is False" in refused(run, copied, "--model", "matrix")


def test_what_is_handed_over_may_be_of_another_kind(copied: Path, run: Run) -> None:
    """What is written and shown of a match does not change it."""
    assert run(*arguments(copied, "--reuse", "--lut-size", "17", "--no-pictures"))[0] == 0
    record = json.loads((copied.parent / "match/report.json").read_text("utf-8"))
    assert {lut["size"] for lut in record["angles"]["close"]["luts"] if lut["kind"] != "clf"} == {17}
    assert "Pictures were left out of this report" in (copied.parent / "match/report.html").read_text("utf-8")


def test_another_version_is_named(copied: Path, run: Run) -> None:
    record = copied.parent / "match/report.json"
    said = json.loads(record.read_text("utf-8"))
    said["libraries"]["numpy"] = "0.1"
    record.write_text(json.dumps(said), "utf-8")
    assert "numpy 0.1, and this is" in refused(run, copied)


def test_a_file_that_was_touched_is_not_believed(copied: Path, run: Run) -> None:
    kept = copied.parent / "match/solved.npz"
    kept.write_bytes(kept.read_bytes()[:-1] + b"x")
    before = files(copied.parent / "match")
    code, out, said = run(*arguments(copied, "--reuse"))
    assert code == 3 and not out and "solved.npz" in said and len(said.strip().splitlines()) == 1
    assert files(copied.parent / "match") == before


def test_what_another_build_kept_is_refused_in_one_line(copied: Path, run: Run) -> None:
    kept, record = copied.parent / "match/solved.npz", copied.parent / "match/report.json"
    with np.load(kept, allow_pickle=False) as arrays:
        values = {name: arrays[name] for name in arrays.files}
    text = values["what"].tobytes().replace(b'["view_stops"', b'["view_gain"')
    assert text != values["what"].tobytes()
    was = hashlib.sha256(kept.read_bytes()).hexdigest()
    np.savez(kept, **{**values, "what": np.frombuffer(text, np.uint8)})
    now = hashlib.sha256(kept.read_bytes()).hexdigest()
    record.write_text(record.read_text("utf-8").replace(was, now), "utf-8")
    assert "solved.npz: cannot be read" in refused(run, copied)


def test_what_was_kept_holds_no_code_and_no_path(matched: Path) -> None:
    with np.load(matched / "match/solved.npz", allow_pickle=False) as kept:
        text = kept["what"].tobytes().decode()
    assert str(matched) not in text and "wide.png" in text and "/wide.png" not in text


def test_ranges_are_not_matched_apart_from_what_was_solved(copied: Path, run: Run) -> None:
    code, _, said = run(*arguments(copied, "--reuse", "--segments"))
    assert code == 2 and "use one of them" in said
