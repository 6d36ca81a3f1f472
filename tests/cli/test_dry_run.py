"""What ``match --dry-run`` says, to people and to programs, while nothing is written."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any


def test_a_plan_for_people(run: Any, setup_file: Path) -> None:
    code, out, err = run("match", setup_file, "--dry-run")
    assert (code, err) == (0, "")
    first, second, last = out.splitlines()
    assert first.startswith("wide: hero; 1 file, ") and second.startswith("left: to wide; 1 file, ")
    assert last == f"Would write to {setup_file.parent / 'match'}"
    assert not (setup_file.parent / "match").exists()


def test_a_plan_says_which_exposure_index_is_taken(run: Any, setup_file: Path) -> None:
    text = setup_file.read_text()
    first = text.index("encoding = ")
    line = text[first : text.index("\n", first)]
    setup_file.write_text(text.replace(line, 'encoding = "LogC3/AWG3"', 1))
    _, out, _ = run("match", setup_file, "--dry-run")
    assert "LogC3/AWG3 at exposure index 800, " in out and out.count("exposure index") == 1


def test_a_plan_for_programs(run: Any, setup_file: Path, tmp_path: Path) -> None:
    code, out, err = run("match", setup_file, "--dry-run", "--json", "--out", tmp_path / "elsewhere")
    assert (code, err) == (0, "")
    plan = json.loads(out)
    assert plan["schema"] == "huemend-plan/1"
    assert (plan["hero"], plan["out"]) == ("wide", str(tmp_path / "elsewhere"))
    assert {name: angle["to"] for name, angle in plan["angles"].items()} == {"wide": None, "left": "wide"}
    assert all(Path(path).is_file() for angle in plan["angles"].values() for path in angle["media"])
    assert not (tmp_path / "elsewhere").exists()


def test_what_is_wrong_is_told_before_any_plan(run: Any, setup_file: Path) -> None:
    setup_file.write_text(setup_file.read_text().replace('"wide.png"', '"gone.png"'))
    code, out, err = run("match", setup_file, "--dry-run", "--json")
    assert (code, out, err.count("\n")) == (3, "", 1)
    assert "gone.png" in err
