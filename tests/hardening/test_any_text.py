"""Whatever text stands in a file that is read: a value, or one line of ours."""

from __future__ import annotations

import hashlib
import json
import shutil
import string
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from huemend.base.originals import Guard
from huemend.day.lending import lend
from huemend.day.state import STATE, read_state
from huemend.errors import HuemendError, LutError, TimelineError
from huemend.options import CarryOptions, SampleOptions
from huemend.sample.encoding_table import parse_encoding_spec
from huemend.sample.setupfile import load_setup
from huemend.sample.tomlfile import read_toml
from huemend.write.folder import OutputFolder
from huemend.write.luts.cube import Cube
from huemend.write.luts.cube_file import parse_cube
from huemend.write.record import SCHEMA
from huemend.write.record_reading import JOURNAL
from huemend.write.timeline.clips import read_timeline
from huemend.write.timeline.edl import parse_edl

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


@settings(
    max_examples=200, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(TEXTS)
def test_any_text_as_a_setup_file(folder: Path, text: str) -> None:
    path = folder / "setup.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        assert isinstance(read_toml(path, SampleOptions()), dict)
        load_setup(path, SampleOptions())
    except HuemendError as error:
        assert one_line(error)


@settings(max_examples=200, deadline=None, derandomize=True)
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


def test_a_lut_of_a_million_rows_too_many_is_refused() -> None:
    with pytest.raises(LutError):
        parse_cube(b"LUT_3D_SIZE 2\n" + b"0 0 0\n" * 1_000_000, "long.cube")


EVENT = "001  A001 V C 01:00:00:00 01:00:01:00 10:00:00:00 10:00:01:00"
_LINES = [EVENT, EVENT[:-3], EVENT + " x", "TITLE: x", "M2 A 024.0", "* FROM CLIP NAME: =1", "* ASC_SOP (1"]
_ENDS = ["\n", "\r\n", "\0", "\ufeff", "002  BL V W999 999", "* TO CLIP NAME:", "\x1b[2J", "9" * 5000]
EDL_WORDS = st.sampled_from([*_LINES, *_ENDS])


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.one_of(TEXTS, st.lists(EDL_WORDS).map("\n".join), st.lists(EDL_WORDS).map("".join)))
def test_any_text_as_an_edl(text: str) -> None:
    try:
        assert parse_edl(text.encode("utf-8", "surrogatepass"), "any").events
    except TimelineError as error:
        assert one_line(error)


JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), st.floats(), st.integers(), st.text(max_size=5), st.just(10**400)),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
)
NAMES = ("schema", "done", "base", "fingerprint", "record", "error", "code", "learnt")


@settings(
    max_examples=200,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.one_of(JSON, st.fixed_dictionaries({name: JSON for name in NAMES})), st.booleans())
def test_any_json_as_a_state(folder: Path, said: Any, ours: bool) -> None:
    """A state that is none is none; one that is has the right kinds of values, and lends what can be lent."""
    if ours and isinstance(said, dict):
        said["schema"] = "huemend-run/1"
    (folder / STATE).write_text(json.dumps(said))
    state = read_state(folder)
    if state is not None:
        assert isinstance(state.done, bool) and isinstance(state.error, str)
        assert list(lend([("a", folder)], CarryOptions())) is not None


_DIGESTS = st.sampled_from(["0" * 64, hashlib.sha256(b"somebody's\n").hexdigest(), "f" * 63, ""])
_PATHS = st.one_of(
    st.sampled_from(["theirs.txt", "../outside.txt", "luts", "luts/a", "", ".", "luts/../..", "a\0b", "/", "~"]),
    st.text(max_size=8),
    st.just("\ud800"),
    st.just("n" * 300),
)
_NOTES = st.one_of(
    st.tuples(_DIGESTS, st.just(""), _PATHS).map(json.dumps), JSON.map(json.dumps), st.text(max_size=40)
)


@settings(
    max_examples=200, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(_NOTES, max_size=4), st.sampled_from(["huemend-written/1", "huemend-written/2", ""]))
def test_any_text_as_a_journal(folder: Path, notes: list[str], header: str) -> None:
    """Only what lies inside and has the noted hash is ever removed, and no note ends in anything but one line."""
    out = folder / "out"
    shutil.rmtree(out, ignore_errors=True)
    (out / "luts").mkdir(parents=True)
    (out / "theirs.txt").write_text("not what was noted\n")
    (folder / "outside.txt").write_text("somebody's\n")
    (out / JOURNAL).write_bytes("\n".join([header, *notes]).encode("utf-8", "surrogatepass"))
    try:
        with OutputFolder(out, Guard()) as held:
            held.write_text("new.txt", "new\n")
            held.finish({"schema": SCHEMA})
    except HuemendError as error:
        assert one_line(error)
    assert (out / "theirs.txt").read_text() == "not what was noted\n"
    assert (folder / "outside.txt").read_text() == "somebody's\n"


OTIO = {"OTIO_SCHEMA": "Timeline.1", "tracks": {"OTIO_SCHEMA": "Stack.1", "children": []}}


@settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.one_of(JSON.map(json.dumps), JSON.map(lambda value: json.dumps({**OTIO, "metadata": value})), TEXTS))
def test_any_text_as_a_timeline(folder: Path, text: str) -> None:
    path = folder / "any.otio"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        read_timeline(path)
    except TimelineError as error:
        assert one_line(error)


@settings(
    max_examples=100, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.one_of(TEXTS, st.text(string.digits + ".-+eE,# \n", max_size=80)))
def test_any_text_as_a_table(folder: Path, text: str) -> None:
    (folder / "own.txt").write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        assert parse_encoding_spec("own", {"table": "own.txt", "gamut": "AP1"}, folder / "setup.toml").table
    except HuemendError as error:
        assert one_line(error)
