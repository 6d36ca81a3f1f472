"""``huemend new``: draft a setup file."""

from __future__ import annotations

from pathlib import Path

import click

from huemend.base.files import create_text
from huemend.base.text import printable, shell_word
from huemend.cli.params import PATH
from huemend.cli.streams import say

_HELP = """Draft a setup file from a folder of stills or clips.

Writes FOLDER/setup.toml: one angle per sub-folder, or per beginning of a file name (wide_01.png,
left_01.png). The hero is an angle called hero, master or wide, or the one whose picture holds the others. What it
guessed is marked in the file. A setup file that is there already stays as it is.
"""


@click.command(help=_HELP)
@click.argument("folder", type=PATH)
@click.option(
    "--encoding", metavar="CURVE/GAMUT", help="What all angles recorded, as `huemend encodings` names it."
)
@click.option(
    "--hero",
    metavar="NAME|auto",
    help="The hero; `auto` goes by the pictures alone, whatever the angles' names say, and tells why.",
)
def new(folder: Path, encoding: str | None, hero: str | None) -> None:
    from huemend.encodings.registry import all_encodings
    from huemend.sample.draft import draft_setup

    target = folder / "setup.toml"
    draft = draft_setup(folder, encoding, [each.name for each in all_encodings()], hero)
    create_text(target, draft.text)
    for wrong in draft.unread:
        click.echo(f"huemend: {wrong}", err=True)
    say(f"{printable(target)}: {len(draft.angles)} angles, hero {draft.hero} ({draft.why})")
    if encoding is None:
        click.echo("Next: fill in each encoding (huemend encodings lists them), then run", err=True)
    else:
        click.echo("Next: look it over, then run", err=True)
    click.echo(f"  huemend match {shell_word(target)}", err=True)
