"""Frozen arrays, the ground of the values that travel between the stages."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Bool", "Float", "FrozenArrays"]

Float = NDArray[np.floating[Any]]
Bool = NDArray[np.bool_]


class FrozenArrays:
    """Copies every array field and makes the copy read-only."""

    def __post_init__(self) -> None:
        for item in fields(self):  # type: ignore[arg-type]
            value = getattr(self, item.name)
            if isinstance(value, np.ndarray):
                # An array that is already read-only and owns its data is somebody's frozen field.
                if value.flags.writeable or not value.flags.owndata:
                    value = value.copy()
                    value.setflags(write=False)
                object.__setattr__(self, item.name, value)
