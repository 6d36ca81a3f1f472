"""Clips out: encoders, containers, and what is carried over from the source."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from huemend.errors import MediaError
from huemend.media.clipinfo import ClipInfo, import_av, media_errors, open_container, video_stream
from huemend.media.signal import MATRIX_TAGS, NO_TAGS, Signal, signal_of

if TYPE_CHECKING:
    from av import VideoFrame
    from av.container import InputContainer, OutputContainer


@dataclass(frozen=True, kw_only=True)
class Format:
    """One thing that can be written."""

    #: Of the file, or of each picture of a sequence.
    suffix: str
    #: For the user.
    about: str
    #: As libavcodec names them; empty for pictures.
    encoder: str = ""
    pix_fmt: str = ""
    #: For the encoder.
    options: Mapping[str, str] = field(default_factory=dict)
    #: The format can say that it is full range; what cannot is written in legal range.
    says_range: bool = True
    #: Width and height must be even.
    even: bool = False
    #: Of the pictures of a sequence.
    bit_depth: int = 0
    floating: bool = False

    @property
    def is_clip(self) -> bool:
        """True for a clip, False for numbered pictures."""
        return bool(self.encoder)


#: What can be written, by name. Quality settings are meant for grading, not for delivery.
# fmt: off
FORMATS: Mapping[str, Format] = {
    "prores-4444": Format(suffix=".mov", about="ProRes 4444, 10 bit 4:4:4", encoder="prores_aw",
        pix_fmt="yuv444p10le", options={"profile": "4"}, says_range=False),
    "prores-422hq": Format(suffix=".mov", about="ProRes 422 HQ, 10 bit 4:2:2", encoder="prores_aw",
        pix_fmt="yuv422p10le", options={"profile": "3"}, says_range=False),
    "dnxhr-444": Format(suffix=".mov", about="DNxHR 444, 10 bit 4:4:4", encoder="dnxhd", pix_fmt="yuv444p10le",
        options={"profile": "dnxhr_444"}, says_range=False),
    "dnxhr-hqx": Format(suffix=".mov", about="DNxHR HQX, 10 bit 4:2:2", encoder="dnxhd", pix_fmt="yuv422p10le",
        options={"profile": "dnxhr_hqx"}, says_range=False),
    "h264": Format(suffix=".mov", about="H.264 High 10, 10 bit 4:2:0", encoder="libx264", pix_fmt="yuv420p10le",
        options={"crf": "12", "preset": "medium"}, even=True),
    "hevc": Format(suffix=".mov", about="HEVC Main 10, 10 bit 4:2:0", encoder="libx265", pix_fmt="yuv420p10le",
        options={"crf": "13", "preset": "medium", "x265-params": "log-level=none"}, even=True),
    "ffv1": Format(suffix=".mkv", about="FFV1, lossless, 12 bit 4:4:4", encoder="ffv1", pix_fmt="yuv444p12le",
        options={"level": "3", "slicecrc": "1"}),
    "tiff": Format(suffix=".tif", about="numbered 16-bit TIFF", bit_depth=16),
    "exr": Format(suffix=".exr", about="numbered OpenEXR, half float", bit_depth=16, floating=True),
}
# fmt: on

#: Sound that a container cannot take as it is becomes this.
_SOUND = {".mov": "pcm_s24le", ".mkv": "pcm_s24le", ".mxf": "pcm_s24le", ".mp4": "aac"}
#: Containers of which a host may refuse uncompressed sound.
_NO_PCM = frozenset({".mp4", ".m4v"})
#: Text tags that describe the source file, not what it shows.
_OWN_TAGS = frozenset(
    "major_brand minor_version compatible_brands encoder duration handler_name vendor_id timecode".split()
)


def output_signal(format: Format, source: Signal, size: tuple[int, int]) -> Signal:
    """Say how a format's planes stand for R'G'B': the source's matrix, and its range if the format can say so."""
    matrix = source.matrix if source.matrix != "rgb" else "bt709"
    range = source.range if format.says_range and source.kind != "rgb" else "legal"
    # Where chroma lies is seldom tagged: the customary place is what a reader takes.
    return signal_of(format.pix_fmt, size, matrix=matrix, range=range)


class ClipWriter:
    """An open clip that takes frames in order; use `write_clip`."""

    def __init__(
        self, container: OutputContainer, video: Any, info: ClipInfo, format: Format, sound: _Sound
    ) -> None:
        self._container = container
        self._video = video
        self._info = info
        self._sound = sound
        self._doing = f"cannot be written as {format.about}"
        self.signal = output_signal(format, info.signal, info.size)
        self._count = 0

    def blank(self) -> VideoFrame:
        """Return a frame of the right size and layout to fill."""
        frame: VideoFrame = import_av().VideoFrame(self._info.size[1], self._info.size[0], self._video.pix_fmt)
        return frame

    def write(self, frame: VideoFrame, time: Fraction | None = None) -> None:
        """Encode a frame; ``time`` in seconds from the first frame for clips of uneven pace."""
        base = 1 / self._info.fps if time is None else self._video.codec_context.time_base
        frame.pts = self._count if time is None else round(time / base)
        frame.time_base = base
        # ProRes forgets colour tags that are not set on each frame.
        _tag(frame, self._info, self.signal)
        self._count += 1
        self._encode(frame, self._count / self._info.fps if time is None else time)

    def finish(self) -> None:
        """Flush the encoder and the rest of the sound."""
        self._encode(None, None)

    def _encode(self, frame: VideoFrame | None, sound_until: Fraction | None) -> None:
        with media_errors(self._info.path, self._doing):
            for packet in self._video.encode(frame):
                self._container.mux(packet)
            self._sound.copy_until(sound_until)


@contextmanager
def write_clip(path: Path, format: Format, info: ClipInfo) -> Iterator[ClipWriter]:
    """Write a clip beside a source: same pace, start timecode, reel, sound, colour tags, turn and pixel shape.

    What stands at ``path`` is written over: who calls it gives the name of a temporary file, whose suffix chooses
    the container. Raises MediaError where the encoder refuses the size or the source's sound cannot be read, and
    OSError where the file cannot be written.
    """
    av = import_av()
    height, width = info.size
    if format.even and (height % 2 or width % 2):
        raise MediaError(
            f"{format.about} needs an even width and height, this is {width} x {height}",
            where=info.path,
            todo="choose prores-4444 or ffv1",
        )
    with ExitStack() as stack:
        with media_errors(info.path, f"cannot be written as {format.about}"):
            container = stack.enter_context(av.open(str(path), "w"))
            video = _add_video(container, format, info)
            sound = _Sound(stack, container, info, path.suffix.lower())
        writer = ClipWriter(container, video, info, format, sound)
        yield writer
        writer.finish()


def _add_video(container: OutputContainer, format: Format, info: ClipInfo) -> Any:
    options = dict(format.options)
    if format.encoder == "libx265":
        options["x265-params"] += f":range={'full' if info.signal.range == 'full' else 'limited'}"
    video: Any = container.add_stream(format.encoder, rate=info.fps, options=options)
    video.height, video.width, video.pix_fmt = info.size[0], info.size[1], format.pix_fmt
    video.thread_type = "AUTO"
    if not info.even:
        video.codec_context.time_base = video.time_base = Fraction(1, 90_000)
    if info.pixel_aspect != 1.0:
        video.sample_aspect_ratio = Fraction(info.pixel_aspect).limit_denominator(1000)
    _tag(video.codec_context, info, output_signal(format, info.signal, info.size))
    for key, value in info.metadata.items():
        if key not in _OWN_TAGS:
            container.metadata[key] = value
    if info.timecode is not None:
        container.metadata["timecode"] = video.metadata["timecode"] = str(info.timecode)
    if info.reel:
        video.metadata["reel_name"] = info.reel
    if info.rotation:
        video.set_display_rotation(-info.rotation)  # libav counts counter-clockwise
    return video


def _tag(target: Any, info: ClipInfo, signal: Signal) -> None:
    """Carry tags over; matrix and range say what was really written."""
    target.colorspace = MATRIX_TAGS[signal.matrix]
    target.color_range = 2 if signal.range == "full" else 1
    tags = info.tags or NO_TAGS
    target.color_primaries, target.color_trc = tags.primaries, tags.transfer


class _Sound:
    """Carries the source's sound over, packet by packet, or encoded anew where the container asks for it."""

    def __init__(self, stack: ExitStack, container: OutputContainer, info: ClipInfo, suffix: str) -> None:
        self._container = container
        self._tracks: dict[int, tuple[Any, bool]] = {}
        self._packets: Iterator[Any] = iter(())
        self._waiting: Any = None
        if not info.audio:
            return
        av = import_av()
        source: InputContainer = stack.enter_context(open_container(info.path))
        pictures = video_stream(info.path, source)
        self._zero = (pictures.start_time or 0) * (pictures.time_base or Fraction(0))
        for track in source.streams.audio:
            name = track.codec_context.name
            anew = suffix in _NO_PCM and name.startswith("pcm")
            target: Any = None
            if not anew:
                try:
                    target = container.add_stream_from_template(track)
                except (ValueError, av.FFmpegError):
                    anew = True  # this container takes no such sound
            if anew:
                target = container.add_stream(_SOUND.get(suffix, "aac"), rate=track.rate, layout=track.layout)
            self._tracks[track.index] = (target, anew)
        self._packets = source.demux(source.streams.audio)

    def copy_until(self, time: Fraction | None) -> None:
        """Write sound up to a time from the first picture on; all that is left if None."""
        while True:
            packet = self._waiting if self._waiting is not None else next(self._packets, None)
            self._waiting = None
            if packet is None:
                break
            base = packet.time_base
            stamp = packet.dts
            if time is not None and stamp is not None and base and stamp * base - self._zero > time:
                self._waiting = packet
                return
            self._write(packet)
        for target, anew in self._tracks.values() if time is None else ():
            if anew:
                for packet in target.encode(None):
                    self._container.mux(packet)

    def _write(self, packet: Any) -> None:
        target, anew = self._tracks[packet.stream.index]
        if anew:
            for frame in packet.decode():
                if frame.pts is not None and frame.time_base:
                    frame.pts -= round(self._zero / frame.time_base)
                for made in target.encode(frame):
                    self._container.mux(made)
            return
        if packet.dts is None:
            return  # the mark at the end of a track
        shift = round(self._zero / packet.time_base)
        packet.pts = (packet.pts if packet.pts is not None else packet.dts) - shift
        packet.dts -= shift
        packet.stream = target
        self._container.mux(packet)
