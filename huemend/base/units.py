"""Units and the few constants that more than one stage needs, each with its source.

Everything here is plain numpy: no colour library is loaded.
"""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Float, Float64

#: Reflectance of a mid-grey card in scene-linear light, where a perfect diffuser is 1 (S-2014-003, ACEScct).
MID_GREY = 0.18

#: Luminance weights of AP1 (second row of the AP1 to XYZ matrix, S-2014-004 Appendix A, ACEScg); they sum to 1.
AP1_LUMINANCE: Float64 = np.array([0.2722287168, 0.6740817658, 0.0536895174])
AP1_LUMINANCE.setflags(write=False)

#: Luma weights of R'G'B' (ITU-R BT.709-6, item 3.2).
BT709_LUMA: Float64 = np.array([0.2126, 0.7152, 0.0722])
BT709_LUMA.setflags(write=False)

#: 90 % of a normal distribution lies within this many standard deviations of its middle.
NINETY = 1.6448536269514722

#: The standard deviation of a normal distribution over its median absolute deviation, and the standard error of
#: its median over that of its mean.
FROM_MAD, OF_MEDIAN = 1.4826, 1.2533

#: Stops of the Gaussian under which the mode of the exposures that pairs ask for is looked for.
MODE_KERNEL = 0.12


def stops_to_gain(stops: float) -> float:
    """Return the scene-linear gain of an exposure change; one stop doubles the light.

    >>> stops_to_gain(1.0)
    2.0
    """
    return float(2.0**stops)


def balance_stops(matrix: Float) -> tuple[float, float]:
    """Return how a 3x3 on column vectors moves a neutral: red against green, and blue against green, in stops."""
    red, green, blue = np.maximum(np.asarray(matrix, float) @ np.ones(3), 1e-9)
    return float(np.log2(red / green)), float(np.log2(blue / green))


def matrix_times(matrix: Float, rgb: Float) -> Float:
    """Multiply column vectors, (..., 3), by a (3, 3) matrix from the left; keeps the type of ``rgb``.

    >>> matrix_times(np.diag([1.0, 2.0, 3.0]), np.ones((2, 3))).tolist()
    [[1.0, 2.0, 3.0], [1.0, 2.0, 3.0]]
    """
    # A product of millions of rows with a 3x3 makes the linear algebra library start all its threads, which
    # wait for one another on a busy machine (a hundred times slower); in small batches it does not.
    columns = np.ascontiguousarray(np.asarray(matrix).T, rgb.dtype)
    flat = np.ascontiguousarray(rgb).reshape(-1, 3)
    whole = len(flat) // _BATCH * _BATCH
    out = np.empty_like(flat)
    np.matmul(flat[:whole].reshape(-1, _BATCH, 3), columns, out=out[:whole].reshape(-1, _BATCH, 3))
    np.matmul(flat[whole:], columns, out=out[whole:])
    return out.reshape(rgb.shape)


_BATCH = 1024


# ACEScct, S-2016-001 section 4.4: a log segment above a linear toe, so that it is defined (and
# invertible) for the negative values that a wide-gamut conversion leaves behind.
_CCT_BREAK = 0.0078125
_CCT_A, _CCT_B = 10.5402377416545, 0.0729055341958355


def acescct_encode(linear: Float) -> Float64:
    """Encode scene-linear values with the ACEScct curve (S-2016-001, equation 4).

    >>> round(float(acescct_encode(np.array(0.18))), 4)
    0.4136
    """
    x = np.asarray(linear, float)
    log = (np.log2(np.maximum(x, _CCT_BREAK)) + 9.72) / 17.52
    return np.where(x > _CCT_BREAK, log, _CCT_A * x + _CCT_B)


def acescct_slope(linear: Float) -> Float64:
    """Return the derivative of ``acescct_encode`` by the light."""
    x = np.asarray(linear, float)
    return np.where(x > _CCT_BREAK, 1 / (17.52 * np.log(2) * np.maximum(x, _CCT_BREAK)), _CCT_A)


def acescct_decode(code: Float) -> Float64:
    """Decode ACEScct values to scene-linear (S-2016-001, equation 5, without its clip at 65504)."""
    v = np.asarray(code, float)
    toe = (v - _CCT_B) / _CCT_A
    return np.where(v > _CCT_A * _CCT_BREAK + _CCT_B, np.exp2(v * 17.52 - 9.72), toe)
