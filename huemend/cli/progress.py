"""Progress on stderr: one line that is rewritten on a terminal, one line a step elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click

from huemend.model import Event, OnEvent

__all__ = ["progress"]

_STAGES = {"sample": "reading", "match": "matching", "write": "writing", "bake": "baking"}


@contextmanager
def progress(*, quiet: bool) -> Iterator[OnEvent]:
    """Yield a callback that shows events; the line is cleared at the end, whatever happens."""
    rewrite = sys.stderr.isatty()
    shown = ""

    def tell(event: Event) -> None:
        nonlocal shown
        if quiet or not (event.angle or event.text):
            return
        count = f" ({event.done + 1}/{event.total})" if event.total else ""
        words = " ".join(part for part in (_STAGES.get(event.stage, event.stage), event.angle, event.text) if part)
        text = words + count
        if rewrite:
            click.echo("\r" + text.ljust(len(shown)), nl=False, err=True)
            shown = text
        else:
            click.echo(text, err=True)

    try:
        yield tell
    finally:
        if shown:
            click.echo("\r" + " " * len(shown) + "\r", nl=False, err=True)
