"""``--threads``: how many threads the libraries below may start."""

from __future__ import annotations

import os

import click

from huemend.cli.params import COUNT

threads_option = click.option(
    "--threads",
    type=COUNT,
    metavar="N",
    help="Threads for reading and resampling pictures; as many as there are processors if not given.",
)


def calm_libraries(threads: int | None) -> None:
    """Keep linear algebra to one thread and the rest to ``threads``; to be called before numpy is imported."""
    from huemend.base.tasks import CALM_LIBRARIES, limit_threads

    for name, value in CALM_LIBRARIES.items():
        os.environ.setdefault(name, value)
    if threads is not None:
        limit_threads(threads)
