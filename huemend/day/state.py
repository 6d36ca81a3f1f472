"""What a setup of a day was last run on, so that ``--resume`` can tell whether it must be run again.

The state lies beside a setup's results, is written after them, and holds no times, so that a day that is copied
to another disk is still known to be done.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from huemend.base.files import hash_regular, read_regular, replace_text
from huemend.base.folders import make_folders
from huemend.base.originals import Guard
from huemend.base.reading import open_regular
from huemend.base.schema import problem
from huemend.model import Setup
from huemend.model.learnt import Carried
from huemend.options import FileOptions, MatchOptions
from huemend.sample.footage import is_clip
from huemend.write.record_reading import RECORD, is_whole
from huemend.write.versions import versions

#: File beside a setup's results.
STATE = ".huemend-run.json"

_SCHEMA = "huemend-run/1"
_SHAPE: Mapping[str, Any] = {
    "schema": {"const": _SCHEMA},
    "done": {"type": "boolean"},
    **{name: {"type": "string"} for name in ("base", "fingerprint", "record", "error")},
    "code": {"type": "integer", "minimum": 0, "maximum": 255},
    "learnt": {"type": "object"},
}


@dataclass(frozen=True, kw_only=True)
class RunState:
    """How a setup's last run ended."""

    #: The results are complete.
    done: bool
    #: Fingerprint of what the results rest on; empty if that changed while they were made.
    base: str = ""
    #: The same, with what other setups lent.
    fingerprint: str = ""
    #: Hash of the ``report.json`` that this is said of.
    record: str = ""
    #: Why there are none, in one line.
    error: str = ""
    #: The exit code that stands for ``error``.
    code: int = 0
    #: Mapping of angle name to what its own footage said of the two cameras. Without what was carried over from
    #: other setups.
    learnt: Mapping[str, Any] = field(default_factory=dict)


def read_state(out: Path) -> RunState | None:
    """Return the state that lies beside a setup's results, or None where there is none that can be read."""
    path = out / STATE
    try:
        said = json.loads(read_regular(path, FileOptions().state) or b"")
    except (OSError, ValueError, RecursionError):
        return None
    if problem(said, {"type": "object", "required": [*_SHAPE], "properties": _SHAPE}) is not None:
        return None
    return RunState(**{field.name: said[field.name] for field in dataclasses.fields(RunState)})


def write_state(out: Path, state: RunState, guard: Guard, *, within: Path | None = None) -> None:
    """Write the state beside a setup's results, in a folder that is made if it does not exist.

    The guard is over the setup's files; no part of the path below ``within`` may be a link. Raises OutputError
    where the folder cannot be written, or the file of that name there is no state of a run.
    """
    make_folders(out, within)
    text = json.dumps({"schema": _SCHEMA, **dataclasses.asdict(state)}, indent=1, allow_nan=False)
    replace_text(out / STATE, text + "\n", guard, own=_is_state)


def _is_state(path: Path) -> bool:
    """Say whether a file is a state, of whatever version; a power cut can leave an empty one."""
    data = read_regular(path, FileOptions().state)
    if not data:
        return data is not None
    with suppress(ValueError, RecursionError):
        said = json.loads(data)
        return isinstance(said, dict) and str(said.get("schema")).startswith("huemend-run/")
    return False


def is_current(out: Path, base: str, *, lent: bool) -> bool:
    """Say whether a setup's results are whole and rest on what ``fingerprint`` says now.

    Where things are ``lent``, results that other setups lent something to will do, whatever it was.
    """
    state = read_state(out)
    if state is None or not state.done or not base:
        return False
    if base != (state.base if lent else state.fingerprint):
        return False
    return state.record == record_hash(out) and is_whole(out)


def record_hash(out: Path) -> str:
    """Hash the record in an output folder; empty if there is none."""
    return hash_regular(out / RECORD) or ""


def still_hashes(setup: Setup, options: MatchOptions) -> dict[Path, str]:
    """Hash the stills of a setup by their content; frames of clips and of numbered pictures are not read."""
    hashes: dict[Path, str] = {}
    for angle in setup.angles:
        if not is_clip(angle.media, options.sample):
            for path in angle.media:
                with open_regular(path) as file:
                    hashes[path] = hashlib.file_digest(file, "sha256").hexdigest()
    return hashes


def fingerprint(setup: Setup, options: MatchOptions, stills: Mapping[Path, str]) -> str:
    """Return one hash of everything that a setup's results rest on.

    Media that are not among the `still_hashes` are known by size and modification time. Raises OSError if one is
    gone.
    """
    said = {
        "versions": versions(),
        "setup": dataclasses.asdict(dataclasses.replace(setup, source=Path())),
        "options": dataclasses.asdict(options),
    }

    def relative(path: Path) -> str:
        return os.path.relpath(path, setup.source.parent) if path.is_absolute() else str(path)

    digest = hashlib.sha256(json.dumps(said, sort_keys=True, default=relative).encode())
    if options.report.look is not None:
        digest.update(str(hash_regular(options.report.look)).encode())
    for line in _media(setup, stills):
        digest.update(line.encode("utf-8", "surrogateescape") + b"\0")
    return digest.hexdigest()


def with_carried(base: str, carried: Mapping[str, Carried]) -> str:
    """Return the fingerprint of results that other setups lent something to."""
    if not base or not carried:
        return base
    said = json.dumps({angle: lent.as_json() for angle, lent in carried.items()}, sort_keys=True)
    return hashlib.sha256(f"{base} {said}".encode()).hexdigest()


def _media(setup: Setup, stills: Mapping[Path, str]) -> Iterator[str]:
    for angle in setup.angles:
        for path in angle.media:
            if path in stills:
                yield stills[path]
            else:
                facts = os.stat(path)
                yield f"{path.name} {facts.st_size} {facts.st_mtime_ns}"
