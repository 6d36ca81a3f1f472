"""`huemend new` and `huemend demo` as a user meets them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import skimage.data

from huemend.media.pictures import write_picture


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
    assert out == f"{stills / 'setup.toml'}: 2 angles, hero wide (a guess from its name)\n"
    assert "fill in each encoding" in err and f"huemend match '{stills / 'setup.toml'}'" in err
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


@pytest.fixture
def misnamed(tmp_path: Path) -> Path:
    """Three views of scikit-image's photograph of a person; the one called wide is the closest."""
    folder = tmp_path / "misnamed"
    folder.mkdir()
    photo = skimage.data.astronaut() / 255
    for name, (top, left, side) in {"wide": (20, 140, 180), "b-cam": (0, 60, 300), "a-cam": (0, 0, 512)}.items():
        write_picture(folder / f"{name}.png", photo[top : top + side, left : left + side], 16)
    return folder


def test_the_hero_by_its_name_by_the_pictures_or_as_told(run: Any, misnamed: Path) -> None:
    said = {}
    for hero in (None, "auto", "b-cam"):
        code, out, _ = run("new", misnamed, *(() if hero is None else ("--hero", hero)))
        assert code == 0
        text = (misnamed / "setup.toml").read_text()
        # What the terminal says is in the file too.
        assert out.partition("hero ")[2].partition(" (")[2].rstrip(")\n") in text
        said[hero] = out.partition("hero ")[2].strip()
        (misnamed / "setup.toml").unlink()
    assert said[None] == "wide (a guess from its name)"
    assert said["auto"].startswith("a-cam (a guess from the pictures: it shows what 2 of 2 others show")
    assert "b-cam 1.7 times" in said["auto"] and "wide 2.8 times" in said["auto"]
    assert said["b-cam"] == "b-cam (as told)"


def test_pictures_that_say_nothing_leave_it_to_the_name(run: Any, stills: Path) -> None:
    code, out, _ = run("new", stills, "--hero", "auto")
    assert code == 0 and "hero wide (a guess from its name, since the pictures share too little to tell" in out


def test_a_hero_that_there_is_not(run: Any, stills: Path) -> None:
    code, out, err = run("new", stills, "--hero", "widw")
    assert (code, out) == (3, "") and err.count("\n") == 1 and "did you mean wide?" in err
    assert not (stills / "setup.toml").exists()


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
