"""The clips of a setup as they were read: what each is, where it lies on one clock, and what was sampled of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from huemend.model.timecode import Timecode


@dataclass(frozen=True, kw_only=True)
class Sync:
    """Where one clip lies on the hero's clock."""

    #: Seconds from the hero's first frame to this clip's first frame.
    start: Fraction
    #: ``hero``, ``stated offset``, ``timecode``, ``audio`` or ``frame number``.
    how: str
    #: 0..1; 1 where nothing had to be estimated, 0 where nothing is known.
    confidence: float
    #: One sentence for the record.
    text: str


@dataclass(frozen=True, kw_only=True)
class ClipFrames:
    """The frames of a clip on the clock that all clips of a setup share."""

    #: How many there are, and how many a second.
    count: int
    fps: Fraction
    #: Label of the first one; None where there is none.
    timecode: Timecode | None
    sync: Sync

    def at(self, time: Fraction) -> int:
        """Return the frame that is nearest to a time on that clock."""
        return min(max(round((time - self.sync.start) * self.fps), 0), self.count - 1)

    def label(self, frame: int) -> str:
        """Return a frame's timecode, or its number where the clip has none."""
        return f"frame {frame}" if self.timecode is None else str(self.timecode + frame)


@dataclass(frozen=True, kw_only=True)
class SampledClip:
    """The clip of one angle, as a record tells it."""

    source: str
    codec: str
    pixel_layout: str
    #: (height, width), as stored.
    size: tuple[int, int]
    #: As decoded: a key of ``LUMA_WEIGHTS`` or ``rgb``; ``legal`` or ``full``; what the stream does not say.
    matrix: str
    range: str
    assumed: tuple[str, ...]
    tagged_transfer: str
    tagged_primaries: str
    reel: str
    notes: tuple[str, ...]
    frames: ClipFrames
    #: The frames that were sampled, one for each moment.
    moments: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class SampledClips:
    """The clips of a setup, and the moments at which all of them were sampled."""

    #: (start, end). The range that all angles share, in seconds on the hero's clock (an angle's if the hero is no
    #: clip).
    span: tuple[Fraction, Fraction]
    #: On that clock: first the one that shows most of the set, then the others in order.
    moments: tuple[Fraction, ...]
    #: Why candidates were not taken, mapping of rule to count; and that the least bad ones had to do.
    rejected: Mapping[str, int]
    forced: bool
    notes: tuple[str, ...]
    #: No frame lay away from those that were used elsewhere: used ones, or their neighbours, were taken again.
    again: bool = False
    #: Mapping of angle name to its clip.
    angles: Mapping[str, SampledClip]
