"""The .cube file: writing, and reading what was written.

Follows the Cube LUT Specification 1.0 (2013): one quoted TITLE, ``LUT_3D_SIZE``, then one line of three
decimals a node with red changing fastest. The domain is always 0..1, because readers disagree on any other.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float
from huemend.errors import LutError
from huemend.write.luts.cube import Cube

_LONGEST_LINE = 250


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
    rows = _rows(np.rint(cube.table.ravel() * 1e7))
    title = f'TITLE "{ascii_title(cube.title)}"\n' if cube.title else ""
    return f"{title}LUT_3D_SIZE {cube.size}\n{rows}"


def _rows(steps: Float) -> str:
    """Return rows of three numbers, given in steps of the seventh decimal.

    A LUT of 65 has 823,875 numbers: digit by digit for all of them takes a sixth of the time of formatting each.
    """
    largest = int(np.abs(steps).max())
    digits = max(8, len(str(largest)))
    whole: NDArray[Any] = np.abs(steps).astype(np.uint32 if largest < 2**32 else np.uint64)
    left = whole
    # A sign, the digits before the point, the point, seven digits, and what comes between numbers.
    text = np.zeros((len(steps), digits + 3), np.uint8)
    text[steps < 0, 0] = ord("-")
    for place in range(digits):
        # numpy divides by one number many times as fast as it finds a remainder.
        rest = left // 10
        digit = (left - 10 * rest).astype(np.uint8) + ord("0")
        text[:, digits + (place < 7) - place] = digit if place < 8 else np.where(whole >= 10**place, digit, 0)
        left = rest
    text[:, digits - 6] = ord(".")
    text[:, -1], text[2::3, -1] = ord(" "), ord("\n")
    return text.tobytes().translate(None, b"\0").decode("ascii")


# ---------------------------------------------------------------------------------------------- reading

_HEADER = re.compile(rb'(?:TITLE "([^"\n]*)"\n)?LUT_3D_SIZE (\d{1,3})\n')


def parse_cube(data: bytes, where: str) -> Cube:
    """Read what `write_cube` wrote, and nothing else; raises LutError, in which ``where`` names it.

    A LUT is read again only while it is, by its hash, the file that was written.
    """
    header = _HEADER.match(data)
    try:
        if header is None:
            raise ValueError
        size, rows = int(header[2]), data[header.end() :]
        # float() takes more than is ever written: exponents, underscores, "nan".
        if rows.translate(None, b"0123456789.- \n") or rows.count(b"\n") != size**3:
            raise ValueError
        table = np.array(rows.split(), float).reshape(size, size, size, 3)
        return Cube(table=table, title=(header[1] or b"").decode("ascii"))
    except ValueError as error:
        raise LutError("is no LUT that huemend wrote", where=where, todo="run huemend match again") from error
