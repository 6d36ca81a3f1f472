"""3D LUTs: sampling a function at the nodes, looking codes up, measuring what interpolation costs."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from huemend.base.arrays import Bool, Float, Float64
from huemend.errors import HuemendError

CodeFunction = Callable[[Float], Float]

#: One step of a 10-bit code; errors of a LUT are told in it.
_TEN_BIT = 1023.0

#: The specification's bounds on the size of a 3D LUT.
SMALLEST, LARGEST = 2, 256


@dataclass(frozen=True, kw_only=True, eq=False)
class Cube:
    """A 3D LUT over the domain 0..1."""

    #: (n, n, n, 3) float64. Output code values at the nodes, indexed ``table[blue, green, red]``: the order of the
    #: file.
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
class CubeMiss:
    """What a LUT costs against the function that it samples, in 10-bit codes of the worst channel."""

    #: Over the colours that the setup holds: 99th percentile, and the largest of all.
    p99: float
    largest: float
    #: 99th percentile over codes spread evenly over the part of the cube that stands for real light; NaN where
    #: nothing says which part that is.
    real_p99: float = math.nan
    #: Over codes spread evenly over the whole cube, most of which no camera can record; NaN of what is no cube.
    whole_p99: float = math.nan
    whole_largest: float = math.nan
    #: Share of the setup's colours that lie outside 0..1, where every reader of a LUT clamps them.
    outside: float = 0.0


# ----------------------------------------------------------------------------------------------- making


def make_cube(function: CodeFunction, size: int, title: str) -> Cube:
    """Sample a function from (n, 3) to (n, 3) code values at the nodes of a LUT, ``size`` a side.

    Raises HuemendError if it has no finite value at some node; a reader would take such a LUT without a word.
    """
    axis = np.linspace(0.0, 1.0, size)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
    nodes = np.stack([red, green, blue], axis=-1).reshape(-1, 3)
    table = np.asarray(function(nodes), float)
    if not np.isfinite(table).all():
        bad = nodes[~np.isfinite(table).all(axis=1)][0]
        raise HuemendError(f"the LUT {title!r} has no value at code {bad.round(4).tolist()}")
    return Cube(table=table.reshape(size, size, size, 3), title=title)


def apply_cube(cube: Cube, codes: Float) -> Float64:
    """Look (..., 3) codes, clamped to 0..1 as every reader does, up with tetrahedral interpolation.

    A cell is split into six tetrahedra along its grey diagonal: walk from the low corner to the high one, taking
    the axis with the largest remainder first (Kasson, Plouffe & Nin 1993, "A tetrahedral interpolation technique
    for color space conversion", Proc. SPIE 1909). Greys depend on the two grey corners alone.
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
    out: Float64 = (1.0 - rest[:, :1]) * flat[corner]
    for axis in range(3):
        corner = corner + steps[:, axis]
        weight = rest[:, axis] - (rest[:, axis + 1] if axis < 2 else 0.0)
        out += weight[:, None] * flat[corner]
    return out.reshape(codes.shape)


def whole_cube_codes(count: int = 16_384) -> Float64:
    """Return (count, 3) codes spread evenly over the whole cube, the same ones every time.

    An additive recurrence on powers of the real root of x**4 = x + 1 (Roberts 2018, "The unreasonable
    effectiveness of quasirandom sequences").
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
) -> tuple[Cube, CubeMiss]:
    """Make the smallest LUT whose interpolation error is small enough; the largest where none is.

    The errors are in 10-bit codes: ``p99`` bounds that over ``codes``, (n, 3), colours that the setup really
    holds, and ``real_p99`` that over codes of which ``real`` says that they stand for real light. Of ``sizes``,
    smallest first, one forces that size.
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
    return cube, CubeMiss(
        p99=own[0],
        largest=own[1],
        real_p99=real_error,
        whole_p99=whole_error[0],
        whole_largest=whole_error[1],
        outside=1.0 - len(held) / count if count else 0.0,
    )


def chain_error(got: Float, wanted: Float) -> CubeMiss:
    """Compare what another program makes of the setup's colours with our own result, (n, 3) codes each."""
    own = _spread(np.abs(got - wanted).max(axis=1, initial=0.0) * _TEN_BIT)
    return CubeMiss(p99=own[0], largest=own[1])


def _inside(codes: Float) -> Float:
    codes = np.asarray(codes, float).reshape(-1, 3)
    return codes[((codes >= 0.0) & (codes <= 1.0)).all(axis=1)]


def _misses(cube: Cube, codes: Float, wanted: Float) -> Float:
    return np.asarray(np.abs(apply_cube(cube, codes) - wanted).max(axis=1, initial=0.0) * _TEN_BIT)


def _spread(misses: Float) -> tuple[float, float]:
    return (float(np.percentile(misses, 99)), float(misses.max())) if len(misses) else (0.0, 0.0)
