"""Kinds of parameters that several commands have."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

#: More threads or processes than any machine that this runs on has processors.
_MOST = 4_096


class _Path(click.Path):
    """A path; an empty one, as a script's unset variable gives it, would be the working folder."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return a ``Path``."""
        if value in ("", b""):
            self.fail("is empty; name a file or a folder", param, ctx)
        return super().convert(value, param, ctx)


#: A path of which the commands themselves say what is wrong with it.
PATH = _Path(path_type=Path, readable=False)

#: The same, or a dash for standard input.
PATH_OR_DASH = _Path(path_type=Path, readable=False, allow_dash=True)

#: How many threads, or processes.
COUNT = click.IntRange(1, _MOST)
