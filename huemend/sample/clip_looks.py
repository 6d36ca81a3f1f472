"""One look at a clip: what speaks for frames that may be taken, and small pictures to follow its exposure by."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float32
from huemend.media.clipinfo import ClipInfo
from huemend.media.sequences import Footage
from huemend.model import Angle
from huemend.model.clips import ClipFrames
from huemend.options import SampleOptions
from huemend.sample.footage import open_angle
from huemend.sample.moment_choice import (
    THIN,
    Choice,
    MomentStats,
    beside,
    choose_moments,
    measure_moment,
    thinned,
)

if TYPE_CHECKING:
    from av import VideoFrame

#: Pictures that exposure is followed on are averaged down to about this many pixels.
_FOLLOWED_PIXELS = 192 * 108
#: Moments are judged on luma whose longer side is about this.
_STATS_SIDE = 1920


@dataclass(frozen=True, kw_only=True, eq=False)
class Look:
    """What was seen of one angle's clip at the candidates, and where exposure is followed."""

    angle: Angle
    info: ClipInfo
    clock: ClipFrames
    #: Frames, and what was seen of each: one for each candidate.
    candidates: tuple[int, ...]
    stats: tuple[MomentStats, ...]
    #: (height, width, 3) float16 each. Small pictures, for each time at which exposure is followed.
    followed: tuple[NDArray[np.float16], ...]
    #: Mapping of frame index to decoded frame.
    decoded: Mapping[int, VideoFrame]


def look_at(
    angle: Angle,
    info: ClipInfo,
    clock: ClipFrames,
    times: tuple[Sequence[Fraction], Sequence[Fraction]],
    options: SampleOptions,
) -> Look:
    """Look once at a clip: at candidates, what is decoded beside them anyway, and where exposure is followed."""
    wanted, also = (tuple(clock.at(time) for time in each) for each in times)
    stats: dict[int, MomentStats] = {}
    small: dict[int, NDArray[np.float16]] = {}
    thin: dict[int, Float32] = {}
    decoded: dict[int, VideoFrame] = {}
    waiting, closely, last = sorted(set(wanted)), {*wanted, *also}, info.frames - 1
    with open_angle(angle, options, info) as footage:
        reach = 0 if footage.alone else 1
        near = {index + beside for index in wanted for beside in range(-reach, reach + 1)}
        asked = sorted(index for index in near | closely if 0 <= index <= last)
        step = _luma_step(footage)
        for seen in footage.glances(asked, step, thin=THIN, pixels=_FOLLOWED_PIXELS, closely=closely):
            index = seen.index
            if seen.picture is not None:
                small[index] = seen.picture.astype(np.float16)
            if index in wanted:
                stats[index] = measure_moment(seen.luma, options.clips)
                if seen.frame is not None:
                    decoded[index] = seen.frame
            thin[index] = thinned(seen.luma) if index in closely else seen.luma
            while waiting and min(waiting[0] + reach, last) <= index:
                at = waiting.pop(0)
                if reach:
                    stats[at] = beside(stats[at], [thin[near] for near in (at - 1, at + 1) if near in thin])
            thin = {at: picture for at, picture in thin.items() if waiting and at >= waiting[0] - reach}
    return Look(
        angle=angle,
        info=info,
        clock=clock,
        candidates=wanted,
        stats=tuple(stats[index] for index in wanted),
        followed=tuple(small[index] for index in also),
        decoded=decoded,
    )


def choose_among(
    looks: Sequence[Look], times: Sequence[float], count: int, options: SampleOptions
) -> tuple[Choice, dict[str, list[MomentStats]]]:
    """Choose moments; what only neighbouring frames tell is looked at in those that would be taken."""
    stats = {look.angle.name: list(look.stats) for look in looks}
    while True:
        choice = choose_moments(stats, times, count, options.clips)
        asked = False
        for look in looks:
            own = stats[look.angle.name]
            unsure = [item for item in choice.indices if np.isnan(own[item].motion)]
            if not unsure or look.info.frames < 2:
                continue  # there is none beside it
            asked = True
            with open_angle(look.angle, options, look.info) as footage:
                for item in unsure:
                    own[item] = _look_beside(footage, look.candidates[item], own[item], options.clips.flash)
        if not asked:
            return choice, stats


def _look_beside(footage: Footage, index: int, looked: MomentStats, flash: float) -> MomentStats:
    """Judge a frame next to the one before, which it repeats if it is frozen; if it may be a flash, to both."""
    around: list[Float32] = []
    found = looked
    for near in (index - 1, index + 1):
        if 0 <= near < footage.info.frames and (not around or found.jump > flash):
            around += [seen.luma for seen in footage.glances([near], THIN * _luma_step(footage))]
            found = beside(looked, around)
    return found


def _luma_step(footage: Footage) -> int:
    return max(1, max(footage.info.size) // _STATS_SIDE)
