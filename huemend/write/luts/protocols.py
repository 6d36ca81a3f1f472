"""What the write stage is handed by the pipeline, by shape rather than by import."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = ["EncodingLike", "Rendering"]

Float = NDArray[np.floating[Any]]


class EncodingLike(Protocol):
    """A camera or working encoding: code values to scene-linear ACEScg and back.

    ``is_linear`` is True where the codes are light itself. ``range`` is ``full`` or ``legal``: in ``legal``, codes
    0 and 1 stand for 64 and 940 of 10 bits.
    """

    @property
    def name(self) -> str: ...

    @property
    def is_linear(self) -> bool: ...

    def decode(self, codes: Float, range: str = "full") -> Float: ...

    def encode(self, acescg: Float, range: str = "full") -> Float: ...


#: Scene-linear ACEScg (n, 3) to display code values (n, 3).
Rendering = Callable[[Float], Float]
