"""3D LUTs as .cube files: making, writing, strict reading, applying and measuring.

Follows the Cube LUT Specification 1.0 (2013): one quoted TITLE, ``LUT_3D_SIZE``, then one line of three
decimals a node with red changing fastest. The domain is always 0..1, because readers disagree on any other.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.errors import HuemendError, LutError

__all__ = [
    "Cube",
    "CubeError",
    "apply_cube",
    "ascii_title",
    "interpolation_error",
    "make_cube",
    "parse_cube",
    "read_cube",
    "size_by_error",
    "whole_cube_codes",
    "write_cube",
]

Float = NDArray[np.floating[Any]]
Bool = NDArray[np.bool_]
CodeFunction = Callable[[Float], Float]

#: One step of a 10-bit code; errors of a LUT are told in it.
TEN_BIT = 1023.0

#: The specification's bounds on the size of a 3D LUT.
SMALLEST, LARGEST = 2, 256
_LONGEST_LINE = 250
_LARGEST_FILE = 1 << 30


@dataclass(frozen=True, kw_only=True, eq=False)
class Cube:
    """A 3D LUT over the domain 0..1.

    Attributes
    ----------
    table : (n, n, n, 3) float64
        Output code values at the nodes, indexed ``table[blue, green, red]``: the order of the file.
    title : str
    """

    table: Float
    title: str = ""

    def __post_init__(self) -> None:
        table = np.array(self.table, float)
        if table.ndim != 4 or table.shape != (*(table.shape[:1] * 3), 3):
            raise ValueError(f"table must be (n, n, n, 3), not {table.shape}")
        if not SMALLEST <= len(table) <= LARGEST:
            raise ValueError(f"a 3D LUT has {SMALLEST} to {LARGEST} nodes a side, not {len(table)}")
        if not np.isfinite(table).all():
            raise ValueError("a LUT must be finite")
        table.setflags(write=False)
        object.__setattr__(self, "table", table)

    @property
    def size(self) -> int:
        """Nodes a side."""
        return len(self.table)


@dataclass(frozen=True, kw_only=True)
class CubeError:
    """What a LUT costs against the function that it samples, in 10-bit codes of the worst channel.

    Attributes
    ----------
    p99, largest : float
        Over the colours that the setup holds: 99th percentile, and the largest of all.
    real_p99 : float
        99th percentile over codes spread evenly over the part of the cube that stands for real light; NaN where
        nothing says which part that is.
    whole_p99, whole_largest : float
        Over codes spread evenly over the whole cube, most of which no camera can record.
    outside : float
        Share of the setup's colours that lie outside 0..1, where every reader of a LUT clamps them.
    """

    p99: float
    largest: float
    real_p99: float
    whole_p99: float
    whole_largest: float
    outside: float


# ----------------------------------------------------------------------------------------------- making


def make_cube(function: CodeFunction, size: int, title: str) -> Cube:
    """Sample a function of code values at the nodes of a LUT.

    Parameters
    ----------
    function : callable
        Maps (n, 3) code values to (n, 3) code values.
    size : int
        Nodes a side.
    title : str

    Raises
    ------
    HuemendError
        If the function has no finite value at some node; a reader would take such a LUT without a word.
    """
    axis = np.linspace(0.0, 1.0, size)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
    nodes = np.stack([red, green, blue], axis=-1).reshape(-1, 3)
    table = np.asarray(function(nodes), float)
    if not np.isfinite(table).all():
        bad = nodes[~np.isfinite(table).all(axis=1)][0]
        raise HuemendError(f"the LUT {title!r} has no value at code {bad.round(4).tolist()}")
    return Cube(table=table.reshape(size, size, size, 3), title=title)


def apply_cube(cube: Cube, codes: Float) -> NDArray[np.float64]:
    """Look codes up with tetrahedral interpolation.

    Parameters
    ----------
    cube : Cube
    codes : (..., 3) array
        Clamped to 0..1, as every reader does.

    Returns
    -------
    (..., 3) float64

    Notes
    -----
    A cell is split into six tetrahedra along its grey diagonal: walk from the low corner to the high one,
    taking the axis with the largest remainder first (Kasson, Plouffe & Nin 1993, "A tetrahedral interpolation
    technique for color space conversion", Proc. SPIE 1909). Greys depend on the two grey corners alone.
    """
    codes = np.asarray(codes, float)
    last = cube.size - 1
    place = np.clip(codes.reshape(-1, 3), 0.0, 1.0) * last
    cell = np.minimum(place.astype(np.intp), last - 1)
    rest = place - cell
    stride = np.array([1, cube.size, cube.size * cube.size])
    order = np.argsort(-rest, axis=1, kind="stable")
    rest = np.take_along_axis(rest, order, axis=1)
    steps = stride[order]
    flat = cube.table.reshape(-1, 3)
    corner = cell @ stride
    out: NDArray[np.float64] = (1.0 - rest[:, :1]) * flat[corner]
    for axis in range(3):
        corner = corner + steps[:, axis]
        weight = rest[:, axis] - (rest[:, axis + 1] if axis < 2 else 0.0)
        out += weight[:, None] * flat[corner]
    return out.reshape(codes.shape)


def interpolation_error(cube: Cube, function: CodeFunction, codes: Float) -> tuple[float, float]:
    """Return what interpolation costs at some codes: p99 and largest difference of any channel, 10-bit codes.

    Parameters
    ----------
    codes : (n, 3) array
        Code values; those outside 0..1 are left out, no LUT can hold them.
    """
    codes = _inside(codes)
    return _spread(_misses(cube, codes, function(codes))) if len(codes) else (0.0, 0.0)


def whole_cube_codes(count: int = 16_384) -> NDArray[np.float64]:
    """Return codes spread evenly over the whole cube, the same ones every time.

    An additive recurrence on powers of the real root of x**4 = x + 1 (Roberts 2018, "The unreasonable
    effectiveness of quasirandom sequences").

    Returns
    -------
    (count, 3) float64
    """
    root = 1.2207440846057596
    step = np.array([1 / root, 1 / root**2, 1 / root**3])
    return np.asarray((0.5 + np.outer(np.arange(1, count + 1), step)) % 1.0)


def size_by_error(
    function: CodeFunction,
    codes: Float,
    title: str,
    *,
    sizes: Sequence[int],
    p99: float,
    real_p99: float = math.inf,
    real: Callable[[Float], Bool] | None = None,
) -> tuple[Cube, CubeError]:
    """Make the smallest LUT whose interpolation error is small enough; the largest where none is.

    Parameters
    ----------
    function : callable
        Maps (n, 3) code values to (n, 3) code values.
    codes : (n, 3) array
        Colours that the setup really holds.
    sizes : sequence of int
        Candidates, smallest first; one forces that size.
    p99, real_p99 : float
        Bounds on the error, in 10-bit codes, over the setup's colours and over real light.
    real : callable, optional
        Says which of (n, 3) code values stand for real light; without it ``real_p99`` does not count.
    """
    if not sizes:
        raise ValueError("no size to choose from")
    held = _inside(codes)
    whole = whole_cube_codes()
    of_real = whole[real(whole)] if real is not None else whole[:0]
    # Libraries refuse a picture of no pixels.
    held_wanted, real_wanted = (function(part) if len(part) else part for part in (held, of_real))
    for size in sizes:
        cube = make_cube(function, size, title)
        own = _spread(_misses(cube, held, held_wanted))
        real_error = _spread(_misses(cube, of_real, real_wanted))[0] if real is not None else math.nan
        if own[0] <= p99 and not real_error > real_p99:
            break
    whole_error = _spread(_misses(cube, whole, function(whole)))
    count = len(np.asarray(codes).reshape(-1, 3))
    return cube, CubeError(
        p99=own[0],
        largest=own[1],
        real_p99=real_error,
        whole_p99=whole_error[0],
        whole_largest=whole_error[1],
        outside=1.0 - len(held) / count if count else 0.0,
    )


def _inside(codes: Float) -> Float:
    codes = np.asarray(codes, float).reshape(-1, 3)
    return codes[((codes >= 0.0) & (codes <= 1.0)).all(axis=1)]


def _misses(cube: Cube, codes: Float, wanted: Float) -> Float:
    return np.asarray(np.abs(apply_cube(cube, codes) - wanted).max(axis=1, initial=0.0) * TEN_BIT)


def _spread(misses: Float) -> tuple[float, float]:
    return (float(np.percentile(misses, 99)), float(misses.max())) if len(misses) else (0.0, 0.0)


# ---------------------------------------------------------------------------------------------- writing


def ascii_title(text: str) -> str:
    """Return text that a quoted TITLE can hold: printable ASCII, no quotes, short enough for one line.

    >>> ascii_title('Büro "A"')
    "Buro 'A'"
    >>> ascii_title("舞台")
    '??'
    """
    plain = unicodedata.normalize("NFKD", text.replace('"', "'"))
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    plain = "".join(c if " " <= c <= "~" else "?" for c in " ".join(plain.split()))
    return plain[: _LONGEST_LINE - len('TITLE ""\n')]


def write_cube(cube: Cube) -> str:
    """Return the text of a .cube file; the same LUT gives the same text.

    Seven decimals: a ten-thousandth of a 10-bit code. Values below 0 and above 1 stay as they are.
    """
    rows = _decimals(cube.table)
    title = f'TITLE "{ascii_title(cube.title)}"\n' if cube.title else ""
    return f"{title}LUT_3D_SIZE {cube.size}\n{rows}"


def _decimals(table: Float) -> str:
    """Return rows of three numbers with seven decimals."""
    steps = np.rint(table.ravel() * 1e7)
    if np.abs(steps).max() >= 1e8:
        # Two digits or more before the point: rare, and left to Python.
        values = (steps / 1e7 + 0.0).tolist()  # adding zero turns -0.0 into 0.0
        return ("%.7f %.7f %.7f\n" * (len(values) // 3)) % tuple(values)
    # Looking digits up four at a time is seven times as fast as formatting, and a LUT of 65 has 823,875 numbers.
    whole = np.abs(steps).astype(np.int64)
    first, last = np.divmod(whole, 10_000)
    digits = np.array([f"{number:04d}" for number in range(10_000)], "S4").view(np.uint8).reshape(-1, 4)
    text = np.empty((len(whole), 11), np.uint8)
    text[:, 0] = ord("-")
    text[:, 2] = ord(".")
    text[:, [1, 3, 4, 5]] = digits[first]
    text[:, 6:10] = digits[last]
    text[:, 10] = ord(" ")
    text[2::3, 10] = ord("\n")
    keep = np.ones(text.shape, bool)
    keep[:, 0] = steps < 0
    return text[keep].tobytes().decode("ascii")


# ---------------------------------------------------------------------------------------------- reading

#: Controls other than the tab and the line ends LF and CR LF.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]|\r(?!\n)")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


def read_cube(path: Path) -> Cube:
    """Read a .cube file strictly.

    Raises
    ------
    LutError
        With file and line, for anything that the specification does not allow, that readers disagree on
        (a domain other than 0..1) or that huemend does not use (a 1D LUT).
    """
    try:
        if path.stat().st_size > _LARGEST_FILE:
            raise LutError("this file is too large for a LUT", where=path)
        data = path.read_bytes()
    except OSError as error:
        raise LutError(f"cannot be read ({error.strerror or error})", where=path) from error
    return parse_cube(data, str(path))


def parse_cube(data: bytes, where: str) -> Cube:
    """Read the bytes of a .cube file strictly; ``where`` names them in errors.

    Raises
    ------
    LutError
    """
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        raise LutError("this is not text", where=f"{where}:{row}") from error
    odd = _CONTROL.search(text)
    if odd:
        row = text.count("\n", 0, odd.start()) + 1
        raise LutError(f"a control character (code {ord(odd[0])}) has no place here", where=f"{where}:{row}")
    lines = text.split("\n")
    header = _Header(where)
    first = header.read(lines)
    size = header.size
    rows: list[str] = []
    places: list[int] = []
    for number, line in enumerate(lines[first:], start=first + 1):
        words = line.strip(" \t\r")
        if words and not words.startswith("#"):
            rows.append(words)
            places.append(number)
    if len(rows) > size**3:
        raise LutError(f"a surplus row: LUT_3D_SIZE {size} asks for {size**3}", where=f"{where}:{places[size**3]}")
    values = _numbers(rows, places, where)
    if len(rows) < size**3:
        raise LutError(
            f"only {len(rows)} rows where LUT_3D_SIZE {size} asks for {size**3}", where=f"{where}:{len(lines)}"
        )
    return Cube(table=values.reshape(size, size, size, 3), title=header.title)


class _Header:
    """The keywords before the table."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.title = ""
        self.size = 0
        self.seen: set[str] = set()

    def read(self, lines: list[str]) -> int:
        """Read up to the first row of the table and return that row's index."""
        for index, line in enumerate(lines):
            words = line.strip(" \t\r")
            if not words or words.startswith("#"):
                continue
            if words[0] in "+-.0123456789" or words.split()[0].lower() in ("nan", "inf", "infinity"):
                if not self.size:
                    self._refuse(index, "the table starts before LUT_3D_SIZE")
                return index
            self._keyword(index, words)
        if not self.size:
            self._refuse(len(lines) - 1, "there is no LUT_3D_SIZE")
        return len(lines)

    def _keyword(self, index: int, words: str) -> None:
        word, _, rest = words.replace("\t", " ").partition(" ")
        rest = rest.strip()
        if len(words) >= _LONGEST_LINE:
            self._refuse(index, f"a line may have {_LONGEST_LINE} characters at most")
        if word in self.seen:
            self._refuse(index, f"{word} comes twice")
        self.seen.add(word)
        if word == "TITLE":
            if len(rest) < 2 or rest[0] != '"' or rest[-1] != '"' or '"' in rest[1:-1]:
                self._refuse(index, "TITLE wants a text in double quotes")
            self.title = rest[1:-1]
        elif word == "LUT_3D_SIZE":
            if not (rest.isascii() and rest.isdecimal() and len(rest) < 5 and SMALLEST <= int(rest) <= LARGEST):
                self._refuse(index, f"LUT_3D_SIZE wants a number from {SMALLEST} to {LARGEST}, not {rest[:40]!r}")
            self.size = int(rest)
        elif word in ("DOMAIN_MIN", "DOMAIN_MAX"):
            bound = 0.0 if word == "DOMAIN_MIN" else 1.0
            values = _numbers([rest], [index + 1], self.where)
            if (values != bound).any():
                self._refuse(index, f"{word} {rest[:60]}: readers disagree on any domain but 0 to 1")
        elif word == "LUT_1D_SIZE":
            self._refuse(index, "this is a 1D LUT; a match is a 3D LUT")
        else:
            self._refuse(index, f"unknown keyword {word[:40]!r}")

    def _refuse(self, index: int, what: str) -> None:
        raise LutError(what, where=f"{self.where}:{index + 1}")


def _numbers(rows: list[str], places: list[int], where: str) -> NDArray[np.float64]:
    """Read rows of three decimals; on trouble, find the row that makes it."""
    text = " ".join(rows)
    try:
        # float() takes more than the specification does: underscores, "nan", other scripts' digits.
        if not text.isascii() or "_" in text or "n" in text.lower():
            raise ValueError
        values = np.array(text.split(), float)
        if (
            len(values) != 3 * len(rows)
            or not np.isfinite(values).all()
            or any(row.count(" ") != 2 and len(row.split()) != 3 for row in rows)
        ):
            raise ValueError
        return values.reshape(-1, 3)
    except ValueError:
        for row, place in zip(rows, places, strict=True):
            _check_row(row, f"{where}:{place}")
        raise LutError("this table cannot be read", where=where) from None


def _check_row(row: str, where: str) -> None:
    words = row.split()
    for word in words:
        if "," in word:
            raise LutError(f"{word[:40]!r}: decimals are written with a point, never a comma", where=where)
        if word.lower().lstrip("+-") in ("nan", "inf", "infinity"):
            raise LutError(f"{word[:40]!r} is no value for a LUT", where=where)
        if not _NUMBER.fullmatch(word):
            raise LutError(f"{word[:40]!r} is not a number", where=where)
        if not math.isfinite(float(word)):
            raise LutError(f"{word[:40]!r} is too large", where=where)
    if len(words) != 3:
        raise LutError(f"a row has three numbers, not {len(words)}", where=where)
