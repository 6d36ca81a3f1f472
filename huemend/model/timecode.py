"""Timecode: labels of frames, drop-frame included.

Source: SMPTE ST 12-1:2014, clauses 5.2 and 5.3. In drop-frame counting the labels of frames 0 and 1 of every
minute but each tenth are left out (0 to 3 at 59.94 frames a second), so that labels keep up with the clock: an
hour of 29.97 is 107,892 frames.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

#: Labels start again after a day.
DAY_SECONDS = 86_400

_LABEL = re.compile(r"\s*(\d{1,2}):(\d{2}):(\d{2})([:;.,])(\d{2,3})\s*")


def nominal_rate(fps: Fraction) -> int:
    """Return the frames that a second of labels counts: 30 for 29.97, 24 for 23.976.

    >>> nominal_rate(Fraction(30000, 1001))
    30
    """
    return max(1, round(fps))


@dataclass(frozen=True)
class Timecode:
    """One frame's label."""

    #: Frames since 00:00:00:00, counted as they pass (left-out labels are not counted).
    frame: int
    #: Frames a second as they pass.
    fps: Fraction
    #: Drop-frame counting.
    drop: bool = False

    @classmethod
    def parse(cls, text: str, fps: Fraction) -> Timecode:
        """Read ``hh:mm:ss:ff``; a semicolon, full stop or comma before the frames means drop-frame.

        Raises ValueError if it is no timecode, or a label that this rate does not have.

        >>> Timecode.parse("01:00:00;00", Fraction(30000, 1001)).frame
        107892
        """
        found = _LABEL.fullmatch(text)
        if not found:
            raise ValueError(f"'{text}' is not a timecode like 01:00:00:00")
        hours, minutes, seconds, frames = (int(found[index]) for index in (1, 2, 3, 5))
        rate = nominal_rate(fps)
        # Drop-frame exists for the 1000/1001 rates of 30 and its multiples only.
        drop = found[4] != ":" and rate % 30 == 0 and fps.denominator == 1001
        if hours > 23 or minutes > 59 or seconds > 59 or frames >= rate:
            raise ValueError(f"'{text}' is not a label at {rate} frames a second")
        left_out = _left_out(rate) if drop else 0
        if drop and seconds == 0 and frames < left_out and minutes % 10:
            raise ValueError(f"'{text}' is a label that drop-frame counting leaves out")
        total_minutes = 60 * hours + minutes
        count = (60 * total_minutes + seconds) * rate + frames
        return cls(count - left_out * (total_minutes - total_minutes // 10), fps, drop)

    @property
    def seconds(self) -> Fraction:
        """Seconds since 00:00:00:00 as they pass at this rate."""
        return self.frame / self.fps

    def __add__(self, frames: int) -> Timecode:
        """Return the label ``frames`` frames later, around midnight if need be."""
        return Timecode((self.frame + frames) % self._day(), self.fps, self.drop)

    def _day(self) -> int:
        rate = nominal_rate(self.fps)
        return DAY_SECONDS * rate - (_left_out(rate) * (1440 - 144) if self.drop else 0)

    def __str__(self) -> str:
        rate = nominal_rate(self.fps)
        count = self.frame
        if self.drop:
            skip = _left_out(rate)
            per_minute = 60 * rate - skip
            per_ten = 600 * rate - 9 * skip
            tens, rest = divmod(count, per_ten)
            # The first minute of ten keeps all its labels.
            minutes = 0 if rest < 60 * rate else 1 + (rest - 60 * rate) // per_minute
            count += skip * (9 * tens + minutes)
        seconds, frames = divmod(count, rate)
        minutes, seconds = divmod(seconds, 60)
        hours, minutes = divmod(minutes, 60)
        width = 3 if rate > 100 else 2
        return f"{hours:02d}:{minutes:02d}:{seconds:02d}{';' if self.drop else ':'}{frames:0{width}d}"


def _left_out(rate: int) -> int:
    return 2 * rate // 30
