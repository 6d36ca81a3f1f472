"""What is baked: from where, through which LUT, to where; how far it is; and what came of it."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from pathlib import Path

from huemend.apply.lut import DeliveredLut
from huemend.base.originals import Guard
from huemend.media.encode import FORMATS, Format
from huemend.media.planes import Tamed
from huemend.model import Angle, Event, OnEvent
from huemend.options import BakeOptions


@dataclass(frozen=True, kw_only=True)
class Target:
    """What is to be written, and what must not be."""

    #: A file for a clip, a folder for pictures.
    path: Path
    #: A key of `huemend.media.encode.FORMATS`.
    format: str
    #: Replace what an earlier bake left there. Anything else is never written over.
    overwrite: bool = False
    #: The sources.
    guard: Guard = field(default_factory=Guard)

    @property
    def kind(self) -> Format:
        """The format with all that it says."""
        return FORMATS[self.format]


@dataclass(frozen=True, kw_only=True)
class Job:
    """A match to be run over an angle's media."""

    #: One clip, or stills.
    media: tuple[Path, ...]
    #: Says which matrix and range to believe; turn and crop are left alone.
    angle: Angle
    lut: DeliveredLut
    target: Target
    options: BakeOptions = field(default_factory=BakeOptions)
    #: Hears how far it is.
    on_event: OnEvent | None = None

    @property
    def guard(self) -> Guard:
        """What must not be written over, the media among it."""
        return self.target.guard | Guard.over(self.media)

    @property
    def stated_range(self) -> str | None:
        """The range that the setup states; None where a clip's own tag is to be believed."""
        return self.angle.range if self.angle.range_stated else None


@dataclass(frozen=True, kw_only=True)
class Baked:
    """What was written."""

    paths: tuple[Path, ...]
    #: Frames or pictures written in this run.
    frames: int
    #: Pictures that an earlier run had finished.
    skipped: int = 0
    #: Frames a second.
    fps: float = 0.0
    #: ``full`` or ``legal``: of what was written.
    range: str = "full"
    #: What the user should know.
    notes: tuple[str, ...] = ()


class Pace:
    """Reports how far a job is, now and then."""

    def __init__(self, job: Job, total: int) -> None:
        self._job, self._total = job, total
        self._start = self._reported = time.perf_counter()
        self.done = 0

    @property
    def fps(self) -> float:
        """Frames a second so far."""
        return self.done / max(time.perf_counter() - self._start, 1e-9)

    def step(self) -> None:
        """One more frame is written."""
        self.done += 1
        now, on_event = time.perf_counter(), self._job.on_event
        due = now - self._reported >= self._job.options.report_every or self.done == self._total
        if on_event is not None and due:
            self._reported = now
            # Events count what is being done, from nought.
            on_event(
                Event(
                    stage="bake",
                    angle=self._job.angle.name,
                    text=f"{self.fps:.1f} frames/s",
                    done=max(self.done - 1, 0),
                    total=self._total,
                )
            )


def tamed_note(tamed: Tamed) -> tuple[str, ...]:
    """Say what became of values that no picture can show; nothing where there were none."""
    if not tamed.samples:
        return ()
    return (
        f"{tamed.samples} samples were NaN, infinite or beyond 65504: NaN became 0, the others 65504 or -65504; "
        "the source is to be rendered again if that is not what it should show",
    )
