"""``huemend verify``: measure delivered match LUTs on other frames."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from huemend.cli.params import delivered_option, exit_code, fail_on_option, read_setup, setup_argument
from huemend.cli.progress import progress
from huemend.cli.streams import say_json

if TYPE_CHECKING:
    from huemend.flow.verify import Verified

_VERDICTS = {"matched": "holds", "review": "REVIEW", "unsolved": "UNSOLVED"}


_HELP = """Measure the match LUTs of an earlier run on the frames of SETUP, and change nothing.

SETUP (a TOML file, or - for standard input) names the same hero and angles as the setup that was matched, with
other stills or clips: another take, or the end of the day.
"""


@click.command(help=_HELP)
@setup_argument
@delivered_option
@fail_on_option
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON, and no table.")
@click.option("--quiet", is_flag=True, help="No progress on stderr.")
@click.pass_context
def verify(
    ctx: click.Context, setup: Path, delivered: Path | None, fail_on: str, as_json: bool, quiet: bool
) -> None:
    from huemend.flow.deliver import default_out
    from huemend.flow.verify import verify_setup

    loaded = read_setup(setup)
    with progress(quiet=quiet or as_json) as on_event:
        found = verify_setup(loaded, delivered or default_out(loaded), on_event=on_event)
    if as_json:
        angles = {each.angle: each.as_record() for each in found}
        say_json({"schema": "huemend-verify/1", "setup": loaded.name, "angles": angles})
    else:
        for each in found:
            _say(each)
    ctx.exit(exit_code((each.verdict for each in found), fail_on))


def _say(found: Verified) -> None:
    from huemend.write.report.figures import plain_signed

    click.echo(f"{found.angle}: {_VERDICTS[found.verdict]}; {'; '.join(r.text for r in found.reasons)}")
    drift = (found.exposure_drift, found.red_green_drift, found.blue_green_drift)
    stops, red, blue = (plain_signed(each or 0.0) for each in drift)
    if found.exposure_drift is not None:
        added = f"{stops} stop, red {red} and blue {blue} against green"
        added = "nothing" if {stops, red, blue} == {"0.00"} else added
        click.echo(f"  a match of these frames would add {added}")
    if found.match_verdict == "review":
        click.echo("  the match itself is to be reviewed, whatever these frames say: see its report")
    if found.same_stills:
        click.echo("  it was matched on these very stills: the report, which holds out parts of them, is stricter")
    if found.same_frames:
        click.echo("  it was matched on these very clips, too short for other frames: verify it on another take")
