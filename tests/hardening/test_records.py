"""Records of an older or another shape: told in one line by who needs them; a day's other setups go on."""

from __future__ import annotations

import copy
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from huemend import record_schema
from huemend.base.schema import KEYWORDS, problem
from huemend.errors import InputError
from huemend.write.record_reading import parse_record, read_record
from tests.hardening.conftest import Trial

pytestmark = [pytest.mark.slow, pytest.mark.corpus]

Record = dict[str, Any]


def without(*keys: str) -> Callable[[Record], object]:
    """Take one key away, found by going down the others."""

    def harm(record: Record) -> None:
        for key in keys[:-1]:
            record = record[key]
        del record[keys[-1]]

    return harm


def put(value: Any, *keys: Any) -> Callable[[Record], object]:
    """Put a value in a place."""

    def harm(record: Record) -> None:
        for key in keys[:-1]:
            record = record[key]
        record[keys[-1]] = value

    return harm


SHAPES: dict[str, Callable[[Record], object]] = {
    "no angles": without("angles"),
    "angles are a list": put([], "angles"),
    "an angle is null": put(None, "angles", "B"),
    "an angle without LUTs": without("angles", "B", "luts"),
    "an angle without a contrast": without("angles", "B", "contrast"),
    "a LUT without a path": without("angles", "B", "luts", 0, "path"),
    "a LUT that climbs out": put("../../other.cube", "angles", "B", "luts", 0, "path"),
    "an absolute LUT": put("/etc/passwd", "angles", "B", "luts", 0, "path"),
    "a verdict of another kind": put("perfect", "angles", "B", "verdict"),
    "a matrix of two rows": put([[1, 0, 0], [0, 1, 0]], "angles", "B", "matrix"),
    "a matrix of texts": put([["1", "0", "0"]] * 3, "angles", "B", "matrix"),
    "a number of 400 digits": put(10**400, "angles", "B", "exposure_stops"),
    "a hero that is a number": put(3, "hero"),
    "files are a text": put("luts", "files"),
    "reasons are null": put(None, "angles", "B", "reasons"),
    "an older schema": put("huemend-record/1", "schema"),
    "a newer schema": put("huemend-record/3", "schema"),
}

TEXTS: dict[str, str] = {
    "empty": "",
    "no JSON": "{",
    "a list": "[]",
    "null": "null",
    "of another program": '{"version": 3}',
    "a schema that is a list": '{"schema": ["huemend-record/2"]}',
    "NaN": '{"schema": "huemend-record/2", "view_exposure_stops": NaN}',
    "5,000 digits": '{"schema": "huemend-record/2", "view_exposure_stops": ' + "9" * 5000 + "}",
    "100,000 brackets": "[" * 100_000,
}


def spoil(path: Path, name: str) -> None:
    if name in TEXTS:
        path.write_text(TEXTS[name], encoding="utf-8")
        return
    record = json.loads(path.read_text(encoding="utf-8"))
    SHAPES[name](record)
    path.write_text(json.dumps(record), encoding="utf-8")


@pytest.mark.parametrize("name", [*SHAPES, *TEXTS])
@pytest.mark.parametrize("command", ["bake", "verify"])
def test_a_record_that_does_not_follow_the_schema_is_told(
    command: str, name: str, setup: Path, trial: Trial
) -> None:
    spoil(setup / "results/report.json", name)
    told: list[object] = [command, setup / "setup.toml", "--match", setup / "results", "--quiet"]
    if command == "bake":
        told[2:2] = ["B"]
    line = trial.refused(*told, said="report.json")
    assert "huemend match" in line or "move it away" in line


@pytest.mark.parametrize("name", [*SHAPES, *TEXTS])
def test_one_bad_record_costs_a_day_no_other(name: str, day: Path, trial: Trial) -> None:
    shutil.copytree(day / "01", day / "02")
    shutil.copytree(day / "match/01", day / "match/02")
    spoil(day / "match/02/report.json", name)
    told, _ = trial.done("day", day, "--index-only", "--json", "--quiet", code=3)
    setups = json.loads(told)["setups"]
    assert setups["01"]["angles"] == {"B": "matched"}
    assert setups["02"]["status"] == "failed" and setups["02"]["error"]
    assert "02" in (day / "match/index.html").read_text(encoding="utf-8")


def test_keys_that_a_later_version_may_add_are_let_through(matched: Path) -> None:
    record = read_record(matched / "results")
    assert record is not None
    record["angles"]["B"]["weather"] = "fine"
    assert parse_record(json.dumps(record).encode(), Path("report.json")) == record


# ----------------------------------------------------------------------------- against the reference library


def lenient(schema: Any) -> Any:
    """The schema as it is read: keys that it does not name are let through."""
    if isinstance(schema, dict):
        return {k: lenient(v) for k, v in schema.items() if (k, v) != ("additionalProperties", False)}
    return [lenient(each) for each in schema] if isinstance(schema, list) else schema


VALIDATOR = jsonschema.Draft202012Validator(lenient(record_schema()))
SCALARS = st.one_of(
    st.none(), st.booleans(), st.integers(-3, 3), st.floats(-2, 2), st.text(max_size=4), st.just("unsolved")
)
VALUES = st.recursive(
    SCALARS, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner)
)


def places(value: Any, above: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place of a record: the keys that lead to it."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [above, *(place for key, item in inner for place in places(item, (*above, key)))][:4000]


@settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_any_change_of_a_record_is_judged_as_jsonschema_judges_it(matched: Path, data: st.DataObject) -> None:
    record = json.loads((matched / "results/report.json").read_text(encoding="utf-8"))
    for _ in range(data.draw(st.integers(1, 2))):
        place = data.draw(st.sampled_from(places(record)[1:]))
        holder = record
        for key in place[:-1]:
            holder = holder[key]
        if data.draw(st.booleans()):
            holder[place[-1]] = data.draw(VALUES)
        else:
            del holder[place[-1]]
    assert (problem(copy.deepcopy(record), record_schema()) is None) == VALIDATOR.is_valid(record)
    try:
        parse_record(json.dumps(record).encode(), Path("report.json"))
    except InputError as error:
        assert str(error).isprintable() and str(error).startswith("report.json: ")


def test_every_keyword_of_the_schema_is_understood() -> None:
    def words(schema: Any, *, named: bool = False) -> set[str]:
        if isinstance(schema, list):
            return {word for each in schema for word in words(each)}
        if not isinstance(schema, dict):
            return set()
        inner = {
            word for key, value in schema.items() for word in words(value, named=key in ("properties", "$defs"))
        }
        return inner if named else {*schema, *inner}

    assert words(record_schema()) <= KEYWORDS
