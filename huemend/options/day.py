"""Options of a day of setups."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class DayOptions:
    """Many setups."""

    #: How many folders deep setups are looked for.
    depth: int = 8
    #: Folders looked into at most.
    most_folders: int = 1_000_000
    #: How often a setup is begun whose worker died, the last times with nothing else running.
    tries: int = 3
    #: Time that a worker has to end cleanly when it is told to.
    grace_seconds: float = 10.0
    #: Time to reach a scheduler.
    connect_seconds: float = 10.0
    #: Time without a finished setup until it is asked whether there is a worker at all.
    patience_seconds: float = 10.0
    #: Time that a cluster may have no worker, while setups wait, until the rest of the day is given up: longer
    #: than a machine takes to be ordered and started, and short of a night.
    workerless_seconds: float = 900.0
