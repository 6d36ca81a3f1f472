"""Code values to scene-linear ACEScg and back, by colour-science alone.

The bench decodes with a general library and never with huemend, so that a wrong curve in huemend shows up as
an error here instead of cancelling out. The curves and gamuts are those of the demo's generator.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import colour
import numpy as np
from numpy.typing import NDArray

from demo.generator import camera

Array = NDArray[np.floating[Any]]


@cache
def gamut_matrix(source: str, target: str) -> NDArray[np.float64]:
    """The (3, 3) matrix between two RGB spaces of colour-science (CAT02), on column vectors."""
    spaces = colour.RGB_COLOURSPACES
    return np.asarray(colour.matrix_RGB_to_RGB(spaces[source], spaces[target], "CAT02"), float)


def decode(values: Array, encoding: str, *, legal: bool = False) -> NDArray[np.float64]:
    """Code values, 1 being the largest code of the file, shape (..., 3), to scene-linear ACEScg."""
    values = np.asarray(values, float)
    if legal:
        # A legal-range picture was scaled so that 0 and 1 stand for codes 64 and 940 (10 bit), while the curve
        # is a function of code values.
        values = (64 + values * 876) / 1023
    return camera.decode(values, _known(encoding))


def encode(rgb: Array, encoding: str, *, legal: bool = False) -> NDArray[np.float64]:
    """Scene-linear ACEScg, shape (..., 3), to code values, clipped to what a file can hold."""
    values = np.nan_to_num(camera.encode(rgb, _known(encoding)))
    if legal:
        values = (values * 1023 - 64) / 876
    return np.clip(values, 0.0, 1.0)


def _known(encoding: str) -> str:
    if encoding not in camera.ENCODINGS:
        raise SystemExit(f"the bench does not know the encoding {encoding!r}: {', '.join(camera.ENCODINGS)}")
    return encoding
