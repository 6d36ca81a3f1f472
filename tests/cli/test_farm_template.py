"""Farm templates: read by the specification's own library, and run by its runner as a farm would run them."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import click
import pytest
from openjd.model import decode_job_template

from huemend.cli.day import day
from huemend.cli.deliverables import matching_options
from tests.day.days import make_day


def template_of(run: Any, folder: Path, *options: object) -> dict[str, Any]:
    """Return what the command prints for a day, if the library takes it."""
    code, out, _ = run("farm-template", folder, *options)
    assert code == 0
    said: dict[str, Any] = json.loads(out)
    decode_job_template(template=said)
    return said


def tasks(template: dict[str, Any]) -> list[list[str]]:
    return [step["script"]["actions"]["onRun"]["args"] for step in template["steps"]]


def test_every_option_of_a_match_reaches_its_tasks(run: Any, tmp_path: Path) -> None:
    """What a day takes of a match, its job on a farm takes too: else the farm would hand over other LUTs."""

    @click.command()
    @matching_options
    def known() -> None: ...

    folder = make_day(tmp_path / "day", 2)
    look = tmp_path / "show's look.cube"
    given: list[object] = []
    for option in known.params:
        assert isinstance(option, click.Option)
        assert option.name in {param.name for param in day.params}
        flag, kind = option.opts[0], option.type
        if option.is_flag:
            given += [flag]
        elif isinstance(kind, click.Choice):
            given += [flag, list(kind.choices)[-1]]
        else:
            given += [flag, {"--look": look, "--lut-size": 33}.get(flag, "ACEScct")]
    match, index = tasks(template_of(run, folder, *given))
    assert match[-len(given) :] == [str(word) for word in given]
    assert index[-1] == "--index-only"


def test_a_look_is_named_from_the_root(run: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A task begins in a folder of its own."""
    folder = make_day(tmp_path / "day", 1)
    monkeypatch.chdir(tmp_path)
    match, _ = tasks(template_of(run, folder, "--look", "look.cube"))
    assert match[-1] == str(tmp_path / "look.cube")


def test_what_a_template_would_fill_in_is_refused(run: Any, tmp_path: Path) -> None:
    folder = make_day(tmp_path / "day", 1)
    code, out, err = run("farm-template", folder, "--look", tmp_path / "{{Param.Day}}.cube")
    assert (code, out, err.count("\n")) == (3, "", 1)
    assert "cannot stand in a template" in err


@pytest.mark.slow
def test_the_runner_of_the_specification_runs_a_day(run: Any, tmp_path: Path) -> None:
    folder = make_day(tmp_path / "day", 2)
    job = folder / "job.json"
    assert run("farm-template", folder, "--out", job, "--no-pictures")[0] == 0
    huemend = Path(sys.executable).with_name("huemend")
    words = [Path(sys.executable).with_name("openjd"), "run", job, "-p", f"Huemend={huemend}"]
    done = subprocess.run(list(map(str, words)), capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stdout[-2000:]
    with open(folder / "match" / "day.csv", newline="") as file:
        assert [row["verdict"] for row in csv.DictReader(file)] == ["matched"] * 2
