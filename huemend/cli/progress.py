"""Progress on stderr: a line that is rewritten on a terminal, one line a step elsewhere, or JSON for programs."""

from __future__ import annotations

import dataclasses
import json
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from huemend.model import Event, OnEvent

__all__ = ["log_json_option", "progress"]

_STAGES = {"sample": "reading", "match": "matching", "write": "writing", "bake": "baking"}

log_json_option = click.option(
    "--log-json", is_flag=True, help="Progress on stderr as JSON, one event a line, for programs."
)


@contextmanager
def progress(*, quiet: bool, log_json: bool = False) -> Iterator[OnEvent]:
    """Yield a callback that shows events; the line is cleared at the end, whatever happens.

    ``quiet`` silences what people read, never ``log_json``.
    """
    if log_json:
        yield _tell_json
        return
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


def _tell_json(event: Event) -> None:
    moment = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime())
    click.echo(json.dumps({"time": moment, **dataclasses.asdict(event)}), err=True)
