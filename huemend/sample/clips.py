"""Stills out of clips: those of the moments that were chosen, and small ones."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from huemend.base.arrays import Float32
from huemend.base.text import printable
from huemend.media.clipinfo import ClipInfo
from huemend.model import Angle, Still
from huemend.options import SampleOptions
from huemend.sample.clip_plan import ClipPlan
from huemend.sample.footage import open_angle
from huemend.sample.moment_choice import steady_mean
from huemend.sample.upright import place


def clip_stills(angle: Angle, plan: ClipPlan, options: SampleOptions) -> Iterator[Still]:
    """Yield the stills of an angle's moments, one at a time.

    Where there are few moments, each is quietened by its neighbours where nothing moves; of many the colours are
    averaged later on.
    """
    clip = plan.clips[angle.name]
    frames = clip.sampled.moments
    # So many frames before and after as make the same number of frames in all.
    reach = round((options.clips.averaged / max(len(frames), 1) - 1) / 2)
    with open_angle(angle, options, clip.info) as footage:
        for moment, index in enumerate(frames):
            near = range(max(index - reach, 0), min(index + reach + 1, footage.info.frames))
            pictures = dict(footage.read_frames(near, clip.decoded))
            if len(pictures) == 1:
                yield _still(angle, footage.info, pictures.pop(index), moment, index)
                continue
            order = sorted(pictures)
            codes, _ = steady_mean([pictures[item] for item in order], order.index(index))
            del pictures
            yield _still(angle, footage.info, codes, moment, index)


def drift_stills(angle: Angle, plan: ClipPlan) -> Iterator[Still]:
    """Yield small pictures of an angle at ``plan.followed``, for following exposure and balance."""
    clip = plan.clips[angle.name]
    for moment, (time, picture) in enumerate(zip(plan.followed, clip.followed, strict=True)):
        yield _still(angle, clip.info, picture.astype(np.float32), moment, clip.sampled.frames.at(time))


def small_stills(angle: Angle, frames: Sequence[int], pixels: int, options: SampleOptions) -> Iterator[Still]:
    """Yield some frames of an angle, averaged to about so many pixels, in rising order: for eyes alone."""
    wanted = set(frames)
    with open_angle(angle, options) as footage:
        # Luma comes along, and nobody asks for it: as little as there is.
        for seen in footage.glances(wanted, max(footage.info.size), pixels=pixels, closely=wanted):
            if seen.picture is not None:
                yield _still(angle, footage.info, seen.picture, 0, seen.index)


def _still(angle: Angle, info: ClipInfo, codes: Float32, moment: int, frame: int) -> Still:
    signal = info.signal
    return Still(
        codes=place(codes, angle),
        angle=angle.name,
        moment=moment,
        source=f"{printable(info.path.name)} #{frame}",
        bit_depth=signal.bits,
        floating=signal.floating,
        # Numbered pictures say nothing of their range: there the setup file decides, as for any still.
        range=None if info.tags is None else signal.range,
        frame=frame,
    )
