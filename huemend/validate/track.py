"""One camera's exposure and balance over time, against its own first pictures.

Areas are compared in the same place: the scene cancels, and only a change of light or of the camera is left.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from huemend.base.units import AP1_LUMINANCE
from huemend.model import LinearStill
from huemend.options import DriftOptions

Series = NDArray[np.float64]

#: An area counts where at least this share of it is neither clipped nor noise.
_VALID_SHARE = 0.6
#: Areas that must be comparable for a picture to say anything.
_FEWEST_AREAS = 12
#: Neighbouring areas say nearly the same: this many make one independent witness.
_AREAS_A_WITNESS = 4.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Track:
    """One camera over time, against its own first pictures.

    Attributes
    ----------
    exposure, red_green, blue_green : (n,) float64
        Stops; NaN where a picture cannot be compared (cut away, covered, another view).
    spread : (n,) float64
        Standard error of the exposure, stops.
    banding : (n,) float64
        How much more exposure changes from row to row than from column to column, stops.
    """

    exposure: Series
    red_green: Series
    blue_green: Series
    spread: Series
    banding: Series

    def record(self) -> dict[str, list[float | None]]:
        """The series, ready for JSON; a picture that says nothing is null."""

        def numbers(series: Series) -> list[float | None]:
            return [None if not np.isfinite(value) else round(float(value), 4) + 0.0 for value in series]

        return {
            "exposure": numbers(self.exposure),
            "red_green": numbers(self.red_green),
            "blue_green": numbers(self.blue_green),
        }


def follow(stills: Iterable[LinearStill], options: DriftOptions | None = None) -> Track:
    """Follow one camera's exposure and balance through pictures in order of time.

    Each picture is divided into areas; the middle one of all areas' changes counts, so that people who walk
    through less than half of the picture do not.

    Parameters
    ----------
    stills : iterable of LinearStill
        All of one size; small ones suffice. One is held at a time.
    options : DriftOptions, optional
    """
    options = options or DriftOptions()
    areas = np.stack([_areas(still, options.grid) for still in stills])
    count = len(areas)
    first = max(1, round(options.first_share * count))
    change = areas - _middle(areas[:first])
    luminance = np.log2(np.maximum(np.exp2(areas) @ AP1_LUMINANCE, 1e-12))
    exposure = luminance - _middle(luminance[:first])
    out = {name: np.full(count, np.nan) for name in ("exposure", "red_green", "blue_green", "spread", "banding")}
    for index in range(count):
        held = np.isfinite(change[index]).all(axis=2) & np.isfinite(exposure[index])
        if held.sum() < _FEWEST_AREAS:
            continue
        moved = exposure[index][held]
        out["exposure"][index] = np.median(moved)
        out["red_green"][index] = np.median((change[index, ..., 0] - change[index, ..., 1])[held])
        out["blue_green"][index] = np.median((change[index, ..., 2] - change[index, ..., 1])[held])
        deviation = 1.4826 * np.median(np.abs(moved - out["exposure"][index]))
        out["spread"][index] = deviation / np.sqrt(held.sum() / _AREAS_A_WITNESS)
        out["banding"][index] = _banding(np.where(held, exposure[index], np.nan))
    return Track(**out)


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


def _middle(values: Series) -> Series:
    """Median over the first axis where every value is there, NaN elsewhere."""
    whole = np.isfinite(values).all(axis=0)
    return np.where(whole, np.median(np.where(whole, values, 0.0), axis=0), np.nan)


def _banding(exposure: Series) -> float:
    """Change from row to row less that from column to column, in stops, 0 if there is none."""

    def spread(values: Series) -> float:
        lines = [np.median(line[np.isfinite(line)]) for line in values if np.isfinite(line).sum() >= 4]
        # Neighbouring lines are compared: light that falls off across the picture is no banding. The middle one
        # counts, since somebody who stands in a few columns changes those a lot.
        return 1.4826 * float(np.median(np.abs(np.diff(lines)))) if len(lines) >= 4 else 0.0

    return max(0.0, spread(exposure) - spread(exposure.T))
