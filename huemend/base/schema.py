"""Does JSON follow a JSON Schema? The part of JSON Schema 2020-12 that our own schemas use, and no more.

A record is read by `bake`, `verify` and `day`, once for each of thousands of setups. The library for this,
jsonschema, brings five packages, one of them compiled, and takes ten times as long; the tests hold this to it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from typing import Any

#: Keywords that are understood; a schema with another one is an error of ours.
KEYWORDS = frozenset(
    {
        *("$schema", "$defs", "$ref", "title", "description", "type", "const", "enum"),
        *("oneOf", "allOf", "not", "if", "then", "else"),
        *("properties", "required", "additionalProperties", "items", "minItems", "maxItems"),
        *("pattern", "minimum", "maximum", "exclusiveMinimum"),
    }
)

_TYPES: Mapping[str, Callable[[Any], bool]] = {
    "object": lambda value: isinstance(value, dict),
    "array": lambda value: isinstance(value, list),
    "string": lambda value: isinstance(value, str),
    "null": lambda value: value is None,
    "boolean": lambda value: isinstance(value, bool),
    "number": lambda value: _is_number(value),
    "integer": lambda value: _is_number(value) and value == int(value),
}


def problem(value: Any, schema: Mapping[str, Any]) -> str | None:
    """Return where a value departs from a schema first, and how, in a few words; None if it follows it.

    The value is as ``json.loads`` gives it; numbers that no float can hold are none. Keys that the schema does
    not name are let through, even where it says ``additionalProperties: false``: a later version may add some,
    and what is read here stays as it was. Raises ValueError where the schema uses more than ``KEYWORDS``.

    >>> problem({"n": -1}, {"type": "object", "properties": {"n": {"type": "integer", "minimum": 0}}})
    'n is less than 0'
    >>> problem({}, {"type": "object", "required": ["n"]}), problem([], {"type": "array"})
    ('n is missing', None)
    """
    for place, what in _problems(value, schema, schema, ""):
        return f"{place or 'it'} {what}"
    return None


def _problems(value: Any, schema: Any, root: Mapping[str, Any], place: str) -> Iterator[tuple[str, str]]:
    unknown = schema.keys() - KEYWORDS
    if unknown:
        raise ValueError(f"this schema uses {sorted(unknown)}, which is not understood here")
    if "$ref" in schema:
        yield from _problems(value, root["$defs"][schema["$ref"].rpartition("/")[2]], root, place)
    if "type" in schema:
        kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
        if not any(_TYPES[kind](value) for kind in kinds):
            yield place, f"is not of type {' or '.join(kinds)}"
            return
    if "const" in schema and not _equal(value, schema["const"]):
        yield place, f"is not {schema['const']!r}"
    if "enum" in schema and not any(_equal(value, each) for each in schema["enum"]):
        yield place, f"is none of {', '.join(map(str, schema['enum']))}"
    if "oneOf" in schema:
        found = [next(_problems(value, each, root, place), None) for each in schema["oneOf"]]
        if found.count(None) != 1:
            # Where one of two is null, what is wrong with the other says more.
            first = found[0]
            yield first if first is not None and value is not None else (place, "is not of one kind")
    for each in schema.get("allOf", ()):
        yield from _problems(value, each, root, place)
    if "not" in schema and next(_problems(value, schema["not"], root, place), None) is None:
        yield place, "is what it must not be"
    if "if" in schema:
        holds = next(_problems(value, schema["if"], root, place), None) is None
        yield from _problems(value, schema.get("then" if holds else "else", {}), root, place)
    if isinstance(value, dict):
        yield from _object_problems(value, schema, root, place)
    elif isinstance(value, list):
        yield from _array_problems(value, schema, root, place)
    elif isinstance(value, str):
        if "pattern" in schema and not _compiled(schema["pattern"]).search(value):
            yield place, "is not written as it should be"
    elif _is_number(value):
        yield from _number_problems(value, schema, place)


def _object_problems(
    value: dict[str, Any], schema: Mapping[str, Any], root: Mapping[str, Any], place: str
) -> Iterator[tuple[str, str]]:
    for key in schema.get("required", ()):
        if key not in value:
            yield _under(place, key), "is missing"
    named = schema.get("properties", {})
    more = schema.get("additionalProperties", True)
    for key, item in value.items():
        if key in named:
            yield from _problems(item, named[key], root, _under(place, key))
        elif not isinstance(more, bool):
            yield from _problems(item, more, root, _under(place, key))


def _array_problems(
    value: list[Any], schema: Mapping[str, Any], root: Mapping[str, Any], place: str
) -> Iterator[tuple[str, str]]:
    low, high = schema.get("minItems", 0), schema.get("maxItems", math.inf)
    if not low <= len(value) <= high:
        yield place, f"has {len(value)} items"
    if "items" in schema:
        for index, item in enumerate(value):
            yield from _problems(item, schema["items"], root, f"{place}[{index}]")


def _number_problems(value: float, schema: Mapping[str, Any], place: str) -> Iterator[tuple[str, str]]:
    if value < schema.get("minimum", -math.inf):
        yield place, f"is less than {schema['minimum']}"
    if value <= schema.get("exclusiveMinimum", -math.inf):
        yield place, f"is not more than {schema['exclusiveMinimum']}"
    if value > schema.get("maximum", math.inf):
        yield place, f"is more than {schema['maximum']}"


def _is_number(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number beyond every float
        return False


def _equal(value: Any, other: Any) -> bool:
    # In Python True is 1; in JSON it is not.
    return isinstance(value, bool) == isinstance(other, bool) and bool(value == other)


def _under(place: str, key: str) -> str:
    return f"{place}.{key}" if place else key


@cache
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern)
