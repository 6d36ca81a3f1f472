"""A picture strip by strip: where a file's rows and values belong in the upright picture, as codes.

The largest stills take most of what memory there is, so that one array is filled, and nothing is turned, cut or
converted as a whole afterwards.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float32
from huemend.errors import MediaError

#: Turns, flips or cuts an array of rows and columns without a copy.
View = Callable[[NDArray[Any]], NDArray[Any]]

STORED_BITS: Mapping[str, int] = {"uint8": 8, "uint16": 16, "uint": 32, "half": 16, "float": 32, "double": 32}
INTEGERS = frozenset({"uint8", "uint16"})
_STRIP_PIXELS = 1 << 22
BLOCK = 256  # rows: no block of any compression that OpenEXR has is higher, so that none is decoded twice


@dataclass(frozen=True, kw_only=True, eq=False)
class Layout:
    """How a file stores a picture."""

    #: Type of its values, as OpenImageIO names it.
    kind: str
    #: Bits that count; 0 for all of them.
    bits: int
    #: (red, green, blue).
    channels: tuple[int, int, int]
    #: Of the frame, in the rows and columns that the file counts.
    top: int
    left: int
    #: Of the frame.
    height: int
    width: int
    #: The file holds every pixel of the frame.
    filled: bool


def layout_of(path: Path, spec: Any, format_name: str) -> Layout:
    held = (spec.y, spec.x, spec.height, spec.width)
    # An OpenEXR shows its display window, whatever part of it holds data.
    frame = (spec.full_y, spec.full_x, spec.full_height, spec.full_width) if format_name == "openexr" else held
    return Layout(
        kind=str(spec.format),
        bits=spec.get_int_attribute("oiio:BitsPerSample", 0),
        channels=_colour_channels(path, spec),
        top=frame[0],
        left=frame[1],
        height=frame[2],
        width=frame[3],
        filled=frame == held,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Frame:
    """An array to be filled with a picture, or with a part of it, as it is to be seen."""

    #: (height, width, 3) float32. As it is to be seen: contiguous.
    codes: Float32
    #: (rows, columns, 3) float32. The same memory, as the file stores rows and columns: filled through this,
    #: nothing has to be turned or cut, and copied, afterwards.
    stored: Float32
    #: Of the part of the file that is wanted.
    layout: Layout
    #: (height, width). Of the whole picture, upright.
    whole: tuple[int, int]


def frame_of(layout: Layout, orientation: int, place: View | None = None) -> Frame:
    """Return memory for a picture that is turned upright, and then placed by views alone: turned, flipped, cut."""
    # Where each pixel is stored: two small arrays that are seen through the same views as the picture would be.
    size = (layout.height, layout.width)
    rows: NDArray[Any] = np.broadcast_to(np.arange(size[0])[:, None], size)
    columns: NDArray[Any] = np.broadcast_to(np.arange(size[1]), size)
    if orientation in _TURNS:
        rows, columns = _TURNS[orientation](rows), _TURNS[orientation](columns)
    whole = (rows.shape[0], rows.shape[1])
    if place is not None:
        rows, columns = place(rows), place(columns)
    codes = np.empty((*rows.shape, 3), np.float32)
    if not layout.filled:
        codes[...] = 0.0
    if not rows.size:
        return Frame(codes=codes, stored=codes, layout=replace(layout, height=0, width=0), whole=whole)
    # A stored row lies along what does not change its number.
    stored = codes.swapaxes(0, 1) if rows.strides[0] == 0 else codes
    (top, bottom), (left, right) = (sorted((int(at[0, 0]), int(at[-1, -1]))) for at in (rows, columns))
    stored = stored[:: 1 if rows[0, 0] == top else -1, :: 1 if columns[0, 0] == left else -1]
    wanted = replace(
        layout,
        top=layout.top + top,
        left=layout.left + left,
        height=bottom - top + 1,
        width=right - left + 1,
    )
    return Frame(codes=codes, stored=stored, layout=wanted, whole=whole)


def strips(spec: Any) -> Iterator[tuple[int, int]]:
    """Yield (first, last) rows, as the file counts them, of strips that end where its blocks or tiles end."""
    block = spec.tile_height or BLOCK
    step = -(-max(1, _STRIP_PIXELS // spec.width) // block) * block
    for first in range(spec.y, spec.y + spec.height, step):
        yield first, min(first + step, spec.y + spec.height)


def read_strip(source: Any, spec: Any, first: int, last: int, float_kind: Any) -> NDArray[Any] | None:
    """Read rows of all channels as stored, or as float32 where the values are wider than 16 bits."""
    kind = spec.format if str(spec.format) in INTEGERS else float_kind
    if spec.tile_width:
        raw = source.read_tiles(spec.x, spec.x + spec.width, first, last, 0, 1, 0, spec.nchannels, kind)
    else:
        raw = source.read_scanlines(first, last, 0, 0, spec.nchannels, kind)
    return None if raw is None else np.asarray(raw).reshape(last - first, spec.width, spec.nchannels)


def place_strip(raw: NDArray[Any], layout: Layout, corner: tuple[int, int], stored: Float32) -> None:
    """Put a strip's codes where they belong in the frame: its corner there, (row, column), may lie outside."""
    (top, left), (height, width) = corner, raw.shape[:2]
    rows = slice(max(top, 0), min(top + height, layout.height))
    columns = slice(max(left, 0), min(left + width, layout.width))
    if rows.start >= rows.stop or columns.start >= columns.stop:
        return
    part = raw[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left]
    red, green, blue = layout.channels
    if (red, green, blue) == (0, 1, 2):
        _to_codes(part[..., :3], layout.kind, layout.bits, stored[rows, columns])
        return
    for target, channel in enumerate((red, green, blue)):
        _to_codes(part[..., channel], layout.kind, layout.bits, stored[rows, columns, target])


def _colour_channels(path: Path, spec: Any) -> tuple[int, int, int]:
    """Which channels are red, green and blue (a layer's prefix does not matter), or one grey thrice."""
    names = [str(name).rpartition(".")[2].upper() for name in spec.channelnames]
    if all(name in names for name in ("R", "G", "B")):
        return names.index("R"), names.index("G"), names.index("B")
    colours = [i for i in range(spec.nchannels) if i != spec.alpha_channel]
    if len(colours) == 1:
        return colours[0], colours[0], colours[0]
    raise MediaError(
        f"holds the channels {', '.join(names[:6])}, not red, green and blue", where=path, todo="save it as RGB"
    )


def _to_codes(raw: NDArray[Any], kind: str, bits: int, out: Float32) -> None:
    """Scale integers so that the largest code of their true bit depth is 1; floating-point values stay.

    OpenImageIO widens 10, 12 and 14 bits to 16 by repeating the upper bits; the code itself is what is left
    after shifting them out again.
    """
    if kind not in INTEGERS:
        out[...] = raw
        return
    stored = STORED_BITS[kind]
    bits = bits if 0 < bits < stored else stored
    if bits < stored:
        raw = raw >> (stored - bits)
    np.divide(raw, np.float32(2**bits - 1), out=out, dtype=np.float32)


# Exif 2.32, tag 274 (Orientation): how to turn the stored rows and columns upright.
_TURNS: Mapping[int, View] = {
    2: lambda a: a[:, ::-1],
    3: lambda a: a[::-1, ::-1],
    4: lambda a: a[::-1],
    5: lambda a: a.swapaxes(0, 1),
    6: lambda a: np.rot90(a, -1),
    7: lambda a: a.swapaxes(0, 1)[::-1, ::-1],
    8: lambda a: np.rot90(a, 1),
}
