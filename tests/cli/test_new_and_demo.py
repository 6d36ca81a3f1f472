"""`huemend new` and `huemend demo` as a user meets them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest


@pytest.fixture
def stills(tmp_path: Path) -> Path:
    folder = tmp_path / "day 1"
    folder.mkdir()
    for name in ("wide.png", "left.png"):
        (folder / name).write_bytes(b"-")
    return folder


def test_new_writes_a_setup_file_and_says_what_is_next(run: Any, stills: Path) -> None:
    code, out, err = run("new", stills)
    assert code == 0
    assert out == f"{stills / 'setup.toml'}: 2 angles, hero wide (a guess)\n"
    assert "fill in each encoding" in err and f"huemend match {stills / 'setup.toml'}" in err
    assert sorted(path.name for path in stills.iterdir()) == ["left.png", "setup.toml", "wide.png"]


def test_new_never_overwrites(run: Any, stills: Path) -> None:
    (stills / "setup.toml").write_text("mine")
    code, _, err = run("new", stills)
    assert code == 3 and "never overwritten" in err and err.count("\n") == 1
    assert (stills / "setup.toml").read_text() == "mine"


def test_match_explains_an_encoding_that_new_left_open(run: Any, stills: Path) -> None:
    run("new", stills)
    code, _, err = run("match", stills / "setup.toml")
    assert code == 3
    assert "angle.wide.encoding: is still to be filled in" in err and "huemend encodings" in err


def test_new_with_an_encoding(run: Any, stills: Path) -> None:
    assert run("new", stills, "--encoding", "V-Log/V-Gamut")[0] == 0
    assert (stills / "setup.toml").read_text().count('encoding = "V-Log/V-Gamut"') == 2


def test_new_by_variable(run: Any, stills: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HUEMEND_NEW_ENCODING", "ACEScct")
    assert run("new", stills)[0] == 0
    assert "ACEScct" in (stills / "setup.toml").read_text()


def test_new_of_nothing(run: Any, tmp_path: Path) -> None:
    for folder, said in [(tmp_path, "holds no stills"), (tmp_path / "gone", "no such file or directory")]:
        code, out, err = run("new", folder)
        assert (code, out) == (3, "") and said in err and err.count("\n") == 1


def test_demo_makes_a_setup_that_match_takes(run: Any, tmp_path: Path) -> None:
    code, out, err = run("demo", tmp_path / "demo")
    assert code == 0 and out.startswith(str(tmp_path / "demo" / "setup.toml"))
    assert f"huemend match {tmp_path / 'demo' / 'setup.toml'}" in err
    from huemend import load_setup

    assert len(load_setup(tmp_path / "demo" / "setup.toml").angles) == 3


def test_demo_overwrites_nothing(run: Any, tmp_path: Path) -> None:
    (tmp_path / "demo").mkdir()
    (tmp_path / "demo" / "notes.txt").write_text("mine")
    code, _, err = run("demo", tmp_path / "demo")
    assert code == 3 and "new or empty" in err and err.count("\n") == 1
    assert [path.name for path in (tmp_path / "demo").iterdir()] == ["notes.txt"]
    (tmp_path / "file").write_text("mine")
    assert run("demo", tmp_path / "file")[0] == 3
    assert run("demo", tmp_path / "file" / "demo")[0] == 3
    assert (tmp_path / "file").read_text() == "mine"


def test_demo_into_an_empty_folder(run: Any, tmp_path: Path) -> None:
    (tmp_path / "demo").mkdir()
    assert run("demo", tmp_path / "demo")[0] == 0
