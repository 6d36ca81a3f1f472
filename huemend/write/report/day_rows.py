"""What a day tells of its setups: of each angle a few figures, for a day of thousands of records fits nowhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import Any, Self

import numpy as np

from huemend.base.text import listed
from huemend.base.units import balance_stops
from huemend.model import Reason, Verdict
from huemend.model.reasons import by_gravity
from huemend.model.verdict import WORST_FIRST


@dataclass(frozen=True, kw_only=True)
class DayAngle:
    """One angle of a setup."""

    name: str
    verdict: Verdict
    #: The rung of its match.
    model: str
    #: What the match adds: exposure, and red and blue against green; None where there is none.
    stops: tuple[float, float, float] | None
    #: Whether these hold what somebody nudged.
    nudged: bool
    #: Mean CIEDE2000 as shot and matched, and the upper end of the latter; None where it is not known.
    before: float | None
    after: float | None
    upper: float | None
    #: The gravest.
    reason: Reason | None

    @classmethod
    def of(cls, name: str, said: Mapping[str, Any]) -> Self:
        """Take what a record says of an angle."""
        held = said["held_out"] or {"before": {"mean": None}, "after": {"mean": None}, "upper": None}
        gravest = next(iter(by_gravity(said["reasons"], itemgetter("code"))), None)
        stops = None
        if said["matrix"] is not None:
            stops = (float(said["exposure_stops"]), *balance_stops(np.array(said["matrix"], float)))
        return cls(
            name=name,
            verdict=Verdict(said["verdict"]),
            model=said["model"],
            stops=stops,
            nudged=bool(said.get("nudge")),
            before=held["before"]["mean"],
            after=held["after"]["mean"],
            upper=held["upper"],
            reason=None if gravest is None else Reason(**{key: gravest[key] for key in ("code", "text", "todo")}),
        )


@dataclass(frozen=True, kw_only=True)
class DayRow:
    """One setup of a day."""

    name: str
    #: What its setup file calls it, which its LUTs are named after; empty for a setup that could not be run.
    title: str = ""
    #: Address of its report, relative to the index; empty if there is none.
    report: str = ""
    #: In the record's order; None for a setup that could not be run.
    angles: tuple[DayAngle, ...] | None = None
    #: Why it could not be run, in one line.
    error: str = ""
    #: Its contact sheet (PNG), from which the thumbnail is made; may be empty.
    contact: bytes = b""

    @classmethod
    def of(cls, name: str, record: Mapping[str, Any], *, report: str = "", contact: bytes = b"") -> Self:
        """Take what a record says of a setup."""
        angles = tuple(DayAngle.of(*item) for item in record["angles"].items())
        return cls(name=name, title=record["setup"], report=report, angles=angles, contact=contact)

    @property
    def urgency(self) -> tuple[int, float, str]:
        """A sorting key, what needs eyes first: failed, unsolved, review, matched; then the larger difference."""
        if self.angles is None:
            return 0, 0.0, self.name
        worst = (WORST_FIRST.index(angle.verdict) for angle in self.angles)
        largest = max((angle.after for angle in self.angles if angle.after), default=0.0)
        return 1 + min(worst, default=2), -largest, self.name


def told_of_one_name(rows: Sequence[DayRow]) -> list[str]:
    """Warn of setups of one name, as where a setup file was copied: in one folder their LUTs would be one."""
    named: dict[str, list[DayRow]] = {}
    for row in rows:
        if row.title:
            named.setdefault(row.title.casefold(), []).append(row)
    return [
        f'{listed([row.name for row in alike])} are all named "{alike[0].title}", and so are their LUTs: give '
        "each a name of its own in its setup file"
        for alike in named.values()
        if len(alike) > 1
    ]
