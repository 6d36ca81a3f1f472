"""Turn a picture as the setup file says."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from huemend.model import Angle

__all__ = ["place"]


def place(codes: NDArray[np.float32], angle: Angle) -> NDArray[np.float32]:
    """Turn a picture upright, then flip and crop it, as the setup file says.

    Parameters
    ----------
    codes : (height, width, 3) float32

    Returns
    -------
    (height, width, 3) float32
        Read-only and contiguous; the input itself where nothing is to be done.
    """
    # np.rot90 turns counter-clockwise, the setup file clockwise.
    codes = np.rot90(codes, -(angle.rotate // 90)) if angle.rotate else codes
    if angle.flip == "horizontal":
        codes = codes[:, ::-1]
    elif angle.flip == "vertical":
        codes = codes[::-1]
    height, width = codes.shape[:2]
    left, top, right, bottom = angle.crop
    # Not sliced where nothing is cut off: a slice would be copied below.
    if any(angle.crop):
        codes = codes[round(top * height) : height - round(bottom * height)]
        codes = codes[:, round(left * width) : width - round(right * width)]
    if not (codes.flags.c_contiguous and codes.flags.owndata):
        codes = np.array(codes, order="C")
    codes.setflags(write=False)
    return codes
