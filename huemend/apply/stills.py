"""Run a match over stills, or over the frames of a clip into numbered pictures; an interrupted run goes on."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from huemend.apply.clips import keep_outside, stream_frames
from huemend.apply.job import Baked, Job, Pace, Target, tamed_note
from huemend.apply.lut import LAYOUT, DeliveredLut, LutFilter, line_between
from huemend.base.arrays import Float32
from huemend.base.files import hash_regular
from huemend.base.kept import Kept
from huemend.errors import OutputError
from huemend.media.clipinfo import import_av
from huemend.media.clips import open_clip, upright
from huemend.media.pictures import read_picture, write_picture
from huemend.media.planes import Tamed, float_planes


@dataclass(frozen=True, kw_only=True)
class _Pictures:
    """Pictures to be written into a folder that is held, and which of them an earlier run of this job finished."""

    place: Kept
    target: Target
    names: tuple[str, ...]
    key: str
    finished: frozenset[str]

    @property
    def missing(self) -> list[int]:
        return [index for index, name in enumerate(self.names) if name not in self.finished]

    def write(self, index: int, codes: Float32) -> None:
        kind = self.target.kind
        # What stands there was looked at when the job was opened; from then on the folder is ours.
        with self.place.writing(self.names[index], self.key) as part:
            write_picture(part, codes, kind.bit_depth, kind.floating)

    def done(self, pace: Pace, range: str, notes: tuple[str, ...]) -> Baked:
        return Baked(
            paths=tuple(self.target.path / name for name in self.names),
            frames=pace.done,
            skipped=len(self.finished),
            fps=pace.fps,
            range=range,
            notes=notes,
        )


def bake_pictures(job: Job) -> Baked:
    """Write stills with the match in them, under their own names, in the range in which they came.

    The folder is made if need be; pictures that an earlier run of the same job finished are left as they are.
    Raises MediaError, LutError, and OutputError where the folder holds pictures of another job, or others'
    pictures of these names, or cannot be written.
    """
    media, range, lut = job.media, job.angle.range, job.lut
    names = _own_names([path.stem for path in media], job.target.kind.suffix)
    into = line_between(range, lut.input_range)
    back = line_between(lut.output_range, range)
    filters: dict[tuple[int, int], LutFilter] = {}
    tamed = Tamed()
    with _hold_folder(job, names, range) as pictures:
        pace = Pace(job, len(pictures.missing))
        for index in pictures.missing:
            picture = read_picture(media[index], any_value=True)
            # Changed in place, strip by strip: the largest stills take half of what memory may be used.
            codes, floating = picture.codes, picture.floating
            del picture
            codes.setflags(write=True)
            for rows in _strips(codes.shape[0], codes.shape[1], job.options.strip_pixels):
                part = tamed(codes[rows]) if floating else codes[rows]
                size = (part.shape[0], part.shape[1])
                if size not in filters:
                    filters[size] = LutFilter(lut.path, size, lut.sha256)
                codes[rows] = _through(part, filters[size], lut, into, back)
            pictures.write(index, codes)
            pace.step()
        return pictures.done(pace, range, tamed_note(tamed))


def bake_clip_to_pictures(job: Job) -> Baked:
    """Write a clip's frames as numbered pictures with the match in them, upright and in full range.

    Full range, since an integer picture in legal range could not hold superwhites. Else as `bake_pictures`.
    """
    (source,), lut = job.media, job.lut
    with open_clip(source, matrix=job.angle.matrix, range=job.stated_range) as clip:
        info = clip.info
        names = tuple(f"{source.stem}.{index:07d}{job.target.kind.suffix}" for index in range(info.frames))
        into = line_between(info.signal.range, lut.input_range)
        back = line_between(lut.output_range, "full")
        look_up = LutFilter(lut.path, info.size, lut.sha256)
        tamed = Tamed()
        with _hold_folder(job, names, info.signal.range) as pictures:
            missing = pictures.missing
            pace = Pace(job, len(missing))
            with stream_frames(clip, into, look_up, job.options.queue, indices=missing, tamed=tamed) as items:
                for index, item in zip(missing, items, strict=False):
                    after = float_planes(item.after)
                    keep_outside(float_planes(item.before), after, lut)
                    codes = np.stack(after, axis=-1) * np.float32(back[0]) + np.float32(back[1])
                    pictures.write(index, upright(codes, info.rotation))
                    pace.step()
            notes = ('pictures hold full-range codes: state range = "full" for them', *tamed_note(tamed))
            return pictures.done(pace, "full", notes)


def _strips(height: int, width: int, most: int) -> Iterator[slice]:
    """Yield the rows of a picture in strips of one height (the last may be lower) and at most so many pixels."""
    count = -(-height * width // most)
    rows = -(-height // count)
    for first in range(0, height, rows):
        yield slice(first, min(first + rows, height))


def _through(
    codes: Float32, lut_filter: LutFilter, lut: DeliveredLut, into: tuple[float, float], back: tuple[float, float]
) -> Float32:
    frame = import_av().VideoFrame(codes.shape[1], codes.shape[0], LAYOUT)
    before = float_planes(frame)
    for channel in range(3):
        before[channel][...] = codes[..., channel] * np.float32(into[0]) + np.float32(into[1])
    after = float_planes(lut_filter(frame))
    keep_outside(before, after, lut)
    return np.stack(after, axis=-1) * np.float32(back[0]) + np.float32(back[1])


# --------------------------------------------------------------------------------------------- going on


def _own_names(stems: Sequence[str], suffix: str) -> tuple[str, ...]:
    """One name for each picture, numbered where two would be the same (they came from two folders)."""
    if len(set(stems)) == len(stems):
        return tuple(f"{stem}{suffix}" for stem in stems)
    return tuple(f"{index:04d}_{stem}{suffix}" for index, stem in enumerate(stems))


def _fingerprint(media: Sequence[Path], lut: DeliveredLut, format: str, range: str) -> str:
    """What makes two jobs the same: sources by size and time, LUT by content, format and range."""
    digest = hashlib.sha256((lut.sha256 or hash_regular(lut.path) or "").encode())
    digest.update(f"{lut.input_range} {lut.output_range} {format} {range}".encode())
    for path in media:
        state = path.stat()
        digest.update(f"{path.name} {state.st_size} {state.st_mtime_ns}".encode("utf-8", "surrogateescape"))
    return digest.hexdigest()


@contextmanager
def _hold_folder(job: Job, names: tuple[str, ...], range: str) -> Iterator[_Pictures]:
    """Hold the folder, and find out what of the job is done already and whether the rest may be written."""
    target = job.target
    key = _fingerprint(job.media, job.lut, target.format, range)
    with Kept(target.path, job.guard, names) as place:
        there = [name for name in names if os.path.lexists(target.path / name)]
        finished, others = set(), []
        for name in there:
            place.check_source(name)
            if place.ledger.job(name) == key:
                finished.add(name)
            else:
                others.append(name)
        if others and not target.overwrite:
            what = f"holds {len(others)} pictures that another match or another source left there"
            raise OutputError(what, where=target.path, todo="choose another --out, or --overwrite")
        for name in others:
            place.check(name)
        yield _Pictures(place=place, target=target, names=names, key=key, finished=frozenset(finished))
