"""What a clip says of itself, read without decoding more than its first frame."""

from __future__ import annotations

import errno
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from huemend.errors import HuemendError, MediaError, MissingLibraryError
from huemend.media.signal import UNTAGGED, Signal, Tags, signal_of
from huemend.model.timecode import Timecode

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.stream import VideoStream

#: Containers that hold clips. What else FFmpeg reads may be a list of other files or of addresses on a network
#: (a playlist, a concatenation), whatever its name ends in.
_CONTAINERS = ("mov", "matroska", "mxf", "mxf_opatom", "avi", "mpegts", "mpeg", "mpegvideo", "m4v")
# Opened as well, to be told from clips by what they hold.
_OTHERS = ("png_pipe", "jpeg_pipe", "tiff_pipe", "exr_pipe", "dpx_pipe", "wav", "aiff", "mp3", "flac")

#: Rates that containers with coarse clocks only come close to.
_STANDARD_RATES = tuple(Fraction(n) for n in (24, 25, 30, 48, 50, 60, 100, 120)) + tuple(
    Fraction(1000 * n, 1001) for n in (24, 30, 48, 60, 120)
)

#: Packets looked at to tell whether frames come at an even pace.
_PACE_PACKETS = 240

_TRANSFERS = {1: "bt709", 8: "linear", 13: "srgb", 14: "bt2020", 15: "bt2020", 16: "pq", 18: "hlg"}
_PRIMARIES = {1: "bt709", 5: "bt601", 6: "bt601", 9: "bt2020", 12: "p3-d65"}


@dataclass(frozen=True, kw_only=True)
class ClipInfo:
    """What a clip says of itself, and what had to be assumed."""

    path: Path
    #: (height, width). As stored; ``rotation`` is still to be applied.
    size: tuple[int, int]
    #: Frames a second; the average of a clip of uneven pace.
    fps: Fraction
    #: Frames come at an even pace.
    even: bool
    frames: int
    #: Label of the first frame; None where there is none or it is not to be trusted.
    timecode: Timecode | None = None
    #: As libavcodec names them.
    codec: str
    pix_fmt: str
    #: How the planes are decoded; ``signal.assumed`` says what the stream leaves open.
    signal: Signal
    #: As tagged, ``untagged`` if not: a tag that a log clip carries is seldom right, so it is shown only.
    transfer: str = "untagged"
    primaries: str = "untagged"
    #: None of numbered pictures, which have none.
    tags: Tags | None = None
    #: Clockwise turn in degrees that the container asks for: 0, 90, 180 or 270.
    rotation: int = 0
    #: Width of a pixel over its height, as tagged.
    pixel_aspect: float = 1.0
    #: Holds an audio stream.
    audio: bool = False
    #: Reel or tape name, if there is one.
    reel: str = ""
    interlaced: bool = False
    #: Every text tag of container and stream, keys in lower case.
    metadata: Mapping[str, str] = field(default_factory=dict)
    #: What deserves a word in the record.
    notes: tuple[str, ...] = ()

    @property
    def duration(self) -> Fraction:
        """Seconds from the first frame to the end of the last."""
        return self.frames / self.fps


def open_container(path: Path) -> InputContainer:
    """Open a clip, and nothing that leads to another file; raises ``av.FFmpegError``."""
    allowed = {"protocol_whitelist": "file", "format_whitelist": ",".join((*_CONTAINERS, *_OTHERS))}
    container: InputContainer = import_av().open(str(path), metadata_errors="replace", options=allowed)
    return container


def import_av() -> Any:
    """Load PyAV, or say what to install."""
    try:
        import av
    except ImportError as error:
        raise MissingLibraryError(f"PyAV cannot load ({error})", todo="run: pip install av") from error
    # PyAV's log level stays as it is, silent: with any other, a decoder's thread that logs waits for the
    # interpreter while closing the clip waits for that thread.
    return av


# What the system says of the place that is written to.
_OF_THE_OUTPUT = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS})


@contextmanager
def media_errors(path: Path, doing: str) -> Iterator[None]:
    """Turn what libav raises into one line about a clip; that nothing can be written is not the clip's fault."""
    av = import_av()
    try:
        yield
    except HuemendError:
        raise
    except av.FileNotFoundError as error:
        raise MediaError("there is no such file", where=path, todo="correct the path") from error
    except (av.FFmpegError, OSError, ValueError) as error:
        if isinstance(error, OSError) and error.errno in _OF_THE_OUTPUT:
            raise
        reason = getattr(error, "strerror", None) or str(error)
        raise MediaError(f"{doing} ({reason})", where=path, todo="copy or export the clip again") from error


def video_stream(path: Path, container: InputContainer) -> VideoStream:
    name = container.format.name
    if name.endswith("_pipe") or name.startswith("image2"):
        todo = "give it the suffix of its format, so that it is read as a still"
        raise MediaError("is a still picture, not a clip", where=path, todo=todo)
    # The cover picture of a sound file is a video stream to libav.
    streams = [stream for stream in container.streams.video if not _is_cover(stream)]
    if not streams:
        what = "holds sound but no pictures" if container.streams.audio else "holds no video stream"
        raise MediaError(what, where=path, todo="name the clip that the camera recorded")
    # Threads that take a frame each run ahead of whoever jumps from frame to frame, and decode what nobody sees.
    streams[0].thread_type = "SLICE" if streams[0].codec_context.name in _SLICED else "AUTO"
    return streams[0]


def decoded_alone(stream: VideoStream) -> bool:
    """Tell whether every frame of a stream is decoded without any other."""
    return bool(stream.codec_context.codec.intra_only)


#: Decoders that share the slices of one frame among threads as well as frames.
_SLICED = frozenset({"dnxhd", "prores"})


def _is_cover(stream: VideoStream) -> bool:
    from av.stream import Disposition

    return bool(stream.disposition & Disposition.attached_pic)


def describe(
    path: Path, container: InputContainer, stream: VideoStream, matrix: str | None, range: str | None
) -> ClipInfo:
    notes: list[str] = []
    codec = stream.codec_context
    if codec is None or (codec.pix_fmt is None and not codec.name):
        raise MediaError("holds video that no decoder here knows", where=path, todo="transcode it")
    first = next(iter(container.decode(stream)), None)
    if first is None:
        raise MediaError("holds no frame that can be decoded", where=path, todo="copy or export the clip again")
    tags = Tags(
        colorspace=_tag(first.colorspace, codec.colorspace, UNTAGGED),
        color_range=_tag(first.color_range, codec.color_range, 0),
        primaries=_tag(first.color_primaries, codec.color_primaries, UNTAGGED),
        transfer=_tag(first.color_trc, codec.color_trc, UNTAGGED),
    )
    size = (first.height, first.width)
    signal = signal_of(first.format.name, size, tags, matrix=matrix, range=range)
    fps = _rate(path, stream)
    even = _is_even(path, fps)
    # A file that was trimmed without encoding it again still counts what it no longer shows.
    played = round((stream.duration or 0) * (stream.time_base or 0) * fps)
    frames = stream.frames if even and 0 < stream.frames == played else _count(path, fps, even)
    if not even:
        notes.append(f"frames come at an uneven pace, {float(fps):.3f} a second on average")
    metadata = _metadata(container, stream)
    timecode = _timecode(metadata, fps, container.format.name, notes)
    rotation = round(-first.rotation / 90) * 90 % 360  # libav counts counter-clockwise
    if rotation:
        notes.append(f"turned {rotation} degrees clockwise, as the file asks")
    if first.interlaced_frame:
        notes.append("interlaced: both fields of a frame are read as one picture")
    aspect = float(stream.sample_aspect_ratio or 1)
    if aspect != 1.0:
        notes.append(f"pixels are tagged {aspect:.4g} times as wide as high")
    return ClipInfo(
        path=path,
        size=size,
        fps=fps,
        even=even,
        frames=frames,
        timecode=timecode,
        codec=codec.name,
        pix_fmt=first.format.name,
        signal=signal,
        transfer=_named(tags.transfer, _TRANSFERS),
        primaries=_named(tags.primaries, _PRIMARIES),
        tags=tags,
        rotation=rotation,
        pixel_aspect=aspect,
        audio=bool(container.streams.audio),
        reel=metadata.get("reel_name") or metadata.get("tape_name") or metadata.get("reel") or "",
        interlaced=bool(first.interlaced_frame),
        metadata=metadata,
        notes=tuple(notes),
    )


def _named(tag: int, names: Mapping[int, str]) -> str:
    return names.get(tag, "untagged" if tag in (0, UNTAGGED) else "other")


def _tag(frame: int, codec: int, unknown: int) -> int:
    return int(frame) if int(frame) != unknown else int(codec)


def _metadata(container: InputContainer, stream: VideoStream) -> dict[str, str]:
    # The video stream speaks last, since it is what is measured.
    spoken = [container.metadata, *(track.metadata for track in container.streams.data), stream.metadata]
    return {key.lower(): value for tags in spoken for key, value in tags.items()}


def _timecode(metadata: Mapping[str, str], fps: Fraction, kind: str, notes: list[str]) -> Timecode | None:
    text = metadata.get("timecode")
    if text is None:
        return None
    try:
        found = Timecode.parse(text, fps)
    except ValueError as error:
        notes.append(f"start timecode left out: {error}")
        return None
    # MXF must state a timecode, and says zero when it never had one.
    if found.frame == 0 and kind.startswith("mxf"):
        notes.append("start timecode 00:00:00:00 left out: MXF says so when there is none")
        return None
    return found


def _rate(path: Path, stream: VideoStream) -> Fraction:
    rate = stream.average_rate or stream.guessed_rate or stream.base_rate
    if not rate or rate <= 0:
        raise MediaError("does not say how fast its frames come", where=path, todo="export the clip again")
    for standard in _STANDARD_RATES:
        if abs(rate / standard - 1) < Fraction(1, 5000):
            return standard
    return rate


def _packets(path: Path, *, limit: int | None = None, near_end: bool = False) -> tuple[list[int], Fraction]:
    """Presentation times of the video packets, without decoding, from a handle of its own."""
    stamps: list[int] = []
    with open_container(path) as container:
        stream = video_stream(path, container)
        base = stream.time_base or Fraction(1, 1)
        if near_end:
            with_end = (stream.start_time or 0) + int(Fraction(container.duration or 0, 1_000_000) / base)
            container.seek(with_end, stream=stream, backward=True)
        for packet in container.demux(stream):
            stamp = packet.pts if packet.pts is not None else packet.dts
            if stamp is not None and not packet.is_discard:
                stamps.append(stamp)
            if limit and len(stamps) >= limit:
                break
        return sorted(stamps), base


def _is_even(path: Path, fps: Fraction) -> bool:
    stamps, base = _packets(path, limit=_PACE_PACKETS)
    if len(stamps) < 3:
        return True
    # The last few may have neighbours that were not read yet.
    gaps = np.diff(np.array(stamps[: max(len(stamps) - 8, 3)])) * float(base * fps)
    tolerance = 0.1 + 1.01 * float(base * fps)  # one tick of the container's clock
    return bool(np.abs(gaps - 1).max() <= tolerance)


def _count(path: Path, fps: Fraction, even: bool) -> int:
    stamps, base = _packets(path, near_end=even)
    if not stamps:
        stamps, base = _packets(path)
    if not even:
        return len(stamps)
    with_start, _ = _packets(path, limit=16)
    return round((stamps[-1] - with_start[0]) * base * fps) + 1


def presentation_times(path: Path) -> list[int]:
    return _packets(path)[0]
