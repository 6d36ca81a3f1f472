"""One camera's exposure and balance over time, against its own first pictures.

Areas are compared in the same place: the scene cancels, and only a change of light or of the camera is left.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from huemend.base.units import AP1_LUMINANCE, FROM_MAD
from huemend.model import LinearStill
from huemend.model.drift import Series, Track
from huemend.options import DriftOptions

#: An area counts where at least this share of it is neither clipped nor noise.
_VALID_SHARE = 0.6
#: Areas that must be comparable for a picture to say anything.
_FEWEST_AREAS = 12
#: Areas that must say the same, within the limit of exposure, as a share of all that are comparable.
_AGREEING = 0.2
#: Levels of pictures and places settle in a few rounds: so many at most, until none changes by more stops.
_ROUNDS, _SETTLED = 8, 1e-3


def follow(stills: Iterable[LinearStill], options: DriftOptions) -> Track:
    """Follow one camera's exposure and balance through pictures in order of time, of one size and held singly.

    Each picture is divided into areas, and what they show is parted into what each area is by itself and what
    all do together (median polish, Tukey 1977, "Exploratory Data Analysis", chapter 11). What an area is by
    itself is what it shows most of the time, so that people who walk through do not count, wherever they were
    at first.
    """
    areas = np.stack([_areas(still, options.grid) for still in stills])
    count, shape = len(areas), areas.shape[1:3]
    luminance = np.log2(np.maximum(np.exp2(areas) @ AP1_LUMINANCE, 1e-12))
    held = np.isfinite(areas).all(axis=3) & np.isfinite(luminance)
    shown = np.flatnonzero(held.sum(axis=(1, 2)) >= _FEWEST_AREAS)
    stops, banding = np.full((3, count), np.nan), np.full(count, np.nan)
    if not len(shown):
        return Track(stops=stops, banding=banding)
    # The pictures that say something, in place of those that were to come first: a clip may begin in the dark.
    first = slice(max(1, round(options.first_share * count)))
    left: Series = np.zeros(0)
    of_areas = ((2, areas[..., 2] - areas[..., 1]), (1, areas[..., 0] - areas[..., 1]), (0, luminance))
    for row, values in of_areas:
        level, left = _parted(np.where(held, values, np.nan)[shown].reshape(len(shown), -1))
        stops[row, shown] = level - np.median(level[first])
    by_place = left.reshape(-1, *shape)
    banding[shown] = np.maximum(0.0, _from_line_to_line(by_place) - _from_line_to_line(by_place.swapaxes(1, 2)))
    # Where hardly any areas agree, as where the camera shows something else, nothing can be said.
    agreeing = (np.abs(left) <= options.exposure_limit).sum(axis=1) / np.isfinite(left).sum(axis=1)
    silent = shown[agreeing < _AGREEING]
    stops[:, silent] = banding[silent] = np.nan
    return Track(stops=stops, banding=banding)


def _parted(values: Series) -> tuple[Series, Series]:
    """Part what n pictures show at m places, (n, m), into each picture's level, (n,), and what is left, (n, m)."""
    level = np.zeros(len(values))
    for _ in range(_ROUNDS):
        own = values - _usual(values - level[:, None])
        before, level = level, np.nanmedian(own, axis=1)
        if np.abs(level - before).max() < _SETTLED:
            break
    return level, own - level[:, None]


def _usual(values: Series) -> Series:
    """Return what n values, (n, m), are most of the time, (m,): the middle of the shortest half of them.

    The shorth of Andrews et al. 1972, "Robust Estimates of Location": half of them may lie anywhere.
    """
    ordered, counts = np.sort(values, axis=0), np.isfinite(values).sum(axis=0)
    out = np.full(values.shape[1], np.nan)
    for count in np.unique(counts[counts > 0]):
        at = np.flatnonzero(counts == count)
        half = (count + 1) // 2
        width = ordered[half - 1 : count, at] - ordered[: count - half + 1, at]
        out[at] = ordered[width.argmin(axis=0) + (half - 1) // 2, at]
    return out


def _areas(still: LinearStill, grid: tuple[int, int]) -> Series:
    """Mean light of each area as log2, (rows, columns, 3); NaN where too little of it is valid."""
    rows, columns = grid
    height, width = still.valid.shape
    rows, columns = min(rows, height), min(columns, width)
    tops, lefts = (
        np.linspace(0, size, parts + 1).astype(int)[:-1] for size, parts in ((height, rows), (width, columns))
    )
    light = np.where(still.valid[..., None], still.rgb, 0).astype(float)
    total = np.add.reduceat(np.add.reduceat(light, tops, axis=0), lefts, axis=1)
    valid = np.add.reduceat(np.add.reduceat(still.valid.astype(float), tops, axis=0), lefts, axis=1)
    whole = np.outer(np.diff([*tops, height]), np.diff([*lefts, width]))
    mean = total / np.maximum(valid, 1)[..., None]
    usable = (valid >= _VALID_SHARE * whole)[..., None] & (mean > 0)
    return np.where(usable, np.log2(np.where(mean > 0, mean, 1.0)), np.nan)


def _from_line_to_line(pictures: Series) -> Series:
    """Return by how much neighbouring lines of n pictures, (n, lines, places), differ, (n,) in stops.

    Light that falls off across a picture is no banding, so neighbours are compared. The middle one counts, since
    somebody who stands in a few columns changes those a lot.
    """
    known = np.isfinite(pictures).sum(axis=2)
    # What is no number is sorted to the end.
    ordered, middle = np.sort(pictures, axis=2), np.maximum(known - 1, 0) // 2
    low, high = (np.take_along_axis(ordered, at[..., None], axis=2)[..., 0] for at in (middle, known // 2))
    out = np.zeros(len(pictures))
    for row, (lines, enough) in enumerate(zip((low + high) / 2, known >= 4, strict=True)):
        if enough.sum() >= 4:
            out[row] = FROM_MAD * np.median(np.abs(np.diff(lines[enough])))
    return out
