"""The same few seconds of every clip, small, for the report: a match can hold in a still and fail as people move.

Only frames that are shown are decoded, and those about one moment, which is the moment that most of what the match
rests on lies in. How clips stand to one another in time is what the match found.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from huemend.base.arrays import Float32
from huemend.base.cv import import_cv2
from huemend.base.tasks import over
from huemend.encodings.registry import Encoding, encoding_of
from huemend.errors import MediaError
from huemend.model import Angle, SetupResult, Still
from huemend.model.clips import SampledClips
from huemend.options import MatchOptions, ReportOptions
from huemend.sample.clips import small_stills
from huemend.write.report.motion import RATE, Motion


def motion_of(result: SetupResult, options: MatchOptions) -> Motion | None:
    """Read a few seconds of the hero's clip and of every other one.

    None where nobody asked, where the hero and another are no clips on one clock, or where they can no longer
    be read: the match stands without it.
    """
    setup, clips = result.setup, result.clips
    if not options.report.motion or not options.report.pictures or clips is None:
        return None
    names = [angle.name for angle in setup.angles if angle.name in clips.angles]
    if setup.hero not in names or len(names) < 2:
        return None
    times = _times(result, clips, options.report)
    frames = {name: [clips.angles[name].frames.at(time) for time in times] for name in names}
    height = _height(result, options.report)

    def read(name: str) -> tuple[Float32, ...]:
        angle, encoding = setup[name], encoding_of(name, setup)
        # Twice as high, so that what is left after a crop is high enough.
        pixels = 4 * options.report.motion_pixels
        stills = small_stills(angle, frames[name], pixels, options.sample)
        seen = {still.frame: _light(still, angle, encoding, height) for still in stills}
        return tuple(seen[frame] for frame in frames[name])

    try:
        light = dict(zip(names, over(names, read), strict=True))
    except MediaError:
        return None
    said = tuple(clips.angles[setup.hero].frames.label(frame) for frame in frames[setup.hero])
    return Motion(said=said, light=light)


def _height(result: SetupResult, options: ReportOptions) -> int:
    """Return how high all pictures are, so that the hero's has its pixels: whole blocks of the encoder."""
    high, wide = result.stills[result.setup.hero][0].rgb.shape[:2]
    # Under a look every picture is there twice.
    pixels = options.motion_pixels / (1 if options.look is None else 2)
    blocks: int = round(math.sqrt(pixels * high / wide) / 16)
    return 16 * max(1, blocks)


def _times(result: SetupResult, clips: SampledClips, options: ReportOptions) -> list[Fraction]:
    """Return the times of what is shown, about the moment that most samples lie in, within the common range."""
    counts = [sum(int((angle.pairs.moment == n).sum()) for angle in result) for n in range(len(clips.moments))]
    middle, (start, end) = clips.moments[int(np.argmax(counts))], clips.span
    step = Fraction(1, RATE)
    count = max(1, min(round(options.motion_seconds * RATE), int((end - start) / step) + 1))
    first = min(max(middle - step * (count // 2), start), end - step * (count - 1))
    return [first + step * n for n in range(count)]


def _light(still: Still, angle: Angle, encoding: Encoding, height: int) -> Float32:
    """Decode a small picture to scene-linear ACEScg of square pixels and the given height."""
    rgb = np.nan_to_num(np.asarray(encoding.decode(still.codes, still.range or angle.range), np.float32))
    high, wide = rgb.shape[:2]
    size = max(1, round(wide * angle.pixel_aspect * height / high)), height
    return np.asarray(import_cv2().resize(rgb, size, interpolation=import_cv2().INTER_AREA), np.float32)
