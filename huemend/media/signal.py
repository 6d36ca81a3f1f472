"""What the numbers in the planes of a video stream stand for, and the affine maps that follow.

Sources: ITU-R BT.601-7, BT.709-6 and BT.2020-2 (luma weights, and quantisation: 219 and 224 steps above 16 and
128, times 2**(n-8)); ITU-R BT.2100-2 table 9 (full range); ITU-T H.273 (code points of the tags, chroma siting).

R'G'B' of a ``legal`` (narrow) signal is 0 and 1 at codes 64 and 940 of 10 bits, below 0 and above 1 outside; of a
``full`` one it is 0 and 1 at the ends of the code range.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from huemend.base.arrays import Float64
from huemend.errors import MediaError

#: Luma weights (Kr, Kb) by the name of the matrix. BT.601 serves both 525 and 625 lines.
LUMA_WEIGHTS = {
    "bt601": (0.299, 0.114),
    "bt709": (0.2126, 0.0722),
    "bt2020": (0.2627, 0.0593),
    "smpte240m": (0.212, 0.087),
    "fcc": (0.30, 0.11),
}

#: H.273 MatrixCoefficients. What is missing here (constant luminance, ICtCp, YCgCo) is no matrix on R'G'B'.
_MATRIX_CODES = {0: "rgb", 1: "bt709", 4: "fcc", 5: "bt601", 6: "bt601", 7: "smpte240m", 9: "bt2020"}
#: The code that a matrix is tagged with: of two, the later one.
MATRIX_TAGS = {name: code for code, name in _MATRIX_CODES.items()}
#: What all tags but that of the range say where nobody said anything.
UNTAGGED = 2
_BT2020_PRIMARIES = 9

_YUV = re.compile(r"yuv(?P<jpeg>j?)(?P<alpha>a?)(?P<sub>4\d\d)p(?P<bits>\d*)(le)?$")
_GBR = re.compile(r"gbra?p(?P<float>f?)(?P<bits>\d*)(le)?$")
_GRAY = re.compile(r"gray(?P<float>f?)(?P<bits>\d*)(le)?$")
_SUBSAMPLING = {"444": (0, 0), "422": (1, 0), "420": (1, 1), "440": (0, 1), "411": (2, 0), "410": (2, 2)}

# Packed and semi-planar layouts of the planar one with the same bits.
_PACKED = {
    "yuv420p": "nv12 nv21",
    "yuv422p": "nv16 yuyv422 uyvy422 yvyu422",
    "yuv444p": "nv24",
    "yuv420p10le": "p010le",
    "yuv420p12le": "p012le",
    "yuv420p16le": "p016le",
    "yuv422p10le": "p210le y210le",
    "yuv422p12le": "p212le y212le",
    "yuv422p16le": "p216le",
    "yuv444p10le": "p410le xv30le",
    "yuv444p12le": "p412le",
    "yuv444p16le": "p416le",
    "gbrp": "rgb24 bgr24 rgb0 bgr0 0rgb 0bgr",
    "gbrap": "rgba bgra argb abgr",
    "gbrp10le": "x2rgb10le",
    "gbrp16le": "rgb48le rgb48be",
    "gbrap16le": "rgba64le rgba64be",
    "gray16le": "gray16be",
}
#: What to unpack a layout to: a shuffle, no arithmetic.
REPACK = {packed: planar for planar, names in _PACKED.items() for packed in names.split()}


@dataclass(frozen=True, kw_only=True)
class Signal:
    """What the numbers in the planes of a stream stand for."""

    #: ``yuv``, ``rgb`` or ``gray``.
    kind: str
    #: A key of `LUMA_WEIGHTS`, or ``rgb`` where there is none to undo.
    matrix: str
    #: ``legal`` or ``full``.
    range: str
    #: Bits of one component (32 for float).
    bits: int
    floating: bool = False
    #: Chroma is subsampled by ``2**across`` and ``2**down``.
    across: int = 0
    down: int = 0
    #: Where chroma was sampled: ``left`` (with the left luma column, midway between rows), ``centre`` or
    #: ``topleft``.
    siting: str = "left"
    #: Which of these the stream does not say, in words.
    assumed: tuple[str, ...] = ()


class Tags(NamedTuple):
    """What a stream says of its numbers: code points of ITU-T H.273."""

    colorspace: int = UNTAGGED
    #: As libavutil has it: 1 legal, 2 full, 0 unsaid.
    color_range: int = 0
    primaries: int = UNTAGGED
    transfer: int = UNTAGGED


#: Of a stream that says nothing.
NO_TAGS = Tags()


def signal_of(
    pix_fmt: str,
    size: tuple[int, int],
    tags: Tags = NO_TAGS,
    *,
    matrix: str | None = None,
    range: str | None = None,
    siting: str | None = None,
) -> Signal:
    """Work out what a stream's numbers mean from its tags; the last three parameters override them.

    An untagged Y'CbCr stream is taken for BT.709 from 720 rows or 1280 columns up (BT.2020 if its primaries say
    so), for BT.601 below, and for legal range; untagged R'G'B' for full range. ``pix_fmt`` is named as libavutil
    does, ``size`` is (height, width). Raises MediaError for a layout or a matrix that stands for no R'G'B'.
    """
    layout = _layout_of(pix_fmt)
    assumed: list[str] = []
    if layout.kind != "yuv":
        matrix = "rgb"
    elif matrix is None:
        matrix = _tagged_matrix(tags, size, assumed)
    elif matrix not in LUMA_WEIGHTS:
        known = ", ".join(LUMA_WEIGHTS)
        raise MediaError(f"the colour matrix '{matrix}' is not known", todo=f"use one of {known}")
    if range is None:
        range = _tagged_range(tags, layout, assumed)
    if siting is None:
        siting = "centre" if layout.jpeg else "topleft" if matrix == "bt2020" and layout.down else "left"
        if layout.down and not layout.jpeg:
            assumed.append(f"chroma siting {siting}")
    return Signal(
        kind=layout.kind,
        matrix=matrix,
        range=range,
        bits=layout.bits,
        floating=layout.floating,
        across=layout.across,
        down=layout.down,
        siting=siting,
        assumed=tuple(assumed),
    )


class _Layout(NamedTuple):
    """What the name of a layout says, in the terms of `Signal`."""

    kind: str
    bits: int
    floating: bool = False
    across: int = 0
    down: int = 0
    #: Of JPEG's kind: full range, chroma sited in the centre.
    jpeg: bool = False


def _layout_of(pix_fmt: str) -> _Layout:
    unread, name = f"the pixel layout {pix_fmt} is not one that huemend reads", REPACK.get(pix_fmt, pix_fmt)
    if found := _YUV.match(name):
        if found["sub"] not in _SUBSAMPLING:
            raise MediaError(unread)
        across, down = _SUBSAMPLING[found["sub"]]
        return _Layout("yuv", int(found["bits"] or 8), across=across, down=down, jpeg=bool(found["jpeg"]))
    if found := (_GBR.match(name) or _GRAY.match(name)):
        bits, floating = int(found["bits"] or 8), bool(found["float"])
        if floating and bits != 32:
            raise MediaError(unread, todo="use 32-bit float")
        return _Layout("rgb" if name.startswith("gbr") else "gray", bits, floating)
    raise MediaError(unread, todo="convert the clip to a 4:2:0, 4:2:2, 4:4:4 or RGB layout")


def _tagged_range(tags: Tags, layout: _Layout, assumed: list[str]) -> str:
    if layout.jpeg or tags.color_range == 2:
        return "full"
    if tags.color_range == 1:
        return "legal"
    range = "full" if layout.kind == "rgb" or layout.floating else "legal"
    assumed.append(f"range {range}")
    return range


def _tagged_matrix(tags: Tags, size: tuple[int, int], assumed: list[str]) -> str:
    code = tags.colorspace
    if code in (UNTAGGED, 0):  # 0 says R'G'B', which Y'CbCr planes cannot be
        large = size[0] >= 720 or size[1] >= 1280
        name = "bt2020" if tags.primaries == _BT2020_PRIMARIES else "bt709" if large else "bt601"
        assumed.append(f"matrix {name}")
        return name
    if code not in _MATRIX_CODES:
        what = f"the colour matrix tagged {code} (ITU-T H.273) does not give R'G'B' by a matrix"
        raise MediaError(what, todo='state matrix = "bt709" or another in the setup file if the tag is wrong')
    return _MATRIX_CODES[code]


# --------------------------------------------------------------------------------------------- the maps


@lru_cache(maxsize=64)
def scales(range: str, bits: int, floating: bool) -> tuple[float, float, float, float]:
    """Steps and zero of luma, steps and zero of chroma, in codes."""
    if floating:
        return 1.0, 0.0, 1.0, 0.0
    if range == "legal":
        unit = 2.0 ** (bits - 8)
        return 219 * unit, 16 * unit, 224 * unit, 128 * unit
    top = 2.0**bits - 1
    return top, 0.0, top, 2.0 ** (bits - 1)


def decode_matrix(signal: Signal) -> tuple[Float64, Float64]:
    """Return ``(matrix, offset)`` with ``rgb = matrix @ (Y, Cb, Cr) + offset`` on integer codes.

    For an R'G'B' signal the columns stand for R, G and B codes.

    >>> signal = Signal(kind="yuv", matrix="bt709", range="legal", bits=10)
    >>> matrix, offset = decode_matrix(signal)
    >>> (matrix @ [940, 512, 512] + offset).round(6).tolist()
    [1.0, 1.0, 1.0]
    """
    y_steps, y_zero, c_steps, c_zero = scales(signal.range, signal.bits, signal.floating)
    if signal.matrix == "rgb":
        return np.eye(3) / y_steps, np.full(3, -y_zero / y_steps)
    kr, kb = LUMA_WEIGHTS[signal.matrix]
    kg = 1 - kr - kb
    nominal = np.array(
        [
            [1, 0, 2 * (1 - kr)],
            [1, -2 * (1 - kb) * kb / kg, -2 * (1 - kr) * kr / kg],
            [1, 2 * (1 - kb), 0],
        ]
    )
    matrix = nominal / [y_steps, c_steps, c_steps]
    return matrix, -matrix @ [y_zero, c_zero, c_zero]


def encode_matrix(signal: Signal) -> tuple[Float64, Float64]:
    """Return ``(matrix, offset)`` with ``(Y, Cb, Cr) = matrix @ rgb + offset``, codes before rounding."""
    y_steps, y_zero, c_steps, c_zero = scales(signal.range, signal.bits, signal.floating)
    if signal.matrix == "rgb":
        return np.eye(3) * y_steps, np.full(3, y_zero)
    kr, kb = LUMA_WEIGHTS[signal.matrix]
    luma = np.array([kr, 1 - kr - kb, kb])
    blue = (np.array([0.0, 0.0, 1.0]) - luma) / (2 * (1 - kb))
    red = (np.array([1.0, 0.0, 0.0]) - luma) / (2 * (1 - kr))
    return np.array([luma * y_steps, blue * c_steps, red * c_steps]), np.array([y_zero, c_zero, c_zero])
