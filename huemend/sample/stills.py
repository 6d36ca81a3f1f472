"""The stills of one angle, upright and cropped, one at a time."""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator
from functools import partial
from pathlib import Path

from huemend.base.arrays import Float32
from huemend.base.text import printable
from huemend.errors import MediaError
from huemend.media.clips import CLIP_SUFFIXES
from huemend.media.pictures import STILL_SUFFIXES, Picture, pixels_of, read_picture
from huemend.model import Angle, Still
from huemend.options import SampleOptions
from huemend.sample.clip_plan import ClipPlan
from huemend.sample.clips import clip_stills
from huemend.sample.footage import is_clip
from huemend.sample.upright import placed


def is_still(path: Path) -> bool:
    """Tell by its suffix whether a file is a still."""
    return path.suffix.lower() in STILL_SUFFIXES


def is_media(path: Path) -> bool:
    """Tell by its suffix whether a file is something to sample."""
    return is_still(path) or path.suffix.lower() in CLIP_SUFFIXES


def is_large(angle: Angle, options: SampleOptions) -> bool:
    """Tell by its header whether an angle's first still takes so much memory that none is to be read beside it."""
    path = angle.media[0]
    return is_still(path) and pixels_of(path, options) > options.large_megapixels * 1e6


def sample_angle(
    angle: Angle, options: SampleOptions | None = None, plan: ClipPlan | None = None
) -> Generator[Still, None, None]:
    """Yield the stills of an angle in the order of their moments, of a clip the frames that ``plan`` says.

    One still is held at a time: whoever keeps only what it measured keeps memory bounded. Raises MediaError if
    a file cannot be read, shows nothing, or differs in size from the angle's first.
    """
    options = options or SampleOptions()
    if is_clip(angle.media, options):
        if plan is None:
            raise ValueError("a clip needs the plan of its setup")
        yield from clip_stills(angle, plan, options)
        return
    first: tuple[int, int] | None = None
    for moment, path in enumerate(angle.media):
        if not is_still(path):
            raise MediaError(
                f"{path.suffix or 'a file without a suffix'} is not read",
                where=path,
                todo=f"give angle.{angle.name} stills (PNG, TIFF, OpenEXR, DPX, JPEG) or one clip",
            )
        picture = read_picture(path, options, place=partial(placed, angle=angle))
        codes, size = picture.codes, picture.whole
        if first is None:
            first = size
        if size != first:
            raise MediaError(
                f"is {size[1]} x {size[0]} pixels, the first still of {angle.name} {first[1]} x {first[0]}",
                where=path,
                todo="export all stills of an angle at one size",
            )
        _check_shows_something(path, codes, options)
        yield _still(angle, moment, picture)


def sample_again(angle: Angle, moments: Iterable[int], options: SampleOptions) -> Iterator[Still]:
    """Yield some of an angle's stills once more, one at a time; nothing of a clip, whose frames take long to find.

    Raises MediaError if a file cannot be read.
    """
    if is_clip(angle.media, options):
        return
    for moment in sorted(set(moments)):
        # No name here holds a picture on while the next one is read.
        yield _again(angle, moment, options)


def _again(angle: Angle, moment: int, options: SampleOptions) -> Still:
    return _still(angle, moment, read_picture(angle.media[moment], options, place=partial(placed, angle=angle)))


def _still(angle: Angle, moment: int, picture: Picture) -> Still:
    return Still(
        codes=picture.codes,
        angle=angle.name,
        moment=moment,
        source=printable(angle.media[moment].name),
        bit_depth=picture.bit_depth,
        floating=picture.floating,
        sha256=picture.sha256,
    )


def _check_shows_something(path: Path, codes: Float32, options: SampleOptions) -> None:
    height, width = codes.shape[:2]
    if min(height, width) < options.smallest_side:
        raise MediaError(
            f"only {width} x {height} pixels are left after the crop", where=path, todo="crop less of it"
        )
    low, high = float(codes.min()), float(codes.max())
    if low == high:
        what = "black" if low <= 0.0 else "clipped" if low >= 1.0 else "one flat colour"
        raise MediaError(f"is all {what}", where=path, todo="give a still in which something can be seen")
    # A few lines tell it of nearly every picture.
    if all((some[..., :2] == some[..., 1:]).all() for some in (codes[::64], codes)):
        todo = "give the picture in colour, as the camera recorded it"
        raise MediaError("has no colour: its three channels are equal", where=path, todo=todo)
