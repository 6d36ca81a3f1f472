"""Clips on one clock, and the moments of them that are sampled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from huemend.base.memory import give_back
from huemend.base.text import printable
from huemend.errors import MediaError
from huemend.media.audio import read_mono
from huemend.media.clipinfo import ClipInfo
from huemend.media.clips import Decoded
from huemend.media.planes import copy_of
from huemend.model import Angle, Event, OnEvent, Setup
from huemend.model.clips import ClipFrames, SampledClip, SampledClips
from huemend.options import SampleOptions
from huemend.sample.clip_looks import Look, choose_among, look_at
from huemend.sample.footage import is_clip, open_angle
from huemend.sample.marked_frames import check_frames, marked_times
from huemend.sample.moment_choice import clearest
from huemend.sample.sync import synchronise


@dataclass(frozen=True, kw_only=True, eq=False)
class PlannedClip:
    """The clip of one angle, and which of its frames are read."""

    info: ClipInfo
    #: The frames among it, one for each moment.
    sampled: SampledClip
    #: (height, width, 3) float16 each. Small pictures, R'G'B' codes, for each time at which exposure is followed.
    followed: tuple[NDArray[np.float16], ...]
    #: Those of the frames that would take long to decode again.
    decoded: Decoded


@dataclass(frozen=True, kw_only=True)
class ClipPlan:
    """Which frames of which clip show which moment."""

    #: Mapping of angle to PlannedClip.
    clips: Mapping[str, PlannedClip]
    #: The moments among it.
    sampled: SampledClips
    #: Times at which exposure and balance are followed: those of all candidates, and the ends of the span.
    followed: tuple[Fraction, ...]

    @property
    def times(self) -> tuple[Fraction, ...]:
        """The moments, as `SampledClips` has them."""
        return self.sampled.moments

    @property
    def frames(self) -> dict[str, tuple[int, ...]]:
        """The frames of each angle, one for each moment."""
        return {name: clip.sampled.moments for name, clip in self.clips.items()}


def plan_clips(
    setup: Setup,
    options: SampleOptions | None = None,
    *,
    span: tuple[Fraction, Fraction] | None = None,
    avoid: Sequence[Fraction] = (),
    on_event: OnEvent | None = None,
) -> ClipPlan | None:
    """Bring a setup's clips to one clock and choose the moments to sample; None if no angle is a clip.

    Only moments of a ``span`` are taken, (start, end) in seconds on the hero's clock, and none that were used
    elsewhere already (``avoid``), as long as the range holds others: a check looks at other frames. Where it holds
    none, the plan says so (``again``). Raises a `MediaError` where a clip cannot be read, or the clips share no
    moment.
    """
    options = options or SampleOptions()
    angles = [angle for angle in setup.angles if is_clip(angle.media, options)]
    if not angles:
        check_frames(setup, {})
        return None
    notes: list[str] = []
    stills = [angle for angle in setup.angles if angle not in angles]
    count = options.clips.moments
    if stills:
        count = min(len(angle.media) for angle in stills)
        names = ", ".join(angle.name for angle in stills)
        notes.append(f"{names}: stills beside clips, so moments are paired in order, not by time")
    clips = _on_one_clock(setup, angles, options)
    clocks = {name: clock for name, (_, clock) in clips.items()}
    shared = _shared_span(clocks, span)
    slowest = 1 / min(clock.fps for clock in clocks.values())
    candidates, again = _candidates(shared, count, options, avoid, slowest)
    followed = _followed(shared, candidates, options.clips.followed)
    looks: list[Look] = []
    for done, angle in enumerate(angles):
        if on_event:
            on_event(
                Event(stage="sample", angle=angle.name, text="choosing moments", done=done, total=len(angles))
            )
        looks.append(look_at(angle, *clips[angle.name], (candidates, followed), options))
    choice, stats = choose_among(looks, [float(time) for time in candidates], count, options)
    if choice.forced:
        notes.append("no moment is good in every angle: the least bad ones were taken")
    times = tuple(candidates[index] for index in choice.indices)
    if span is None and not avoid and not stills:
        # What somebody marked for a few frames is looked at in them, whatever speaks against that moment.
        extra = marked_times(setup, lambda name, time: clocks[name].at(time), shared, slowest, times)
        times = tuple(sorted((*times, *extra)))
    if not stills:
        # Where surfaces lie is found in the first moment, and measured in all.
        first = candidates[clearest(stats, choice.indices)]
        times = (first, *(time for time in times if time != first))
    # What was decoded of a clip goes before that of the next is copied.
    planned = dict(_planned(looks.pop(0), times) for _ in angles)
    sampled = SampledClips(
        span=shared,
        moments=times,
        rejected=choice.rejected,
        forced=choice.forced,
        notes=tuple(notes),
        again=again,
        angles={name: clip.sampled for name, clip in planned.items()},
    )
    return ClipPlan(clips=planned, sampled=sampled, followed=followed)


def _on_one_clock(
    setup: Setup, angles: Sequence[Angle], options: SampleOptions
) -> dict[str, tuple[ClipInfo, ClipFrames]]:
    """Return what each clip says of itself, and its frames on the clock of the hero or else of the first."""
    infos = {}
    for angle in angles:
        with open_angle(angle, options) as footage:
            infos[angle.name] = footage.info
    check_frames(setup, {name: info.frames for name, info in infos.items()})
    syncs = synchronise(
        infos,
        setup.hero if setup.hero in infos else angles[0].name,
        offsets={angle.name: angle.offset for angle in angles if angle.offset is not None},
        read_audio=lambda info, rate: read_mono(info.path, rate, longest=options.clips.audio_seconds),
        options=options.clips,
    )
    return {
        name: (info, ClipFrames(count=info.frames, fps=info.fps, timecode=info.timecode, sync=syncs[name]))
        for name, info in infos.items()
    }


def _planned(look: Look, times: Sequence[Fraction]) -> tuple[str, PlannedClip]:
    # What was kept of the clip before lies free between smaller things, and is no room for these.
    give_back()
    frames, info = tuple(look.clock.at(time) for time in times), look.info
    decoded = Decoded({index: copy_of(look.decoded[index]) for index in frames if index in look.decoded})
    sampled = SampledClip(
        source=printable(info.path.name),
        codec=info.codec,
        pixel_layout=info.pix_fmt,
        size=info.size,
        matrix=info.signal.matrix,
        range=info.signal.range,
        assumed=info.signal.assumed,
        tagged_transfer=info.transfer,
        tagged_primaries=info.primaries,
        reel=info.reel,
        notes=info.notes,
        frames=look.clock,
        moments=frames,
    )
    return look.angle.name, PlannedClip(info=info, sampled=sampled, followed=look.followed, decoded=decoded)


def _shared_span(
    clocks: Mapping[str, ClipFrames], span: tuple[Fraction, Fraction] | None
) -> tuple[Fraction, Fraction]:
    start = max(clock.sync.start for clock in clocks.values())
    # The last frame begins one frame before the end.
    end = min(clock.sync.start + (clock.count - 1) / clock.fps for clock in clocks.values())
    if span is not None:
        start, end = max(start, span[0]), min(end, span[1])
    if end < start:
        names = ", ".join(f"{name} ({clock.sync.how})" for name, clock in clocks.items())
        raise MediaError(f"the clips share no moment: {names}", todo="state offset = seconds in the setup file")
    return start, end


def _candidates(
    span: tuple[Fraction, Fraction],
    count: int,
    options: SampleOptions,
    avoid: Sequence[Fraction],
    frame: Fraction,
) -> tuple[list[Fraction], bool]:
    """Return times spread evenly over the span, without its ends, away from those to avoid.

    With them comes whether there are none such: then they are as near to those to avoid as the span is short.
    """
    start, end = span
    edge = Fraction(options.clips.edge_share) * (end - start)
    number = max(count * options.clips.candidates, 1)
    step = (end - start - 2 * edge) / number
    times = [start + edge + step * (Fraction(index) + Fraction(1, 2)) for index in range(number)]
    if not avoid:
        return times, False
    # A used frame proves nothing, and one right beside it little: shift by half a step, drop what is close.
    near = max(step / 3, frame)
    times = [time + step / 2 for time in times]
    away = [time for time in times if all(abs(time - used) > near for used in avoid)]
    return away or times, not away


def _followed(
    span: tuple[Fraction, Fraction], candidates: Sequence[Fraction], fewest: int
) -> tuple[Fraction, ...]:
    """Return when exposure is followed: where a frame is looked at anyway, if that is enough, and at the ends."""
    start, end = span
    if end <= start:
        return ()
    evenly = [start + (end - start) * Fraction(index, fewest - 1) for index in range(fewest)]
    return tuple(sorted({start, end, *(candidates if len(candidates) >= fewest else evenly)}))
