"""``huemend day``: every setup of a day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from huemend.base.text import counted, printable
from huemend.cli.deliverables import match_options, matching_options
from huemend.cli.params import COUNT, PATH, exit_code, threads_option
from huemend.cli.progress import log_json_option, progress
from huemend.cli.streams import say, say_json
from huemend.errors import FAILURE, INPUT, HuemendError
from huemend.options.day import DayOptions

if TYPE_CHECKING:
    from huemend.day.cluster import Certificates
    from huemend.day.plan import Day
    from huemend.day.runner import Lane
    from huemend.day.task import SetupOutcome, SetupTask

_VERDICTS = {"unsolved": "unsolved", "review": "to review", "matched": "matched"}

_fail_on_option = click.option(
    "--fail-on",
    type=click.Choice(["never", "failed", "unsolved", "review"]),
    default="review",
    show_default=True,
    help="What makes the exit code other than 0 (3: a setup's input, 4: review, 5: unsolved); a failure of the "
    "machine (1) always does.",
)

_HELP = """Match every setup in FOLDER: each folder with a setup.toml, or as FOLDER/day.toml says (docs/day.md).

One setup that fails never stops the others. The index, OUT/index.html and OUT/day.csv, puts first what needs
eyes.
"""


@click.command(help=_HELP)
@click.argument("folder", type=PATH)
@click.option("--out", type=PATH, metavar="DIR", help="Output folder; `match` in FOLDER if not given.")
@click.option("--jobs", type=COUNT, metavar="N", help="Setups at a time; one a processor if not given.")
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Dask scheduler to run on instead, such as tls://host:8786. Trust it as you would a shell.",
)
@click.option(
    "--await-workers",
    type=click.IntRange(0),
    metavar="SECONDS",
    default=int(DayOptions.workerless_seconds),
    show_default=True,
    help="How long a cluster may have no worker until what waits is given up.",
)
@click.option("--tls-ca", type=PATH, metavar="FILE", help="Certificate of the cluster's authority, for tls://.")
@click.option("--tls-cert", type=PATH, metavar="FILE", help="Own certificate, signed by that authority.")
@click.option("--tls-key", type=PATH, metavar="FILE", help="Private key of the own certificate.")
@click.option(
    "--resume", is_flag=True, help="Run only what is missing, or whose inputs, options or version changed."
)
@click.option(
    "--carry",
    is_flag=True,
    help="Lend setups whose angles share little what earlier setups of the day learnt of the cameras.",
)
@click.option(
    "--only",
    multiple=True,
    metavar="NAME",
    help="Only setups of this name (* and ? stand for anything); no index.",
)
@click.option("--index-only", is_flag=True, help="Make the index of the results that there are, and run nothing.")
@matching_options
@_fail_on_option
@click.option("--dry-run", is_flag=True, help="Say what would be run, and write nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print the day's verdicts as JSON, and no table.")
@click.option("--quiet", is_flag=True, help="No progress on stderr.")
@log_json_option
@threads_option
@click.pass_context
def day(ctx: click.Context, /, folder: Path, out: Path | None, fail_on: str, as_json: bool, **given: Any) -> None:
    from huemend.day.cluster import cluster_lanes
    from huemend.day.index import day_record
    from huemend.day.plan import find_day
    from huemend.day.run import DayOrder, choose, work_off
    from huemend.day.workers import process_lanes
    from huemend.write.report.day_rows import told_of_one_name
    from huemend.write.report.words import sentence

    # Workers may stand in other folders.
    look = None if given["look"] is None else given["look"].absolute()
    options = match_options({**given, "look": look})
    target, address = out or folder / "match", given["scheduler"]
    whole = find_day(folder, leave_out=target)
    found = choose(whole, given["only"])
    order = DayOrder(
        day=whole,
        chosen=found,
        out=target,
        options=options,
        on_cluster=bool(address),
        **{name: given[name] for name in ("jobs", "threads", "resume", "carry")},
    )
    if given["dry_run"]:
        ctx.exit(_show_plan(found, order.tasks, as_json=as_json))
    certificates = _certificates(given)

    def lanes() -> Sequence[Lane]:
        return cluster_lanes(address, certificates=certificates) if address else process_lanes(order.at_once)

    with progress(quiet=given["quiet"] or as_json, log_json=given["log_json"], time_left=True) as on_event:
        waiting = DayOptions(workerless_seconds=given["await_workers"])
        rows, outcomes = work_off(order, None if given["index_only"] else lanes, waiting, on_event)
    record = day_record(found.name, rows)
    if as_json:
        say_json(record)
    else:
        say(_table(record))
        for words in told_of_one_name(rows):
            say(f"\n{sentence(words)}")
        if not given["only"]:
            say(f"\nIndex: {printable(target / 'index.html')}")
    ctx.exit(_exit_code(record, outcomes, fail_on))


def _certificates(given: dict[str, Any]) -> Certificates | None:
    """Return the certificates that a command was given, None for none of them.

    Raises click.UsageError where it was given some of the three, or any without a scheduler.
    """
    from huemend.day.cluster import Certificates

    files = [given["tls_ca"], given["tls_cert"], given["tls_key"]]
    if all(path is None for path in files):
        return None
    if any(path is None for path in files):
        raise click.UsageError("--tls-ca, --tls-cert and --tls-key go together")
    if not given["scheduler"]:
        raise click.UsageError("--tls-ca, --tls-cert and --tls-key need the --scheduler that they are for")
    return Certificates(ca=files[0], own=files[1], key=files[2])


def _exit_code(record: Mapping[str, Any], outcomes: Sequence[SetupOutcome], fail_on: str) -> int:
    """Return the exit code of a day: 1 wins over 3, that over 5, and that over 4."""
    codes = {outcome.code for outcome in outcomes}
    failed = any(said["status"] == "failed" for said in record["setups"].values())
    if FAILURE in codes:
        return FAILURE
    if fail_on != "never" and (codes - {0} or failed):
        return INPUT
    verdicts = [verdict for said in record["setups"].values() for verdict in said["angles"].values()]
    return exit_code(verdicts, "never" if fail_on == "failed" else fail_on)


def _table(record: Mapping[str, Any]) -> str:
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


def _show_plan(day: Day, tasks: Sequence[SetupTask], *, as_json: bool) -> int:
    """Show what would be run and return the exit code: 3 where a setup cannot be read."""
    from huemend.day.task import load_day_setup, unchanged

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
