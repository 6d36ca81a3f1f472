"""``huemend match``: the main job."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from huemend.cli.deliverables import deliverable_options, lut_notes, timeline_of, write_options
from huemend.cli.progress import progress
from huemend.cli.verdicts import exit_code, fail_on_option

__all__ = ["match"]


@click.command()
@click.argument("setup", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Output folder; `match` beside SETUP if not given.",
)
@fail_on_option
@click.option("--json", "as_json", is_flag=True, help="Print the record (report.json) alone.")
@click.option("--quiet", is_flag=True, help="No progress on stderr.")
@click.option("--no-pictures", is_flag=True, help="Leave every picture out of the report.")
@deliverable_options
@click.pass_context
def match(
    ctx: click.Context,
    /,
    setup: Path,
    out: Path | None,
    fail_on: str,
    as_json: bool,
    quiet: bool,
    no_pictures: bool,
    **told: Any,
) -> None:
    """Match every angle of SETUP (a TOML file) to its hero; write LUTs, report and record."""
    from huemend.options import MatchOptions
    from huemend.pipeline import default_out, find_encodings, find_working_encoding, match_setup, write_setup
    from huemend.sample.setupfile import load_setup
    from huemend.write.files import OutputFolder
    from huemend.write.report.terminal import terminal_table

    options = MatchOptions()
    report = replace(options.report, pictures=not no_pictures)
    options = replace(options, report=report, write=write_options(told))
    loaded = load_setup(setup, options.sample)
    find_encodings(loaded)
    find_working_encoding(options)
    timeline = timeline_of(told, [angle.name for angle in loaded.angles])
    folder = out or default_out(loaded)
    with OutputFolder(folder) as output, progress(quiet=quiet or as_json) as tell:
        result = match_setup(loaded, options, on_event=tell)
        record = write_setup(result, output, options, timeline, on_event=tell)
    click.echo(json.dumps(record, indent=2, ensure_ascii=False) if as_json else terminal_table(record), nl=True)
    if not as_json:
        click.echo(f"\nReport: {folder / 'report.html'}")
    for note in lut_notes(record):
        click.echo(f"huemend: {note}", err=True)
    ctx.exit(exit_code((angle["verdict"] for angle in record["angles"].values()), fail_on))
