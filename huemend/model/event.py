"""Progress, for whoever waits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Event:
    """Something worth telling while a run goes on.

    ``stage`` is the name of a pipeline stage, ``angle`` the one angle whose turn it is (or empty), ``text``
    what else it is about; ``done`` of ``total`` steps are behind us.
    """

    stage: str
    angle: str = ""
    text: str = ""
    done: int = 0
    total: int = 0


OnEvent = Callable[[Event], None]


def unheard(event: Event) -> None:
    """Do nothing: what progress is told to where nobody asked for it."""
