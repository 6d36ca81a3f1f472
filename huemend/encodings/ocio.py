"""An encoding as OpenColorIO transforms that the Common LUT Format can hold: ranges, matrices, logs and 1D LUTs.

Camera logs over a straight toe, pure logs, powers and linear light are exact: the file holds the published
numbers themselves. OpenColorIO works the toe's offset out from the break, where some makers print a rounded one;
the two differ by at most ``TOE_GAP`` of code (a curve whose pieces miss each other by more is not written as a
formula). Curves that the format has no words for become 1D LUTs:

- light to code: one entry for every half-float number, straight lines between;
- code to light: ``2**14`` entries per unit of code, from below 0 to above 1. Codes beyond the table, which no
  integer file holds, are read as its ends.

Their error is that of single precision, but for one step of the table at the joins of a curve's pieces and at the
end of a root (``docs/encodings.md`` has the figures).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import PyOpenColorIO as ocio

from huemend.base.arrays import Float, Float64
from huemend.encodings.forms import AcesCc, CameraLog, Curve, Linear, PureLog, PurePower
from huemend.encodings.registry import Encoding, range_line

#: Most that a toe may miss its logarithm by and still be written as a formula, in code (0..1).
TOE_GAP = 1e-5

_STEPS = 1 << 14
_LOW, _HIGH = -0.125, 1.125


def decode_transform(encoding: Encoding, range: str = "full") -> Any:
    """Return the transform from code values to scene-linear ACEScg; ``range`` is full, legal or narrow."""
    slope, offset = range_line(encoding, range)
    parts = [_line(slope, offset), _decode_curve(encoding.curve.form)]
    parts.append(_matrix(encoding.to_acescg))
    return ocio.GroupTransform([part for part in parts if part is not None])


def encode_transform(encoding: Encoding, range: str = "full") -> Any:
    """Return the transform from scene-linear ACEScg to code values: the inverse of ``decode_transform``."""
    slope, offset = range_line(encoding, range)
    parts = [_matrix(np.linalg.inv(encoding.to_acescg)), _encode_curve(encoding.curve.form)]
    parts.append(_line(1 / slope, -offset / slope))
    return ocio.GroupTransform([part for part in parts if part is not None])


def _line(slope: float, offset: float) -> Any:
    if (slope, offset) == (1.0, 0.0):
        return None
    return _matrix(np.eye(3) * slope, offset)


def _matrix(matrix: Float, offset: float = 0.0) -> Any:
    if offset == 0.0 and (matrix == np.eye(3)).all():
        return None
    square = np.eye(4)
    square[:3, :3] = matrix
    return ocio.MatrixTransform(matrix=square.ravel().tolist(), offset=[offset, offset, offset, 0.0])


def _decode_curve(curve: Curve) -> Any:
    found = formula(curve, ocio.TRANSFORM_DIR_INVERSE)
    if isinstance(curve, Linear) or found is not None:
        return found
    # ACEScc keeps codes below 0 for light that other curves put above.
    low, high = (-0.375, 1.5) if isinstance(curve, AcesCc) else (_LOW, _HIGH)
    count = round((high - low) * _STEPS) + 1
    light = curve.decode(np.linspace(low, high, count))
    scale = 1 / (high - low)
    fit = _line(scale, -low * scale)
    return ocio.GroupTransform([fit, _lut(light, half=False)])


def _encode_curve(curve: Curve) -> Any:
    found = formula(curve, ocio.TRANSFORM_DIR_FORWARD)
    if isinstance(curve, Linear) or found is not None:
        return found
    halves = np.arange(65_536, dtype=np.uint16).view(np.float16).astype(float)
    # Infinity takes the code of the largest half, and what is no number that of black.
    halves = np.clip(np.nan_to_num(halves, nan=0.0), -65_504.0, 65_504.0)
    return _lut(curve.encode(halves), half=True)


def _lut(values: Float64, *, half: bool) -> Any:
    lut = ocio.Lut1DTransform(len(values), half)
    lut.setData(np.repeat(values.astype(np.float32), 3))
    lut.setFileOutputBitDepth(ocio.BIT_DEPTH_F32)
    return lut


def formula(curve: Curve, direction: Any) -> Any:
    """Return a curve as a formula that the format has, from light to code or back; None where it has none."""
    if isinstance(curve, CameraLog) and abs(curve.join_gap) <= TOE_GAP:
        return ocio.LogCameraTransform(
            base=curve.base,
            logSideSlope=[curve.log_side_slope] * 3,
            logSideOffset=[curve.log_side_offset] * 3,
            linSideSlope=[curve.lin_side_slope] * 3,
            linSideOffset=[curve.lin_side_offset] * 3,
            linSideBreak=[curve.lin_side_break] * 3,
            linearSlope=[curve.linear_slope] * 3,
            direction=direction,
        )
    if isinstance(curve, PureLog):
        pure = ocio.LogAffineTransform(
            logSideSlope=[curve.log_side_slope] * 3,
            logSideOffset=[curve.log_side_offset] * 3,
            linSideSlope=[curve.lin_side_slope] * 3,
            linSideOffset=[curve.lin_side_offset] * 3,
            direction=direction,
        )
        pure.setBase(curve.base)
        return pure
    if isinstance(curve, PurePower):
        gamma = 1 / curve.gamma if direction == ocio.TRANSFORM_DIR_FORWARD else curve.gamma
        # Alpha stays as it is; light below black is mirrored, as in the curve.
        return ocio.ExponentTransform(value=[gamma] * 3 + [1.0], negativeStyle=ocio.NEGATIVE_MIRROR)
    return None
