"""Turn a picture as the setup file says."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float32
from huemend.model import Angle


def placed(codes: NDArray[Any], angle: Angle) -> NDArray[Any]:
    """Turn a picture, (height, width, ...), upright, then flip and crop it, as the setup file says: a view."""
    # np.rot90 turns counter-clockwise, the setup file clockwise.
    codes = np.rot90(codes, -(angle.rotate // 90)) if angle.rotate else codes
    if angle.flip == "horizontal":
        codes = codes[:, ::-1]
    elif angle.flip == "vertical":
        codes = codes[::-1]
    height, width = codes.shape[:2]
    left, top, right, bottom = angle.crop
    # Not sliced where nothing is cut off: a slice would be copied by who needs it contiguous.
    if any(angle.crop):
        codes = codes[round(top * height) : height - round(bottom * height)]
        codes = codes[:, round(left * width) : width - round(right * width)]
    return codes


def place(codes: Float32, angle: Angle) -> Float32:
    """Place a picture as `placed` does; read-only and contiguous, the input itself where nothing is to be done."""
    codes = placed(codes, angle)
    if not (codes.flags.c_contiguous and codes.flags.owndata):
        codes = np.array(codes, order="C")
    codes.setflags(write=False)
    return codes
