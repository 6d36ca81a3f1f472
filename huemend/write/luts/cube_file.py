"""The .cube file: writing, and strict reading.

Follows the Cube LUT Specification 1.0 (2013): one quoted TITLE, ``LUT_3D_SIZE``, then one line of three
decimals a node with red changing fastest. The domain is always 0..1, because readers disagree on any other.
"""

from __future__ import annotations

import math
import re
import unicodedata
from array import array
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float
from huemend.base.reading import read_input
from huemend.errors import LutError
from huemend.options import FileOptions
from huemend.write.luts.cube import LARGEST, SMALLEST, Cube

_LONGEST_LINE = 250
_MOST_WORDS = 12  # of a row that are looked at one by one, to say what is wrong with them
# The largest table, as many remarks and empty lines, and a header: looked at before memory is taken for each line.
_MOST_LINES = 2 * LARGEST**3 + 1_000


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
    if np.abs(steps).max() >= 1e10:
        # Four digits or more before the point: no light is there, and Python may take its time.
        values = (steps / 1e7 + 0.0).tolist()  # adding zero turns -0.0 into 0.0
        return ("%.7f %.7f %.7f\n" * (len(values) // 3)) % tuple(values)
    # Looking digits up a few at a time is many times as fast as formatting: a LUT of 65 has 823,875 numbers.
    whole = np.abs(steps)
    units = np.floor(whole / 1e7)
    rest = (whole - 1e7 * units).astype(np.uint32)
    before, first, last = _digits()
    text = np.empty((len(whole), 4), before.dtype)
    text[:, 0] = before[units.astype(np.intp) + 1000 * (steps < 0)]
    text[:, 1] = first[rest // 10_000]
    text[:, 2] = last[rest % 10_000]
    text[:, 3], text[2::3, 3] = _words(" ", "\n")
    return text.tobytes().translate(None, b"\0").decode("ascii")


def _words(*texts: str) -> NDArray[np.uint32]:
    """Return texts of up to four letters as numbers, filled up in front with zeros."""
    return np.frombuffer("".join(text.rjust(4, "\0") for text in texts).encode("ascii"), np.uint32)


@lru_cache(maxsize=1)
def _digits() -> tuple[NDArray[np.uint32], NDArray[np.uint32], NDArray[np.uint32]]:
    """Return "0" to "999" without and with a minus, ".000" to ".999", "0000" to "9999"."""
    return (
        _words(*(f"{sign}{number}" for sign in ("", "-") for number in range(1000))),
        _words(*(f".{number:03d}" for number in range(1000))),
        _words(*(f"{number:04d}" for number in range(10_000))),
    )


# ---------------------------------------------------------------------------------------------- reading

#: Controls other than the tab and the line ends LF and CR LF.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]|\r(?!\n)")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)


def read_cube(path: Path) -> Cube:
    """Read a .cube file strictly.

    Raises
    ------
    LutError
        With file and line, for anything that the specification does not allow, that readers disagree on
        (a domain other than 0..1) or that huemend does not use (a 1D LUT).
    """
    data = read_input(path, FileOptions().lut, kind=LutError, what="LUT", todo="run huemend match again")
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
    if text.count("\n") > _MOST_LINES:
        raise LutError(f"more than {_MOST_LINES} lines are no LUT that is read here", where=where)
    lines = text.split("\n")
    header = _Header(where)
    first = header.read(lines)
    size = header.size
    rows: list[str] = []
    places = array("I")
    for number, line in enumerate(lines[first:], start=first + 1):
        words = line.strip(" \t\r")
        if words and not words.startswith("#"):
            if len(rows) == size**3:
                raise LutError(f"a surplus row: LUT_3D_SIZE {size} asks for {size**3}", where=f"{where}:{number}")
            rows.append(words)
            places.append(number)
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


def _numbers(rows: list[str], places: Sequence[int], where: str) -> NDArray[np.float64]:
    """Read rows of three decimals; on trouble, find the row that makes it."""
    text = " ".join(rows)
    try:
        # Words are counted row by row before all are held at once: one row may hold millions.
        if any(row.count(" ") != 2 and len(row.split()) != 3 for row in rows):
            raise ValueError
        # float() takes more than the specification does: underscores, "nan", other scripts' digits.
        if not text.isascii() or "_" in text or "n" in text.lower():
            raise ValueError
        values = np.array(text.split(), float)
        if len(values) != 3 * len(rows) or not np.isfinite(values).all():
            raise ValueError
        return values.reshape(-1, 3)
    except ValueError:
        for row, place in zip(rows, places, strict=True):
            _check_row(row, f"{where}:{place}")
        raise LutError("this table cannot be read", where=where) from None


def _check_row(row: str, where: str) -> None:
    words = row.split()
    for word in words[:_MOST_WORDS]:
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
