"""Clips: what they say of themselves, and any frame of them, exactly.

Everything goes through libav's decoders and our own matrix (`huemend.media.planes`); nothing is scaled or
rounded on the way. A frame is named by its index in order of presentation, 0 being the first. Whatever the length
of a clip, only a few frames are held at a time.
"""

from __future__ import annotations

import bisect
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from huemend.base.arrays import Float32
from huemend.errors import MediaError
from huemend.media.clipinfo import (
    ClipInfo,
    decoded_alone,
    describe,
    import_av,
    media_errors,
    open_container,
    presentation_times,
    video_stream,
)
from huemend.media.planes import frame_to_rgb, luma_plane, small_rgb
from huemend.media.soundness import open_medium

if TYPE_CHECKING:
    import av
    from av.container import InputContainer
    from av.video.stream import VideoStream

#: What a clip may be called; the content is what counts once it is opened.
CLIP_SUFFIXES = frozenset(
    {".avi", ".m2ts", ".m4v", ".mkv", ".mov", ".mp4", ".mpg", ".mts", ".mxf", ".ts", ".webm"}
)

#: Going on decoding beats a jump up to this many frames.
_READ_ON = 48
#: A jump aims this many frames ahead of the frame it wants, since files are indexed by decoding order.
_REORDER = 4
#: What was decoded of a clip is kept if all of it fits in here, as the candidates of HD in 8 bits do.
_KEPT_BYTES = 128_000_000


@dataclass(frozen=True, kw_only=True, eq=False)
class Glance:
    """A frame that was looked at and not read."""

    index: int
    #: (h, w). Every so-manieth sample of both directions, scaled as R'G'B' is.
    luma: Float32
    #: (h, w, 3) or None. R'G'B', averaged to about so many pixels; of those that were looked at closely.
    picture: Float32 | None
    #: The frame itself, where it would have to be decoded again with all before it.
    frame: av.VideoFrame | None


class Decoded:
    """Frames that were decoded before they are read, by index. Each is handed out once, and its memory is free."""

    def __init__(self, frames: Mapping[int, av.VideoFrame]) -> None:
        self._frames = dict(frames)

    def take(self, index: int) -> av.VideoFrame | None:
        """Hand a frame out; None where it is not at hand."""
        return self._frames.pop(index, None)


class Clip:
    """An open clip; use `open_clip`."""

    def __init__(self, path: Path, container: InputContainer, stream: VideoStream, info: ClipInfo) -> None:
        self.path = path
        self.info = info
        self._container = container
        self._stream = stream
        self._frames: Iterator[av.VideoFrame] | None = None
        self._next = 0
        #: Every frame is whole by itself: none need be decoded that is not looked at.
        self.alone = decoded_alone(stream)
        base = stream.time_base
        assert base is not None  # every demuxed stream has one
        self._base = base
        self._start = stream.start_time or 0
        self._table = None if info.even else presentation_times(path)

    # ------------------------------------------------------------------------------------------- frames

    def frames(
        self, indices: Iterable[int], decoded: Decoded | None = None
    ) -> Iterator[tuple[int, av.VideoFrame]]:
        """Yield ``(index, frame)`` for each index once, in rising order; those of ``decoded`` are taken out of it.

        Raises MediaError where a frame lies outside the clip or cannot be decoded.
        """
        for index in sorted(set(indices)):
            if not 0 <= index < self.info.frames:
                what = f"has no frame {index} (it has {self.info.frames})"
                raise MediaError(what, where=self.path, todo="choose another range")
            yield index, (decoded and decoded.take(index)) or self._frame(index)

    def read_frames(self, indices: Iterable[int], decoded: Decoded | None = None) -> Iterator[tuple[int, Float32]]:
        """Yield ``(index, rgb)``: R'G'B' as `huemend.media.planes` gives it, turned upright by the tag."""
        for index, frame in self.frames(indices, decoded):
            yield index, upright(frame_to_rgb(frame, self.info.signal), self.info.rotation)

    def glances(
        self, indices: Iterable[int], step: int, *, thin: int = 1, pixels: int = 1, closely: Collection[int] = ()
    ) -> Iterator[Glance]:
        """Look at frames: at every ``step``-th sample of those of ``closely``, at a ``thin`` part of others."""
        signal, turn = self.info.signal, self.info.rotation
        for index, frame in self.frames(indices):
            near = index in closely
            size = sum(plane.buffer_size for plane in frame.planes)
            luma = upright(luma_plane(frame, signal, step=step if near else step * thin), turn)
            yield Glance(
                index=index,
                luma=luma,
                picture=upright(small_rgb(frame, signal, pixels), turn) if near else None,
                frame=frame if near and not self.alone and len(closely) * size <= _KEPT_BYTES else None,
            )

    def shown_at(self, frame: av.VideoFrame) -> Fraction:
        """Seconds from the first frame to a decoded one."""
        stamp = frame.pts if frame.pts is not None else frame.dts or 0
        return (stamp - self._start) * self._base

    def _frame(self, index: int) -> av.VideoFrame:
        with media_errors(self.path, f"frame {index} cannot be decoded"):
            if self._frames is None or not self._next <= index <= self._next + (0 if self.alone else _READ_ON):
                frame = self._jump(index)
            else:
                frame = self._read_on(index)
        if frame is None:
            raise MediaError(
                f"ends before its frame {index}, though it says that it has {self.info.frames}",
                where=self.path,
                todo="the file is cut short: copy or export it again",
            )
        return frame

    def _jump(self, index: int) -> av.VideoFrame | None:
        back = 0 if self.alone else _REORDER
        while True:
            target = max(index - back, 0)
            if target:
                self._container.seek(self._stamp(target), stream=self._stream, backward=True)
                self._frames = self._container.decode(self._stream)
            else:
                self._rewind()
            frame = self._read_on(index)
            # A file may be indexed by keyframes that come after the frame that is wanted, or not at all.
            if target == 0 or (frame is not None and self._index(frame) == index):
                return frame
            back = 4 * back + 16

    def _rewind(self) -> None:
        av = import_av()
        try:
            # Some containers are searched by decoding time, which runs ahead of the first frame's...
            self._container.seek(self._start - round(2 / self._base), stream=self._stream, backward=True)
        except av.FFmpegError:
            # ...and some refuse a time before their first.
            self._container.seek(self._start, stream=self._stream, backward=True)
        self._frames = self._container.decode(self._stream)
        self._next = 0

    def _read_on(self, index: int) -> av.VideoFrame | None:
        """Decode up to the frame wanted; a later one means that it was passed."""
        assert self._frames is not None
        for frame in self._frames:
            at = self._index(frame)
            self._next = at + 1
            if at >= index:
                return frame if at == index else None
        self._frames = None
        return None

    def _stamp(self, index: int) -> int:
        if self._table is not None:
            return self._table[index]
        return self._start + round(index / (self.info.fps * self._base))

    def _index(self, frame: av.VideoFrame) -> int:
        # Old containers (AVI) give the decoding order only.
        stamp = frame.pts if frame.pts is not None else frame.dts
        if stamp is None:
            raise MediaError("does not say when its frames are shown", where=self.path, todo="export it as MOV")
        if self._table is not None:
            return bisect.bisect_left(self._table, stamp)
        return round((stamp - self._start) * self._base * self.info.fps)

    def decode_all(self) -> Iterator[av.VideoFrame]:
        """Yield every frame from the first, without bookkeeping: for baking."""
        self._rewind()
        assert self._frames is not None
        with media_errors(self.path, "cannot be decoded"):
            yield from self._frames


@contextmanager
def open_clip(
    path: Path, *, matrix: str | None = None, range: str | None = None, known: ClipInfo | None = None
) -> Iterator[Clip]:
    """Open a clip for reading.

    ``matrix`` and ``range`` are believed in place of the stream's own tags (`huemend.media.signal.signal_of`);
    where ``known`` tells what it said of itself when it was opened before, its packets are not counted again.
    Raises MediaError where it is missing, empty, no clip, holds no video, or its first frame cannot be decoded.
    """
    path = Path(path)
    with open_medium(path):
        pass  # a library that opens a pipe waits for somebody to write
    with media_errors(path, "is not a clip that can be read"):
        container = open_container(path)
    with container:
        with media_errors(path, "is not a clip that can be read"):
            stream = video_stream(path, container)
            info = known or describe(path, container, stream, matrix, range)
        yield Clip(path, container, stream, info)


def upright(picture: Float32, rotation: int) -> Float32:
    """Turn a picture clockwise by a multiple of 90 degrees."""
    return np.rot90(picture, -(rotation // 90) % 4) if rotation else picture
