"""What a setup file leaves open, filled in from what holds for a whole day."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

#: What a drafted setup file says where only a person knows the encoding.
ENCODING_TO_FILL_IN = "?"


def with_defaults(said: Mapping[str, Any], defaults: Mapping[str, Any]) -> dict[str, Any]:
    """Fill in what a setup file does not say itself; what it says (tables, empty without a file) always stands.

    ``defaults`` has the same form. Angles that the setup file does not name are left out, unless it names
    none.

    >>> said = {"setup": {"hero": "A"}, "angle": {"A": {"media": "a.png", "encoding": "?"}}}
    >>> with_defaults(said, {"angle": {"A": {"encoding": "ACEScct"}, "B": {}}})["angle"]
    {'A': {'encoding': 'ACEScct', 'media': 'a.png'}}
    """
    out = dict(said)
    for key in ("setup", "encoding"):
        if key in defaults:
            out[key] = _filled(said.get(key, {}), defaults[key])
    known = defaults.get("angle", {})
    angles = said.get("angle", known)
    if isinstance(angles, Mapping):
        out["angle"] = {name: _filled(table, known.get(name, {})) for name, table in angles.items()}
    return out


def _filled(said: Any, defaults: Mapping[str, Any]) -> Any:
    # What is no table is left to the reader of the setup file to complain about.
    if not isinstance(said, Mapping):
        return said
    return {**defaults, **{key: value for key, value in said.items() if value != ENCODING_TO_FILL_IN}}
