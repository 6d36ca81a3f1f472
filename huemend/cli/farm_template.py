"""``huemend farm-template``: a day as a job for a render farm."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click
from click.core import ParameterSource

from huemend.base.text import printable, shell_word
from huemend.cli.deliverables import matching_options
from huemend.cli.params import PATH
from huemend.cli.streams import say

_HELP = """Write an Open Job Description template for the day in FOLDER: one task a setup, then the index.

Run it with `openjd run FILE -p Day=FOLDER -p Out=DIR`, or hand it to a farm that takes such templates
(docs/farm.md).
"""


@click.command("farm-template", help=_HELP)
@click.argument("folder", type=PATH)
@click.option(
    "--out",
    type=PATH,
    metavar="FILE",
    help="File for the template; printed if not given. In FOLDER itself it knows its paths.",
)
@click.option(
    "--carry",
    is_flag=True,
    help="Add a step that lends setups whose angles share little what earlier ones learnt.",
)
@matching_options
@click.pass_context
def farm_template_command(
    ctx: click.Context, /, folder: Path, out: Path | None, carry: bool, **given: Any
) -> None:
    from huemend.base.files import replace_text
    from huemend.day.farm import farm_template, is_template
    from huemend.day.plan import day_guard, find_day

    found = find_day(folder, leave_out=folder / "match")
    beside = out is not None and out.absolute().parent.resolve() == folder.resolve()
    names = [setup.name for setup in found.setups]
    template = farm_template(found.name, names, arguments=_given(ctx, given), carry=carry, beside=beside)
    text = json.dumps(template, indent=2) + "\n"
    if out is None:
        click.echo(text, nl=False)
        return
    replace_text(out, text, day_guard(found), own=is_template)
    say(f"{printable(out)}: {len(names)} setups")
    told_paths = {} if beside else {"Day": folder.absolute(), "Out": (folder / "match").absolute()}
    words = ["openjd", "run", shell_word(out)]
    for name, path in told_paths.items():
        words += ["-p", shell_word(f"{name}={path}")]
    click.echo(f"Next: {' '.join(words)}", err=True)


def _given(ctx: click.Context, given: dict[str, Any]) -> list[str]:
    """Return, as arguments, those options that were given rather than left at their defaults."""
    arguments = []
    for name, value in given.items():
        if ctx.get_parameter_source(name) is ParameterSource.DEFAULT:
            continue
        flag = "--" + name.replace("_", "-")
        if value is True:
            arguments.append(flag)
        elif value is not False:
            arguments += [flag, str(value.absolute() if isinstance(value, Path) else value)]
    return arguments
