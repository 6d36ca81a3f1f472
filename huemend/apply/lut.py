"""A 3D LUT over float R'G'B' frames: libavfilter's lut3d, tetrahedral, fed from our own matrix."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from huemend.base.arrays import Float32
from huemend.base.files import hash_regular
from huemend.encodings.registry import LEGAL_LINE
from huemend.errors import LutError
from huemend.media.clipinfo import import_av

if TYPE_CHECKING:
    import av

#: What the filter works on: nothing is rounded on the way in or out.
LAYOUT = "gbrpf32le"

#: Floats in the widest vector that lut3d is written for: 256 bits (libavfilter/x86/vf_lut3d.asm, from memory).
_VECTOR = 8


@dataclass(frozen=True, kw_only=True)
class DeliveredLut:
    """A match LUT and what it says of itself."""

    path: Path
    #: ``full`` or ``legal``: what 0 and 1 stand for on either side.
    input_range: str
    output_range: str
    #: Of the file that was looked at: another one in its place is not applied.
    sha256: str | None = None
    #: What the record tells users of it; may be empty.
    note: str = ""


def line_between(source: str, target: str) -> tuple[float, float]:
    """Return (gain, offset) that turn values of one range into values of another, for the same code.

    >>> gain, offset = line_between("legal", "full")
    >>> round((gain * 1 + offset) * 1023)
    940
    """
    if source == target:
        return 1.0, 0.0
    slope, offset = LEGAL_LINE
    return (slope, offset) if source == "legal" else (1 / slope, -offset / slope)


class LutFilter:
    """Applies one LUT to frames of one size, in the order in which they come.

    Raises LutError where libavfilter cannot read the LUT, or it is not of the hash that was asked for.
    """

    def __init__(self, lut: Path, size: tuple[int, int], sha256: str | None = None) -> None:
        self._path = lut
        av = import_av()
        graph = av.filter.Graph()
        try:
            source = graph.add_buffer(
                width=_whole_vectors(size[1]),
                height=size[0],
                format=av.VideoFormat(LAYOUT),
                time_base=Fraction(1, 1000),
            )
            # As an option: inside a filter string the characters : ' \ of a path would be read as syntax.
            filter_ = graph.add("lut3d", file=str(lut), interp="tetrahedral")
            sink = graph.add("buffersink")
            source.link_to(filter_)
            filter_.link_to(sink)
            graph.configure()
        except (av.FFmpegError, OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise LutError(f"cannot be applied ({reason})", where=lut, todo="run huemend match again") from error
        # The filter has read the file by now: if it is still what was looked at, so is what was read.
        if sha256 is not None and hash_regular(lut) != sha256:
            raise LutError("changed while it was read", where=lut, todo="run huemend match again")
        self._graph: Any = graph
        self._count = 0

    def __call__(self, frame: av.VideoFrame) -> av.VideoFrame:
        """Return a new frame; the one given is left as it is."""
        width, even = frame.width, _whole_vectors(frame.width)
        shown = frame if width == even else _copied(frame, even)
        shown.pts = self._count  # the filter wants rising times and nothing else
        shown.time_base = Fraction(1, 1000)
        self._count += 1
        self._graph.push(shown)
        out: av.VideoFrame = self._graph.pull()
        return out if width == even else _copied(out, width)


def _whole_vectors(width: int) -> int:
    """Return the width, in whole vectors, that a row is given.

    lut3d works on whole vectors: of a row that ends within one, it looks up what lies behind as well, and behind
    the last row that may be anybody's memory. A NaN there becomes an index far outside the LUT: the process dies.
    """
    return -(-width // _VECTOR) * _VECTOR


def _copied(frame: av.VideoFrame, width: int) -> av.VideoFrame:
    """Return a frame of another width with the same samples: cut off on the right, or zeros there."""
    copy: av.VideoFrame = import_av().VideoFrame(width, frame.height, LAYOUT)
    common = min(width, frame.width)
    for source, target in zip(_rows(frame), _rows(copy), strict=True):
        target[:, :common] = source[:, :common]
        target[:, common:] = 0.0
    return copy


def _rows(frame: av.VideoFrame) -> list[Float32]:
    return [np.frombuffer(plane, np.float32).reshape(plane.height, -1) for plane in frame.planes]  # type: ignore[call-overload]
