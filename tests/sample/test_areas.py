"""The areas of a setup file: what may be said, and the one clear line for everything else."""

from __future__ import annotations

from pathlib import Path

import pytest

from huemend.errors import SetupFileError
from huemend.model import Area, Marks
from huemend.sample.setupfile import load_setup

HEAD = """
[setup]
name = "table"
hero = "wide"
{setup}
[angle.wide]
media = ["wide.png"]
encoding = "V-Log/V-Gamut"

[angle.left]
media = ["left.png"]
encoding = "V-Log/V-Gamut"
crop = [0.0, 0.2, 0.0, 0.1]

[angle.right]
media = ["right.png"]
encoding = "V-Log/V-Gamut"
"""

PAIR = '[[pair]]\nname = "skin"\nhero = [0.1, 0.2, 0.3, 0.5]\nleft = [0.4, 0.3, 0.6, 0.7]\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("wide.png", "left.png", "right.png"):
        (tmp_path / name).write_bytes(b"-")
    return tmp_path


def marks(folder: Path, text: str, setup: str = "") -> Marks:
    path = folder / "setup.toml"
    path.write_text(HEAD.format(setup=setup) + text, encoding="utf-8")
    return load_setup(path).marks


def complaint(folder: Path, text: str, setup: str = "") -> str:
    with pytest.raises(SetupFileError) as caught:
        marks(folder, text, setup)
    line = str(caught.value)
    assert "\n" not in line and "setup.toml" in line
    return line


def test_a_setup_file_need_not_mark_anything(folder: Path) -> None:
    assert marks(folder, "") == Marks()


def test_a_rectangle_becomes_its_corners(folder: Path) -> None:
    (pair,) = marks(folder, PAIR).pairs
    assert pair.name == "skin" and pair.weight == 1.0 and pair.frames is None
    assert pair.areas["wide"] == Area(points=((0.1, 0.2), (0.3, 0.2), (0.3, 0.5), (0.1, 0.5)))
    assert set(pair.areas) == {"wide", "left"}


def test_a_rectangle_may_be_dragged_from_any_corner(folder: Path) -> None:
    turned = PAIR.replace("[0.1, 0.2, 0.3, 0.5]", "[0.3, 0.5, 0.1, 0.2]")
    assert marks(folder, turned) == marks(folder, PAIR)


def test_a_polygon_several_angles_weight_and_frames(folder: Path) -> None:
    text = PAIR + "right = [[0.1, 0.1], [0.2, 0.1], [0.2, 0.4]]\nweight = 2\nframes = [10, 240]\n"
    (pair,) = marks(folder, text).pairs
    assert pair.areas["right"].points == ((0.1, 0.1), (0.2, 0.1), (0.2, 0.4))
    assert pair.weight == 2.0 and pair.frames == (10, 240)


def test_the_hero_may_go_by_its_own_name(folder: Path) -> None:
    assert marks(folder, PAIR.replace("hero =", "wide =")) == marks(folder, PAIR)


def test_several_pairs_may_share_a_name(folder: Path) -> None:
    assert [pair.name for pair in marks(folder, PAIR + PAIR).pairs] == ["skin", "skin"]


def test_ignore_and_neutral(folder: Path) -> None:
    found = marks(
        folder,
        '[[ignore]]\nangle = "left"\narea = [0.1, 0.3, 0.2, 0.5]\nframes = [0, 5]\n'
        '[[neutral]]\nangle = "wide"\narea = [0, 0, 1, 1]\n',
    )
    assert found.ignore[0].angle == "left" and found.ignore[0].frames == (0, 5)
    assert found.neutral[0].area.points[2] == (1.0, 1.0)


def test_protect_names_a_pair_or_what_may_be_found(folder: Path) -> None:
    named = PAIR.replace("skin", "apron")
    found = marks(folder, named, 'protect = ["apron", "skin"]\nprotect_limit = 1.5')
    assert found.keep_as_shot == ("apron", "skin") and found.keep_limit == 1.5


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[0.1, 0.2, 0.3, 0.5]", "[0.1, 0.2, 1.3, 0.5]", "pair[1].hero: lies outside the frame (1.3, 0.2)"),
        ("[0.1, 0.2, 0.3, 0.5]", "[192, 200, 600, 500]", "not pixels"),
        ("[0.1, 0.2, 0.3, 0.5]", "[-0.1, 0.2, 0.3, 0.5]", "outside the frame"),
        ("[0.1, 0.2, 0.3, 0.5]", "[0.1, nan, 0.3, 0.5]", "no number"),
        ("[0.1, 0.2, 0.3, 0.5]", "[0.1, inf, 0.3, 0.5]", "outside the frame"),
        ("[0.1, 0.2, 0.3, 0.5]", "[0.1, true, 0.3, 0.5]", "no number"),
        ("[0.1, 0.2, 0.3, 0.5]", "[0.1, 0.2, 0.1, 0.5]", "has no size"),
        ("[0.1, 0.2, 0.3, 0.5]", "[[0.1, 0.1], [0.2, 0.2], [0.3, 0.3]]", "has no size"),
        ("[0.1, 0.2, 0.3, 0.5]", "[0.1, 0.2, 0.3]", "must be four numbers"),
        ("[0.1, 0.2, 0.3, 0.5]", "[[0.1, 0.1], [0.2], [0.3, 0.3]]", "no [x, y]"),
        ("[0.1, 0.2, 0.3, 0.5]", '"face"', "must be an area"),
        ("[0.4, 0.3, 0.6, 0.7]", "[0.4, 0.0, 0.6, 0.15]", "lies in what the crop of left leaves out"),
        ("left =", "lfet =", "did you mean left?"),
        ("left = [0.4, 0.3, 0.6, 0.7]\n", "", "marks the hero alone"),
        ("hero = [0.1, 0.2, 0.3, 0.5]\n", "", "mark the same surface on the hero"),
        ('name = "skin"\n', "", "name: is missing"),
        ('name = "skin"', f'name = "{"x" * 61}"', "is too long"),
    ],
)
def test_a_pair_that_makes_no_sense_gets_its_line(folder: Path, old: str, new: str, said: str) -> None:
    assert old in PAIR
    assert said in complaint(folder, PAIR.replace(old, new))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (PAIR + "weight = 0\n", "pair[1].weight: cannot be 0"),
        (PAIR + "frames = [9, 3]\n", "frames: must be the first and the last frame"),
        (PAIR + "frames = [0.5, 3]\n", "frames: must be the first and the last frame"),
        (PAIR + "wide = [0.1, 0.1, 0.2, 0.2]\n", "is given twice"),
        (PAIR.replace("[[pair]]", "[pair]"), "two brackets"),
        (PAIR * 2 + "weight = -1\n", "pair[2].weight"),
        ('[[ignore]]\nangle = "lefft"\narea = [0, 0, 1, 1]\n', "did you mean left?"),
        ('[[ignore]]\nangle = "left"\n', "ignore[1].area: is missing"),
        ('[[neutral]]\nangle = "left"\nareas = [0, 0, 1, 1]\n', "did you mean area?"),
        ('[[neutral]]\nangle = "left"\narea = [0.1, 0.92, 0.3, 0.99]\n', "crop of left"),
    ],
)
def test_other_lines_that_make_no_sense(folder: Path, text: str, said: str) -> None:
    assert said in complaint(folder, text)


def test_an_unknown_name_to_protect(folder: Path) -> None:
    line = complaint(folder, PAIR.replace("skin", "apron"), 'protect = ["aprn"]')
    assert "setup.protect" in line and "did you mean apron?" in line
    assert "protect_limit" in complaint(folder, PAIR, "protect_limit = 0")


def test_a_chart_is_looked_for_where_the_file_says_so(folder: Path) -> None:
    path = folder / "setup.toml"
    for said, looked in (("", False), ("chart = true", True), ("chart = false", False)):
        path.write_text(HEAD.format(setup=said), encoding="utf-8")
        assert load_setup(path).chart is looked
    assert "use one of: true, false" in complaint(folder, "", "chart = 1")


def test_an_angle_that_bears_the_name_of_a_key(folder: Path) -> None:
    path = folder / "setup.toml"
    path.write_text(HEAD.format(setup="").replace("angle.right", "angle.weight") + PAIR, encoding="utf-8")
    with pytest.raises(SetupFileError, match="rename that angle"):
        load_setup(path)


def test_two_words_for_what_stays_as_shot(tmp_path: Path) -> None:
    """The older word still works, and both together are one too many."""
    from huemend.errors import SetupFileError
    from huemend.sample.setupfile import load_setup

    for name in ("wide", "left"):
        (tmp_path / f"{name}.png").touch()
    path = tmp_path / "setup.toml"
    text = '[setup]\nname = "a"\nhero = "wide"\n{}\n' + "".join(
        f'[angle.{name}]\nmedia = ["{name}.png"]\nencoding = "V-Log/V-Gamut"\n' for name in ("wide", "left")
    )
    for lines in ('keep_as_shot = ["skin"]\nkeep_limit = 1.5', 'protect = "skin"\nprotect_limit = 1.5'):
        path.write_text(text.format(lines), "utf-8")
        marks = load_setup(path).marks
        assert marks.keep_as_shot == ("skin",) and marks.keep_limit == 1.5
    path.write_text(text.format('keep_as_shot = ["skin"]\nprotect = ["skin"]'), "utf-8")
    with pytest.raises(SetupFileError, match="keep keep_as_shot"):
        load_setup(path)


def test_what_comes_first_is_named(folder: Path) -> None:
    named = PAIR.replace("skin", "apron")
    assert marks(folder, named, 'least_error_on = ["skin", "apron", "skin"]').least_error_on == ("skin", "apron")
    assert "did you mean apron?" in complaint(folder, named, 'least_error_on = ["aprn"]')
    assert "name apron in one of the two" in complaint(
        folder, named, 'least_error_on = ["apron"]\nkeep_as_shot = ["apron"]'
    )
