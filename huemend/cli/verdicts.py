"""From verdicts to the exit code, by ``--fail-on``."""

from __future__ import annotations

from collections.abc import Iterable

import click

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
by_colours_option = click.option(
    "--by-colours",
    is_flag=True,
    help="Match angles that would stay unsolved by their colours alone, always to be reviewed.",
)


def exit_code(verdicts: Iterable[str], fail_on: str) -> int:
    """Return the exit code of the worst verdict; 5 wins over 4.

    >>> exit_code(["matched", "review", "unsolved"], "review"), exit_code(["review"], "unsolved")
    (5, 0)
    """
    return max((_CODES[verdict] for verdict in set(verdicts) & set(_FAILS[fail_on])), default=0)
