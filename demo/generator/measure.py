"""How far apart two recordings of a view are, and the best that a 3x3 could do."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["best_matrix", "colour_error"]

Array = NDArray[np.float64]


def _lab(linear: NDArray[Any]) -> Array:
    import colour

    to_view = colour.matrix_RGB_to_RGB("ACEScg", "ITU-R BT.709", chromatic_adaptation_transform="CAT02")
    space = colour.RGB_COLOURSPACES["ITU-R BT.709"]
    display = np.clip(np.asarray(linear, float) @ to_view.T, 0.0, 1.0)
    return np.asarray(colour.XYZ_to_Lab(display @ space.matrix_RGB_to_XYZ.T, space.whitepoint))


def colour_error(one: NDArray[Any], other: NDArray[Any]) -> Array:
    """CIEDE2000 in a plain Rec.709 view, per pixel; both (..., 3) scene-linear ACEScg."""
    import colour

    return np.asarray(colour.difference.delta_E_CIE2000(_lab(one), _lab(other)))


def best_matrix(shot: NDArray[Any], truth: NDArray[Any]) -> Array:
    """The 3x3 (column vectors) that brings ``shot`` (n, 3) closest to ``truth`` (n, 3) in the same view.

    Least squares on the ratio of truth to its own luminance first, then refined on CIELAB differences.
    """
    from scipy.optimize import least_squares

    shot, truth = np.asarray(shot, float), np.asarray(truth, float)
    inside = (truth.max(1) < 0.95) & (truth.min(1) > 0.002)
    shot, truth = shot[inside], truth[inside]
    step = max(1, len(shot) // 4000)
    shot, truth = shot[::step], truth[::step]
    weight = 1.0 / (truth.mean(1, keepdims=True) + 0.02)
    start = np.linalg.lstsq(shot * weight, truth * weight, rcond=None)[0].T
    goal = _lab(truth)

    def residual(flat: Array) -> Array:
        return (_lab(shot @ flat.reshape(3, 3).T) - goal).ravel()

    return np.asarray(least_squares(residual, start.ravel(), loss="soft_l1", f_scale=2.0).x.reshape(3, 3))
