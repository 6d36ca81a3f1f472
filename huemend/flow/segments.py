"""Match the ranges of a take apart, where a camera or its light moved."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from huemend.flow.match import match_setup
from huemend.model import OnEvent, Setup, SetupResult
from huemend.model.clips import SampledClips
from huemend.options import MatchOptions


@dataclass(frozen=True, kw_only=True)
class Segment:
    """One range of a take, matched by itself."""

    #: From and to as timecode (or frame numbers) of the hero, fit for a file name: ``01000000-01000412``.
    label: str
    #: (start, end). Seconds from the hero's first frame.
    span: tuple[Fraction, Fraction]
    #: Its setup bears the label in its name, and so do its LUTs.
    result: SetupResult


def cut_spans(result: SetupResult, options: MatchOptions) -> tuple[tuple[Fraction, Fraction], ...]:
    """Cut the common range wherever one angle's match no longer holds; a single span if nothing drifts."""
    if result.drift is None or result.clips is None:
        return ()
    start, end = result.clips.span
    shortest = Fraction(options.drift.shortest_segment)
    inner = {
        Fraction(round(cut, 3)).limit_denominator(1000)
        for parts in result.drift.segments.values()
        for cut, _ in parts[1:]
    }
    edges = [start]
    for cut in sorted(inner):
        if cut - edges[-1] >= shortest and end - cut >= shortest:
            edges.append(cut)
    edges.append(end)
    return tuple(pairwise(edges))


def match_segments(
    result: SetupResult, options: MatchOptions, on_event: OnEvent | None = None
) -> Iterator[Segment]:
    """Match each range of a result apart, one at a time; nothing where a single match holds throughout."""
    spans = cut_spans(result, options)
    if len(spans) < 2 or result.clips is None:
        return
    for start, end in spans:
        label = "-".join(_label(result.setup, result.clips, edge) for edge in (start, end))
        named = replace(result.setup, name=f"{result.setup.name}_{label}")
        yield Segment(
            label=label, span=(start, end), result=match_setup(named, options, on_event, span=(start, end))
        )


def _label(setup: Setup, clips: SampledClips, time: Fraction) -> str:
    """Return what the hero's clip calls a time: the digits of its timecode, or the number of its frame."""
    hero = clips.angles.get(setup.hero) or next(iter(clips.angles.values()))
    frame = hero.frames.at(time)
    if hero.frames.timecode is None:
        return f"{frame:06d}"
    return "".join(c for c in hero.frames.label(frame) if c.isdigit())
