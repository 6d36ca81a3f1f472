"""How noisy a picture is, from its flattest places."""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Bool, Float
from huemend.base.units import MID_GREY

_BLOCK = 16
_LEVELS = (MID_GREY / 8, MID_GREY * 4)
#: The blocks of the flattest fifth are looked at; pure noise scatters from block to block, and its 20th percentile
#: is this much of the truth (256 correlated samples a block; from a simulation, the tests repeat it).
_QUANTILE, _BIAS = 0.2, 0.945
_FEWEST_BLOCKS = 8
# What lies above this share of the brightest may be clipped.
_AT_TOP = 0.99


def noise_at_mid_grey(rgb: Float, usable: Bool) -> float:
    """Estimate the standard deviation of one pixel's noise at mid-grey, relative to the signal.

    What is left after the second difference along both axes (Immerkaer 1996, Computer Vision and Image
    Understanding 64:2) is noise where the picture is flat, so the quietest blocks tell it. Light arrives in
    photons: a block at another level is brought to mid-grey by the square root of the level. It is the median over
    the channels, 0 where the picture has no block to judge by. Noise that denoising, compression or scaling made
    coarser than a pixel is seen in part only: take it for a lower bound.
    """
    found = [_channel(rgb[..., channel], usable) for channel in range(3)]
    return float(np.median(found))


def _channel(light: Float, usable: Bool) -> float:
    across = light[:, :-2] - 2 * light[:, 1:-1] + light[:, 2:]
    both = across[:-2] - 2 * across[1:-1] + across[2:]
    power = _blocks(both * both)
    mean = _blocks(light[1:-1, 1:-1])
    whole = _blocks(usable[1:-1, 1:-1].astype(np.float32)) > 0.999
    # What was clipped before it was written as log is as flat as no light is, and tells no noise.
    held = _blocks((light[1:-1, 1:-1] < _AT_TOP * light.max(initial=0.0, where=usable)).astype(np.float32)) > 0
    keep = whole & held & (mean > _LEVELS[0]) & (mean < _LEVELS[1])
    if keep.sum() < _FEWEST_BLOCKS:
        return 0.0
    # The squares of the nine weights (1, -2, 4 ...) sum to 36.
    relative = np.sqrt(power[keep] / 36) / mean[keep] * np.sqrt(mean[keep] / MID_GREY)
    return float(np.quantile(relative, _QUANTILE)) / _BIAS


def _blocks(values: Float) -> Float:
    """Return the means of whole blocks."""
    rows, columns = (side // _BLOCK for side in values.shape)
    whole = values[: rows * _BLOCK, : columns * _BLOCK]
    mean: Float = whole.reshape(rows, _BLOCK, columns, _BLOCK).mean(axis=(1, 3))
    return mean
