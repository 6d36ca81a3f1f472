"""Still pictures in and out, as the code values that the file holds.

OpenImageIO reads and writes; nothing here converts colour. Field notes that shaped this module: OpenImageIO
reports failure by a return value and a message, a JPEG that is cut short still yields a full picture (only the
message tells), and a PNG's colour is multiplied with its alpha unless told otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.errors import MediaError, MissingLibraryError
from huemend.media.planes import LARGEST_HALF
from huemend.media.whole import AGAIN, check_png, hash_file
from huemend.options import SampleOptions

__all__ = ["STILL_SUFFIXES", "Picture", "read_picture", "write_picture"]

#: What a still may be called.
STILL_SUFFIXES = frozenset({".dpx", ".exr", ".jpeg", ".jpg", ".png", ".tif", ".tiff"})

_STORED_BITS: Mapping[str, int] = {"uint8": 8, "uint16": 16, "uint": 32, "half": 16, "float": 32, "double": 32}
_FORMATS = frozenset({"dpx", "jpeg", "openexr", "png", "tiff"})
_READABLE = "save the still as PNG, TIFF, OpenEXR, DPX or JPEG"


@dataclass(frozen=True, kw_only=True, eq=False)
class Picture:
    """The pixels of one file.

    Attributes
    ----------
    codes : (height, width, 3) float32
        Code values, 1.0 being the largest code of the file's bit depth; floating-point files as they are.
        Read-only, turned upright by the file's orientation tag.
    bit_depth : int
        Bits of an integer file; 16 or 32 for half and float.
    floating : bool
        True if the file holds floating-point values.
    sha256 : str
        Hash of the file's bytes.
    """

    codes: NDArray[np.float32]
    bit_depth: int
    floating: bool
    sha256: str


# ---------------------------------------------------------------------------------------------- reading


def read_picture(path: Path, options: SampleOptions | None = None, *, any_value: bool = False) -> Picture:
    """Read a still: PNG (8, 16 bit), TIFF (8 to 16, 32 bit, float), OpenEXR, DPX or JPEG.

    Grey becomes three equal channels; alpha is dropped, not multiplied in. Where an OpenEXR's data window is
    smaller than its display window, the rest is 0, as that format's documents say.

    Parameters
    ----------
    path : Path
    options : SampleOptions, optional
        Bounds on the size of a picture, checked on the header before any memory is taken.
    any_value : bool
        Take NaN and infinities as they are, for who deals with them.

    Raises
    ------
    MediaError
        The file is missing, empty, cut short, not a picture, too small, too large, or holds NaN.
    """
    options = options or SampleOptions()
    path = Path(path)
    digest = hash_file(path)
    if path.suffix.lower() == ".png":
        check_png(path, options.largest_side)
    try:
        raw, spec, format_name = _read_raw(path, options)
        channels = _colour_channels(path, spec)
    except UnicodeDecodeError as error:
        # Names and messages that quote a broken header come out of the library as text that is none.
        raise MediaError("is damaged (its header is garbled)", where=path, todo=AGAIN) from error

    kind = str(spec.format)
    bits = spec.get_int_attribute("oiio:BitsPerSample", 0)
    codes = _to_codes(raw[..., :3] if channels == (0, 1, 2) else raw[..., list(channels)], kind, bits)
    if format_name == "openexr":
        codes = _in_display_window(codes, spec)
    codes = _upright(codes, spec.get_int_attribute("Orientation", 1))
    if not any_value:
        _check_finite(path, codes)
    codes = np.ascontiguousarray(codes)
    codes.setflags(write=False)
    stored = _STORED_BITS[kind]
    return Picture(
        codes=codes,
        bit_depth=bits if 0 < bits < stored else stored,
        floating=kind in ("half", "float", "double"),
        sha256=digest,
    )


def _read_raw(path: Path, options: SampleOptions) -> tuple[NDArray[Any], Any, str]:
    """Read the values as stored (as float32 where they are wider than 16 bits), the header, the format's name."""
    oiio = _oiio(options)
    # Left to itself, the PNG reader multiplies colour with alpha.
    hints = oiio.ImageSpec()
    hints.attribute("oiio:UnassociatedAlpha", 1)
    source = oiio.ImageInput.open(str(path), hints)
    if source is None:
        message = _short(oiio.geterror())
        raise MediaError(f"is not a picture that can be read ({message})", where=path, todo=_READABLE)
    try:
        spec = source.spec()
        _check_header(path, source.format_name(), spec, options)
        raw = source.read_image(spec.format if str(spec.format) in ("uint8", "uint16") else oiio.FLOAT)
        # Asked for even after a success: a JPEG that is cut short comes back whole, its end made up.
        message = source.geterror()
    finally:
        source.close()
    if raw is None or message:
        raise MediaError(f"is damaged or cut short ({_short(message)})", where=path, todo=AGAIN)
    return raw, spec, source.format_name()


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
    if str(spec.format) not in _STORED_BITS:
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


def _to_codes(raw: NDArray[Any], kind: str, bits: int) -> NDArray[np.float32]:
    """Scale integers so that the largest code of their true bit depth is 1.

    OpenImageIO widens 10, 12 and 14 bits to 16 by repeating the upper bits; the code itself is what is left
    after shifting them out again.
    """
    if kind not in ("uint8", "uint16"):
        return raw.astype(np.float32, copy=False)
    stored = 8 if kind == "uint8" else 16
    bits = bits if 0 < bits < stored else stored
    if bits < stored:
        raw = raw >> (stored - bits)
    return raw.astype(np.float32) / np.float32(2**bits - 1)


def _in_display_window(codes: NDArray[np.float32], spec: Any) -> NDArray[np.float32]:
    left, top = spec.x - spec.full_x, spec.y - spec.full_y
    height, width = codes.shape[:2]
    if (left, top, width, height) == (0, 0, spec.full_width, spec.full_height):
        return codes
    frame = np.zeros((spec.full_height, spec.full_width, 3), np.float32)
    x0, y0 = max(left, 0), max(top, 0)
    x1, y1 = min(left + width, spec.full_width), min(top + height, spec.full_height)
    if x0 < x1 and y0 < y1:
        frame[y0:y1, x0:x1] = codes[y0 - top : y1 - top, x0 - left : x1 - left]
    return frame


# Exif 2.32, tag 274 (Orientation): how to turn the stored rows and columns upright.
_TURNS: Mapping[int, Callable[[NDArray[np.float32]], NDArray[np.float32]]] = {
    2: lambda a: a[:, ::-1],
    3: lambda a: a[::-1, ::-1],
    4: lambda a: a[::-1],
    5: lambda a: a.swapaxes(0, 1),
    6: lambda a: np.rot90(a, -1),
    7: lambda a: a.swapaxes(0, 1)[::-1, ::-1],
    8: lambda a: np.rot90(a, 1),
}


def _upright(codes: NDArray[np.float32], orientation: int) -> NDArray[np.float32]:
    turn = _TURNS.get(orientation)
    return codes if turn is None else turn(codes)


def _check_finite(path: Path, codes: NDArray[np.float32]) -> None:
    finite = np.isfinite(codes)
    # Asked of all at once: nearly every picture is sound, and going through its pixels takes ten times as long.
    if finite.all():
        return
    bad = ~finite.all(axis=-1)
    count = int(np.count_nonzero(bad))
    y, x = (int(i) for i in np.argwhere(bad)[0])
    raise MediaError(
        f"holds NaN or infinite values in {count} pixel{'s' * (count > 1)} (the first at x {x}, y {y})",
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


def write_picture(
    path: Path, codes: NDArray[np.floating[Any]], bit_depth: int = 16, floating: bool = False
) -> None:
    """Write a still by its suffix, over whatever is there: who calls it gives the name of a temporary file.

    Parameters
    ----------
    path : Path
        PNG (8, 16 bit), TIFF (8, 16 bit, 32-bit float), OpenEXR (half, float), DPX (10, 12, 16 bit) or JPEG.
    codes : (height, width, 3) array
        1.0 is the largest code; integers are rounded, and clipped to 0..1 first; half floats are clipped to the
        largest that there is.
    bit_depth : int
    floating : bool
        Write half (16) or float (32) values instead of integers.

    Raises
    ------
    OSError
        The file cannot be written.
    ValueError
        The format cannot hold such values, or ``codes`` is not a finite RGB picture.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if (bit_depth, floating) not in _KINDS.get(suffix, frozenset()):
        raise ValueError(
            f"{suffix or 'a file without suffix'} does not hold {bit_depth} bits, floating={floating}"
        )
    if codes.ndim != 3 or codes.shape[2] != 3 or not np.isfinite(codes).all():
        raise ValueError(f"codes must be a finite (height, width, 3) array, not {codes.shape}")
    oiio = _oiio()
    pixels: NDArray[Any]
    if floating:
        pixels = np.ascontiguousarray(codes, np.float32)
        if bit_depth == 16:
            pixels = np.clip(pixels, -LARGEST_HALF, LARGEST_HALF)
        kind = oiio.HALF if bit_depth == 16 else oiio.FLOAT
    else:
        top = 2**bit_depth - 1
        pixels = np.rint(np.clip(codes, 0.0, 1.0).astype(np.float64) * top).astype(np.uint16)
        if bit_depth == 8:
            pixels = pixels.astype(np.uint8)
        elif bit_depth < 16:
            # The library cuts 16 bits down to these by dropping low bits: repeat the upper bits, so that what
            # is left is our own rounding.
            pixels = (pixels << (16 - bit_depth)) | (pixels >> (2 * bit_depth - 16))
        kind = oiio.UINT8 if bit_depth == 8 else oiio.UINT16
    spec = oiio.ImageSpec(pixels.shape[1], pixels.shape[0], 3, kind)
    # The library stamps the time of day into TIFF and OpenEXR: the same pixels shall be the same bytes.
    spec.attribute("DateTime", "")
    if 8 < bit_depth < 16:
        spec.attribute("oiio:BitsPerSample", bit_depth)
    if suffix in (".jpg", ".jpeg"):
        spec.attribute("CompressionQuality", 100)
        spec.attribute("jpeg:subsampling", "4:4:4")
    output = oiio.ImageOutput.create(str(path))
    if output is None:
        raise OSError(0, _short(oiio.geterror()))
    done = output.open(str(path), spec) and output.write_image(pixels)
    message = output.geterror()
    if not (output.close() and done) or message:
        raise OSError(0, _short(message or output.geterror()))
