"""Options of a day of setups."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class DayOptions:
    """Many setups.

    Attributes
    ----------
    depth : int
        How many folders deep setups are looked for.
    most_folders : int
        Folders looked into at most.
    tries : int
        How often a setup is begun whose worker died, the last times with nothing else running.
    queue : int
        Setups that a cluster is given ahead of its workers.
    grace_seconds : float
        Time that a worker has to end cleanly when it is told to.
    connect_seconds : float
        Time to reach a scheduler.
    patience_seconds : float
        Time without a finished setup until it is asked whether there is a worker at all.
    workerless_seconds : float
        Time that a cluster may have no worker, while setups wait, until the rest of the day is given up: longer
        than a machine takes to be ordered and started, and short of a night.
    thumbnails : int
        Setups up to which the index shows a thumbnail of each.
    most_setups_a_step : int
        Tasks in one step of a farm template (Open Job Description 2023-09 allows 1024 values of a parameter).
    """

    depth: int = 8
    most_folders: int = 1_000_000
    tries: int = 3
    queue: int = 5_000
    grace_seconds: float = 10.0
    connect_seconds: float = 10.0
    patience_seconds: float = 10.0
    workerless_seconds: float = 900.0
    thumbnails: int = 300
    most_setups_a_step: int = 1024
