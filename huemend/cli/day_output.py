"""What ``huemend day`` shows, and its exit code."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from huemend.base.text import counted
from huemend.cli.params import exit_code
from huemend.cli.streams import say_json
from huemend.errors import FAILURE, INPUT

if TYPE_CHECKING:
    from huemend.day.plan import Day
    from huemend.day.task import SetupOutcome, SetupTask

_VERDICTS = {"unsolved": "unsolved", "review": "to review", "matched": "matched"}

day_fail_on_option = click.option(
    "--fail-on",
    type=click.Choice(["never", "failed", "unsolved", "review"]),
    default="review",
    show_default=True,
    help="What makes the exit code other than 0 (3: a setup's input, 4: review, 5: unsolved); a failure of the "
    "machine (1) always does.",
)


def day_exit_code(record: Mapping[str, Any], outcomes: Sequence[SetupOutcome], fail_on: str) -> int:
    """Return the exit code of a day: 1 wins over 3, that over 5, and that over 4."""
    codes = {outcome.code for outcome in outcomes}
    failed = any(said["status"] == "failed" for said in record["setups"].values())
    if FAILURE in codes:
        return FAILURE
    if fail_on != "never" and (codes - {0} or failed):
        return INPUT
    verdicts = [verdict for said in record["setups"].values() for verdict in said["angles"].values()]
    return exit_code(verdicts, "never" if fail_on == "failed" else fail_on)


def day_table(record: Mapping[str, Any]) -> str:
    """Return the day as lines of text: one a setup, in the day's order, and the sum."""
    lines, total = [], Counter[str]()
    for name, said in record["setups"].items():
        counts = Counter(said["angles"].values())
        total += counts
        words = [f"{counts[verdict]} {label}" for verdict, label in _VERDICTS.items() if counts[verdict]]
        if said["status"] == "failed":
            total["failed"] += 1
            words = [f"FAILED: {said['error']}"]
        lines.append(f"{name}: {', '.join(words) or 'no other angle'}")
    words = [f"{total[verdict]} {label}" for verdict, label in _VERDICTS.items()]
    return "\n".join(
        [*lines, "", f"{counted(len(lines), 'setup')}, {total['failed']} failed; angles: {', '.join(words)}"]
    )


def show_plan(day: Day, tasks: Sequence[SetupTask], *, as_json: bool) -> int:
    """Show what would be run and return the exit code: 3 where a setup cannot be read."""
    from huemend.day.task import load_day_setup, unchanged
    from huemend.errors import HuemendError

    plan: dict[str, dict[str, Any]] = {}
    for task in tasks:
        try:
            setup = load_day_setup(task.setup, task.options)
        except HuemendError as error:
            plan[task.name] = {"would": "fail", "error": str(error)}
            continue
        would = "skip" if task.resume and unchanged(task) is not None else "run"
        plan[task.name] = {"would": would, "hero": setup.hero, "angles": [angle.name for angle in setup.others]}
    if as_json:
        say_json({"schema": "huemend-day-plan/1", "day": day.name, "setups": plan})
    else:
        for name, said in plan.items():
            what = said.get("error") or f"{', '.join(said['angles'])} to {said['hero']}"
            click.echo(f"{said['would']:4}  {name}: {what}")
    return INPUT if any(said["would"] == "fail" for said in plan.values()) else 0
