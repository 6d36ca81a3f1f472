"""Frame ranges of marked areas: within their clip, and looked at."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Protocol, TypeVar

from huemend.base.text import counted
from huemend.errors import SetupFileError
from huemend.model import MarkedArea, NamedPair, Setup

Range = tuple[int, int]


class _Ranged(Protocol):
    @property
    def frames(self) -> Range | None: ...


_Mark = TypeVar("_Mark", bound=_Ranged)


def check_frames(setup: Setup, clips: Mapping[str, int]) -> None:
    """Refuse a range of frames that lies outside what its angle has: raises SetupFileError.

    ``clips`` maps angles to the number of frames of their clips; an angle of stills has as many frames as
    stills.
    """
    for key, angle, frames in _ranges(setup):
        count = clips.get(angle, len(setup[angle].media))
        if frames[0] >= count:
            raise SetupFileError(
                f"begins at {frames[0]}, and {angle} has {counted(count, 'frame')}",
                where=f"{setup.source}: {key}.frames",
                todo=f"frames are counted from 0: the last one is {count - 1}",
            )


def marked_times(
    setup: Setup,
    frame_at: Callable[[str, Fraction], int],
    span: tuple[Fraction, Fraction],
    step: Fraction,
    times: Sequence[Fraction],
) -> tuple[Fraction, ...]:
    """Return moments to look at beside those chosen, so that every pair and neutral with frames is looked at.

    ``frame_at`` gives the frame of a clip, by angle and time on the common clock, of which ``span`` is the
    range that all angles share, in seconds; ``step`` is the length of the longest frame, and ``times`` were
    chosen.
    """
    out: list[Fraction] = []
    start, end = span
    steps = range(int((end - start) / step) + 1)
    for key, angle, (first, last) in _ranges(setup):
        if key.startswith("ignore"):
            continue
        if any(first <= frame_at(angle, time) <= last for time in (*times, *out)):
            continue

        def frame(k: int, angle: str = angle) -> int:
            return frame_at(angle, start + k * step)

        low, high = bisect_left(steps, first, key=frame), bisect_left(steps, last + 1, key=frame)
        if low < high:
            out.append(start + (low + high - 1) // 2 * step)
    return tuple(out)


def marks_within(setup: Setup, sampled: Mapping[str, Sequence[int]]) -> Setup:
    """Leave out the marks none of whose frames was sampled: a part of a take need not show what the whole does."""

    def held(mark: _Mark, angle: str) -> bool:
        frames = mark.frames
        return frames is None or any(frames[0] <= frame <= frames[1] for frame in sampled.get(angle, (frames[0],)))

    marks = setup.marks
    return replace(
        setup,
        marks=replace(
            marks,
            pairs=tuple(pair for pair in marks.pairs if held(pair, setup.hero)),
            ignore=tuple(mark for mark in marks.ignore if held(mark, mark.angle)),
            neutral=tuple(mark for mark in marks.neutral if held(mark, mark.angle)),
        ),
    )


def _ranges(setup: Setup) -> list[tuple[str, str, Range]]:
    """Return every range of frames with its place in the setup file and the angle whose frames they are."""
    marks = setup.marks
    found: list[tuple[str, str, Range | None]] = []
    pairs: tuple[NamedPair, ...] = marks.pairs
    found += [(f"pair[{n}]", setup.hero, pair.frames) for n, pair in enumerate(pairs, start=1)]
    areas: tuple[tuple[str, tuple[MarkedArea, ...]], ...] = (("ignore", marks.ignore), ("neutral", marks.neutral))
    for kind, several in areas:
        found += [(f"{kind}[{n}]", mark.angle, mark.frames) for n, mark in enumerate(several, start=1)]
    return [(key, angle, frames) for key, angle, frames in found if frames is not None]
