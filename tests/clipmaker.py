"""Clips for tests: every code of every plane is the test's own, written with libav's encoders."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

from huemend.media.clipinfo import ClipInfo
from huemend.media.clips import open_clip

Planes = Sequence[np.ndarray]


def probe_clip(path: Path, **said: str | None) -> ClipInfo:
    """Return what a clip says of itself."""
    with open_clip(path, **said) as clip:
        return clip.info


def fill(frame: av.VideoFrame, planes: Planes) -> av.VideoFrame:
    """Put codes into a planar frame."""
    kind = np.uint16 if frame.format.components[0].bits > 8 else np.uint8
    for plane, values in zip(frame.planes, planes, strict=False):
        buffer = np.zeros(plane.buffer_size // kind().itemsize, kind)
        stride = plane.line_size // kind().itemsize
        rows = buffer[: len(buffer) // stride * stride].reshape(-1, stride)
        rows[: values.shape[0], : values.shape[1]] = values
        plane.update(buffer.tobytes())
    return frame


def shapes(pix_fmt: str, size: tuple[int, int]) -> list[tuple[int, int]]:
    """(height, width) of each plane."""
    return [(plane.height, plane.width) for plane in av.VideoFrame(size[1], size[0], pix_fmt).planes]


def write_clip(
    path: Path,
    planes: Callable[[int], Planes],
    *,
    frames: int,
    size: tuple[int, int],
    codec: str = "ffv1",
    pix_fmt: str = "yuv422p10le",
    rate: Fraction | int = 25,
    options: Mapping[str, str] | None = None,
    matrix: int = 1,
    color_range: int = 1,
    timecode: str | None = None,
    audio: np.ndarray | None = None,
    audio_rate: int = 48000,
    stamps: Sequence[int] | None = None,
    rotate: int = 0,
    tagged: bool = True,
) -> Path:
    """Write a clip whose frame ``i`` holds ``planes(i)``.

    ``stamps`` gives presentation times in 1/1000 s for an uneven pace.
    """
    with av.open(str(path), "w") as container:
        video: Any = container.add_stream(codec, rate=rate, options=dict(options or {}))
        video.height, video.width, video.pix_fmt = size[0], size[1], pix_fmt
        if stamps is not None:
            video.codec_context.time_base = Fraction(1, 1000)
            video.time_base = Fraction(1, 1000)
        if tagged:
            video.codec_context.color_range = color_range
            video.codec_context.colorspace = matrix
        if timecode is not None:
            container.metadata["timecode"] = timecode
            video.metadata["timecode"] = timecode
        if rotate:
            video.set_display_rotation(rotate)
        sound: Any = None
        if audio is not None:
            kind = "pcm_s16le" if path.suffix in (".mov", ".mxf", ".mkv") else "aac"
            sound = container.add_stream(kind, rate=audio_rate, layout="mono")
        for index in range(frames):
            frame = fill(av.VideoFrame(size[1], size[0], pix_fmt), planes(index))
            if stamps is not None:
                frame.pts, frame.time_base = stamps[index], Fraction(1, 1000)
            else:
                frame.pts = index
            if tagged:
                frame.color_range, frame.colorspace = color_range, matrix
            container.mux(video.encode(frame))
        container.mux(video.encode(None))
        if sound is not None:
            for start in range(0, len(audio), 1024):
                part = np.clip(audio[start : start + 1024], -1, 1)
                if kind == "aac":
                    block = av.AudioFrame.from_ndarray(part[None].astype(np.float32), "fltp", "mono")
                else:
                    block = av.AudioFrame.from_ndarray((part[None] * 32767).astype(np.int16), "s16", "mono")
                block.rate, block.pts = audio_rate, start
                container.mux(sound.encode(block))
            container.mux(sound.encode(None))
    return path


def moving_planes(
    pix_fmt: str, size: tuple[int, int], *, seed: int = 0, smooth: bool = True
) -> Callable[[int], list[np.ndarray]]:
    """Frames that all differ: smooth waves (what codecs are made for) or noise, in legal codes."""
    bits = av.VideoFrame(16, 16, pix_fmt).format.components[0].bits
    unit = 1 << (bits - 8)

    def planes(index: int) -> list[np.ndarray]:
        rng = np.random.default_rng([seed, index])
        out = []
        for number, (height, width) in enumerate(shapes(pix_fmt, size)):
            low, high = (
                (16 * unit, 235 * unit) if number == 0 or pix_fmt.startswith("gbr") else (96 * unit, 160 * unit)
            )
            if smooth:
                y, x = np.mgrid[:height, :width]
                wave = np.sin(x / width * 5 + index * 0.31 + number) * np.cos(y / height * 4 - index * 0.17)
                values = (low + high) / 2 + wave * (high - low) / 2.4
            else:
                values = rng.integers(low, high, (height, width))
            out.append(np.rint(values).astype(int))
        return out

    return planes
