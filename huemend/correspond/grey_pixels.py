"""Greys that nobody marked: pixels whose detail is the same in all three channels.

After Qian et al. 2019, "On finding gray pixels" (CVPR): where a surface is grey, its texture and shading change
the logarithms of all channels alike, whatever the colour of the light. Shading does the same to one coloured
wall, so that this is a lead and no proof: what is found must lie in several places, some darker than others, agree
with itself, and be near to what the camera was balanced for.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from huemend.base.arrays import Bool, Float, Float64, Int
from huemend.model import LinearStill
from huemend.options import HeroOptions

#: Pixels at the border of what is usable, where a filter sees what is not.
_RIM = 4


def grey_pixels(still: LinearStill, options: HeroOptions) -> tuple[Float64, float] | None:
    """Find what is most likely grey: its colour, (3,), scene-linear ACEScg, and the spread of its ratios in stops.

    None where too few pixels are grey enough, they lie on one surface, they do not agree, or they are far from
    grey as the camera saw it.
    """
    from scipy import ndimage

    rgb, usable = _small(still, options.pixel_width)
    usable &= (rgb > options.pixel_floor).all(-1)
    log = np.log(np.maximum(rgb, options.pixel_floor))
    detail = np.stack([ndimage.gaussian_laplace(log[..., channel], 1.0) for channel in range(3)], axis=-1)
    apart = np.hypot(detail[..., 0] - detail[..., 1], detail[..., 2] - detail[..., 1])
    size = np.abs(detail)
    usable = ndimage.binary_erosion(usable, iterations=_RIM) & (size.min(-1) > options.pixel_contrast)
    # Relative to the detail itself, or flat pixels of any colour would be the greyest.
    index = np.where(usable, apart / np.maximum(size.mean(-1), options.pixel_contrast), 1.0)
    index = np.where(usable, ndimage.uniform_filter(index, 5), np.inf)
    count = max(options.fewest_pixels, int(options.pixel_share * index.size))
    if count > index.size:
        return None
    best = np.argsort(index, axis=None, kind="stable")[:count]
    if not index.reshape(-1)[best[-1]] <= options.pixel_index:
        return None
    found = rgb.reshape(-1, 3)[best]
    ratio = np.log2(found[:, [0, 2]] / found[:, 1:2])
    middle = np.median(ratio, axis=0)
    # Half of what two thirds of the pixels span, a standard deviation if they scatter as normal: two surfaces that
    # share the pixels 60 to 40 would not show in a median deviation.
    spread = float(np.diff(np.quantile(ratio, (0.16, 0.84), axis=0), axis=0).max() / 2)
    if spread > options.pixel_spread or np.abs(middle).max() > options.pixel_cast:
        return None
    if not _several_surfaces(best, found, index.shape[1], options):
        return None
    green = float(np.median(found[:, 1]))
    return green * np.exp2(np.array([middle[0], 0.0, middle[1]])), spread


def _several_surfaces(best: Int, rgb: Float, columns: int, options: HeroOptions) -> bool:
    """Say whether pixels lie in several places, and not all equally bright: greys of more than one surface."""
    side = max(1, columns // options.pixel_places)
    place = (best // columns // side) * 10_000 + best % columns // side
    count = np.unique(place, return_counts=True)[1]
    dark, bright = np.quantile(np.log2(rgb[:, 1]), (0.1, 0.9))
    enough = int((count >= options.fewest_pixels // 5).sum()) >= options.fewest_places
    return enough and bool(bright - dark >= options.pixel_range)


def _small(still: LinearStill, width: int) -> tuple[Float64, Bool]:
    """Average a picture down to about a width, in whole blocks; a block is usable if all of it is."""
    block = max(1, round(still.rgb.shape[1] / width))
    rows, columns = (side // block for side in still.valid.shape)
    cut: tuple[Any, ...] = (slice(rows * block), slice(columns * block))
    shape = (rows, block, columns, block)
    rgb = np.asarray(still.rgb[cut], float).reshape(*shape, 3).mean((1, 3))
    usable = still.valid[cut].reshape(shape).all((1, 3)) & np.isfinite(rgb).all(-1)
    return np.nan_to_num(rgb), np.asarray(usable, np.bool_)
