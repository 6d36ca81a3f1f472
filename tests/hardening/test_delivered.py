"""``bake`` and ``verify`` trust a match only as it was delivered, and only for what it was made for."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from huemend.write.record_reading import JOURNAL, RECORD
from tests.hardening.places import changes, command, fresh, made, match, snapshot

pytestmark = pytest.mark.slow

LUT = "match/luts/wall_B_match.cube"


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("made"))


def text(name: str, change: Callable[[str], str]) -> Callable[[Path], object]:
    """Change a file's text."""
    return lambda folder: (folder / name).write_text(change((folder / name).read_text()))


def angle_says(old: str, new: str) -> Callable[[Path], object]:
    """Change what the setup file says of B, the second angle."""

    def change(said: str) -> str:
        head, mark, tail = said.partition("[angle.B]")
        assert old in tail
        return head + mark + tail.replace(old, new, 1)

    return text("setup.toml", change)


def record(change: Callable[[dict[str, Any]], object]) -> Callable[[Path], object]:
    """Change the record."""

    def apply(folder: Path) -> None:
        said = json.loads((folder / "match" / RECORD).read_text())
        change(said)
        (folder / "match" / RECORD).write_text(json.dumps(said))

    return apply


def lut_elsewhere(path: str) -> Callable[[Path], object]:
    """Let the record say that the match LUT lies elsewhere, and list it there with the right hash."""

    def change(said: dict[str, Any]) -> None:
        entry = next(each for each in said["angles"]["B"]["luts"] if each["kind"] == "match")
        listed = next(each for each in said["files"] if each["path"] == entry["path"])
        entry["path"] = listed["path"] = path

    return record(change)


def lut_link(folder: Path) -> None:
    """Put a link to the very same LUT in its place."""
    shutil.move(folder / LUT, folder / "kept.cube")
    (folder / LUT).symlink_to(folder / "kept.cube")


def luts_link(folder: Path) -> None:
    """Put a link to the very same folder in its place."""
    shutil.move(folder / "match" / "luts", folder / "kept")
    (folder / "match" / "luts").symlink_to(folder / "kept")


def and_copy(path: str, change: Callable[[Path], object]) -> Callable[[Path], object]:
    """Put a copy of the LUT where the record will say that it lies."""

    def apply(folder: Path) -> None:
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(folder / LUT, folder / path)
        change(folder)

    return apply


def unlisted(said: dict[str, Any]) -> None:
    """Take the LUT out of the record's list of files."""
    said["files"] = [each for each in said["files"] if not each["path"].endswith("_match.cube")]


CASES: dict[str, tuple[Callable[[Path], object], str]] = {
    "a LUT changed by one digit": (text(LUT, lambda lut: lut[:-2] + "9\n"), "_match.cube: is not the LUT"),
    "a LUT with a remark more": (text(LUT, lambda lut: f"# mine\n{lut}"), "_match.cube: is not the LUT"),
    "another angle's LUT in its place": (
        lambda folder: shutil.copy(folder / "match/luts/wall_B_view.cube", folder / LUT),
        "_match.cube: is not the LUT",
    ),
    "no LUT": (lambda folder: (folder / LUT).unlink(), "_match.cube: cannot be read"),
    "a LUT that is a link": (lut_link, "_match.cube: "),
    "a folder of LUTs that is a link": (luts_link, "_match.cube: "),
    "a LUT that the record does not list": (record(unlisted), "_match.cube: is not a file that was written"),
    "a LUT above the folder": (and_copy("x.cube", lut_elsewhere("../x.cube")), "match"),
    "a LUT two levels above": (and_copy("../x.cube", lut_elsewhere("../../x.cube")), "match"),
    "a LUT in by and out": (and_copy("x.cube", lut_elsewhere("luts/../../x.cube")), "match"),
    "a LUT at an absolute path": (
        lambda folder: lut_elsewhere(str(folder / LUT))(folder),
        "match",
    ),
    "a journal of a run that was interrupted": (
        lambda folder: (folder / "match" / JOURNAL).write_text("huemend-written/1\n"),
        "holds what an interrupted run left",
    ),
    "a journal of nobody": (
        lambda folder: (folder / "match" / JOURNAL).write_text(""),
        "holds what an interrupted run left",
    ),
    "another encoding": (
        angle_says('"ACEScct"', '"S-Log3/S-Gamut3.Cine"'),
        "B was ACEScct when it was matched, and the setup file now says S-Log3/S-Gamut3.Cine",
    ),
    "an encoding that is not known": (angle_says('"ACEScct"', '"Nobody"'), "Nobody"),
    "another range": (
        angle_says('"ACEScct"', '"ACEScct"\nrange = "legal"'),
        "B was full range when it was matched, and the setup file now says legal range",
    ),
    "a record of another program": (
        lambda folder: (folder / "match" / RECORD).write_text("{}"),
        "report.json: was not written by huemend",
    ),
    "no record": (lambda folder: (folder / "match" / RECORD).unlink(), "there is no report.json"),
}


@pytest.mark.parametrize("name", ["bake", "verify"])
@pytest.mark.parametrize("case", CASES)
def test_what_is_not_as_delivered_is_refused(template: Path, tmp_path: Path, case: str, name: str) -> None:
    spoil, words = CASES[case]
    folder = fresh(tmp_path, template, spoil)
    shutil.rmtree(folder / "baked")
    before = snapshot(tmp_path)
    more = ["B"] if name == "bake" else []
    said = command(name, folder / "setup.toml", *more, "--quiet")
    assert said.code == 3 and len(said.stderr.splitlines()) == 1, said
    assert words in said.stderr and "Traceback" not in said.stderr, said.stderr
    assert snapshot(tmp_path) == before


@pytest.mark.parametrize("name", ["bake", "verify"])
@pytest.mark.parametrize("target", ["angle", "hero"])
def test_the_hero_s_encoding_counts_where_the_lut_leads_to_it(
    template: Path, tmp_path: Path, name: str, target: str
) -> None:
    folder = fresh(tmp_path, template)
    shutil.rmtree(folder / "match")
    angle_says('"ACEScct"', '"V-Log/V-Gamut"')(folder)
    assert match(folder / "setup.toml", folder / "match", "--target", target).code == 0
    text("setup.toml", lambda said: said.replace('"ACEScct"', '"LogC4/AWG4"'))(folder)
    more = ["B"] if name == "bake" else []
    said = command(name, folder / "setup.toml", *more, "--quiet", *([] if more else ["--fail-on", "never"]))
    if target == "hero" or name == "verify":
        assert said.code == 3 and "the hero A was ACEScct" in said.stderr, said
    else:
        # What B becomes does not hang on how A was written.
        assert said.code in (0, 3) and "was ACEScct" not in said.stderr


def test_spelling_is_no_change(template: Path, tmp_path: Path) -> None:
    folder = fresh(tmp_path, template, angle_says('"ACEScct"', '" acescct "'))
    shutil.rmtree(folder / "baked")
    before = snapshot(tmp_path)
    assert command("bake", folder / "setup.toml", "B", "--quiet").code == 0
    assert changes(before, snapshot(tmp_path)) == []
