"""``huemend match``: the main job."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from huemend.base.tasks import limit_threads
from huemend.base.text import counted, printable
from huemend.cli.deliverables import (
    lut_notes,
    match_options,
    matching_options,
    timeline_of,
    timeline_options,
)
from huemend.cli.params import PATH, exit_code, fail_on_option, read_setup, setup_argument, threads_option
from huemend.cli.progress import log_json_option, progress
from huemend.cli.streams import say, say_json

if TYPE_CHECKING:
    from collections.abc import Mapping

    from huemend.base.originals import Guard
    from huemend.encodings.registry import Encoding
    from huemend.model import Setup, SetupResult
    from huemend.options import MatchOptions

_HELP = "Match every angle of SETUP (a TOML file, or - for standard input) to its hero; write LUTs and report."


@click.command(help=_HELP)
@setup_argument
@click.option(
    "--out",
    type=PATH,
    metavar="DIR",
    help="Output folder; `match` beside SETUP if not given.",
)
@click.option(
    "--segments",
    is_flag=True,
    help="Of clips in which a camera or the light moved, also match each range by itself, into DIR-segments.",
)
@click.option(
    "--marks-only",
    is_flag=True,
    help="Match only by what SETUP names (pairs, neutrals, a chart), without looking for features or faces.",
)
@click.option(
    "--balance-hero",
    is_flag=True,
    help="Suggest exposure and balance for the hero itself, from greys and skin; no match and no LUT uses it.",
)
@click.option(
    "--reuse",
    is_flag=True,
    help="Take the match that is in DIR, and write LUTs and report again, with the nudges that SETUP has now.",
)
@matching_options
@timeline_options
@fail_on_option
@click.option("--dry-run", is_flag=True, help="Check SETUP, say what would be matched, and write nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print the record (report.json) as JSON, and no table.")
@click.option("--quiet", is_flag=True, help="No progress on stderr.")
@log_json_option
@threads_option
@click.pass_context
def match(
    ctx: click.Context,
    /,
    setup: Path,
    out: Path | None,
    fail_on: str,
    as_json: bool,
    quiet: bool,
    log_json: bool,
    dry_run: bool,
    threads: int | None,
    segments: bool,
    marks_only: bool,
    balance_hero: bool,
    reuse: bool,
    **given: Any,
) -> None:
    if threads is not None:
        limit_threads(threads)
    from huemend.base.folders import check_no_link
    from huemend.encodings.registry import encodings_of, find_working_encoding
    from huemend.flow.again import solved_before
    from huemend.flow.deliver import default_out, guard_of, look_of, match_and_write, output_folder, write_setup

    options = match_options(given)
    options = replace(options, hero=replace(options.hero, balance=balance_hero))
    options = replace(options, correspond=replace(options.correspond, features=not marks_only))
    loaded = read_setup(setup, options.sample)
    encodings = encodings_of(loaded)
    find_working_encoding(options.write.working_encoding)
    look_of(loaded, options)
    timeline = timeline_of(given, [angle.name for angle in loaded.angles])
    folder = out or default_out(loaded)
    if dry_run:
        _show_plan(loaded, encodings, folder, as_json=as_json)
        ctx.exit(0)
    if reuse and segments:
        raise click.UsageError("--reuse solves nothing, and --segments does: use one of them")
    if segments:
        check_no_link(_segments_folder(folder).parent, _segments_folder(folder).name)
    guard = guard_of(loaded, options, given["edl"])
    output = output_folder(loaded, folder, options, timeline, guard=guard)
    with output, progress(quiet=quiet or as_json, log_json=log_json) as on_event:
        if reuse:
            earlier = solved_before(loaded, folder, options, on_event)
            result = earlier.result
            record = write_setup(result, output, options, timeline, on_event, earlier)
        else:
            result, record = match_and_write(loaded, output, options, timeline, on_event)
    # By now it was loaded beside the match, which would have begun later had it been loaded first.
    from huemend.write.report.terminal import terminal_table

    if as_json:
        say_json(record)
    else:
        say(f"{terminal_table(record)}\n\nReport: {printable(folder / 'report.html')}")
    for note in lut_notes(record):
        click.echo(f"huemend: {note}", err=True)
    verdicts = [angle["verdict"] for angle in record["angles"].values()]
    if segments:
        apart = _match_apart(
            result, folder, guard, options, quiet=quiet or as_json, log_json=log_json, show=not as_json
        )
        # Where ranges were matched apart, theirs are the matches to use.
        verdicts = apart or verdicts
    ctx.exit(exit_code(verdicts, fail_on))


def _show_plan(setup: Setup, encodings: Mapping[str, Encoding], folder: Path, *, as_json: bool) -> None:
    from huemend.encodings.registry import needs_exposure_index

    to = {angle.name: angle.through or setup.hero for angle in setup.others}
    if as_json:
        angles = {
            angle.name: {
                "to": to.get(angle.name),
                "media": [str(path) for path in angle.media],
                "encoding": angle.encoding,
                "range": angle.range,
            }
            for angle in setup.angles
        }
        plan = {"schema": "huemend-plan/1", "setup": setup.name, "hero": setup.hero, "angles": angles}
        say_json({**plan, "out": str(folder)})
        return
    for angle in setup.angles:
        role = "hero" if angle.name == setup.hero else f"to {to[angle.name]}"
        files = counted(len(angle.media), "file")
        index = f" at exposure index {angle.exposure_index}" if needs_exposure_index(encodings[angle.name]) else ""
        click.echo(f"{angle.name}: {role}; {files}, {angle.encoding}{index}, {angle.range} range")
    click.echo(f"Would write to {printable(folder)}")


def _segments_folder(folder: Path) -> Path:
    """Return where ranges that are matched apart go."""
    # A folder may be told as "." or "..", which have no name of their own.
    named = folder if folder.name and folder.name != ".." else folder.resolve()
    return named.with_name(f"{named.name}-segments")


def _not_apart(result: SetupResult) -> str:
    moved = [angle.angle.name for angle in result if any(reason.code == "drift" for reason in angle.reasons)]
    if result.drift is None:
        return "There is no range to cut: --segments is for clips that share one."
    if moved:
        return f"{' and '.join(moved)} moved, but no part of the range is long enough to be matched apart."
    return "Nothing moved: one match holds over the whole range."


def _match_apart(
    result: SetupResult,
    folder: Path,
    guard: Guard,
    options: MatchOptions,
    *,
    quiet: bool,
    log_json: bool,
    show: bool,
) -> list[str]:
    """Match the ranges of a take, each into a folder of its own; return the verdicts, none if nothing moved."""
    from huemend.flow.deliver import output_folder, write_setup
    from huemend.flow.segments import match_segments
    from huemend.write.report.terminal import terminal_table

    verdicts = []
    beside = _segments_folder(folder)
    with progress(quiet=quiet, log_json=log_json) as on_event:
        for segment in match_segments(result, options, on_event=on_event):
            where = beside / segment.label
            setup = segment.result.setup
            with output_folder(setup, where, options, guard=guard, within=beside.parent) as output:
                record = write_setup(segment.result, output, options, on_event=on_event)
            verdicts += [angle["verdict"] for angle in record["angles"].values()]
            if show:
                say(f"\n{terminal_table(record)}\n\nReport: {printable(where / 'report.html')}")
    if show and not verdicts:
        say(f"\n{_not_apart(result)}")
    return verdicts
