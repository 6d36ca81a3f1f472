"""Parameters that several commands have, and what each comes to: paths, setup files, threads, exit codes."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from huemend.model import Setup
    from huemend.options import SampleOptions

#: More threads or processes than any machine that this runs on has processors.
_MOST = 4_096


class _Path(click.Path):
    """A path; an empty one, as a script's unset variable gives it, would be the working folder."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if value in ("", b""):
            self.fail("is empty; name a file or a folder", param, ctx)
        return super().convert(value, param, ctx)


#: A path of which the commands themselves say what is wrong with it.
PATH = _Path(path_type=Path, readable=False)

#: The same, or a dash for standard input.
PATH_OR_DASH = _Path(path_type=Path, readable=False, allow_dash=True)

#: How many threads, or processes.
COUNT = click.IntRange(1, _MOST)

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

threads_option = click.option(
    "--threads",
    type=COUNT,
    metavar="N",
    help="Threads for reading and resampling pictures; as many as there are processors if not given.",
)

# What --fail-on names, and which verdicts it makes the exit code tell.
_FAILS = {"never": (), "unsolved": ("unsolved",), "review": ("unsolved", "review")}
_CODES = {"unsolved": 5, "review": 4}

fail_on_option = click.option(
    "--fail-on",
    type=click.Choice(list(_FAILS)),
    default="review",
    show_default=True,
    help="Verdicts that make the exit code other than 0 (4: review, 5: unsolved).",
)


def read_setup(path: Path, options: SampleOptions | None = None) -> Setup:
    """Load a setup file, or with ``-`` what standard input says; paths are then relative to the working folder.

    Raises InputError as `load_setup` does.
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


def exit_code(verdicts: Iterable[str], fail_on: str) -> int:
    """Return the exit code of the worst verdict; 5 wins over 4.

    >>> exit_code(["matched", "review", "unsolved"], "review"), exit_code(["review"], "unsolved")
    (5, 0)
    """
    return max((_CODES[verdict] for verdict in set(verdicts) & set(_FAILS[fail_on])), default=0)
