"""How far root terms may bend hues before colours fold over one another.

A 3x3 maps the whole gamut one to one; root terms do so only while the derivative of the whole match keeps its
orientation in every direction of colour. Measured cameras stay within that (docs/prior.md), a fit of few colours
need not: its root terms are then taken back together, as far as it takes.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from huemend.base.arrays import Float, Float64
from huemend.model.roots import root_slopes
from huemend.solve.parameters import MATRIX, ROOTS
from huemend.solve.prior import theta_to_matrix

# What must be left of the 3x3's own volume, and of each channel's own slope, everywhere. A judgement, no source:
# at 0.25 a step of one code in a saturated colour is still a quarter of a code.
_LEAST = 0.25
_HALVINGS = 20
_DIRECTIONS = 4000


def unfolded(theta: Float) -> Float64:
    """Return parameters, (22,), whose root terms fold no colours: the same where nothing folds."""
    out = np.array(theta, np.float64)
    roots = out[ROOTS].reshape(3, 3).copy()
    if not roots.any():
        return out
    matrix = theta_to_matrix(out[MATRIX])
    mix = matrix / matrix.sum(1)[:, None]
    if _folds(mix, roots):
        low, high = 0.0, 1.0
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (low, middle) if _folds(mix, middle * roots) else (middle, high)
        roots *= low
    out[ROOTS] = roots.reshape(9)
    return out


def _folds(mix: Float, roots: Float) -> bool:
    slopes = mix + roots @ _slopes()
    whole = np.linalg.det(slopes) / np.linalg.det(mix)
    own = np.diagonal(slopes, axis1=1, axis2=2) / np.diagonal(mix)
    return bool(min(whole.min(), own.min()) < _LEAST)


@cache
def _slopes() -> Float64:
    """Slopes of the root terms in every direction of colour, those outside the gamut too, (n, 3, 3).

    They depend on the direction alone, so that a sphere of them (a Fibonacci lattice) stands for all colours.
    """
    height = 1 - (2 * np.arange(_DIRECTIONS) + 1) / _DIRECTIONS
    turn = np.arange(_DIRECTIONS) * np.pi * (3 - np.sqrt(5))
    around = np.sqrt(1 - height**2)
    out = root_slopes(np.column_stack([around * np.cos(turn), around * np.sin(turn), height]))
    out.setflags(write=False)
    return out
