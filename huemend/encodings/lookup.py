"""A dense float32 table of a curve, for pictures.

Evaluating a logarithm in float64 over a UHD frame takes seconds and a gigabyte. The table holds the exact
curve at 16,384 steps of code per unit with straight lines between; the error stays below ``RELATIVE_ERROR`` of
the light plus ``ABSOLUTE_ERROR``, which is about what float32 codes can resolve. It is larger only within one
step of a place where the printed pieces of a curve do not meet, and at the end of a root (Apple Log below code 4
of ten bits). Codes outside the table take the exact path.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from huemend.base.arrays import Float32
from huemend.encodings.forms import Curve, Linear

#: Largest error of the table, relative to the light ...
RELATIVE_ERROR = 4e-6
#: ... and beside it, about twenty stops below mid-grey.
ABSOLUTE_ERROR = 1e-7

_LOW, _HIGH, _STEPS = -0.125, 1.125, 16_384
_CHUNK = 1 << 16  # values per go: index, fraction and result stay in the processor's cache


@lru_cache(maxsize=64)
def _table(curve: Curve) -> tuple[Float32, Float32]:
    count = round((_HIGH - _LOW) * _STEPS)
    exact = curve.decode(np.linspace(_LOW, _HIGH, count + 1))
    return exact[:-1].astype(np.float32), np.diff(exact).astype(np.float32)


def decode_fast(curve: Curve, codes: Float32) -> Float32:
    """Return the light of float32 codes through the table of a curve, which is made once; NaN stays NaN."""
    if isinstance(curve, Linear):
        return codes.astype(np.float32)
    start, rise = _table(curve)
    flat = np.ascontiguousarray(codes).reshape(-1)
    out = np.empty_like(flat)
    for begin in range(0, flat.size, _CHUNK):
        piece, light = flat[begin : begin + _CHUNK], out[begin : begin + _CHUNK]
        # All in place: what memory costs is half of the work.
        np.subtract(piece, np.float32(_LOW), out=light)
        light *= np.float32(_STEPS)
        # Comparisons are false for NaN too, so that the index below is always a number.
        everywhere = bool(light.min() >= 0 and light.max() < start.size)
        if not everywhere:
            outside = ~((light >= 0) & (light < start.size))
            light[outside] = 0
        cell = light.astype(np.intp)
        light -= cell.astype(np.float32)
        # Indices are known to lie in the table: to look again, as "raise" does, takes a copy.
        light *= rise.take(cell, mode="clip")
        light += start.take(cell, mode="clip")
        if not everywhere:
            light[outside] = curve.decode(piece[outside].astype(np.float64))
    return out.reshape(codes.shape)
