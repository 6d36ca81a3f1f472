"""A day from beginning to end: which setups must be run, running them, and the index.

A `SetupTask` is one setup, which `huemend.day.task` runs in a worker, from its files to its results. The
``runner`` hands tasks to lanes, which are processes (``workers``) or a cluster (``cluster``), and tries again what
a worker died of. How a setup ended lies beside its results (``state``). Of what lies there comes what it lends to
later setups (``lending``), and the ``index``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from functools import cached_property
from pathlib import Path

from huemend.base.kept import Kept
from huemend.base.originals import Guard
from huemend.base.tasks import over, usable_processors
from huemend.day.index import INDEX, TABLE, read_rows, write_index
from huemend.day.lending import lend
from huemend.day.plan import Day, day_guard
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


@dataclass(frozen=True, kw_only=True)
class DayOrder:
    """What is asked of a day: which of its setups are matched, how, into which folder, and on what machines."""

    #: With all of its setups.
    day: Day
    #: What is asked for of it: the same, or only some of its setups.
    chosen: Day
    out: Path
    options: MatchOptions
    #: Setups at a time, and threads for all of them here, or for each on a cluster; None for what there is.
    jobs: int | None = None
    threads: int | None = None
    on_cluster: bool = False
    resume: bool = False
    carry: bool = False

    @property
    def at_once(self) -> int:
        """How many setups run at a time on this machine."""
        return min(self.jobs or usable_processors(), len(self.chosen.setups))

    @cached_property
    def tasks(self) -> list[SetupTask]:
        """A task for every setup that is asked for."""
        # A task takes one thread of a cluster's worker; who else works on that machine is unknown.
        shared = max(1, (self.threads or usable_processors()) // self.at_once)
        threads = (self.threads or 1) if self.on_cluster else shared
        return tasks_of(
            self.chosen, self.out, self.options, threads=threads, resume=self.resume, lending=self.carry
        )


def work_off(
    order: DayOrder,
    lanes: Callable[[], Sequence[Lane]] | None,
    options: DayOptions,
    on_event: OnEvent | None = None,
) -> tuple[list[DayRow], list[SetupOutcome]]:
    """Run what is asked of a day in ``lanes``, or nothing without, and make the index; return how setups stand.

    Where only some setups are asked for, others may be at work on other ones: then there is no index, and each
    setup's folder has a lock of its own.
    """
    outcomes: list[SetupOutcome] = []
    lenders = [(setup.name, order.out / setup.name) for setup in order.day.setups] if order.carry else []
    with ExitStack() as held:
        partly = order.chosen is not order.day
        place = None if partly else held.enter_context(held_folder(order.out, day_guard(order.day)))
        if lanes is not None:
            outcomes = run_day(
                order.tasks,
                lanes(),
                carry_over=lenders,
                options=options,
                look_first=not order.on_cluster,
                on_event=on_event,
            )
        if place is not None:
            return make_index(order.chosen, place), outcomes
        return read_rows(order.out, [setup.name for setup in order.chosen.setups]), outcomes


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
    """Run the setups of a day, and return their outcomes in order; one that fails never stops the others.

    They run in ``lanes``, which are closed at the end. Where ``carry_over`` names all setups of the day, in its
    order, with their output folders, what the earlier ones learnt of two cameras is then lent to those that could
    not be trusted on their own, and these are matched again. To ``look_first`` is to find out here which results
    are current, so that a day of which nothing changed starts no worker; where the files lie nearer to the workers
    than to this process, leave it to them.
    """
    options = options or DayOptions()
    progress, known = _Progress("day", len(tasks), on_event), dict[str, SetupOutcome]()
    try:
        if look_first:
            for outcome in over([task for task in tasks if task.resume], unchanged):
                if outcome is not None:
                    progress.ended(outcome)
                    known[outcome.name] = outcome
        rest = [replace(task, resume=task.resume and not look_first) for task in tasks if task.name not in known]
        known |= _run(rest, lanes, progress, options)
        again = _with_loans(tasks, carry_over)
        known |= _run(again, lanes, _Progress("carry", len(again), on_event), options)
    finally:
        for lane in lanes:
            lane.close()
    return [known[task.name] for task in tasks]


class _Progress:
    """Tells how far the setups of one stage are."""

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
    tasks: Sequence[SetupTask], lanes: Sequence[Lane], progress: _Progress, options: DayOptions
) -> dict[str, SetupOutcome]:
    outcomes = run_tasks(
        tasks,
        run_setup,
        lanes,
        give_up=keep_failure,
        on_done=progress.ended,
        on_wait=progress.waits,
        options=options,
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
