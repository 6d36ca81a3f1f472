"""Which folders are setups, and what ``day.toml`` says for them."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from huemend.day.plan import Day, find_day
from huemend.day.run import choose
from huemend.errors import EncodingError, InputError, SetupFileError
from huemend.options import DayOptions
from huemend.sample.setupfile import load_setup


def touch(*paths: Path) -> None:
    for path in paths:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")


def names(day: Day) -> list[str]:
    return [setup.name for setup in day.setups]


def letters(folder: Path, text: str = "") -> None:
    """Write a day file for cameras A (the hero) and B."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "day.toml").write_text(
        '[day]\nname = "Day 12"\nhero = "A"\n'
        '[angle.A]\nencoding = "S-Log3/S-Gamut3.Cine"\n[angle.B]\nencoding = "V-Log/V-Gamut"\nrange = "legal"\n'
        + text
    )


def test_folders_with_a_setup_file_in_natural_order(tmp_path: Path) -> None:
    touch(*(tmp_path / name / "setup.toml" for name in ("scene 10/1", "scene 2/1", "scene 2/2", ".trash")))
    touch(tmp_path / "notes" / "read.txt", tmp_path / "scene 2" / "1" / "inner" / "setup.toml")
    day = find_day(tmp_path)
    assert names(day) == ["scene 2/1", "scene 2/2", "scene 10/1"]
    assert day.name == tmp_path.name


def test_the_folder_itself_may_be_the_setup(tmp_path: Path) -> None:
    touch(tmp_path / "setup.toml", tmp_path / "a" / "setup.toml")
    assert names(find_day(tmp_path)) == [tmp_path.name]


def test_results_are_no_setups(tmp_path: Path) -> None:
    touch(tmp_path / "1" / "setup.toml", tmp_path / "out" / "x" / "setup.toml")
    touch(tmp_path / "old" / "report.json", tmp_path / "old" / "x" / "setup.toml")
    (tmp_path / "old" / "report.json").write_text('{"schema": "huemend-record/2", "files": []}')
    assert names(find_day(tmp_path, leave_out=tmp_path / "out")) == ["1"]


def test_links_are_followed_once_and_loops_end(tmp_path: Path) -> None:
    touch(tmp_path / "store" / "1" / "setup.toml")
    day = tmp_path / "day"
    day.mkdir()
    (day / "linked").symlink_to(tmp_path / "store" / "1")
    (day / "again").symlink_to(tmp_path / "store" / "1")
    (day / "loop").symlink_to(day)
    (day / "nowhere").symlink_to(tmp_path / "gone")
    assert names(find_day(day)) == ["again"]


def test_bounds_hold(tmp_path: Path) -> None:
    deep = tmp_path.joinpath(*"abcdefghij")
    touch(deep / "setup.toml", tmp_path / "1" / "setup.toml")
    assert names(find_day(tmp_path)) == ["1"]
    with pytest.raises(InputError, match="holds more than 3 folders"):
        find_day(tmp_path, options=DayOptions(most_folders=3))


@pytest.mark.parametrize("what", ["missing", "empty", "file"])
def test_a_folder_without_setups(tmp_path: Path, what: str) -> None:
    folder = tmp_path / "day"
    if what == "file":
        touch(folder)
    elif what == "empty":
        folder.mkdir()
    with pytest.raises(InputError) as caught:
        find_day(folder)
    assert str(folder) in str(caught.value) and "\n" not in str(caught.value)


# ------------------------------------------------------------------------------------------------- names


def test_names_that_no_disk_or_page_could_show_are_replaced(tmp_path: Path) -> None:
    odd = ["a\nb", "tab\there", "bad" + os.fsdecode(b"\xff"), "ends.", "Ärger 3", "con"]
    touch(*(tmp_path / name / "setup.toml" for name in odd))
    found = find_day(tmp_path)
    assert len(found.setups) == len(odd)
    for setup in found.setups:
        setup.name.encode("utf-8")
        assert setup.name.isprintable() and not setup.name.startswith((".", "-", "/")) and ".." not in setup.name
        assert setup.path.exists()
    assert "Ärger 3" in names(found) and "_con" in names(found)


def test_no_two_setups_share_a_name(tmp_path: Path) -> None:
    """On a disk that ignores case their results would be one folder."""
    touch(*(tmp_path / name / "setup.toml" for name in ("Take", "take", "x.", "x_")))
    found = names(find_day(tmp_path))
    assert len({name.casefold() for name in found}) == 4


def test_choosing_by_name(tmp_path: Path) -> None:
    touch(*(tmp_path / name / "setup.toml" for name in ("scene1/1", "scene1/2", "scene2/1", "odd[1]")))
    day = find_day(tmp_path)
    assert names(choose(day, ["scene1/*"])) == ["scene1/1", "scene1/2"]
    assert names(choose(day, ["odd[[]1]", "scene2/1"])) == ["odd[1]", "scene2/1"]
    assert choose(day, []) is day
    with pytest.raises(InputError, match="no setup is called 'scene9'"):
        choose(day, ["scene9"])


# ---------------------------------------------------------------------------------------------- day.toml


def test_media_by_angle_letter_need_no_setup_file(tmp_path: Path) -> None:
    letters(tmp_path)
    touch(tmp_path / "1" / "A001C003.mov", tmp_path / "1" / "B001C003.mov", tmp_path / "1" / "apple.mov")
    touch(tmp_path / "2" / "A" / "x1.png", tmp_path / "2" / "A" / "x2.png", tmp_path / "2" / "b_1.png")
    touch(tmp_path / "2" / "b_2.png", tmp_path / "3" / "A_only.png", tmp_path / "4" / "notes.txt")
    day = find_day(tmp_path)
    assert (day.name, names(day)) == ("Day 12", ["1", "2"])
    first, second = (load_setup(setup.path, defaults=setup.defaults) for setup in day.setups)
    assert [(a.name, [p.name for p in a.media], a.encoding, a.range) for a in first.angles] == [
        ("A", ["A001C003.mov"], "S-Log3/S-Gamut3.Cine", "full"),
        ("B", ["B001C003.mov"], "V-Log/V-Gamut", "legal"),
    ]
    assert (first.name, first.hero) == ("1", "A")
    assert [p.name for p in second["A"].media] == ["x1.png", "x2.png"]
    assert [p.name for p in second["B"].media] == ["b_1.png", "b_2.png"]


def test_a_setup_file_says_more_than_the_day(tmp_path: Path) -> None:
    letters(tmp_path)
    folder = tmp_path / "1"
    touch(folder / "A.png", folder / "B.png", folder / "C.png")
    (folder / "setup.toml").write_text(
        '[setup]\nname = "own"\n[angle.A]\nencoding = "?"\n[angle.B]\nrange = "full"\n'
        '[angle.C]\nmedia = "C.png"\nencoding = "ACEScct"\n'
    )
    setup = find_day(tmp_path).setups[0]
    loaded = load_setup(setup.path, defaults=setup.defaults)
    assert (loaded.name, loaded.hero) == ("own", "A")
    assert loaded["A"].encoding == "S-Log3/S-Gamut3.Cine", "what a draft leaves to be filled in"
    assert (loaded["B"].encoding, loaded["B"].range) == ("V-Log/V-Gamut", "full")
    assert loaded["C"].encoding == "ACEScct"
    assert [path.name for path in loaded["B"].media] == ["B.png"]


def test_media_by_pattern_and_encodings_of_the_day(tmp_path: Path) -> None:
    (tmp_path / "day.toml").write_text(
        '[day]\nhero = "wide"\n'
        '[encoding."our log"]\ntable = "curve.txt"\ngamut = "S-Gamut3.Cine"\n'
        '[angle.wide]\nmedia = "*_w.png"\nencoding = "our log"\n'
        '[angle.close]\nmedia = ["*_c.png", "*_d.png"]\nencoding = "ACEScct"\n'
    )
    (tmp_path / "curve.txt").write_text("".join(f"{0.01 * 2 ** (i / 3)}\n" for i in range(33)))
    touch(*(tmp_path / "s" / name for name in ("1_w.png", "1_c.png", "1_d.png", "2_w.png")))
    setup = find_day(tmp_path).setups[0]
    loaded = load_setup(setup.path, defaults=setup.defaults)
    assert [path.name for path in loaded["close"].media] == ["1_c.png", "1_d.png"]
    assert loaded.encodings[0].name == "our log" and len(loaded.encodings[0].table) == 33


@pytest.mark.parametrize(
    ("text", "kind", "said"),
    [
        ("[dya]\n", SetupFileError, "did you mean day?"),
        ('[angle.C]\nencodign = "x"\n', SetupFileError, "did you mean encoding?"),
        ('[angle.C]\nencoding = "S-Log4"\n', EncodingError, "angle.C.encoding"),
        ("[angle.C]\nmedia = 3\n", SetupFileError, "angle.C.media"),
        ('[angle.C]\nmedia = "a\\u0000b"\n', SetupFileError, "NUL"),
        ('[angle."../x"]\nmedia = "a"\n', SetupFileError, "holds '/'"),
        ("angle = 3\n", SetupFileError, "angle.B.angle: is not a known key"),
        ("= 1\n", SetupFileError, "not valid TOML"),
    ],
)
def test_a_day_file_that_makes_no_sense(tmp_path: Path, text: str, kind: type[Exception], said: str) -> None:
    letters(tmp_path, text)
    with pytest.raises(kind) as caught:
        find_day(tmp_path)
    assert "day.toml" in str(caught.value) and said in str(caught.value)
