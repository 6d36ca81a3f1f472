"""Write a setup's result again, with other nudges, without solving."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from huemend.errors import OutputError
from huemend.flow.delivered import delivered_record
from huemend.flow.read import read_setup
from huemend.model import OnEvent, Setup
from huemend.options import MatchOptions
from huemend.write.outputs import Output
from huemend.write.record import options_record
from huemend.write.record_reading import RECORD, read_inside
from huemend.write.solved import Earlier, portable_inputs, unpack
from huemend.write.versions import versions

#: Options of these parts say what is written and shown of a match, which is the same whatever they say.
_HANDED_OVER = ("report", "write")
_TODO = "match without --reuse"


def solved_before(setup: Setup, out: Path, options: MatchOptions, on_event: OnEvent | None = None) -> Earlier:
    """Return what an earlier match of a setup solved and left in ``out``, with the nudges that the setup has now.

    Raises OutputError if something but nudges is not as it was: versions, options, the setup file, or a file
    that went in.
    """
    record = delivered_record(out, "--out")
    data = read_inside(out, Output.SOLVED)
    written = {file["path"]: file["sha256"] for file in record.get("files", ())}
    if data is None or written.get(Output.SOLVED) != hashlib.sha256(data).hexdigest():
        raise OutputError(f"has no {Output.SOLVED} as it was written", where=out, todo=_TODO)
    changed = _changed(record, options)
    if changed:
        raise OutputError(f"was made with {changed}", where=out / RECORD, todo=_TODO)
    read = read_setup(setup, options, on_event)
    earlier = unpack(data, setup, read.stills)
    result = earlier.result
    now = portable_inputs(read.files)
    if now != result.inputs:
        old = {(file.angle, file.source, file.sha256) for file in result.inputs}
        other = next((file for file in now if (file.angle, file.source, file.sha256) not in old), now[0])
        raise OutputError(f"{other.source} is not the picture that was matched", where=setup.source, todo=_TODO)
    return replace(earlier, files=written)


def _changed(record: Mapping[str, Any], options: MatchOptions) -> str:
    """Say in which version or option a record differs from this run; empty where in none."""
    here = versions()
    libraries = dict(record.get("libraries", {}))
    for name, version in {"huemend": here["huemend"], **here["libraries"]}.items():
        then = record.get("huemend") if name == "huemend" else libraries.get(name)
        if then != version:
            return f"{name} {then}, and this is {version}"
    then, now = (
        {part: said for part, said in each.items() if part not in _HANDED_OVER}
        for each in (record.get("options", {}), options_record(options))
    )
    return _first_other(then, now, "")


def _first_other(then: Any, now: Any, name: str) -> str:
    if isinstance(then, Mapping) and isinstance(now, Mapping):
        for key in sorted({*then, *now}):
            found = _first_other(then.get(key), now.get(key), f"{name}.{key}".lstrip("."))
            if found:
                return found
        return ""
    return "" if then == now else f"another option: {name} was {then!r}, and now is {now!r}"
