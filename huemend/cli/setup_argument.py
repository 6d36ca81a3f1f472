"""The argument that names a setup file, or standard input in its place; and the option that names its match."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from huemend.cli.params import PATH, PATH_OR_DASH

if TYPE_CHECKING:
    from huemend.model import Setup
    from huemend.options import SampleOptions

_STANDARD_INPUT = Path("-")

#: The command is given it as ``setup``.
setup_argument = click.argument("setup", type=PATH_OR_DASH)

#: Where an earlier match of that setup lies; the command is given it as ``delivered``.
delivered_option = click.option(
    "--match",
    "delivered",
    type=PATH,
    metavar="DIR",
    help="Output folder of the match; `match` beside SETUP if not given.",
)


def read_setup(path: Path, options: SampleOptions | None = None) -> Setup:
    """Load a setup file, or with ``-`` what standard input says; paths are then relative to the working folder.

    Raises
    ------
    InputError
        As `load_setup` does.
    """
    from huemend.options import SampleOptions
    from huemend.sample.setupfile import load_setup

    options = options or SampleOptions()
    if path != _STANDARD_INPUT:
        return load_setup(path, options)
    # One more than may be read: what is longer is then told to be.
    # Closed, there is none, and an empty setup file says what is missing.
    content = sys.stdin.buffer.read(options.largest_setup_file + 1) if sys.stdin else b""
    return load_setup("standard input", options, content=content)
