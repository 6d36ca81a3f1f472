"""Arrays: frozen ones, the ground of the values that travel between the stages, and what is asked of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.floating[Any]]
Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]
Int = NDArray[np.integer[Any]]
Int64 = NDArray[np.int64]
Bool = NDArray[np.bool_]

_Item = TypeVar("_Item")

#: Arrays up to this size are shown with their values: a 3x3, a colour.
_SHOWN = 9


class FrozenArrays:
    """Copies every array field and makes the copy read-only; ``repr=False`` leaves the short repr in place."""

    def __post_init__(self) -> None:
        for item in fields(self):  # type: ignore[arg-type]
            value = getattr(self, item.name)
            if isinstance(value, np.ndarray):
                # An array that is already read-only and owns its data is somebody's frozen field.
                if value.flags.writeable or not value.flags.owndata:
                    value = value.copy()
                    value.setflags(write=False)
                object.__setattr__(self, item.name, value)

    def __repr__(self) -> str:
        """Return the fields in a line for notebooks and tracebacks: pictures and lists of pairs by their shape."""
        parts = (f"{item.name}={_short(getattr(self, item.name))}" for item in fields(self))  # type: ignore[arg-type]
        return f"{type(self).__name__}({', '.join(parts)})"


class Rows:
    """A table: the arrays among its fields have a row for each of its items, along their first axis."""

    def take(self, which: Int | Bool) -> Self:
        """Return some of the rows, by number or by mask."""
        columns = ((item.name, getattr(self, item.name)) for item in fields(self))  # type: ignore[arg-type]
        taken: dict[str, Any] = {name: value[which] for name, value in columns if isinstance(value, np.ndarray)}
        return replace(self, **taken)  # type: ignore[type-var]


def _short(value: object) -> str:
    if not isinstance(value, np.ndarray):
        return repr(value)
    if value.size > _SHOWN:
        return f"<{'x'.join(map(str, value.shape))} {value.dtype}>"
    return repr(np.round(value, 4).tolist())


def numbered(values: NDArray[Any], axis: int | None = None) -> NDArray[np.intp]:
    """Number values, or with an axis the rows of a table, from 0 in their order; equal ones bear one number."""
    # One version of numpy gives the inverse in the shape of the values.
    return np.unique(values, axis=axis, return_inverse=True)[1].reshape(-1)


def picked(items: Sequence[_Item], most: int) -> list[_Item]:
    """Return at most so many items, evenly from first to last."""
    at: Int = np.linspace(0, len(items) - 1, min(len(items), most)).round().astype(int)
    return [items[index] for index in np.unique(at)]


def weighted_median(values: Float, weight: Float) -> float:
    """Return the value that halves the weight."""
    order = np.argsort(values, kind="stable")
    total = np.cumsum(weight[order])
    return float(values[order][np.searchsorted(total, total[-1] / 2)])


def three(values: Float) -> tuple[float, float, float]:
    """Return the first three of some values as plain floats."""
    return float(values[0]), float(values[1]), float(values[2])
