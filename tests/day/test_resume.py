"""``--resume`` runs what is missing or would come out otherwise, and nothing else."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from huemend.base.originals import Guard
from huemend.day import state as state_module
from huemend.day.plan import DaySetup
from huemend.day.state import (
    STATE,
    RunState,
    fingerprint,
    is_current,
    read_state,
    record_hash,
    still_hashes,
    write_state,
)
from huemend.day.task import SetupTask, Status, run_setup, unchanged
from huemend.errors import EncodingError
from huemend.options import MatchOptions, ReportOptions
from huemend.sample.setupfile import load_setup
from huemend.write.record_reading import is_whole
from tests.day.days import files_of

pytestmark = pytest.mark.slow


def task_of(day: Path, name: str = "01", **told: object) -> SetupTask:
    setup = DaySetup(name=name, path=day / name / "setup.toml")
    task = SetupTask(setup=setup, out=day / "match" / name, options=MatchOptions(), resume=True)
    return replace(task, **told)  # type: ignore[arg-type]


def spoil(path: str, change: Callable[[Path], object]) -> Callable[[Path], object]:
    return lambda day: change(day / path)


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-1])


CHANGES: dict[str, Callable[[Path], object]] = {
    "a still": spoil("01/B.png", lambda path: shutil.copy(path.with_name("A.png"), path)),
    "the setup file": spoil(
        "01/setup.toml", lambda path: path.write_text(path.read_text() + "pixel_aspect = 1.1\n")
    ),
    "a result that is gone": spoil("match/01/luts/wall_B_match.cube", Path.unlink),
    "a result cut short": spoil("match/01/report.html", cut),
    "the record gone": spoil("match/01/report.json", Path.unlink),
    "the state gone": spoil(f"match/01/{STATE}", Path.unlink),
    "a state that is none": spoil(f"match/01/{STATE}", lambda path: path.write_text("{")),
    "a state of another form": spoil(f"match/01/{STATE}", lambda path: path.write_text('{"schema": "x"}')),
    "a journal": spoil("match/01/.huemend-unfinished", lambda path: path.write_text("")),
}


def test_what_did_not_change_is_current(own_day: Path) -> None:
    found = unchanged(task_of(own_day))
    assert found is not None and found.status is Status.UNCHANGED and found.verdicts == {"B": "matched"}
    assert unchanged(task_of(own_day, "02")) is None, "a setup that failed is tried again"


def test_the_time_of_a_still_does_not_matter_nor_does_the_place(own_day: Path, tmp_path: Path) -> None:
    os.utime(own_day / "01" / "A.png", (1, 1))
    moved = tmp_path / "elsewhere"
    own_day.rename(moved)
    assert unchanged(task_of(moved)) is not None


@pytest.mark.parametrize("what", CHANGES)
def test_what_changed_is_not(own_day: Path, what: str) -> None:
    CHANGES[what](own_day)
    assert unchanged(task_of(own_day)) is None


def test_other_options_and_another_version_are_changes(own_day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    options = MatchOptions()
    assert unchanged(task_of(own_day, options=replace(options, write=replace(options.write, lut_size=33)))) is None
    monkeypatch.setattr(state_module, "versions", lambda: {"huemend": "99"})
    assert unchanged(task_of(own_day)) is None


def test_results_of_another_command_in_the_folder_are_not_taken_for_ours(own_day: Path) -> None:
    record = own_day / "match" / "01" / "report.json"
    record.write_text(record.read_text() + "\n")
    assert unchanged(task_of(own_day)) is None


def test_a_setup_is_run_again_only_when_it_must(own_day: Path) -> None:
    """And what comes out is what came out before."""
    before = handed_on(own_day / "match" / "01")
    assert run_setup(task_of(own_day)).status is Status.UNCHANGED
    (own_day / "match" / "01" / "contact.png").unlink()
    assert run_setup(task_of(own_day)).status is Status.DONE
    assert handed_on(own_day / "match" / "01") == before


def handed_on(folder: Path) -> dict[str, object]:
    """Return what a result hands on, file by file.

    Left out are the numbers that a match is written again from, and what holds their hash: they are kept to the
    last bit, in which linear algebra of the worker, kept to one thread, and that of this process may differ.
    """
    files: dict[str, object] = dict(files_of(folder))
    for name in ("solved.npz", ".huemend-run.json"):
        assert files.pop(name)
    record = json.loads((folder / "report.json").read_text("utf-8"))
    record["files"] = [file for file in record["files"] if file["path"] != "solved.npz"]
    return files | {"report.json": record}


def test_bad_input_keeps_an_earlier_result_and_says_why(own_day: Path) -> None:
    out = own_day / "match" / "01"
    before = {name: data for name, data in files_of(out).items() if name != STATE}
    (own_day / "01" / "B.png").write_bytes(b"")
    outcome = run_setup(task_of(own_day))
    assert (outcome.status, outcome.code) == (Status.FAILED, 3) and "is an empty file" in outcome.error
    assert {name: data for name, data in files_of(out).items() if name != STATE} == before
    assert is_whole(out)
    state = read_state(out)
    assert state is not None and not state.done and state.error == outcome.error


def test_a_still_that_changes_while_it_is_worked_on(own_day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The result may rest on either; the next run must not take it for current."""
    from huemend.day import task as task_module

    real = task_module.still_hashes

    def hash_then_change(*args: object) -> object:
        found = real(*args)  # type: ignore[arg-type]
        shutil.copy(own_day / "03" / "B.png", own_day / "01" / "B.png")
        return found

    monkeypatch.setattr(task_module, "still_hashes", hash_then_change)
    assert run_setup(task_of(own_day, resume=False)).status is Status.DONE
    monkeypatch.undo()
    assert unchanged(task_of(own_day)) is None
    shutil.copy(own_day / "03" / "B.png", own_day / "01" / "B.png")
    assert unchanged(task_of(own_day)) is None


def test_clips_are_known_by_size_and_time_and_never_read(tmp_path: Path) -> None:
    for name in ("A", "B"):
        (tmp_path / f"{name}.mov").write_bytes(b"not even a clip")
    (tmp_path / "setup.toml").write_text(
        '[setup]\nname = "clips"\nhero = "A"\n'
        + "".join(f'[angle.{n}]\nmedia = "{n}.mov"\nencoding = "ACEScct"\n' for n in ("A", "B"))
    )
    setup = load_setup(tmp_path / "setup.toml")
    options = MatchOptions()
    assert still_hashes(setup, options) == {}
    first = fingerprint(setup, options, {})
    data = (tmp_path / "B.mov").read_bytes()
    facts = os.stat(tmp_path / "B.mov")
    (tmp_path / "B.mov").write_bytes(data[::-1])
    os.utime(tmp_path / "B.mov", ns=(facts.st_atime_ns, facts.st_mtime_ns))
    assert fingerprint(setup, options, {}) == first
    os.utime(tmp_path / "B.mov", ns=(facts.st_atime_ns, facts.st_mtime_ns + 1))
    assert fingerprint(setup, options, {}) != first


def test_a_look_that_changed_asks_for_new_reports(tmp_path: Path) -> None:
    (tmp_path / "setup.toml").write_text(
        '[setup]\nname = "s"\nhero = "A"\n'
        + "".join(f'[angle.{n}]\nmedia = "{n}.png"\nencoding = "ACEScct"\n' for n in "AB")
    )
    for name in "AB":
        (tmp_path / f"{name}.png").write_bytes(b"-")
    setup = load_setup(tmp_path / "setup.toml")
    look = tmp_path / "evening.cube"
    options = MatchOptions(report=ReportOptions(look=look))
    seen = set()
    for text in ("one", "another"):
        look.write_text(text)
        seen.add(fingerprint(setup, options, {}))
    assert len(seen | {fingerprint(setup, MatchOptions(), {})}) == 3


def test_the_state_survives_its_file(tmp_path: Path) -> None:
    (tmp_path / "report.json").write_text("{}")
    state = RunState(done=True, base="b", fingerprint="f", record=record_hash(tmp_path), learnt={"B": {"x": 0.1}})
    write_state(tmp_path, state, Guard())
    assert read_state(tmp_path) == state
    assert not is_current(tmp_path, "b", lent=False) and not is_current(tmp_path, "f", lent=False)
    assert read_state(tmp_path / "nowhere") is None


def test_a_fault_of_ours_is_told_in_one_line(own_day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from huemend.day import task as task_module

    for error, code, said in (
        (RuntimeError("two\nlines"), 1, "a fault in huemend"),
        (MemoryError(), 1, "not enough memory"),
        (OSError(28, "No space left on device", "x"), 1, "no space left"),
        (PermissionError(13, "Permission denied", "x\udcff"), 3, "permission denied"),
        (EncodingError("is not known", where="a"), 3, "a: is not known"),
    ):

        def fail(*args: object, error: BaseException = error, **told: object) -> None:
            raise error

        monkeypatch.setattr(task_module, "match_and_write", fail)
        outcome = run_setup(task_of(own_day, resume=False))
        assert outcome.code == code and said in outcome.error and "\n" not in outcome.error
        outcome.error.encode("utf-8")
