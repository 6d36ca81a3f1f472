"""Run a match over media: decode, LUT, encode, each in a thread of its own.

Decoding and encoding leave the interpreter's lock alone most of the time, so that three threads keep the machine
busy where one would wait. Only a few frames are held, whatever the length.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from huemend.apply.job import Baked, Job, Pace, tamed_note
from huemend.apply.lut import LAYOUT, DeliveredLut, LutFilter, line_between
from huemend.base.arrays import Float32
from huemend.base.kept import Kept
from huemend.base.tasks import in_own_thread
from huemend.errors import MediaError
from huemend.media.clipinfo import import_av
from huemend.media.clips import Clip, open_clip
from huemend.media.encode import ClipWriter, write_clip
from huemend.media.fill_frame import fill_frame
from huemend.media.planes import Tamed, float_planes, frame_to_planes

if TYPE_CHECKING:
    from av import VideoFrame


class _Item(NamedTuple):
    """One frame on its way: as it went into the LUT, as it came out, and when it is shown."""

    before: VideoFrame
    after: VideoFrame
    time: Fraction | None


def bake_clip(job: Job) -> Baked:
    """Write a clip with the match in it; it appears under its name when it is whole.

    R'G'B' of the clip is brought to the range of the LUT, looked up with tetrahedral interpolation in float, and
    brought back. What lies outside the LUT's domain moves along with its edge instead of being cut off, so that
    superwhites stay.

    Raises MediaError where the clip cannot be read to its end, or the encoder refuses it; LutError where the LUT
    cannot be applied, or changed since it was looked at; OutputError where the file is there already, or is a
    source, or cannot be written. Nothing is written then.
    """
    (source,), lut, target = job.media, job.lut, job.target
    out, format = target.path, target.kind
    with open_clip(source, matrix=job.angle.matrix, range=job.stated_range) as clip:
        info = clip.info
        if info.interlaced:
            what = "is interlaced: both fields of a frame would be mixed in chroma"
            raise MediaError(what, where=source, todo="deinterlace it first, or use the LUT in the grade")
        into = line_between(info.signal.range, lut.input_range)
        back = line_between(lut.output_range, info.signal.range)
        pace = Pace(job, info.frames)
        tamed = Tamed()
        look_up = LutFilter(lut.path, info.size, lut.sha256)
        with Kept(out.parent, job.guard, [out.name], alone=False) as place:
            with (
                place.writing(out.name, overwrite=target.overwrite) as part,
                write_clip(part, format, info) as writer,
            ):
                with stream_frames(clip, into, look_up, job.options.queue, tamed=tamed) as items:
                    for item in items:
                        _encode(writer, item, lut, back)
                        pace.step()
                if abs(pace.done - info.frames) > 1:
                    what = f"ends after {pace.done} frames, though it says that it has {info.frames}"
                    todo = "the file is cut short: copy or export it again"
                    raise MediaError(what, where=clip.path, todo=todo)
        notes = [*tamed_note(tamed)]
        if writer.signal.range != info.signal.range:
            notes.append(f"{format.about} cannot say that it is full range: written in legal range")
        return Baked(paths=(out,), frames=pace.done, fps=pace.fps, range=writer.signal.range, notes=tuple(notes))


def _encode(writer: ClipWriter, item: _Item, lut: DeliveredLut, back: tuple[float, float]) -> None:
    planes = float_planes(item.after)
    keep_outside(float_planes(item.before), planes, lut)
    frame = writer.blank()
    fill_frame(frame, writer.signal, planes, gain=back[0], offset=back[1])
    writer.write(frame, item.time)


def keep_outside(before: list[Float32], after: list[Float32], lut: DeliveredLut) -> None:
    """Let what lies outside the LUT's domain move along with its edge.

    Of three (height, width) planes each, ``before`` went into the LUT and ``after`` came out, which is changed.
    """
    slope = np.float32(line_between(lut.input_range, lut.output_range)[0])
    for source, target in zip(before, after, strict=True):
        if float(source.min()) < 0.0 or float(source.max()) > 1.0:
            target += (source - np.clip(source, 0.0, 1.0)) * slope


@contextmanager
def stream_frames(
    clip: Clip,
    into: tuple[float, float],
    lut: Callable[[VideoFrame], VideoFrame],
    depth: int,
    *,
    indices: Sequence[int] | None = None,
    tamed: Tamed | None = None,
) -> Iterator[Iterator[_Item]]:
    """Yield an iterator over the frames of a clip (every one, if no indices are given), through the LUT, in order.

    Samples that are no numbers are made some before the filter sees them, and counted in ``tamed``.

    Decoding and the LUT run in threads of their own, at most ``depth`` frames ahead of one another. The threads
    have ended when the block ends, however it ends.
    """
    tamed = tamed or Tamed()
    wanted = clip.decode_all() if indices is None else (frame for _, frame in clip.frames(indices))
    decoded = (_decoded(clip, frame, into, tamed) for frame in wanted)
    with (
        in_own_thread(decoded, depth) as frames,
        in_own_thread((_Item(frame, lut(frame), time) for frame, time in frames), depth) as items,
    ):
        yield items


def _decoded(
    clip: Clip, frame: VideoFrame, into: tuple[float, float], tamed: Tamed
) -> tuple[VideoFrame, Fraction | None]:
    out = import_av().VideoFrame(frame.width, frame.height, LAYOUT)
    planes = float_planes(out)
    frame_to_planes(frame, clip.info.signal, planes, gain=into[0], offset=into[1], tamed=tamed)
    return out, None if clip.info.even else clip.shown_at(frame)
