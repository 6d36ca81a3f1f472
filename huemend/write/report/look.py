"""A show's look on the report's pictures: a cube that somebody made, for what a camera or ACEScct gives it.

Numbers never see it. What a look takes cannot be read from a cube, so it is said: the hero's camera log at the
hero's range, or a log space such as ACEScct.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float
from huemend.base.reading import read_input
from huemend.base.text import printable
from huemend.encodings.registry import Encoding, encoding_of, find_encoding
from huemend.errors import LutError
from huemend.model import Setup
from huemend.options import FileOptions


@dataclass(frozen=True, eq=False)
class Look:
    """A look, ready to be applied."""

    #: Of the file, without its folder.
    name: str
    #: What it takes.
    encoding: Encoding
    #: ``full`` or ``legal``.
    range: str
    _processor: Any

    @property
    def takes(self) -> str:
        """What it is given, in words."""
        return f"{self.encoding.name}, {self.range} range"

    def picture(self, rgb: Float) -> NDArray[np.uint8]:
        """Return scene-linear ACEScg, (height, width, 3), as the look shows it, in 8 bits."""
        codes = np.ascontiguousarray(self.encoding.encode(np.asarray(rgb, float), self.range), np.float32)
        shape = codes.shape
        pixels = codes.reshape(-1, 3)
        self._processor.applyRGB(pixels)
        return np.asarray(np.clip(pixels, 0.0, 1.0).reshape(shape) * 255 + 0.5, np.uint8)


def find_look(path: Path, takes: str, setup: Setup) -> Look:
    """Read a look, a .cube file with a 3D LUT, a 1D LUT, or both, before any picture is read.

    It ``takes`` the hero's camera log at the hero's range (``hero``), or a published log space by its name. Raises
    LutError where it is missing, damaged, or no LUT, and EncodingError where what it takes is not known.
    """
    import PyOpenColorIO as ocio

    if takes == "hero":
        encoding, range_ = encoding_of(setup.hero, setup), setup[setup.hero].range
    else:
        encoding, range_ = find_encoding(takes, custom=setup.encodings), "full"
    todo = "name the .cube file of the look"
    # The library reads it, and knows no bounds.
    read_input(path, FileOptions().lut, kind=LutError, what="look", todo=todo)
    if path.suffix.lower() != ".cube":
        raise LutError("is not a .cube file", where=path, todo=todo)
    try:
        transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_TETRAHEDRAL)
        processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    except ocio.Exception as error:
        raise LutError(f"cannot be read as a look ({_short(error)})", where=path, todo=todo) from error
    probe = np.linspace(0, 1, 30, dtype=np.float32).reshape(-1, 3).copy()
    processor.applyRGB(probe)
    if not np.isfinite(probe).all():
        raise LutError("holds values that are no numbers", where=path, todo="export it again")
    return Look(printable(path.name), encoding, range_, processor)


def _short(error: Exception) -> str:
    """Return the first line of what a library says."""
    return (str(error).strip().splitlines() or ["unknown error"])[0][:120]
