"""The sound of a clip, for finding when it was recorded."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from huemend.base.arrays import Float32
from huemend.media.clipinfo import import_av, media_errors, open_container

if TYPE_CHECKING:
    from av.audio.frame import AudioFrame
    from av.audio.stream import AudioStream

#: A track whose loudest sample is below this (-80 dB) was never connected.
_SILENCE = 1e-4
#: Field recorders put every microphone on a track of its own; more than these are not listened to.
_MOST_TRACKS = 4


def read_mono(path: Path, rate: int, *, longest: float = 1800.0) -> tuple[Float32, Fraction] | None:
    """Read the first track that is not silent, mixed to one channel, at ``rate`` samples a second.

    Returns (n,) samples of at most ``longest`` seconds, which bounds the memory, and the seconds from the first
    picture to the first sample; None without sound. Raises MediaError where the file cannot be read.
    """
    with (
        media_errors(path, "its sound cannot be read"),
        open_container(path) as container,
    ):
        pictures = container.streams.video[0] if container.streams.video else None
        zero = Fraction(0)
        if pictures is not None and pictures.start_time is not None and pictures.time_base:
            zero = pictures.start_time * pictures.time_base
        for track in container.streams.audio[:_MOST_TRACKS]:
            container.seek(0)
            start: Fraction | None = None
            parts: list[Float32] = []
            count = 0
            for frame, at in _resampled(container.decode(track), track, rate):
                start = at if start is None else start
                parts.append(frame)
                count += frame.size
                if count >= longest * rate:
                    break
            samples = np.concatenate(parts) if parts else np.zeros(0, np.float32)
            if samples.size and float(np.abs(samples).max()) > _SILENCE:
                return samples, (start or Fraction(0)) - zero
    return None


def _resampled(frames: Iterator[AudioFrame], track: AudioStream, rate: int) -> Iterator[tuple[Float32, Fraction]]:
    """Mono frames at ``rate`` with the time of the first sample of the whole."""
    av = import_av()
    resampler = av.AudioResampler(format="flt", layout="mono", rate=rate)
    at: Fraction | None = None
    for frame in frames:
        if at is None:
            at = Fraction(frame.pts or 0) * (frame.time_base or track.time_base or Fraction(1, rate))
        for out in resampler.resample(frame):
            yield out.to_ndarray().reshape(-1).astype(np.float32), at
    for out in resampler.resample(None):
        yield out.to_ndarray().reshape(-1).astype(np.float32), at or Fraction(0)
