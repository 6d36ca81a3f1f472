"""One setup of a day, as a worker runs it: from its files to its results, whatever happens."""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from huemend.base.originals import Guard
from huemend.base.tasks import limit_threads
from huemend.day.lending import lessons
from huemend.day.plan import DaySetup
from huemend.day.state import (
    RunState,
    fingerprint,
    is_current,
    read_state,
    record_hash,
    still_hashes,
    with_carried,
    write_state,
)
from huemend.encodings.registry import encodings_of, find_working_encoding
from huemend.errors import FAILURE, HuemendError, OutputError, line_and_code
from huemend.flow.deliver import guard_of, look_of, match_and_write, output_folder
from huemend.model import Setup, SetupResult
from huemend.model.learnt import Carried
from huemend.options import MatchOptions
from huemend.sample.footage import is_clip
from huemend.sample.setupfile import load_setup
from huemend.write.record_reading import read_record


class Status(StrEnum):
    """How a setup of a day ended."""

    DONE = "done"
    UNCHANGED = "unchanged"
    FAILED = "failed"


@dataclass(frozen=True, kw_only=True)
class SetupTask:
    """What a worker must know to run one setup; small, and picklable."""

    setup: DaySetup
    #: The folder for this setup's results.
    out: Path
    options: MatchOptions
    #: The day's output folder: no part of the path below it may be a link.
    root: Path | None = None
    #: Threads of the picture libraries; None leaves them as they are.
    threads: int | None = None
    #: Do nothing where the results are complete and rest on what they would rest on now.
    resume: bool = False
    #: What other setups lend is settled later: results that something was lent to are current, too.
    lending: bool = False
    #: Mapping of angle name to what earlier setups lend.
    carried: Mapping[str, Carried] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """The setup's name in the day."""
        return self.setup.name


@dataclass(frozen=True, kw_only=True)
class SetupOutcome:
    """How one setup ended."""

    name: str
    status: Status
    #: Mapping of angle name to verdict. Empty for a setup that failed.
    verdicts: Mapping[str, str] = field(default_factory=dict)
    #: Why it failed, in one line.
    error: str = ""
    #: The exit code that stands for ``error``.
    code: int = 0


def keep_failure(task: SetupTask, error: BaseException | str) -> SetupOutcome:
    """Return the outcome of a setup that failed, told in one line, and keep it beside its results."""
    text, code = _line_and_code(error)
    # The index goes to others: where this machine keeps the day is not theirs to read.
    for folder in (task.setup.path.parent, task.out):
        text = text.replace(f"{folder}{os.sep}", f"{task.name}/")
    # The index is made from what lies on the disk; a disk that cannot take this has told already.
    with suppress(OSError, HuemendError):
        before = read_state(task.out) or RunState(done=False)
        state = replace(before, done=False, error=text, code=code)
        write_state(task.out, state, Guard.over([task.setup.path]), within=task.root)
    return SetupOutcome(name=task.name, status=Status.FAILED, error=text, code=code)


def load_day_setup(setup: DaySetup, options: MatchOptions) -> Setup:
    """Read a setup of a day, with what the day says for it, and look up its encodings.

    Raises InputError where the setup file, a name of an encoding, a medium or the show's look is at fault.
    """
    loaded = load_setup(setup.path, options.sample, defaults=setup.defaults)
    encodings_of(loaded)
    find_working_encoding(options.write.working_encoding)
    look_of(loaded, options)
    return loaded


def unchanged(task: SetupTask) -> SetupOutcome | None:
    """Return the outcome of a setup whose results are whole and would come out the same; else None."""
    try:
        setup = load_day_setup(task.setup, task.options)
        base = fingerprint(setup, task.options, still_hashes(setup, task.options))
    except (OSError, HuemendError):
        return None  # the run will tell what is wrong
    if not is_current(task.out, base, lent=task.lending):
        return None
    try:
        return _outcome(task.name, Status.UNCHANGED, read_record(task.out) or {})
    except HuemendError:
        return None  # a record that is not as this version writes it


def run_setup(task: SetupTask) -> SetupOutcome:
    """Run one setup and keep how it ended beside its results; only what ends the process gets out."""
    try:
        return (unchanged(task) if task.resume else None) or _run(task)
    except Exception as error:
        return keep_failure(task, error)


def _run(task: SetupTask) -> SetupOutcome:
    setup = load_day_setup(task.setup, task.options)
    hashes = still_hashes(setup, task.options)
    base = fingerprint(setup, task.options, hashes)
    if task.threads is not None:
        limit_threads(task.threads)
    guard = guard_of(setup, task.options)
    with output_folder(setup, task.out, task.options, guard=guard, within=task.root) as folder:
        result, record = match_and_write(setup, folder, task.options, carried=task.carried)
    if not _same_files(result, hashes, task.options):
        base = ""  # a still changed while it was worked on: the next run must not take this result for current
    state = RunState(
        done=True,
        base=base,
        fingerprint=with_carried(base, task.carried),
        record=record_hash(task.out),
        learnt=lessons(result),
    )
    write_state(task.out, state, guard, within=task.root)
    return _outcome(task.name, Status.DONE, record)


def _outcome(name: str, status: Status, record: Mapping[str, Any]) -> SetupOutcome:
    verdicts = {angle: str(said["verdict"]) for angle, said in record.get("angles", {}).items()}
    return SetupOutcome(name=name, status=status, verdicts=verdicts)


def _same_files(result: SetupResult, hashes: Mapping[Path, str], options: MatchOptions) -> bool:
    read = {(file.angle, file.moment): file.sha256 for file in result.inputs}
    return all(
        read.get((angle.name, moment)) == hashes[path]
        for angle in result.setup.angles
        if not is_clip(angle.media, options.sample)
        for moment, path in enumerate(angle.media)
    )


def _line_and_code(error: BaseException | str) -> tuple[str, int]:
    if isinstance(error, str):
        text, code = error, FAILURE
    else:
        todo = "run fewer setups at a time, or give smaller pictures"
        text, code = line_and_code(error, smaller=todo, again="run huemend match on this setup")
    if isinstance(error, OutputError):
        # Where a day cannot write, no setup's input is at fault: --fail-on never must not hide it.
        code = FAILURE
    # A name that is no text on this system must not stop the index that tells of it.
    return " ".join(text.split()).encode("utf-8", "backslashreplace").decode(), code
