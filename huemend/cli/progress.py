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

from huemend.base.text import printable
from huemend.cli.boundary import heed_signals

if TYPE_CHECKING:
    from huemend.model import Event, OnEvent

_STAGES = {"sample": "reading", "match": "matching", "write": "writing", "bake": "baking"}

log_json_option = click.option(
    "--log-json", is_flag=True, help="Progress on stderr as JSON, one event a line, for programs."
)


@contextmanager
def progress(*, quiet: bool, log_json: bool = False, time_left: bool = False) -> Iterator[OnEvent]:
    """Yield a callback that shows events; the line is cleared at the end, whatever happens.

    ``quiet`` silences what people read, never ``log_json``; ``time_left`` estimates it from the steps behind.
    """
    if log_json:
        yield _print_json
        return
    rewrite = sys.stderr.isatty()
    last = ""
    started: dict[str, float] = {}

    def print_step(event: Event) -> None:
        nonlocal last
        heed_signals()
        if quiet or not (event.angle or event.text):
            return
        count = f" ({event.done + 1}/{event.total})" if event.total else ""
        words = " ".join(part for part in (_STAGES.get(event.stage, event.stage), event.angle, event.text) if part)
        left = (
            _left(event, time.monotonic() - started.setdefault(event.stage, time.monotonic())) if time_left else ""
        )
        text = printable(words) + count + left
        if rewrite:
            click.echo("\r" + text.ljust(len(last)), nl=False, err=True)
            last = text
        else:
            click.echo(text, err=True)

    try:
        yield print_step
    finally:
        if last:
            click.echo("\r" + " " * len(last) + "\r", nl=False, err=True)


def _left(event: Event, seconds: float) -> str:
    """Say how long the rest of a stage takes if it goes on as it went; nothing while that is unknown or short.

    The first event of a stage ends its first step and starts the clock: what is behind is one step less.

    >>> from huemend.model import Event
    >>> _left(Event(stage="day", done=10, total=61), 600.0)
    ', about 50 min left'
    >>> _left(Event(stage="day", done=1, total=61), 60.0), _left(Event(stage="day", done=58, total=61), 600.0)
    ('', '')
    """
    if event.done < 3 or event.total <= event.done + 1:
        return ""
    minutes = seconds / event.done * (event.total - event.done - 1) / 60
    if minutes < 1:
        return ""
    if minutes < 90:
        return f", about {minutes:.0f} min left"
    return f", about {minutes / 60:.1f} h left"


def _print_json(event: Event) -> None:
    heed_signals()
    moment = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime())
    click.echo(json.dumps({"time": moment, **dataclasses.asdict(event)}), err=True)
