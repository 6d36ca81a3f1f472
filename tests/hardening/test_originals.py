"""No command writes over, empties or removes a file that huemend did not write, whatever is asked or lies there.

Every case runs a command and looks at the whole folder before and after: exit code, one line, every byte.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from huemend.base.kept import LEDGER
from huemend.base.lock import LOCK
from huemend.write.record_reading import JOURNAL, RECORD, is_whole
from tests.hardening.places import Said, changes, command, fresh, made, match, snapshot

pytestmark = pytest.mark.slow

Change = Callable[[Path], object]


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("made"))


def refused(said: Said, *words: str) -> None:
    """Check that a command was refused in one line that says so."""
    assert said.code == 3, said
    assert len(said.stderr.splitlines()) == 1 and said.stderr.startswith("huemend: "), said.stderr
    for word in words:
        assert word in said.stderr, said.stderr


# ------------------------------------------------------------------------- what stands where a result would be


def a_file(path: Path, original: Path) -> None:
    path.write_bytes(b"somebody's work")


def a_link(path: Path, original: Path) -> None:
    path.symlink_to(original)


def a_hard_link(path: Path, original: Path) -> None:
    os.link(original, path)


def a_pipe(path: Path, original: Path) -> None:
    os.mkfifo(path)


def a_folder(path: Path, original: Path) -> None:
    path.mkdir()
    (path / "inside").write_bytes(b"somebody's work")


def a_dead_link(path: Path, original: Path) -> None:
    path.symlink_to("nowhere")


KINDS = {
    "a file": a_file,
    "a link to an original": a_link,
    "a hard link to an original": a_hard_link,
    "a pipe": a_pipe,
    "a folder": a_folder,
    "a link to nowhere": a_dead_link,
}
WRITTEN = (
    "contact.png",
    "report.html",
    RECORD,
    "wall.ccc",
    "luts/wall_B_match.cube",
    "luts/wall_A_view.cube",
    JOURNAL,
    LOCK,
)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", WRITTEN)
def test_match_leaves_what_stands_in_its_way(template: Path, tmp_path: Path, name: str, kind: str) -> None:
    folder = fresh(tmp_path, template)
    out = folder / "results"
    (out / name).parent.mkdir(parents=True)
    KINDS[kind](out / name, folder / "A.png")
    before = snapshot(tmp_path)
    refused(match(folder / "setup.toml", out), Path(name).name)
    assert snapshot(tmp_path) == before


@pytest.mark.parametrize("name", ["contact.png", "report.html", "luts/wall_B_match.cube"])
def test_match_into_the_folder_of_the_media(template: Path, tmp_path: Path, name: str) -> None:
    """An original that happens to be called like a result, named by the setup or not."""
    folder = fresh(tmp_path, template, lambda folder: shutil.rmtree(folder / "match"))
    (folder / name).parent.mkdir(exist_ok=True)
    shutil.copy(folder / "B.png", folder / name)
    before = snapshot(tmp_path)
    refused(match(folder / "setup.toml", folder), name)
    assert snapshot(tmp_path) == before


def test_an_original_is_safe_even_where_huemend_wrote_it(template: Path, tmp_path: Path) -> None:
    """The contact sheet of an earlier match, named as a medium, is an original from then on."""
    folder = fresh(tmp_path, template)
    assert match(folder / "setup.toml", folder / "match").code == 0
    text = (folder / "setup.toml").read_text()
    (folder / "setup.toml").write_text(text.replace('"B.png"', '"match/contact.png"'))
    before = snapshot(tmp_path)
    refused(match(folder / "setup.toml", folder / "match"), "contact.png: is a source of this setup")
    assert snapshot(tmp_path) == before


@pytest.mark.parametrize("where", ["outside", "the media", "nowhere"])
def test_a_folder_of_luts_that_is_a_link(template: Path, tmp_path: Path, where: str) -> None:
    folder = fresh(tmp_path, template)
    (tmp_path / "outside").mkdir()
    leads = {"outside": tmp_path / "outside", "the media": folder, "nowhere": tmp_path / "none"}[where]
    out = folder / "results"
    out.mkdir()
    (out / "luts").symlink_to(leads)
    before = snapshot(tmp_path)
    refused(match(folder / "setup.toml", out), "results/luts: is a link that leads elsewhere")
    assert snapshot(tmp_path) == before


def test_a_folder_for_ranges_that_is_a_link(template: Path, tmp_path: Path) -> None:
    """Told before the match, not after it."""
    folder = fresh(tmp_path, template)
    (tmp_path / "outside").mkdir()
    (folder / "results-segments").symlink_to(tmp_path / "outside")
    before = snapshot(tmp_path)
    said = match(folder / "setup.toml", folder / "results", "--segments")
    refused(said, "results-segments: is a link that leads elsewhere")
    assert snapshot(tmp_path) == before


def test_a_result_that_somebody_changed_is_somebody_s(template: Path, tmp_path: Path) -> None:
    folder = fresh(tmp_path, template)
    lut = folder / "match" / "luts" / "wall_B_match.cube"
    lut.write_text("# tuned by hand\n" + lut.read_text())
    before = snapshot(tmp_path)
    refused(match(folder / "setup.toml", folder / "match"), "wall_B_match.cube: is there already, and is not as")
    assert snapshot(tmp_path) == before


def test_a_second_match_replaces_the_first(template: Path, tmp_path: Path) -> None:
    folder = fresh(tmp_path, template)
    before = snapshot(tmp_path)
    assert match(folder / "setup.toml", folder / "match", "--lut-size", 9).code == 0
    assert is_whole(folder / "match")
    own = {name for name in before if name.startswith("setup/match/")}
    assert changes(before, snapshot(tmp_path), own) == []
    assert not [name for name in snapshot(tmp_path) if "/." in name and "baked" not in name]


# --------------------------------------------------------------------------------- records that say what is not so


def entry(path: str, data: bytes) -> dict[str, object]:
    return {"path": path, "sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}


def with_files(record: Path, *entries: dict[str, object]) -> None:
    said = json.loads(record.read_text())
    said["files"] += entries
    record.write_text(json.dumps(said))


#: What a forged record lists, from the output folder; each with the hash that the file has.
FORGED = {
    "an original": "A.png",
    "an original, up and down": "match/../A.png",
    "an original one level up": "../A.png",
    "an original two levels up": "../../setup/A.png",
    "an original through a link": "link/A.png",
    "another's picture": "other.png",
    "the setup file": "setup.toml",
    "nothing": "",
    "the folder": ".",
}


@pytest.mark.parametrize("how", ["record", "journal"])
@pytest.mark.parametrize("what", FORGED)
def test_what_a_forged_record_lists_stays(template: Path, tmp_path: Path, what: str, how: str) -> None:
    folder = fresh(tmp_path, template)
    out = folder
    for path in (folder / "match").iterdir():
        shutil.move(path, folder / path.name)
    (folder / "other.png").write_bytes((folder / "B.png").read_bytes())
    (folder / "link").symlink_to(folder)
    own = set(snapshot(folder)) - {"A.png", "B.png", "other.png", "setup.toml", "link"}
    path = FORGED[what]
    found = folder / path
    listed = entry(path, found.read_bytes() if found.is_file() else b"")
    if how == "record":
        with_files(folder / RECORD, listed)
    else:
        line = json.dumps([listed["sha256"], "", path])
        (folder / JOURNAL).write_text(f"huemend-written/1\n{line}\n")
    before = snapshot(folder)
    said = match(folder / "setup.toml", out)
    assert said.code in (0, 3) and "Traceback" not in said.stderr
    assert changes(before, snapshot(folder), {*own, JOURNAL}) == []


@pytest.mark.parametrize(
    "text", ["", "- A.png\n", "huemend-written/2\n", "\0\0\0", "huemend-written/1\n" + "[" * 10_000 + "\n"]
)
def test_a_journal_of_another_kind(template: Path, tmp_path: Path, text: str) -> None:
    folder = fresh(tmp_path, template)
    (folder / "match" / JOURNAL).write_text(text)
    before = snapshot(folder)
    said = match(folder / "setup.toml", folder / "match")
    ours = not text or text.startswith("huemend-written/1")
    assert said.code == (0 if ours else 3), said.stderr
    kept = {name for name in before if not name.startswith("match")}
    after = snapshot(folder)
    assert {name: after[name] for name in kept} == {name: before[name] for name in kept}
    if not ours:
        refused(said, JOURNAL, "was not written by huemend")
        assert after == before


@pytest.mark.parametrize("text", ["mine", "two words\n", "host 12 more\n", "x" * 5000])
def test_a_lock_file_of_somebody_s_is_neither_emptied_nor_removed(
    template: Path, tmp_path: Path, text: str
) -> None:
    folder = fresh(tmp_path, template)
    (folder / "match" / LOCK).write_text(text)
    before = snapshot(folder)
    refused(match(folder / "setup.toml", folder / "match"), LOCK, "was not written by huemend")
    assert snapshot(folder) == before


def test_a_lock_file_of_a_dead_run_is_taken_over(template: Path, tmp_path: Path) -> None:
    folder = fresh(tmp_path, template)
    (folder / "match" / LOCK).write_text("somewhere 123\n")
    assert match(folder / "setup.toml", folder / "match").code == 0
    assert not (folder / "match" / LOCK).exists()


# ------------------------------------------------------------------------------------------------------- baking


@pytest.mark.parametrize("overwrite", [False, True])
@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "a hard link to an original"])
def test_bake_leaves_what_stands_in_its_way(template: Path, tmp_path: Path, kind: str, overwrite: bool) -> None:
    folder = fresh(tmp_path, template)
    out = folder / "out"
    out.mkdir()
    KINDS[kind](out / "B.tif", folder / "A.png")
    before = snapshot(tmp_path)
    more = ["--overwrite"] if overwrite else []
    refused(command("bake", folder / "setup.toml", "B", "--quiet", "--out", out, *more))
    assert snapshot(tmp_path) == before


def other_original(folder: Path) -> None:
    """Let the hero's original be called as the baked picture of B would be, in a folder of its own."""
    (folder / "wide").mkdir()
    (folder / "A.png").rename(folder / "wide" / "B.tif")
    text = (folder / "setup.toml").read_text()
    (folder / "setup.toml").write_text(text.replace('"A.png"', '"wide/B.tif"'))


@pytest.mark.parametrize("overwrite", [False, True])
@pytest.mark.parametrize("through", ["itself", "a link to its folder", "a link to it", "a hard link to it"])
def test_bake_leaves_another_angle_s_original(
    template: Path, tmp_path: Path, through: str, overwrite: bool
) -> None:
    folder = fresh(tmp_path, template, other_original)
    out = folder / "out"
    if through == "itself":
        out = folder / "wide"
    elif through == "a link to its folder":
        out.symlink_to("wide")
    else:
        out.mkdir()
        make = a_link if through == "a link to it" else a_hard_link
        make(out / "B.tif", folder / "wide" / "B.tif")
    before = snapshot(tmp_path)
    more = ["--overwrite"] if overwrite else []
    said = command("bake", folder / "setup.toml", "B", "--quiet", "--out", out, *more)
    refused(said, "is a source of this setup")
    assert snapshot(tmp_path) == before


def test_bake_s_overwrite_replaces_what_bake_left_and_nothing_else(template: Path, tmp_path: Path) -> None:
    folder = fresh(tmp_path, template)
    (picture,) = (folder / "baked").rglob("B.tif")
    first = picture.read_bytes()
    told = ("bake", folder / "setup.toml", "B", "--quiet")
    assert "1 were there" in command(*told).stdout
    assert match(folder / "setup.toml", folder / "match", "--lut-size", 9).code == 0
    refused(command(*told), "another match")
    assert command(*told, "--overwrite").code == 0
    assert picture.read_bytes() != first
    picture.write_bytes(b"retouched")
    before = snapshot(tmp_path)
    refused(command(*told), "another match")
    refused(command(*told, "--overwrite"), "B.tif: is there already, and is not as huemend left it")
    assert snapshot(tmp_path) == before


@pytest.mark.parametrize("name", [LEDGER, LOCK])
@pytest.mark.parametrize("kind", KINDS)
def test_bake_leaves_what_has_the_name_of_its_own_files(
    template: Path, tmp_path: Path, name: str, kind: str
) -> None:
    folder = fresh(tmp_path, template)
    out = folder / "out"
    out.mkdir()
    KINDS[kind](out / name, folder / "A.png")
    before = snapshot(tmp_path)
    refused(command("bake", folder / "setup.toml", "B", "--quiet", "--out", out), name)
    assert snapshot(tmp_path) == before


# ------------------------------------------------------------------------------------- templates, drafts, the demo


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", ["A.png", "setup.toml", "job.json"])
def test_a_farm_template_replaces_nothing(template: Path, tmp_path: Path, name: str, kind: str) -> None:
    folder = fresh(tmp_path, template)
    target = folder / name
    if name == "job.json":
        KINDS[kind](target, folder / "B.png")
    before = snapshot(tmp_path)
    refused(command("farm-template", tmp_path, "--out", target), name)
    assert snapshot(tmp_path) == before


def test_a_farm_template_of_ours_is_made_anew(template: Path, tmp_path: Path) -> None:
    fresh(tmp_path, template)
    target = tmp_path / "job.json"
    assert command("farm-template", tmp_path, "--out", target).code == 0
    first = target.read_bytes()
    assert command("farm-template", tmp_path, "--out", target, "--carry").code == 0
    assert target.read_bytes() != first and [p.name for p in tmp_path.iterdir() if p.name[0] == "."] == []


@pytest.mark.parametrize("kind", KINDS)
def test_a_draft_replaces_nothing(template: Path, tmp_path: Path, kind: str) -> None:
    folder = fresh(tmp_path, template)
    (folder / "setup.toml").unlink()
    shutil.rmtree(folder / "match")
    KINDS[kind](folder / "setup.toml", folder / "A.png")
    before = snapshot(tmp_path)
    refused(command("new", folder, "--encoding", "ACEScct"), "is there already, and is never overwritten")
    assert snapshot(tmp_path) == before


@pytest.mark.parametrize("kind", KINDS)
def test_the_demo_replaces_nothing(template: Path, tmp_path: Path, kind: str) -> None:
    folder = fresh(tmp_path, template)
    KINDS[kind](tmp_path / "demo", folder / "A.png")
    before = snapshot(tmp_path)
    refused(command("demo", tmp_path / "demo"), "is there already")
    assert snapshot(tmp_path) == before


# -------------------------------------------------------------------------------------------------------- days


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", ["index.html", "day.csv", LEDGER, LOCK])
def test_a_day_s_index_replaces_nothing(template: Path, tmp_path: Path, name: str, kind: str) -> None:
    fresh(tmp_path, template)
    out = tmp_path / "out"
    out.mkdir()
    KINDS[kind](out / name, tmp_path / "setup" / "A.png")
    before = snapshot(tmp_path)
    refused(command("day", tmp_path, "--out", out, "--index-only", "--quiet"), name)
    # Told before an hour's work, not after it.
    refused(command("day", tmp_path, "--out", out, "--quiet"), name)
    assert snapshot(tmp_path) == before


def test_an_index_is_made_anew_unless_somebody_changed_it(template: Path, tmp_path: Path) -> None:
    fresh(tmp_path, template)
    out = tmp_path / "out"
    told = ("day", tmp_path, "--out", out, "--index-only", "--quiet", "--fail-on", "never")
    assert command(*told).code == command(*told).code != 3
    (out / "day.csv").write_text((out / "day.csv").read_text() + "a note\n")
    before = snapshot(tmp_path)
    refused(command(*told), "day.csv: is there already, and is not as huemend left it")
    assert snapshot(tmp_path) == before


@pytest.mark.parametrize("link", ["setup", "deep", "deep/setup", "setup/luts"])
def test_a_day_s_folder_of_a_setup_that_is_a_link(template: Path, tmp_path: Path, link: str) -> None:
    """Results, and the state that tells of a failure, go nowhere but below the day's folder."""
    from huemend.day.plan import find_day
    from huemend.day.run import tasks_of
    from huemend.day.task import Status, run_setup
    from huemend.options import MatchOptions

    fresh(tmp_path / ("deep" if "deep" in link else ""), template)
    out, elsewhere = tmp_path / "out", tmp_path / "elsewhere"
    (out / link).parent.mkdir(parents=True)
    elsewhere.mkdir()
    (out / link).symlink_to(elsewhere)
    (task,) = tasks_of(find_day(tmp_path, leave_out=out), out, MatchOptions())
    before = snapshot(tmp_path)
    outcome = run_setup(task)
    assert outcome.status is Status.FAILED and "is a link that leads elsewhere" in outcome.error
    assert changes(before, snapshot(tmp_path)) == [] and list(elsewhere.iterdir()) == []


@pytest.mark.parametrize("text", ["mine", "{}", '{"schema": "other/1"}'])
def test_a_state_of_somebody_s_stays(template: Path, tmp_path: Path, text: str) -> None:
    from huemend.base.originals import Guard
    from huemend.day.state import STATE, RunState, write_state
    from huemend.errors import OutputError

    (tmp_path / STATE).write_text(text)
    with pytest.raises(OutputError, match="is not as huemend left it"):
        write_state(tmp_path, RunState(done=False, error="x"), Guard())
    assert (tmp_path / STATE).read_text() == text
    (tmp_path / STATE).unlink()
    for error in ("one", "two"):
        write_state(tmp_path, RunState(done=False, error=error), Guard())
    assert '"two"' in (tmp_path / STATE).read_text()


@pytest.mark.parametrize("text", ["", "{}", "mine", '{"schema": "other/1"}', '{"schema": "huemend-record/2"}'])
def test_a_file_called_report_json_hides_no_setup(template: Path, tmp_path: Path, text: str) -> None:
    for name in ("beside", "above/inner"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        shutil.copytree(template / "0000", tmp_path / name, ignore=shutil.ignore_patterns("match", "baked"))
    (tmp_path / "beside" / RECORD).write_text(text)
    (tmp_path / "above" / RECORD).write_text(text)
    said = command("day", tmp_path, "--dry-run", "--json")
    assert set(json.loads(said.stdout)["setups"]) == {"beside", "above/inner"}, said.stdout


def test_a_setup_that_was_matched_into_its_own_folder_is_still_one(template: Path, tmp_path: Path) -> None:
    folder = fresh(tmp_path, template)
    assert match(folder / "setup.toml", folder).code == 0
    said = command("day", tmp_path, "--dry-run", "--json")
    assert set(json.loads(said.stdout)["setups"]) == {"setup"}


EDL = """TITLE: reel one
FCM: NON-DROP FRAME
001  B        V     C        01:00:00:00 01:00:02:00 00:00:00:00 00:00:02:00
* FROM CLIP NAME: B.png
"""


def test_the_names_that_are_looked_at_before_the_work_are_those_that_are_written(
    template: Path, tmp_path: Path
) -> None:
    """And they are such as may be cleared away when a later match doesn't write them again."""
    from huemend.flow.deliver import output_folder
    from huemend.options import MatchOptions
    from huemend.sample.setupfile import load_setup
    from huemend.write.outputs import is_output
    from huemend.write.timeline.clips import read_timeline

    folder = fresh(tmp_path, template)
    (folder / "reel.edl").write_text(EDL)
    before = snapshot(folder)
    said = match(folder / "setup.toml", folder / "match", "--edl", folder / "reel.edl")
    assert said.code == 0, said
    record = json.loads((folder / "match" / RECORD).read_text())
    written = {file["path"] for file in record["files"]}
    timeline = read_timeline(folder / "reel.edl")
    setup = load_setup(folder / "setup.toml")
    assert written <= set(output_folder(setup, folder, MatchOptions(), timeline).expected)
    assert "wall_cdl.edl" in written and [path for path in written if not is_output(path)] == []
    assert match(folder / "setup.toml", folder / "match").code == 0
    assert set(snapshot(folder)) == set(before)


@pytest.mark.parametrize("name", ["wall_cdl.edl", "wall_clips.csv"])
def test_a_timeline_called_like_a_result(template: Path, tmp_path: Path, name: str) -> None:
    """An EDL that huemend wrote, and that somebody reads in again, is somebody's from then on."""
    folder = fresh(tmp_path, template)
    (folder / "reel.edl").write_text(EDL)
    assert match(folder / "setup.toml", folder / "match", "--edl", folder / "reel.edl").code == 0
    timeline = folder / "match" / "wall_cdl.edl"
    if name == "wall_clips.csv":
        (folder / "match" / name).write_text("somebody's list")
        timeline = folder / "reel.edl"
    before = snapshot(folder)
    refused(match(folder / "setup.toml", folder / "match", "--edl", timeline), name)
    assert snapshot(folder) == before
