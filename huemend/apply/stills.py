"""Run a match over stills, or over the frames of a clip into numbered pictures; an interrupted run goes on."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.apply.clips import Baked, Pace, keep_outside, stream_frames
from huemend.apply.lut import LAYOUT, DeliveredLut, LutFilter, line_between
from huemend.base.files import replacing, writing_problem
from huemend.errors import OutputError
from huemend.media.clipinfo import import_av
from huemend.media.clips import open_clip, upright
from huemend.media.encode import FORMATS, Format
from huemend.media.pictures import read_picture, write_picture
from huemend.media.planes import float_planes
from huemend.model import Angle, OnEvent
from huemend.options import BakeOptions

__all__ = ["STATE", "bake_clip_to_pictures", "bake_pictures"]

#: What was being done in a folder of pictures, so that another run can go on with it and with nothing else.
STATE = "bake.json"

Float32 = NDArray[np.float32]


@dataclass(frozen=True, kw_only=True)
class _Job:
    """A folder of pictures to be written, and which of them an earlier run of the same job has finished."""

    folder: Path
    names: tuple[str, ...]
    format: Format
    finished: frozenset[str]

    @property
    def missing(self) -> list[int]:
        return [index for index, name in enumerate(self.names) if name not in self.finished]


def bake_pictures(
    media: Sequence[Path],
    angle: Angle,
    lut: DeliveredLut,
    folder: Path,
    *,
    format: str,
    overwrite: bool = False,
    options: BakeOptions | None = None,
    on_event: OnEvent | None = None,
) -> Baked:
    """Write stills with the match in them, under their own names, in the range in which they came.

    Parameters
    ----------
    media : sequence of Path
    angle : Angle
        Says the range of the stills; turn and crop are left alone.
    lut : DeliveredLut
    folder : Path
        Made if need be. Pictures that an earlier run of the same job finished are left as they are.
    format : str
        ``tiff`` or ``exr``.
    overwrite : bool
        Replace pictures that another job left there.
    options : BakeOptions, optional
    on_event : callable, optional

    Raises
    ------
    MediaError, LutError
    OutputError
        The folder holds pictures of another job, or cannot be written.
    """
    options = options or BakeOptions()
    kind = FORMATS[format]
    names = _own_names([path.stem for path in media], kind.suffix)
    into = line_between(angle.range, lut.input_range)
    back = line_between(lut.output_range, angle.range)
    job = _open_job(folder, names, kind, _fingerprint(media, lut, format, angle.range), media, overwrite)
    pace = Pace(angle.name, len(job.missing), options, on_event)
    filters: dict[tuple[int, int], LutFilter] = {}
    for index in job.missing:
        codes = read_picture(media[index]).codes
        size = (codes.shape[0], codes.shape[1])
        if size not in filters:
            filters[size] = LutFilter(lut.path, size)
        _write(job, index, _through(codes, filters[size], lut, into, back))
        pace.step()
    return _done(job, pace, angle.range, ())


def bake_clip_to_pictures(
    source: Path,
    angle: Angle,
    lut: DeliveredLut,
    folder: Path,
    *,
    format: str,
    overwrite: bool = False,
    options: BakeOptions | None = None,
    on_event: OnEvent | None = None,
) -> Baked:
    """Write a clip's frames as numbered pictures with the match in them, upright and in full range.

    Full range, since an integer picture in legal range could not hold superwhites. Parameters and errors are those
    of `bake_pictures`.
    """
    options = options or BakeOptions()
    kind = FORMATS[format]
    stated = angle.range if angle.range_stated else None
    with open_clip(source, matrix=angle.matrix, range=stated) as clip:
        info = clip.info
        names = tuple(f"{source.stem}.{index:07d}{kind.suffix}" for index in range(info.frames))
        into = line_between(info.signal.range, lut.input_range)
        back = line_between(lut.output_range, "full")
        key = _fingerprint([source], lut, format, info.signal.range)
        job = _open_job(folder, names, kind, key, [source], overwrite)
        pace = Pace(angle.name, len(job.missing), options, on_event)
        with stream_frames(
            clip, into, LutFilter(lut.path, info.size), options.queue, indices=job.missing
        ) as items:
            for index, item in zip(job.missing, items, strict=False):
                after = float_planes(item.through)
                keep_outside(float_planes(item.frame), after, lut)
                codes = np.stack(after, axis=-1) * np.float32(back[0]) + np.float32(back[1])
                _write(job, index, upright(codes, info.rotation))
                pace.step()
    return _done(job, pace, "full", ('pictures hold full-range codes: state range = "full" for them',))


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


def _write(job: _Job, index: int, codes: Float32) -> None:
    write_picture(job.folder / job.names[index], codes, job.format.bit_depth, job.format.floating)


def _done(job: _Job, pace: Pace, range: str, notes: tuple[str, ...]) -> Baked:
    return Baked(
        paths=tuple(job.folder / name for name in job.names),
        frames=pace.done,
        skipped=len(job.finished),
        fps=pace.fps,
        range=range,
        notes=notes,
    )


# --------------------------------------------------------------------------------------------- going on


def _own_names(stems: Sequence[str], suffix: str) -> tuple[str, ...]:
    """One name for each picture, numbered where two would be the same (they came from two folders)."""
    if len(set(stems)) == len(stems):
        return tuple(f"{stem}{suffix}" for stem in stems)
    return tuple(f"{index:04d}_{stem}{suffix}" for index, stem in enumerate(stems))


def _fingerprint(media: Sequence[Path], lut: DeliveredLut, format: str, range: str) -> str:
    """What makes two jobs the same: sources by size and time, LUT by content, format and range."""
    digest = hashlib.sha256(lut.path.read_bytes())
    digest.update(f"{lut.input_range} {lut.output_range} {format} {range}".encode())
    for path in media:
        state = path.stat()
        digest.update(f"{path.name} {state.st_size} {state.st_mtime_ns}".encode())
    return digest.hexdigest()


def _open_job(
    folder: Path, names: tuple[str, ...], format: Format, key: str, sources: Sequence[Path], overwrite: bool
) -> _Job:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        there = frozenset(path.name for path in folder.iterdir())
    except OSError as error:
        raise writing_problem(error, folder) from error
    for source in sources:
        if any(folder / name == source or _same(folder / name, source) for name in names if name in there):
            raise OutputError("would be written over itself", where=source, todo="choose another --out")
    taken = frozenset(names) & there
    same_job = _key_of(folder / STATE) == key
    if taken and not same_job and not overwrite:
        what = f"holds {len(taken)} pictures that another match or another source left there"
        raise OutputError(what, where=folder, todo="choose another --out, or --overwrite")
    with replacing(folder / STATE) as temporary:
        temporary.write_text(json.dumps({"schema": "huemend-bake/1", "job": key}) + "\n", encoding="utf-8")
    return _Job(folder=folder, names=names, format=format, finished=taken if same_job else frozenset())


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False


def _key_of(path: Path) -> str | None:
    try:
        state: Any = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return state.get("job") if isinstance(state, dict) else None
