"""``huemend demo``: write the demo setup."""

from __future__ import annotations

from pathlib import Path

import click

from huemend.base.text import printable, shell_word
from huemend.cli.params import PATH
from huemend.cli.streams import say

_HELP = """Write the demo setup into a folder.

DIR must be new or empty. The setup is an invented one: three angles, three different sensors, log stills.
"""


@click.command(help=_HELP)
@click.argument("folder", metavar="DIR", type=PATH)
def demo(folder: Path) -> None:
    from huemend.sample.demo import copy_demo

    setup_file = copy_demo(folder)
    say(f"{printable(setup_file)}: the demo setup")
    click.echo(f"Next:\n  huemend match {shell_word(setup_file)}", err=True)
