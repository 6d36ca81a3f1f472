"""``huemend day`` from the command line to the files."""

from __future__ import annotations

import csv
import json
import signal
import subprocess
import time
from pathlib import Path

import pytest

from huemend.write.record_reading import is_whole
from tests.conftest import Run
from tests.day.conftest import HUEMEND, Ran, huemend
from tests.day.days import files_of, make_day, make_setup

pytestmark = pytest.mark.slow


def results_of(folder: Path) -> dict[str, bytes]:
    """What is handed on; the state that says what it rests on left out."""
    return {name: data for name, data in files_of(folder).items() if not Path(name).name.startswith(".")}


def test_one_setup_that_fails_stops_no_other(matched_day: Ran) -> None:
    assert matched_day.code == 3
    lines = matched_day.stdout.splitlines()
    assert lines[0] == "01: 1 matched" and lines[2] == "03: 1 matched"
    assert lines[1].startswith("02: FAILED: 02/B.png") and "is not a picture" in lines[1]
    assert str(matched_day.folder) not in matched_day.stdout.replace(str(matched_day.folder / "match"), "")
    # Their setup files were copied from one another, names and all.
    assert '01 and 03 are all named "wall", and so are their LUTs' in matched_day.stdout
    assert lines[4] == "3 setups, 1 failed; angles: 0 unsolved, 0 to review, 2 matched"
    assert "Traceback" not in matched_day.stderr
    out = matched_day.folder / "match"
    assert is_whole(out / "01") and is_whole(out / "03")
    assert not is_whole(out / "02")


def test_the_index_puts_first_what_needs_eyes(matched_day: Ran) -> None:
    out = matched_day.folder / "match"
    page = (out / "index.html").read_text(encoding="utf-8")
    assert page.index("Did not run") < page.index('href="01/report.html"') < page.index('href="03/report.html"')
    assert (out / "01" / "report.html").exists()
    with open(out / "day.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(row["setup"], row["angle"], row["verdict"]) for row in rows] == [
        ("01", "B", "matched"), ("02", "", "failed"), ("03", "B", "matched"),
    ]  # fmt: skip
    assert float(rows[0]["exposure_stops"]) == pytest.approx(0.5, abs=0.02)
    assert float(rows[0]["difference_before"]) > 3 > 1 > float(rows[0]["difference_after"])


def test_nothing_else_lies_about(matched_day: Ran) -> None:
    left = [name for name in files_of(matched_day.folder) if "part" in name or "lock" in name or ".tmp-" in name]
    assert not left
    assert {path.name for path in matched_day.folder.iterdir()} == {"01", "02", "03", "match"}


def test_results_are_those_of_a_single_match(matched_day: Ran, tmp_path: Path) -> None:
    """However many workers there are: byte for byte what ``huemend match`` alone writes."""
    done = huemend("match", matched_day.folder / "01" / "setup.toml", "--out", tmp_path / "alone", "--threads", 2)
    assert done.returncode == 0, done.stderr
    assert results_of(tmp_path / "alone") == results_of(matched_day.folder / "match" / "01")


def test_one_worker_gives_what_two_gave(matched_day: Ran, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = huemend("day", matched_day.folder, "--jobs", 1, "--out", out, "--quiet", "--json", "--fail-on", "never")
    assert (done.returncode, done.stderr) == (0, "")
    assert results_of(out) == results_of(matched_day.folder / "match")
    said = json.loads(done.stdout)
    assert said["schema"] == "huemend-day/1" and list(said["setups"]) == ["01", "02", "03"]
    assert said["setups"]["01"] == {
        "status": "done", "error": "", "angles": {"B": "matched"}, "report": "01/report.html",
    }  # fmt: skip
    assert said["setups"]["02"]["status"] == "failed" and said["setups"]["02"]["report"] is None


def test_a_dry_run_writes_nothing(run: Run, tmp_path: Path) -> None:
    folder = make_day(tmp_path / "day", 2)
    make_setup(folder / "bad").write_text("[setup]\n")
    before = files_of(folder)
    code, out, _ = run("day", folder, "--dry-run")
    assert code == 3 and files_of(folder) == before
    lines = out.splitlines()
    assert lines[0] == "run   01: B to A" and lines[2].startswith("fail  bad: ")
    plan = json.loads(run("day", folder, "--dry-run", "--json")[1])
    assert plan["setups"]["02"] == {"would": "run", "hero": "A", "angles": ["B"]}


def test_events_are_json_one_a_line(own_day: Path) -> None:
    done = huemend("day", own_day, "--only", "01", "--log-json", "--resume", "--quiet")
    assert done.returncode == 0
    events = [json.loads(line) for line in done.stderr.splitlines()]
    assert [(event["stage"], event["text"]) for event in events] == [("day", "01: 1 matched (unchanged)")]
    assert {"time", "done", "total"} <= set(events[0])


def test_the_index_alone_is_made_from_what_there_is(run: Run, own_day: Path) -> None:
    out = own_day / "match"
    (out / "03" / "report.json").unlink()
    (out / "03" / ".huemend-run.json").unlink()
    make_setup(own_day / "04", seed=4)
    before = results_of(out / "01")
    code, told, _ = run("day", own_day, "--index-only", "--fail-on", "unsolved")
    assert code == 3 and told.splitlines()[3] == "04: FAILED: was not run yet"
    assert results_of(out / "01") == before
    assert (out / "day.csv").read_text(encoding="utf-8").count("was not run yet") == 2


def test_a_name_that_no_setup_has(run: Run, own_day: Path) -> None:
    code, _, err = run("day", own_day, "--only", "9*")
    assert code == 3 and err.count("\n") == 1 and "no setup is called '9*'" in err


def test_the_output_folder_is_held_by_one_run_at_a_time(own_day: Path) -> None:
    from huemend.base.originals import Guard
    from huemend.day.run import held_folder

    before = files_of(own_day / "match" / "01")
    with held_folder(own_day / "match", Guard()):
        done = huemend("day", own_day)
        assert done.returncode == 3 and "another run works in this folder" in done.stderr
        assert done.stderr.count("\n") == 1
    assert files_of(own_day / "match" / "01") == before


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_day_that_is_told_to_end_leaves_whole_files(tmp_path: Path, number: signal.Signals) -> None:
    folder = make_day(tmp_path / "day", 4)
    running = subprocess.Popen(
        [HUEMEND, "day", str(folder), "--jobs", "1"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    end = time.monotonic() + 60
    # Complete is a folder whose journal is gone, which goes after the record is there.
    while not is_whole(folder / "match" / "01") and time.monotonic() < end:
        time.sleep(0.02)
    running.send_signal(number)
    stdout, stderr = running.communicate(timeout=60)
    assert running.returncode == (143 if number is signal.SIGTERM else 130)
    assert stdout == "" and "Traceback" not in stderr
    assert stderr.splitlines()[-1] == (
        "huemend: ended by SIGTERM" if number is signal.SIGTERM else "huemend: interrupted"
    )
    names = files_of(folder / "match")
    assert not [name for name in names if "-part-" in name or ".tmp-" in name or name.endswith("-lock")]
    assert is_whole(folder / "match" / "01")
