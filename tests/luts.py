"""LUTs for tests: those that were delivered, and which encodings a CLF holds as formulas."""

from __future__ import annotations

from pathlib import Path

import PyOpenColorIO as ocio

from huemend.encodings.ocio import formula
from huemend.encodings.registry import Encoding
from huemend.write.luts.cube import Cube
from huemend.write.luts.cube_file import parse_cube


def read_cube(path: Path) -> Cube:
    return parse_cube(path.read_bytes(), str(path))


def is_exact(encoding: Encoding) -> bool:
    """Return whether a CLF holds the published formula itself, not a 1D LUT of it."""
    return encoding.is_linear or formula(encoding.curve.form, ocio.TRANSFORM_DIR_FORWARD) is not None
