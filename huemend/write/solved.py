"""What was solved, kept beside the record, so that everything can be written again without solving.

The record holds figures for people and scripts; pages and CDLs also need the pairs behind them. They lie in
`Output.SOLVED`: arrays, and one JSON text that says what they are. With them lies what a nudge leaves as it is:
which surfaces the report shows, and what each angle was handed. Nothing in it is code, and reading it runs none.
"""

from __future__ import annotations

import dataclasses
import hashlib
import io
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from enum import Enum
from fractions import Fraction
from importlib import import_module
from typing import Any

import numpy as np

from huemend.errors import OutputError
from huemend.model import Angle, InputFile, LinearStill, Nudge, Setup, SetupResult
from huemend.options import WriteOptions
from huemend.write.luts.cdl import CdlEntry
from huemend.write.luts.kinds import LutFile
from huemend.write.outputs import Output
from huemend.write.record import portable
from huemend.write.report.left_over import LeftOver
from huemend.write.report.surfaces import Surface

_TEXT = "what"
#: Values of these modules may be in it, and of no others.
_HOME = "huemend."
_ROOMS = (
    "model.",
    "options.write",
    "write.luts.",
    "write.report.alignment",
    "write.report.left_over",
    "write.report.surfaces",
    "write.solved",
)


@dataclass(frozen=True, kw_only=True)
class Handed:
    """What an angle was handed, and what it depends on beside the solved match."""

    nudge: Nudge
    options: WriteOptions
    #: Tuple of LutFile and CdlEntry.
    products: tuple[LutFile | CdlEntry, ...]

    @property
    def luts(self) -> tuple[LutFile, ...]:
        """The files among them."""
        return tuple(product for product in self.products if isinstance(product, LutFile))

    @property
    def cdl(self) -> CdlEntry | None:
        """The CDL among them, if there is one."""
        return next((product for product in self.products if isinstance(product, CdlEntry)), None)


@dataclass(frozen=True, kw_only=True, eq=False)
class Earlier:
    """What an earlier match solved, with the setup as it is now, and what it handed over."""

    result: SetupResult
    #: Mapping of angle name to Surfaces. What the report shows; of none where it had no pictures.
    surfaces: Mapping[str, tuple[Surface, ...]] = field(default_factory=dict)
    #: Mapping of angle name to what is left on each of these, as shot and as delivered then.
    measured: Mapping[str, tuple[tuple[LeftOver, LeftOver], ...]] = field(default_factory=dict)
    #: Mapping of angle name to Handed.
    handed: Mapping[str, Handed] = field(default_factory=dict)
    #: Mapping of path to sha256. Of every file that was written, by the record.
    files: Mapping[str, str] = field(default_factory=dict)

    def nudged_alike(self, name: str) -> bool:
        """Say whether an angle, the hero or another, is nudged as it was when this was handed over."""
        return name in self.handed and self.handed[name].nudge == self.result.setup[name].nudge

    def measured_before(self) -> dict[str, tuple[tuple[LeftOver, LeftOver], ...]]:
        """Return what is left on the surfaces of the angles that are nudged as they were."""
        return {name: said for name, said in self.measured.items() if self.nudged_alike(name)}


def setup_hash(setup: Setup) -> str:
    """Return what a setup says, nudges and the places of files apart, as a hash."""
    angles = tuple(replace(angle, nudge=Nudge(), media=()) for angle in setup.angles)
    said = {
        field.name: getattr(setup, field.name) for field in fields(setup) if field.name not in ("source", "angles")
    }
    return hashlib.sha256(repr((sorted(said.items()), angles)).encode()).hexdigest()


def portable_inputs(inputs: tuple[InputFile, ...]) -> tuple[InputFile, ...]:
    """Return input files as the record names them: without the machine that they lie on."""
    return tuple(replace(file, source=portable(file.source)) for file in inputs)


def pack(
    result: SetupResult,
    surfaces: Mapping[str, tuple[Surface, ...]],
    measured: Mapping[str, tuple[tuple[LeftOver, LeftOver], ...]],
    handed: Mapping[str, Handed],
) -> bytes:
    """Return what was solved of a setup and left of it, without its pictures; the same gives the same bytes."""
    arrays: dict[str, np.ndarray[Any, Any]] = {}
    plain = replace(result, stills={}, inputs=portable_inputs(result.inputs))
    said = {
        field.name: getattr(plain, field.name) for field in fields(plain) if field.name not in ("setup", "stills")
    }
    whole = {
        "setup": setup_hash(result.setup),
        "result": _put(said, arrays),
        "surfaces": _put(surfaces, arrays),
        "measured": _put(measured, arrays),
        "handed": _put(handed, arrays),
    }
    text = json.dumps(whole, sort_keys=True)
    arrays[_TEXT] = np.frombuffer(text.encode(), np.uint8)
    out = io.BytesIO()
    np.savez(out, **arrays)  # type: ignore[arg-type]
    return out.getvalue()


def unpack(data: bytes, setup: Setup, stills: Mapping[str, tuple[LinearStill, ...]]) -> Earlier:
    """Return what was packed, of the setup as it is now, with pictures that were read anew.

    Raises OutputError where the setup says something else than it did, or the bytes are no packed result.
    """
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as kept:
            arrays = {name: kept[name] for name in kept.files}
        said = json.loads(arrays[_TEXT].tobytes())
        same = said["setup"] == setup_hash(setup)
        parts = ("result", "surfaces", "measured", "handed")
        values, surfaces, measured, handed = (_get(said[name], arrays, setup) for name in parts)
        result = SetupResult(setup=setup, stills=stills, **values)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, ImportError, StopIteration) as error:
        raise OutputError(
            f"cannot be read ({error})", where=Output.SOLVED, todo="match without --reuse"
        ) from error
    if not same:
        raise OutputError(
            "the setup file says more that is new than nudges", where=setup.source, todo="match without --reuse"
        )
    return Earlier(result=result, surfaces=surfaces, measured=measured, handed=handed)


def _put(value: Any, arrays: dict[str, np.ndarray[Any, Any]]) -> Any:
    """Turn a value into what JSON holds; its arrays go beside it."""
    if isinstance(value, np.ndarray):
        name = f"a{len(arrays):04d}"
        arrays[name] = np.ascontiguousarray(value)
        return {"array": name}
    if isinstance(value, Enum):
        return {"enum": _named(type(value)), "value": str(value.value)}
    if isinstance(value, Fraction):
        return {"fraction": str(value)}
    if isinstance(value, Angle):
        # An angle is what the setup file says of it now.
        return {"angle": value.name}
    if is_dataclass(value) and not isinstance(value, type):
        own = {field.name: _put(getattr(value, field.name), arrays) for field in fields(value) if field.init}
        return {"class": _named(type(value)), "fields": own}
    if isinstance(value, (tuple, list)):
        return {"tuple": [_put(item, arrays) for item in value]}
    if isinstance(value, Mapping):
        return {"map": [[key, _put(item, arrays)] for key, item in value.items()]}
    return value.item() if isinstance(value, np.generic) else value


def _named(kind: type) -> str:
    return f"{kind.__module__.removeprefix(_HOME)}:{kind.__qualname__}"


def _get(value: Any, arrays: Mapping[str, np.ndarray[Any, Any]], setup: Setup) -> Any:
    if not isinstance(value, dict):
        return value
    if "array" in value:
        return arrays[value["array"]]
    if "fraction" in value:
        return Fraction(value["fraction"])
    if "angle" in value:
        return setup[value["angle"]]
    if "tuple" in value:
        return tuple(_get(item, arrays, setup) for item in value["tuple"])
    if "map" in value:
        return {key: _get(item, arrays, setup) for key, item in value["map"]}
    kind = _kind(value.get("enum") or value["class"])
    if "enum" in value:
        return kind(value["value"])
    return kind(**{name: _get(item, arrays, setup) for name, item in value["fields"].items()})


def _kind(name: str) -> Any:
    module, _, kind = name.partition(":")
    if not module.startswith(_ROOMS):
        raise ValueError(f"{name} is nothing that a result holds")
    found = getattr(import_module(_HOME + module), kind)
    if not isinstance(found, type) or not (dataclasses.is_dataclass(found) or issubclass(found, Enum)):
        raise ValueError(f"{name} is nothing that a result holds")
    return found
