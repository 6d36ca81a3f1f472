"""What a marked area shows.

An area stands for one surface, drawn by hand, so nothing is expected of its corners: the two areas of a pair need
not show the same points, and something else may reach into either. Each is measured in cells, and the median of
the cells stands for it, brightness apart from the ratios of the channels.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, Float64, numbered, weighted_median
from huemend.base.units import AP1_LUMINANCE, FROM_MAD, OF_MEDIAN
from huemend.model import Area, LinearStill, Setup
from huemend.options import CorrespondOptions


@dataclass(frozen=True, kw_only=True, eq=False)
class AreaColour:
    """What an area shows."""

    #: (3,) float64, scene-linear ACEScg.
    rgb: Float
    #: Relative standard error of ``rgb`` from cell to cell.
    noise: float
    #: Standard deviation of the natural logarithm of luminance over the cells.
    shading: float
    #: (2,) float64. x, y in pixels of the LinearStill.
    centre: Float
    #: Of a circle of the same size.
    radius: float


def area_mask(area: Area, shape: tuple[int, int], crop: tuple[float, float, float, float] = (0, 0, 0, 0)) -> Bool:
    """Return the pixels, (height, width) bool, whose centres lie in an area.

    The area is in fractions of the upright frame before the crop, whose shares (left, top, right, bottom) were
    left out; ``shape`` is that of the upright, cropped picture at working resolution.
    """
    from skimage.draw import polygon

    left, top, right, bottom = crop
    x, y = np.asarray(area.points, float).T
    columns = (x - left) / (1 - left - right) * shape[1] - 0.5
    rows = (y - top) / (1 - top - bottom) * shape[0] - 0.5
    mask = np.zeros(shape, bool)
    mask[polygon(rows, columns, shape)] = True
    return mask


def area_colour(still: LinearStill, mask: Bool, options: CorrespondOptions) -> AreaColour | str:
    """Measure an area, (height, width) bool, or say in words why it cannot be."""
    total = int(mask.sum())
    if total < options.area_pixels:
        return f"covers only {total} pixels of the working picture"
    ignored = mask & (_nowhere(still) if still.ignored is None else still.ignored)
    if ignored.sum() > (1 - options.area_usable) * total:
        return "lies in an area that the setup file ignores"
    clipped = mask & still.clipped
    if clipped.sum() > (1 - options.area_usable) * total:
        return f"is clipped ({clipped.sum() / total:.0%} of it)"
    use = mask & ~ignored & ~clipped & np.isfinite(still.rgb).all(-1)
    rows, columns = np.nonzero(use)
    if len(rows) < options.area_pixels:
        return f"has only {len(rows)} pixels that are neither clipped nor ignored"
    rgb, count = _cell_means(still.rgb[rows, columns], rows, columns, options.area_cells)
    luminance = rgb @ AP1_LUMINANCE
    if np.average(luminance, weights=count) <= options.darkest:
        return "is black: nothing there is above the noise floor"
    lit = luminance > options.darkest / 2
    rgb, luminance, count = rgb[lit], luminance[lit], count[lit]
    log, chroma = np.log(luminance), rgb / luminance[:, None]
    bright = weighted_median(log, count)
    ratio = np.array([weighted_median(channel, count) for channel in chroma.T])
    # The medians of three ratios need not add up to a luminance of one.
    ratio /= ratio @ AP1_LUMINANCE
    spread = FROM_MAD * max(
        weighted_median(np.abs(channel - r), count) for channel, r in zip(chroma.T, ratio, strict=True)
    )
    return AreaColour(
        rgb=np.exp(bright) * ratio,
        noise=float(np.hypot(OF_MEDIAN * spread / np.sqrt(len(rgb)), 0.003)),
        shading=float(FROM_MAD * weighted_median(np.abs(log - bright), count)),
        centre=np.array([columns.mean(), rows.mean()]),
        radius=float(np.sqrt(total / np.pi)),
    )


def _nowhere(still: LinearStill) -> Bool:
    return np.zeros(still.clipped.shape, bool)


def _cell_means(rgb: Float, rows: NDArray[Any], columns: NDArray[Any], cells: int) -> tuple[Float64, Float64]:
    """Return the linear means of square cells, and how many pixels each holds."""
    side = max(2, int(np.sqrt(len(rows) / cells)))
    key = (rows // side) * 100_000 + columns // side
    cell = numbered(key)
    count = np.bincount(cell).astype(float)
    means = np.stack([np.bincount(cell, rgb[:, k].astype(float)) / count for k in range(3)], axis=1)
    return means, count


def with_ignored(still: LinearStill, setup: Setup) -> LinearStill:
    """Return a still on which what the setup file ignores is marked, and no longer valid."""
    angle = setup[still.angle]
    mask = _nowhere(still)
    for mark in setup.marks.ignore:
        if mark.angle == still.angle and holds(mark.frames, still):
            mask |= area_mask(mark.area, mask.shape, angle.crop)
    return replace(still, ignored=mask, valid=still.valid & ~mask) if mask.any() else still


def holds(frames: tuple[int, int] | None, still: LinearStill) -> bool:
    """Say whether a mark holds on a still: of stills, the frames are the moments."""
    here = still.moment if still.frame is None else still.frame
    return frames is None or frames[0] <= here <= frames[1]
