"""``huemend verify``: measure delivered match LUTs on other frames."""

from __future__ import annotations

from pathlib import Path

import click

from huemend.cli.progress import progress
from huemend.cli.setup_argument import delivered_option, read_setup, setup_argument
from huemend.cli.streams import say_json
from huemend.cli.verdicts import exit_code, fail_on_option

_VERDICTS = {"matched": "holds", "review": "REVIEW", "unsolved": "UNSOLVED"}


# Not the docstring: under PYTHONOPTIMIZE=2 there is none.
_HELP = """Measure the match LUTs of an earlier run on the frames of SETUP, and change nothing.

SETUP (a TOML file, or - for standard input) names the same hero and angles as the setup that was matched, with
other stills or clips: another take, or the end of the day.
"""


@click.command(help=_HELP)
@setup_argument
@delivered_option
@fail_on_option
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.option("--quiet", is_flag=True, help="No progress on stderr.")
@click.pass_context
def verify(
    ctx: click.Context, setup: Path, delivered: Path | None, fail_on: str, as_json: bool, quiet: bool
) -> None:
    """Read the options, and run the command."""
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
            click.echo(f"{each.angle}: {_VERDICTS[each.verdict]}; {'; '.join(r.text for r in each.reasons)}")
            if each.exposure_drift is not None:
                click.echo(
                    f"  a match of these frames would add {each.exposure_drift:+.2f} stop, red "
                    f"{each.red_green_drift:+.2f} and blue {each.blue_green_drift:+.2f} against green"
                )
    ctx.exit(exit_code((each.verdict for each in found), fail_on))
