"""Drafting a setup file: what is grouped, what is guessed, and that the result is read back."""

from __future__ import annotations

import tomllib
from pathlib import Path

import av
import pytest
from hypothesis import given
from hypothesis import strategies as st

from huemend.base.text import toml_string
from huemend.errors import MediaError, SetupFileError
from huemend.sample.demo import copy_demo
from huemend.sample.draft import draft_setup, group_by_name
from huemend.sample.setupfile import load_setup
from tests.clipmaker import moving_planes, write_clip


def touch(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"-")


@pytest.mark.parametrize(
    ("files", "angles"),
    [
        (["left.png", "wide.png"], ["left", "wide"]),
        (["left_1.png", "left_2.png", "wide_1.png", "wide_2.png"], ["left", "wide"]),
        (["cam1.png", "cam2.png", "cam10.png"], ["cam1", "cam2", "cam10"]),
        (["cam1_0001.dpx", "cam1_0002.dpx", "cam2_0001.dpx", "cam2_0002.dpx"], ["cam1", "cam2"]),
        # Another reel is the same camera.
        (["A001_C003.exr", "A002_C001_1201XY.exr", "B001 C003.exr"], ["A", "B"]),
        (["TAKE001_C003.exr", "left_1.exr"], ["left", "TAKE001_C"]),
        (["1.png", "2.png"], ["1", "2"]),
    ],
)
def test_grouping_by_name(files: list[str], angles: list[str]) -> None:
    groups = group_by_name(files)
    assert list(groups) == angles
    assert sorted(name for group in groups.values() for name in group) == sorted(files)


def test_sub_folders_come_first(tmp_path: Path) -> None:
    touch(
        tmp_path, "left/2.png", "left/10.png", "wide/1.png", "wide/2.png", "notes/a.txt", ".hidden/a.png", "x.png"
    )
    draft = draft_setup(tmp_path)
    assert draft.angles == {"left": ("left/2.png", "left/10.png"), "wide": ("wide/1.png", "wide/2.png")}
    assert draft.hero == "wide"


def test_a_draft_is_read_back_once_the_encoding_is_filled_in(tmp_path: Path) -> None:
    touch(tmp_path, "left_1.png", "left_2.png", "Wide master_1.png", "Wide master_2.png")
    path = tmp_path / "setup.toml"
    path.write_text(draft_setup(tmp_path).text, encoding="utf-8")
    with pytest.raises(SetupFileError, match="is still to be filled in"):
        load_setup(path)
    path.write_text(draft_setup(tmp_path, "V-Log/V-Gamut").text, encoding="utf-8")
    setup = load_setup(path)
    assert setup.hero == "Wide master"
    assert {angle.encoding for angle in setup.angles} == {"V-Log/V-Gamut"}
    assert [path.name for path in setup["left"].media] == ["left_1.png", "left_2.png"]


def test_every_guess_is_marked(tmp_path: Path) -> None:
    touch(tmp_path, "a/1.png", "b/1.png", "b/2.png")
    text = draft_setup(tmp_path).text
    assert 'hero = "a"  # a guess' in text
    assert text.count("# a guess; ") == 2 and text.count("# fill in") == 2
    assert "# 2 here, 1 at the hero" in text


def test_names_that_no_file_could_carry_are_replaced(tmp_path: Path) -> None:
    touch(tmp_path, "a:b/1.png", "WIDE/1.png", "wide/1.png", ' "quoted"\\ /1.png')
    draft = draft_setup(tmp_path, "e")
    (tmp_path / "setup.toml").write_text(draft.text, encoding="utf-8")
    assert len(load_setup(tmp_path / "setup.toml").angles) == 4


def test_too_little_to_draft_from(tmp_path: Path) -> None:
    with pytest.raises(MediaError, match="holds no stills"):
        draft_setup(tmp_path)
    touch(tmp_path, "wide.png")
    with pytest.raises(MediaError, match="holds one angle only"):
        draft_setup(tmp_path)
    with pytest.raises(MediaError, match="no such file"):
        draft_setup(tmp_path / "gone")


@given(st.text())
def test_quoted_text_is_read_back(text: str) -> None:
    assert tomllib.loads(f"a = {toml_string(text)}") == {"a": text}


def test_the_demo_is_a_setup_of_three_angles(tmp_path: Path) -> None:
    setup = load_setup(copy_demo(tmp_path / "demo"))
    assert len(setup.angles) == 3
    assert sorted(path.name for path in tmp_path.iterdir()) == ["demo"]


def small_clip(path: Path, **tags: str) -> None:
    write_clip(path, moving_planes("yuv420p", (64, 96)), frames=5, size=(64, 96), pix_fmt="yuv420p", tagged=False)
    if tags:
        tagged = path.with_name("tagged.mkv")
        with av.open(str(path)) as source, av.open(str(tagged), "w") as target:
            stream = target.add_stream_from_template(source.streams.video[0])
            target.metadata.update(tags)
            for packet in source.demux(video=0):
                if packet.dts is not None:
                    packet.stream = stream
                    target.mux(packet)
        tagged.replace(path)


def test_clips_are_drafted_with_what_they_say(tmp_path: Path) -> None:
    small_clip(tmp_path / "left.mkv", comment="recorded in S-Log3 / S-Gamut3.Cine at 800")
    small_clip(tmp_path / "wide.mkv")
    known = ["S-Log/S-Gamut", "S-Log3/S-Gamut3", "S-Log3/S-Gamut3.Cine", "V-Log/V-Gamut"]
    text = draft_setup(tmp_path, known=known).text
    assert 'encoding = "S-Log3/S-Gamut3.Cine"  # a guess: its comment says so' in text
    assert "legal range, bt601; assumed: matrix bt601" in text
    assert "has no start timecode" in text and "5 frames" in text
    # One encoding is guessed, the other is still to be filled in.
    assert text.count('encoding = "?"') == 1
    assert set(tomllib.loads(text)["angle"]) == {"left", "wide"}


def test_several_clips_of_an_angle_are_told(tmp_path: Path) -> None:
    for name in ("left", "wide"):
        (tmp_path / name).mkdir()
        for take in (1, 2, 3):
            small_clip(tmp_path / name / f"{name}{take}.mkv")
    draft = draft_setup(tmp_path, "V-Log/V-Gamut")
    assert draft.angles["left"] == ("left/left1.mkv",)
    assert draft.text.count("the first of 3 clips here") == 2
    (tmp_path / "setup.toml").write_text(draft.text, encoding="utf-8")
    assert not load_setup(tmp_path / "setup.toml")["left"].range_stated
