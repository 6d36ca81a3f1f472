"""A day from beginning to end: which setups must be run, running them, and the index."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from fnmatch import fnmatchcase
from pathlib import Path

from huemend.base.kept import Kept
from huemend.base.originals import Guard
from huemend.base.tasks import over
from huemend.day.index import INDEX, TABLE, read_rows, write_index
from huemend.day.lending import lend
from huemend.day.plan import Day
from huemend.day.runner import Lane, run_tasks
from huemend.day.state import with_carried
from huemend.day.task import SetupOutcome, SetupTask, Status, keep_failure, run_setup, unchanged
from huemend.errors import InputError
from huemend.model import Event, OnEvent
from huemend.model.event import unheard
from huemend.options import DayOptions, MatchOptions
from huemend.write.report.day_rows import DayRow


def choose(day: Day, patterns: Sequence[str]) -> Day:
    """Keep the setups whose names match a pattern; all, where there is no pattern.

    Raises InputError for a pattern that no setup matches.
    """
    if not patterns:
        return day
    for pattern in patterns:
        if not any(fnmatchcase(setup.name, pattern) for setup in day.setups):
            raise InputError(
                f"no setup is called {pattern!r}", where=day.folder, todo="--dry-run lists the setups there are"
            )
    kept = [setup for setup in day.setups if any(fnmatchcase(setup.name, pattern) for pattern in patterns)]
    return replace(day, setups=tuple(kept))


def tasks_of(
    day: Day,
    out: Path,
    options: MatchOptions,
    *,
    threads: int | None = None,
    resume: bool = False,
    lending: bool = False,
) -> list[SetupTask]:
    """Return a task for every setup of a day, in the day's order."""
    # Workers of a cluster have another working directory.
    out = out.absolute()
    return [
        SetupTask(
            setup=replace(setup, path=setup.path.absolute()),
            out=out / setup.name,
            root=out,
            options=options,
            threads=threads,
            resume=resume,
            lending=lending,
        )
        for setup in day.setups
    ]


def run_day(
    tasks: Sequence[SetupTask],
    lanes: Sequence[Lane],
    *,
    carry_over: Sequence[tuple[str, Path]] = (),
    options: DayOptions | None = None,
    look_first: bool = True,
    on_event: OnEvent | None = None,
) -> list[SetupOutcome]:
    """Run the setups of a day; one that fails never stops the others.

    Parameters
    ----------
    lanes : sequence of Lane
        Where they run: ``process_lanes`` or ``cluster_lanes``. They are closed at the end.
    carry_over : sequence of (name, output folder), optional
        All setups of the day, in its order: what the earlier ones learnt of two cameras is then lent to those that
        could not be trusted on their own, and these are matched again.
    look_first : bool
        Find out here which results are current, so that a day of which nothing changed starts no worker. Where
        the files lie nearer to the workers than to this process, leave it to them.
    on_event : callable, optional
        Is told of every setup that ends, and of what keeps all of them waiting.

    Returns
    -------
    list of SetupOutcome
        In the order of the tasks.
    """
    options = options or DayOptions()
    told, known = _Told("day", len(tasks), on_event), dict[str, SetupOutcome]()
    try:
        if look_first:
            for outcome in over([task for task in tasks if task.resume], unchanged):
                if outcome is not None:
                    told.ended(outcome)
                    known[outcome.name] = outcome
        rest = [replace(task, resume=task.resume and not look_first) for task in tasks if task.name not in known]
        known |= _run(rest, lanes, told, options)
        again = _with_loans(tasks, carry_over)
        known |= _run(again, lanes, _Told("carry", len(again), on_event), options)
    finally:
        for lane in lanes:
            lane.close()
    return [known[task.name] for task in tasks]


class _Told:
    """Whoever is told of the setups of one stage as they end."""

    def __init__(self, stage: str, total: int, on_event: OnEvent | None) -> None:
        self._stage, self._total, self._on_event = stage, total, on_event or unheard
        self._done = 0

    def ended(self, outcome: SetupOutcome) -> None:
        self._tell(_words(outcome))
        self._done += 1

    def waits(self, hindrance: str) -> None:
        self._tell(f"waits: {hindrance}")

    def _tell(self, text: str) -> None:
        self._on_event(Event(stage=self._stage, text=text, done=self._done, total=self._total))


def _run(
    tasks: Sequence[SetupTask], lanes: Sequence[Lane], told: _Told, options: DayOptions
) -> dict[str, SetupOutcome]:
    outcomes = run_tasks(
        tasks, run_setup, lanes, give_up=keep_failure, on_done=told.ended, on_wait=told.waits, options=options
    )
    return {outcome.name: outcome for outcome in outcomes}


def _with_loans(tasks: Sequence[SetupTask], day: Sequence[tuple[str, Path]]) -> list[SetupTask]:
    """Return the tasks whose results would come out otherwise with what is lent to them now."""
    by_name = {task.name: task for task in tasks}
    out = []
    for name, state, lent in lend(day, tasks[0].options.carry) if tasks else ():
        if name in by_name and state.fingerprint != with_carried(state.base, lent):
            out.append(replace(by_name[name], carried=lent, resume=False))
    return out


def make_index(day: Day, place: Kept) -> list[DayRow]:
    """Write the index of a day from what lies in its output folder, which is held; return its rows."""
    rows = read_rows(place.folder, [setup.name for setup in day.setups])
    write_index(place, day.name, rows)
    return rows


@contextmanager
def held_folder(out: Path, guard: Guard) -> Iterator[Kept]:
    """Make a day's output folder, and keep a second run of the day out of it.

    Raises OutputError where the folder cannot be made or written, another run works in it, or its index is
    somebody else's file.
    """
    with Kept(out, guard, [INDEX, TABLE]) as place:
        # An hour's work must not end at a page that cannot be written.
        for name in (INDEX, TABLE):
            place.check(name)
        yield place


def _words(outcome: SetupOutcome) -> str:
    if outcome.status is Status.FAILED:
        return f"{outcome.name}: failed: {outcome.error}"
    counts = [f"{list(outcome.verdicts.values()).count(v)} {v}" for v in dict.fromkeys(outcome.verdicts.values())]
    kept = " (unchanged)" if outcome.status is Status.UNCHANGED else ""
    return f"{outcome.name}: {', '.join(counts)}{kept}"
