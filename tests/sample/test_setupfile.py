"""The setup file: what it may say, and the one clear line for everything else."""

from __future__ import annotations

import os
import tomllib
import unicodedata
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from huemend.errors import HuemendError, MediaError, SetupFileError
from huemend.options import SampleOptions
from huemend.sample.names import collision, natural_key, unsafe
from huemend.sample.setupfile import load_setup

GOOD = """
[setup]
name = "glaze-table"
hero = "wide"

[angle.wide]
media = ["wide.png"]
encoding = "C-Log3/Cinema Gamut"

[angle.left]
media = ["left.png"]
encoding = "V-Log/V-Gamut"
range = "narrow"
rotate = 90
flip = "horizontal"
pixel_aspect = 2
crop = [0.0, 0.125, 0, 0.1]
exposure_index = 1600
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("wide.png", "left.png"):
        (tmp_path / name).write_bytes(b"-")
    return tmp_path


def write(folder: Path, text: str) -> Path:
    path = folder / "setup.toml"
    path.write_text(text, encoding="utf-8")
    return path


def complaint(folder: Path, text: str, kind: type[HuemendError] = SetupFileError) -> str:
    with pytest.raises(kind) as caught:
        load_setup(write(folder, text))
    line = str(caught.value)
    assert "\n" not in line
    return line


def test_everything_that_it_may_say(folder: Path) -> None:
    setup = load_setup(write(folder, GOOD))
    assert (setup.name, setup.hero) == ("glaze-table", "wide")
    assert [angle.name for angle in setup.angles] == ["wide", "left"]
    left = setup["left"]
    assert left.media == (folder / "left.png",)
    # Rec. ITU-R BT.2100-2, table 9, calls the range "narrow".
    assert left.range == "legal"
    assert (left.rotate, left.flip, left.pixel_aspect, left.exposure_index) == (90, "horizontal", 2.0, 1600)
    assert left.crop == (0.0, 0.125, 0.0, 0.1)
    wide = setup["wide"]
    assert (wide.range, wide.rotate, wide.flip, wide.exposure_index) == ("full", 0, "none", 800)


def test_encodings_of_its_own(folder: Path) -> None:
    table = '[encoding.house]\ntable = [0, 0.25, 1]\ngamut = "ACEScg"\n'
    (spec,) = load_setup(write(folder, GOOD + table)).encodings
    assert (spec.name, spec.table, spec.gamut) == ("house", (0.0, 0.25, 1.0), "ACEScg")
    line = complaint(folder, GOOD + table.replace("gamut", "gamutt"))
    assert line.startswith(f"{folder / 'setup.toml'}: encoding.house.gamutt: is not a known key")


def test_paths_are_relative_to_the_file(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(folder, GOOD)
    elsewhere = folder / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    assert load_setup("../setup.toml")["wide"].media[0].samefile(folder / "wide.png")


def test_byte_order_mark_and_crlf_of_other_systems(folder: Path) -> None:
    (folder / "setup.toml").write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert load_setup(folder / "setup.toml").hero == "wide"


def test_globs_sort_as_people_count(folder: Path) -> None:
    for angle in ("a", "b"):
        for take in (10, 2, 1):
            (folder / f"{angle}{take}.png").write_bytes(b"-")
    text = GOOD.replace('["wide.png"]', '"a*.png"').replace('["left.png"]', '["b1.png", "b2.png", "b10.png"]')
    setup = load_setup(write(folder, text))
    assert [path.name for path in setup["wide"].media] == ["a1.png", "a2.png", "a10.png"]


def test_a_file_wins_over_the_glob_in_its_name(folder: Path) -> None:
    (folder / "wide[2].png").write_bytes(b"-")
    (folder / "wide2.png").write_bytes(b"-")
    setup = load_setup(write(folder, GOOD.replace("wide.png", "wide[2].png")))
    assert setup["wide"].media == (folder / "wide[2].png",)


def test_a_glob_passes_over_what_is_no_media(folder: Path) -> None:
    (folder / "wide.txt").write_text("slate 12")
    assert load_setup(write(folder, GOOD.replace("wide.png", "wide.*")))["wide"].media == (folder / "wide.png",)


def test_names_are_one_whatever_their_unicode_form(folder: Path) -> None:
    """A Mac's file names arrive decomposed, typed text composed (UAX #15)."""
    composed, decomposed = (unicodedata.normalize(form, "Bühne") for form in ("NFC", "NFD"))
    text = GOOD.replace('hero = "wide"', f'hero = "{decomposed}"').replace("[angle.wide]", f'[angle."{composed}"]')
    setup = load_setup(write(folder, text))
    assert setup.hero == composed == setup.angles[0].name


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('encoding = "C-', 'encodign = "C-', "angle.wide.encodign: is not a known key; did you mean encoding?"),
        ("[angle.left]", "[angles.left]", "angles: is not a known key; did you mean angle?"),
        ("[setup]", "[setup]\nout = 1", "setup.out: is not a known key; known here: name, hero"),
        ('hero = "wide"', "", "setup.hero: is missing; name the angle"),
        ('hero = "wide"', 'hero = "wid"', "'wid' is not among the angles; did you mean wide?"),
        ('hero = "wide"', 'hero = "xyz"', "'xyz' is not among the angles; angles: wide, left"),
        ('name = "glaze-table"', "", "setup.name: is missing"),
        ('name = "glaze-table"', 'name = "../../etc"', "the name holds '/'"),
        ('name = "glaze-table"', 'name = ".."', "the name begins with a dot"),
        ('name = "glaze-table"', 'name = "a\\u202Eb"', "invisible character U+202E"),
        ('name = "glaze-table"', 'name = "a\\nb"', "invisible character U+000A"),
        ('name = "glaze-table"', 'name = "NUL"', "Windows keeps for a device"),
        ('name = "glaze-table"', f'name = "{"x" * 81}"', "longer than 80 bytes"),
        ("[angle.left]", '[angle."l/r"]', "holds '/'"),
        ("[angle.left]", "[angle.WIDE]", "wide and WIDE would write the same files"),
        ('encoding = "C-Log3/Cinema Gamut"', "", "angle.wide.encoding: is missing"),
        ('encoding = "C-Log3/Cinema Gamut"', 'encoding = "?"', "is still to be filled in"),
        ('encoding = "C-Log3/Cinema Gamut"', "encoding = 3", "angle.wide.encoding: must be a text"),
        ('range = "narrow"', 'range = "video"', "cannot be 'video'; use one of: full, legal, narrow"),
        ("rotate = 90", "rotate = 45", "cannot be 45; use one of: 0, 90, 180, 270"),
        ("rotate = 90", "rotate = true", "cannot be True"),
        ("rotate = 90", "rotate = 90.0", "cannot be 90.0"),
        ('flip = "horizontal"', "flip = true", "use one of: none, horizontal, vertical"),
        ("pixel_aspect = 2", "pixel_aspect = 0", "use a number from 0.25 to 4"),
        ("pixel_aspect = 2", "pixel_aspect = nan", "use a number from 0.25 to 4"),
        ("pixel_aspect = 2", 'pixel_aspect = "2:1"', "write a number"),
        ("crop = [0.0, 0.125, 0, 0.1]", "crop = [0.1]", "must be a list of 4 numbers"),
        ("crop = [0.0, 0.125, 0, 0.1]", "crop = [0.5, 0, 0.5, 0]", "leaves nothing of the picture"),
        ("crop = [0.0, 0.125, 0, 0.1]", "crop = [-0.1, 0, 0, 0]", "from 0 to 1"),
        ("exposure_index = 1600", "exposure_index = 0", "from 25 to 409600"),
        ("exposure_index = 1600", "exposure_index = 800.5", "must be a whole number"),
        ("exposure_index = 1600", "exposure_index = 1" + "0" * 400, "from 25 to 409600"),
        ('media = ["wide.png"]', "media = []", "must be a text or a list of texts, not empty"),
        ('media = ["wide.png"]', "media = [1]", "must be a text or a list of texts"),
        ('media = ["wide.png"]', 'media = "a\\u0000b"', "NUL"),
        ('media = ["wide.png"]', 'media = ["wide.png", "left.png"]', "has 1 stills where the hero has 2"),
        ("[setup]", "[setup", "is not valid TOML"),
        ("[setup]\n", "setup = 1\n[set]\n", "set: is not a known key; did you mean setup?"),
        ("[setup]", 'angle = "wide"\n[setup]', "is not valid TOML"),
    ],
)
def test_one_clear_line(folder: Path, old: str, new: str, said: str) -> None:
    assert old in GOOD
    line = complaint(folder, GOOD.replace(old, new))
    assert said in line and line.startswith(str(folder / "setup.toml"))


def test_tables_that_are_none(folder: Path) -> None:
    assert "setup: must be a table" in complaint(folder, "setup = 1")
    assert "setup: is missing" in complaint(folder, "")
    assert "angle: is missing" in complaint(folder, '[setup]\nname = "a"\nhero = "b"')
    assert "angle.wide: must be a table" in complaint(
        folder, '[setup]\nname="a"\nhero="wide"\n[angle]\nwide=1\nb=2'
    )


def test_the_hero_alone(folder: Path) -> None:
    assert "the hero alone" in complaint(folder, GOOD.partition("[angle.left]")[0])


def test_missing_media(folder: Path) -> None:
    line = complaint(folder, GOOD.replace("left.png", "gone.png"), MediaError)
    assert line == f"{folder / 'gone.png'}: there is no such file; correct media of angle.left"
    assert "no still or clip matches" in complaint(folder, GOOD.replace("left.png", "gone*.png"), MediaError)
    os.symlink("loop.png", folder / "loop.png")
    (folder / "stills").mkdir()
    line = complaint(folder, GOOD.replace("left.png", "stills"), MediaError)
    assert line == f'{folder / "stills"}: is a folder; name its files, such as "stills/*.png"'
    assert "no such file" in complaint(folder, GOOD.replace("left.png", "loop.png"), MediaError)


def test_files_that_are_no_setup_file(folder: Path) -> None:
    for path, said in [
        (folder / "none.toml", "there is no such setup file"),
        (folder, "is a folder"),
        (folder / ("x" * 300), "cannot be read"),
    ]:
        with pytest.raises(SetupFileError, match=said):
            load_setup(path)
    (folder / "latin.toml").write_bytes(b'[setup]\nname = "B\xfchne"\n')
    with pytest.raises(SetupFileError, match="not UTF-8"):
        load_setup(folder / "latin.toml")
    (folder / "deep.toml").write_text("a = " + "[" * 200_000)
    with pytest.raises(SetupFileError, match="nested too deeply"):
        load_setup(folder / "deep.toml")
    with pytest.raises(SetupFileError, match="too large"):
        load_setup(write(folder, GOOD), SampleOptions(largest_setup_file=100))


@pytest.mark.parametrize(
    "key",
    [
        ".".join("a" * 100_000) + " = 1",
        "[" + ".".join("1" * 100_000) + "]",
        ".".join(['"="'] * 100_000) + " = 1",
        'x = {a = """\n"""", ' + ".".join("b" * 100_000) + ' = "c"}',
        "x = {a = 'it' , " + ".".join(["'.'"] * 100_000) + ' = "c"}',
    ],
    ids=["bare", "digits", "quoted", "behind a text", "dots in quotes"],
)
def test_a_key_of_100_000_parts_takes_no_memory(folder: Path, key: str) -> None:
    """Left to itself, the TOML library takes tens of gigabytes over this."""
    assert "is nested too deeply" in complaint(folder, key)


def test_long_lists_of_numbers_and_names_are_not_deep(folder: Path) -> None:
    names = ", ".join(f'"wide.{i}.png"' for i in range(100))
    line = complaint(folder, GOOD.replace('["wide.png"]', f"[{names}]"), MediaError)
    assert "wide.0.png" in line
    assert "x: is not" in complaint(folder, GOOD + "x = [" + ", ".join(["0.125", "-1.5e-3"] * 100) + "]\n# ....")


def test_bounds_on_counts(folder: Path) -> None:
    with pytest.raises(SetupFileError, match="holds 2 angles; at most 1"):
        load_setup(write(folder, GOOD), SampleOptions(most_angles=1))
    with pytest.raises(SetupFileError, match="names 2 files"):
        load_setup(write(folder, GOOD.replace("wide.png", "*.png")), SampleOptions(most_stills=1))


@settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.data())
def test_whatever_it_says_is_a_setup_or_one_line(folder: Path, data: st.DataObject) -> None:
    """Any value under any known key: a Setup, or an error of ours that fits one line."""
    scalar = st.one_of(
        st.text(max_size=8),
        st.integers(),
        st.floats(),
        st.booleans(),
        st.sampled_from(["wide", "full", "wide.png"]),
    )
    value = st.one_of(scalar, st.lists(scalar, max_size=5))
    keys = ["media", "encoding", "range", "rotate", "flip", "pixel_aspect", "crop", "exposure_index", "x"]
    lines = ['[setup]\nname = "a"\nhero = "wide"\n[angle.left]\nmedia = "left.png"\nencoding = "e"\n[angle.wide]']
    for key in data.draw(st.lists(st.sampled_from(keys), unique=True)):
        lines.append(f"{key} = {toml(data.draw(value))}")
    text = "\n".join(lines)
    tomllib.loads(text)
    try:
        load_setup(write(folder, text))
    except HuemendError as error:
        assert "\n" not in str(error)


def toml(value: object) -> str:
    """Write a value as TOML 1.0.0."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(c):08X}" for c in value if not 0xD800 <= ord(c) < 0xE000) + '"'
    if isinstance(value, list):
        return "[" + ", ".join(toml(item) for item in value) + "]"
    return repr(value)


@given(st.text())
def test_a_safe_name_stays_in_its_folder(name: str) -> None:
    if unsafe(name) is None:
        joined = os.path.normpath(os.path.join("/out", f"{name}.cube"))
        assert joined == f"/out/{name}.cube"
        assert name.isprintable()


def test_collision_ignores_case_and_form() -> None:
    assert collision(["STRASSE", "straße"]) == ("STRASSE", "straße")
    assert collision(["a", "b"]) is None


def test_natural_order_is_total() -> None:
    names = ["b", "a10", "a9", "A9b", "9", "10", "a"]
    assert sorted(names, key=natural_key) == ["9", "10", "a", "a9", "A9b", "a10", "b"]
