"""Root terms: the part of a match that bends hues without touching greys or breaking exposure.

A root-polynomial of degree two (Finlayson, Mackiewicz & Hurlbert, "Color correction using root-polynomial
regression", IEEE Transactions on Image Processing 24(5), 2015) is linear in r, g, b and the roots of rg, gb and
rb. The same functions are spanned by r, g, b and the three squares (√r - √g)², (√g - √b)², (√r - √b)²; these are
zero on a neutral and so is their slope there, so that they leave exposure, balance and the mix near grey to the
3x3.

A root has no finite slope at zero, where a camera's most saturated colours lie, and a match that is infinitely
steep folds colours over one another. So each channel x is first made positive,

    p(x) = ( x + √(x² + (2 · 0.1 · m)²) ) / 2,     m² = (r² + g² + b²) / 3

which is x where x is much larger than a tenth of m, a hundredth of m at zero, and positive for what lies outside
the gamut. Like the root itself it is homogeneous: twice the light gives twice the terms.
"""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Float, Float64

#: Which two channels each term compares, in their order: red and green, green and blue, red and blue.
ROOT_TERMS: tuple[tuple[int, int], ...] = ((0, 1), (1, 2), (0, 2))

# How far from zero, as a share of the light, the root is straightened. Over 1,000 pairs of measured cameras (docs/
# prior.md) 0.1 costs 0.002 CIEDE2000 against the plain root and bounds its slope at 1.7; 0.02 would let it be 4.2.
_SOFT = 0.1
_FIRST, _SECOND = np.array(ROOT_TERMS).T


def root_terms(rgb: Float) -> Float64:
    """Return the three root terms of scene-linear ACEScg, (..., 3) to (..., 3), in the order of ``ROOT_TERMS``.

    They are in the units of the light, never negative, and 0 on a neutral; the light may be negative.

    >>> root_terms(np.array([0.18, 0.18, 0.18])).tolist()
    [0.0, 0.0, 0.0]
    """
    root = np.sqrt(_positive(np.asarray(rgb, np.float64))[0])
    out: Float64 = np.square(root[..., _FIRST] - root[..., _SECOND])
    return out


def root_slopes(rgb: Float) -> Float64:
    """Return the derivative of the root terms by the channels, (..., 3) to (..., 3, 3): rows are terms.

    It depends on the ratios of the channels alone, which may not all be 0.
    """
    rgb = np.asarray(rgb, np.float64)
    positive, radius = _positive(rgb)
    root: Float = np.sqrt(positive)
    # dp/dx through the channel itself, and through m, which every channel moves.
    own = positive / radius
    through_mean = (2 * _SOFT**2 / 3) * rgb[..., None, :] / radius[..., None]
    slopes = through_mean + own[..., None] * np.eye(3)
    by_root = slopes / (2 * root[..., None])
    difference = root[..., _FIRST] - root[..., _SECOND]
    out: Float64 = 2 * difference[..., None] * (by_root[..., _FIRST, :] - by_root[..., _SECOND, :])
    return out


def _positive(rgb: Float) -> tuple[Float64, Float64]:
    """Return p(x) of every channel, and the root in it."""
    square = np.square(rgb)
    radius = np.sqrt(square + (4 * _SOFT**2 / 3) * square.sum(-1, keepdims=True))
    # Of a negative channel x + radius would cancel; the other form of the same number does not.
    positive = np.where(rgb > 0, rgb + radius, (radius - rgb)) / 2
    soft = (_SOFT**2 / 3) * square.sum(-1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        small = np.where(positive > 0, soft / positive, 0.0)
    return np.where(rgb > 0, positive, small), np.maximum(radius, np.finfo(np.float64).tiny)
