"""What an angle shows that the pairs say nothing about."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from huemend.base.arrays import Bool, Float, Float64
from huemend.base.units import AP1_LUMINANCE
from huemend.model import Fit, LinearStill, PairedColours
from huemend.options import ValidateOptions

# Every so many pixels of the working picture: shares of a frame do not ask for more.
_STRIDE = 12
# A colour counts as shown by the pairs if at least that many agreeing pairs lie near it. An area that somebody
# marked is many patches, and witness enough.
_WITNESSES = 2


def uncovered_share(still: LinearStill, pairs: PairedColours, fitted: Fit, options: ValidateOptions) -> float:
    """Return the share of an angle's picture whose colours no agreeing pair comes near.

    A match is proven for the colours that both views show. Under a coloured lamp that the hero hardly sees, or on
    a saturated surface that only the angle shows, it is a guess, however good the proof elsewhere.
    """
    rgb = np.asarray(still.rgb[_STRIDE // 2 :: _STRIDE, _STRIDE // 2 :: _STRIDE], float)
    lit = rgb @ AP1_LUMINANCE > 0.01
    uncovered = lit & uncovered_colours(rgb.reshape(-1, 3), pairs, fitted, options).reshape(lit.shape)
    return float(uncovered.sum() / max(lit.sum(), 1))


def uncovered_colours(rgb: Float, pairs: PairedColours, fitted: Fit, options: ValidateOptions) -> Bool:
    """Return which colours as shot no agreeing pair comes near, (n, 3) to (n,)."""
    used = np.repeat(np.arange(len(pairs)), np.where(fitted.agrees, np.where(pairs.by_hand, _WITNESSES, 1), 0))
    if len(used) < _WITNESSES:
        return np.ones(len(rgb), bool)
    tree = cKDTree(_chroma(np.asarray(pairs.angle_rgb, float)[used]))
    distance = tree.query(_chroma(rgb), k=_WITNESSES)[0][:, -1]
    return np.asarray(distance > options.covered_within)


def _chroma(rgb: Float) -> Float64:
    """Red over green and blue over green in stops, (n, 2); held short of the noise of dark channels."""
    floor = 0.05 * np.maximum(rgb @ AP1_LUMINANCE, 1e-4)
    log = np.log2(np.maximum(rgb, floor[:, None]))
    out: Float64 = log[:, [0, 2]] - log[:, 1:2]
    return out
