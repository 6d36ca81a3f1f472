"""Whatever text stands in a setup file or a LUT: a value, or one line of ours."""

from __future__ import annotations

import string
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from huemend.errors import HuemendError, LutError
from huemend.options import SampleOptions
from huemend.sample.setupfile import load_setup
from huemend.sample.tomlfile import read_toml
from huemend.write.luts.cube import Cube
from huemend.write.luts.cube_file import parse_cube, read_cube

pytestmark = [pytest.mark.slow, pytest.mark.corpus]

_KEYS = ["[setup]\n", "[angle.A]\n", "[angle.B]\n", "[[pair]]\n", "[[angle]]\n", "name", "hero", "media"]
_SIGNS = [" = ", "[", "]", "{", "}", ",", ".", "\n", "#", '"""', "'", "\\u0000", "\r", "\ufeff", "\0"]
_VALUES = [
    "encoding",
    '"A"',
    '"B"',
    '"B.png"',
    '"ACEScct"',
    "1",
    "-1e999",
    "nan",
    "1979-05-27",
    "25:61:61",
    "true",
]
_LONG = ["true", "9" * 4301, "0x" + "f" * 5000]
WORDS = st.sampled_from([*_KEYS, *_SIGNS, *_VALUES, *_LONG])
TEXTS = st.one_of(st.text(max_size=200), st.text(string.printable, max_size=200), st.lists(WORDS).map("".join))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("any")


def one_line(error: HuemendError) -> bool:
    return bool(str(error)) and len(str(error).splitlines()) == 1


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(TEXTS)
def test_any_text_as_a_setup_file(folder: Path, text: str) -> None:
    path = folder / "setup.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        assert isinstance(read_toml(path, SampleOptions()), dict)
        load_setup(path, SampleOptions())
    except HuemendError as error:
        assert one_line(error)


@settings(max_examples=300, deadline=None)
@given(st.one_of(TEXTS, st.text("0123456789.-+eE \t\n#", max_size=200).map(lambda rows: f"LUT_3D_SIZE 2\n{rows}")))
def test_any_text_as_a_lut(text: str) -> None:
    try:
        assert isinstance(parse_cube(text.encode("utf-8", "surrogatepass"), "any"), Cube)
    except LutError as error:
        assert one_line(error)


@pytest.mark.parametrize("number", ["9" * 5000, "-" + "1" * 4301, "0x" + "f" * 5000])
def test_a_number_of_thousands_of_digits(folder: Path, number: str) -> None:
    """Python refuses to read more than 4,300 digits, and not as an error of the TOML."""
    (folder / "long.toml").write_text(f"x = {number}\n")
    with pytest.raises(HuemendError, match="digits"):
        read_toml(folder / "long.toml", SampleOptions())


def test_a_lut_of_a_million_rows_too_many_is_refused(folder: Path) -> None:
    (folder / "long.cube").write_text("LUT_3D_SIZE 2\n" + "0 0 0\n" * 1_000_000)
    with pytest.raises(LutError, match="surplus row"):
        read_cube(folder / "long.cube")
