"""How exposure and balance of the cameras move over a take, and which moments one match cannot fit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from huemend.base.tasks import over
from huemend.correspond.stabilised import stabilised
from huemend.correspond.stances import PictureId, Stance, moving_cameras
from huemend.encodings.registry import Encoding
from huemend.errors import MediaError
from huemend.linearise.decode import linearise
from huemend.model import Angle, LinearStill, Setup, Still
from huemend.model.drift import Drift, Track
from huemend.options import DriftOptions, LineariseOptions, MatchOptions
from huemend.sample.clip_plan import ClipPlan
from huemend.sample.clips import drift_stills
from huemend.validate.drift import compare_cameras, moments_apart, with_segments
from huemend.validate.track import follow


def follow_cameras(
    setup: Setup,
    plan: ClipPlan,
    encodings: Mapping[str, Encoding],
    stances: Mapping[PictureId, Stance],
    options: MatchOptions,
) -> Drift | None:
    """Follow exposure and balance of every clip over the common range; None if there is nothing to follow."""
    if len(plan.followed) < 2:
        return None

    moving = moving_cameras(stances)

    def track(name: str) -> Track:
        linear = _small_linear(drift_stills(setup[name], plan), setup[name], encodings[name], options.linearise)
        if name in moving:
            # A place is held against the same place, wherever a bump or a pan has taken it.
            linear = stabilised(linear, options.correspond.framing)
        return follow(linear, options.drift)

    tracks = dict(zip(plan.clips, over(plan.clips, track), strict=True))
    drift = compare_cameras(tracks, [float(time) for time in plan.followed], options.drift)
    return with_segments(drift, setup.hero, options.drift)


def moments_set_aside(
    setup: Setup, plan: ClipPlan, drift: Drift, options: DriftOptions
) -> dict[str, frozenset[int]]:
    """Return the moments at which each angle differs from how it mostly stands to the hero; none beside marks."""
    if setup.marks.pairs or setup.marks.neutral or setup.chart:
        return {}
    return {
        angle.name: moments_apart(drift, angle.name, setup.hero, plan.times, options) for angle in setup.others
    }


def _small_linear(
    stills: Iterable[Still], angle: Angle, encoding: Encoding, options: LineariseOptions
) -> Iterator[LinearStill]:
    noise = None
    for still in stills:
        try:
            light = linearise(
                still,
                encoding,
                range=still.range or angle.range,
                pixel_aspect=angle.pixel_aspect,
                options=options,
                noise=noise,
            )
            noise = light.noise  # the camera's, not the frame's
        except MediaError:
            # A covered lens or a white frame is nothing to measure, and no reason to stop following.
            nothing = np.zeros(size := still.codes.shape[:2], bool)
            light = LinearStill(
                rgb=np.zeros((*size, 3), np.float32),
                valid=nothing,
                clipped=nothing,
                angle=still.angle,
                moment=still.moment,
                source=still.source,
                full_size=size,
            )
        yield light
