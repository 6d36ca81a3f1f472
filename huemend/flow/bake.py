"""Run a delivered match over an angle's media."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from huemend.apply.clips import bake_clip
from huemend.apply.job import Baked, Job, Target
from huemend.apply.lut import DeliveredLut
from huemend.apply.stills import bake_clip_to_pictures, bake_pictures
from huemend.base.originals import Guard
from huemend.errors import OutputError
from huemend.flow.delivered import delivered_record, match_lut
from huemend.media.encode import FORMATS
from huemend.model import Angle, OnEvent, Setup
from huemend.options import BakeOptions
from huemend.sample.footage import is_clip_file
from huemend.write.luts.cube_file import parse_cube
from huemend.write.outputs import file_name
from huemend.write.record_reading import RECORD


def default_format(angle: Angle, options: BakeOptions) -> str:
    """Return what an angle is written as unless told otherwise: a clip as a clip, stills as stills."""
    return options.clip_format if _is_clip(angle) else options.picture_format


def delivered_lut(delivered: Path, setup: Setup, name: str) -> DeliveredLut:
    """Find an angle's match LUT in an output folder, and check it strictly before anything is written with it.

    Raises OutputError if there is no record, it is that of another setup, or the angle has no match LUT;
    LutError if the LUT does not follow its specification, or is not the one that was written.
    """
    record = delivered_record(delivered)
    if name == record["hero"] == setup.hero:
        raise OutputError(f"{name} is the hero: it is what the others agree with", todo="bake another angle")
    entry: Any = record["angles"].get(name)
    if entry is None:
        known = ", ".join(record["angles"])
        raise OutputError(
            f"knows no angle {name} (it knows {known})", where=delivered / RECORD, todo="match it first"
        )
    lut = match_lut(record, delivered, setup, name)
    if lut is None:
        raise OutputError(
            f"{name} has no match LUT: it is {entry['verdict']}", where=delivered / RECORD, todo="see report.html"
        )
    parse_cube(lut.data, str(lut.path))
    return DeliveredLut(
        path=lut.path,
        input_range=lut.entry["input_range"],
        output_range=lut.entry["output_range"],
        sha256=lut.sha256,
        note=lut.entry.get("note", ""),
    )


def bake_angle(
    setup: Setup,
    name: str,
    delivered: Path,
    out: Path | None = None,
    *,
    overwrite: bool = False,
    options: BakeOptions | None = None,
    on_event: OnEvent | None = None,
) -> Baked:
    """Write an angle's media with the match in it that the folder ``delivered`` holds.

    ``out`` is a file for a clip, a folder for pictures; inside ``baked`` beside the setup file if not given.
    With ``overwrite`` what an earlier bake left there is replaced; nothing else is ever written over. Raises
    InputError where media, LUT or output make no sense; nothing is half-written then.
    """
    options = options or BakeOptions()
    angle = setup[name]
    chosen = default_format(angle, options)
    kind = FORMATS[chosen]
    lut = delivered_lut(delivered, setup, name)
    if out is None:
        # Log as before, under the source's name: only the folder says that the match is in it already.
        out = setup.source.parent / "baked" / file_name(setup.name, name, "matched")
        if kind.is_clip:
            out = out.with_name(out.name + kind.suffix)
    if kind.is_clip and not _is_clip(angle):
        raise OutputError(f"{name} is stills, {chosen} is a clip", where=out, todo="choose tiff or exr")
    job = Job(
        media=angle.media,
        angle=angle,
        lut=lut,
        target=Target(path=out, format=chosen, overwrite=overwrite, guard=Guard.over(setup.files)),
        options=options,
        on_event=on_event,
    )
    run = bake_pictures if not _is_clip(angle) else bake_clip if kind.is_clip else bake_clip_to_pictures
    done = run(job)
    return replace(done, notes=(*done.notes, f"{lut.path.name}: {lut.note}")) if lut.note else done


def _is_clip(angle: Angle) -> bool:
    return len(angle.media) == 1 and is_clip_file(angle.media[0])
