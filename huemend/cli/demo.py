"""``huemend demo``: write the demo setup."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def demo(folder: Path) -> None:
    """Write the demo setup into a folder.

    DIR must be new or empty. The setup is an invented one: three angles, three different sensors, log stills.
    """
    from huemend.sample.demo import copy_demo

    setup_file = copy_demo(folder)
    click.echo(f"{setup_file}: the demo setup")
    click.echo(f"Next:\n  huemend match {click.format_filename(setup_file)}", err=True)
