"""Still pictures in and out, as the code values that the file holds.

OpenImageIO reads and writes; nothing here converts colour. Field notes that shaped this module: OpenImageIO
reports failure by a return value and a message, a JPEG that is cut short still yields a full picture (only the
message tells), and a PNG's colour is multiplied with its alpha unless told otherwise.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float, Float32
from huemend.base.text import counted, is_unicode
from huemend.errors import MediaError, MissingLibraryError
from huemend.media.planes import LARGEST_HALF
from huemend.media.soundness import AGAIN, check_png, open_medium
from huemend.media.strips import (
    BLOCK,
    INTEGERS,
    STORED_BITS,
    Frame,
    View,
    frame_of,
    layout_of,
    place_strip,
    read_strip,
    strips,
)
from huemend.options import SampleOptions

#: What a still may be called.
STILL_SUFFIXES = frozenset({".dpx", ".exr", ".jpeg", ".jpg", ".png", ".tif", ".tiff"})

_FORMATS = frozenset({"dpx", "jpeg", "openexr", "png", "tiff"})
_READABLE = "save the still as PNG, TIFF, OpenEXR, DPX or JPEG"


@dataclass(frozen=True, kw_only=True, eq=False)
class Picture:
    """The pixels of one file."""

    #: (height, width, 3) float32. Code values, 1.0 being the largest code of the file's bit depth; floating-point
    #: files as they are. Read-only, turned upright by the file's orientation tag.
    codes: Float32
    #: Bits of an integer file; 16 or 32 for half and float.
    bit_depth: int
    #: True if the file holds floating-point values.
    floating: bool
    #: Hash of the file's bytes.
    sha256: str
    #: (height, width). Of the whole picture, upright, whatever part of it ``codes`` is.
    whole: tuple[int, int]


# ---------------------------------------------------------------------------------------------- reading


def read_picture(
    path: Path,
    options: SampleOptions | None = None,
    *,
    any_value: bool = False,
    place: View | None = None,
) -> Picture:
    """Read a still: PNG (8, 16 bit), TIFF (8 to 16, 32 bit, float), OpenEXR, DPX or JPEG.

    Grey becomes three equal channels; alpha is dropped, not multiplied in. Where an OpenEXR's data window is
    smaller than its display window, the rest is 0, as that format's documents say. The options' bounds on the size
    are checked on the header, before any memory is taken.

    ``any_value`` takes NaN and infinities as they are, for who deals with them. ``place`` turns, flips or cuts the
    upright picture, by views alone: only what it leaves is kept, and looked at. Raises MediaError where the file
    is missing, empty, cut short, not a picture, too small, too large, or holds NaN.
    """
    options = options or SampleOptions()
    path = Path(path)
    with open_medium(path, options.largest_still) as file:
        before = os.fstat(file.fileno())
        if path.suffix.lower() == ".png":
            check_png(path, file, options)
        try:
            frame = _read_codes(path, options, place)
        except UnicodeDecodeError as error:
            # Names and messages that quote a broken header come out of the library as text that is none.
            raise MediaError("is damaged (its header is garbled)", where=path, todo=AGAIN) from error
        file.seek(0)
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        # The library opened the file by its name: what it decoded must be what was hashed.
        if not (_unchanged(before, os.fstat(file.fileno())) and _unchanged(before, os.stat(path))):
            raise MediaError("changed while it was read", where=path, todo="run again when it is written whole")
    kind, bits = frame.layout.kind, frame.layout.bits
    if not any_value and kind not in INTEGERS:
        _check_finite(path, frame.codes)
    stored = STORED_BITS[kind]
    return Picture(
        codes=frame.codes,
        bit_depth=bits if 0 < bits < stored else stored,
        floating=kind in ("half", "float", "double"),
        sha256=digest,
        whole=frame.whole,
    )


def pixels_of(path: Path, options: SampleOptions) -> int:
    """Return how many pixels a still's header claims; 0 where it cannot be read, as `read_picture` will tell."""
    try:
        with open_medium(path, options.largest_still) as file:
            # A library that guesses at a format reads on and on: what is no picture is kept from it.
            if path.suffix.lower() == ".png":
                check_png(path, file, options)
            oiio = _oiio(options)
            source = oiio.ImageInput.open(str(path)) if is_unicode(path) else None
    except MediaError:
        return 0
    if source is None:
        _words(oiio)  # taken away, or the next to ask would be given it
        return 0
    spec = source.spec()
    source.close()
    return int(max(spec.width * spec.height, spec.full_width * spec.full_height))


def _words(library: Any) -> str:
    """Return what OpenImageIO, or a file of its, has to say of its last failure, and take it away."""
    try:
        return str(library.geterror())
    except UnicodeDecodeError:
        # It quotes what it found in the file, which need not be text.
        return "what it holds is no such picture"


def _unchanged(before: os.stat_result, now: os.stat_result) -> bool:
    facts = ("st_dev", "st_ino", "st_size", "st_mtime_ns", "st_ctime_ns")
    return all(getattr(before, fact) == getattr(now, fact) for fact in facts)


def _read_codes(path: Path, options: SampleOptions, place: View | None) -> Frame:
    """Read a still upright and placed, as codes.

    Strip by strip into the one array that is handed on: the largest stills take most of what memory there is.
    """
    oiio = _oiio(options)
    if not is_unicode(path):
        what = "its name, or that of a folder above it, is not UTF-8"
        raise MediaError(what, where=path, todo="rename it: the library that reads pictures cannot open it")
    # Left to itself, the PNG reader multiplies colour with alpha.
    hints = oiio.ImageSpec()
    hints.attribute("oiio:UnassociatedAlpha", 1)
    source = oiio.ImageInput.open(str(path), hints)
    if source is None:
        message = _short(_words(oiio))
        raise MediaError(f"is not a picture that can be read ({message})", where=path, todo=_READABLE)
    try:
        spec = source.spec()
        _check_header(path, source.format_name(), spec, options)
        layout = layout_of(path, spec, source.format_name())
        frame = frame_of(layout, spec.get_int_attribute("Orientation", 1), place)
        layout = frame.layout
        for first, last in strips(spec):
            raw = read_strip(source, spec, first, last, oiio.FLOAT)
            # Asked for even after a success: a JPEG that is cut short comes back whole, its end made up.
            message = _words(source)
            if raw is None or message:
                raise MediaError(f"is damaged or cut short ({_short(message)})", where=path, todo=AGAIN)
            place_strip(raw, layout, (first - layout.top, spec.x - layout.left), frame.stored)
    finally:
        source.close()
    frame.codes.setflags(write=False)
    return frame


def _oiio(options: SampleOptions | None = None) -> Any:
    try:
        import OpenImageIO
    except ImportError as error:
        raise MissingLibraryError(
            f"OpenImageIO cannot load ({error})", todo="run: pip install openimageio"
        ) from error
    if options is not None:
        # A second fence behind _check_header: four channels of float32.
        OpenImageIO.attribute("limits:imagesize_MB", options.largest_megapixels * 16)
    return OpenImageIO


def _check_header(path: Path, format_name: str, spec: Any, options: SampleOptions) -> None:
    if format_name not in _FORMATS:
        raise MediaError(f"is a {format_name} file, which is not read here", where=path, todo=_READABLE)
    if spec.deep:
        raise MediaError("is a deep OpenEXR", where=path, todo="flatten it first")
    if spec.depth > 1:
        raise MediaError("is a volume, not a picture", where=path, todo=_READABLE)
    if str(spec.format) not in STORED_BITS:
        raise MediaError(
            f"holds {spec.format} values", where=path, todo="save it with 8 or 16 bits, half or float"
        )
    if "Cb" in spec.get_string_attribute("dpx:ImageDescriptor"):
        # OpenImageIO would pick a matrix for us.
        raise MediaError("is a DPX that holds Y'CbCr", where=path, todo="write it as RGB")
    for width, height in ((spec.width, spec.height), (spec.full_width, spec.full_height)):
        if max(width, height) > options.largest_side or width * height > options.largest_megapixels * 1e6:
            raise MediaError(
                f"claims to be {width} x {height} pixels",
                where=path,
                todo=f"at most {options.largest_megapixels} megapixels and {options.largest_side} a side are read",
            )
    if min(spec.width, spec.height) < options.smallest_side:
        raise MediaError(
            f"is only {spec.width} x {spec.height} pixels",
            where=path,
            todo=f"give a still of at least {options.smallest_side} pixels a side, better the full frame",
        )


def _check_finite(path: Path, codes: Float32) -> None:
    # Row by row of many: nearly every picture is sound, and a mask of all pixels takes a third of its memory.
    count, first = 0, (0, 0)
    for top in range(0, len(codes), BLOCK):
        finite = np.isfinite(codes[top : top + BLOCK])
        if finite.all():
            continue
        bad = ~finite.all(axis=-1)
        if not count:
            y, x = np.argwhere(bad)[0]
            first = (int(x), top + int(y))
        count += int(np.count_nonzero(bad))
    if count:
        raise MediaError(
            f"holds NaN or infinite values in {counted(count, 'pixel')} (the first at x {first[0]}, y {first[1]})",
            where=path,
            todo="write the still again without them",
        )


def _short(message: str) -> str:
    """The first line of a library's message, or a word where it has none."""
    lines = message.strip().splitlines()
    return lines[0][:160] if lines else "no reason given"


# ---------------------------------------------------------------------------------------------- writing

_KINDS: Mapping[str, frozenset[tuple[int, bool]]] = {
    ".png": frozenset({(8, False), (16, False)}),
    ".tif": frozenset({(8, False), (16, False), (32, True)}),
    ".tiff": frozenset({(8, False), (16, False), (32, True)}),
    ".exr": frozenset({(16, True), (32, True)}),
    ".dpx": frozenset({(10, False), (12, False), (16, False)}),
    ".jpg": frozenset({(8, False)}),
    ".jpeg": frozenset({(8, False)}),
}


def write_picture(path: Path, codes: Float, bit_depth: int = 16, floating: bool = False) -> None:
    """Write a still by its suffix, over whatever is there: who calls it gives the name of a temporary file.

    PNG takes 8 and 16 bits, TIFF these and 32-bit floats, OpenEXR half and float, DPX 10, 12 and 16 bits, JPEG 8.
    Of ``codes``, (height, width, 3), 1.0 is the largest code; integers are rounded, and clipped to 0..1 first,
    half floats clipped to the largest that there is. Raises OSError where the file cannot be written, and
    ValueError for values that the format cannot hold.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if (bit_depth, floating) not in _KINDS.get(suffix, frozenset()):
        raise ValueError(
            f"{suffix or 'a file without suffix'} does not hold {bit_depth} bits, floating={floating}"
        )
    if codes.ndim != 3 or codes.shape[2] != 3 or not _is_finite(codes):
        raise ValueError(f"codes must be a finite (height, width, 3) array, not {codes.shape}")
    oiio = _oiio()
    if floating:
        kind = oiio.HALF if bit_depth == 16 else oiio.FLOAT
    else:
        kind = oiio.UINT8 if bit_depth == 8 else oiio.UINT16
    spec = oiio.ImageSpec(codes.shape[1], codes.shape[0], 3, kind)
    # The library stamps the time of day into TIFF and OpenEXR: the same pixels shall be the same bytes.
    spec.attribute("DateTime", "")
    if 8 < bit_depth < 16:
        spec.attribute("oiio:BitsPerSample", bit_depth)
    if suffix in (".jpg", ".jpeg"):
        spec.attribute("CompressionQuality", 100)
        spec.attribute("jpeg:subsampling", "4:4:4")
    if not is_unicode(path):
        raise OSError(0, "its name, or that of a folder above it, is not UTF-8")
    output = oiio.ImageOutput.create(str(path))
    if output is None:
        raise OSError(0, _short(_words(oiio)))
    done = output.open(str(path), spec)
    for first, last in strips(spec) if done else ():
        pixels = _to_pixels(codes[first:last], bit_depth, floating)
        done = done and output.write_scanlines(first, last, 0, pixels)
    message = _words(output)
    if not (output.close() and done) or message:
        raise OSError(0, _short(message or _words(output)))


def _is_finite(codes: Float) -> bool:
    return all(np.isfinite(codes[top : top + BLOCK]).all() for top in range(0, len(codes), BLOCK))


def _to_pixels(codes: Float, bit_depth: int, floating: bool) -> NDArray[Any]:
    pixels: NDArray[Any]
    if floating:
        pixels = np.ascontiguousarray(codes, np.float32)
        return np.clip(pixels, -LARGEST_HALF, LARGEST_HALF) if bit_depth == 16 else pixels
    top = 2**bit_depth - 1
    pixels = np.rint(np.clip(codes, 0.0, 1.0).astype(np.float64) * top).astype(np.uint16)
    if bit_depth == 8:
        return pixels.astype(np.uint8)
    if bit_depth < 16:
        # The library cuts 16 bits down to these by dropping low bits: repeat the upper bits, so that what is left
        # is our own rounding.
        pixels = (pixels << (16 - bit_depth)) | (pixels >> (2 * bit_depth - 16))
    return pixels
