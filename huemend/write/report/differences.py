"""The map of where an angle still differs from the hero, as far as samples tell."""

from __future__ import annotations

import numpy as np

from huemend.model import AngleResult, HeldOut
from huemend.write.report.markup import Markup, element, number, svg
from huemend.write.report.samples import kept_samples
from huemend.write.report.views import Views

#: Lower ends of the bands in CIEDE2000; one is about just noticeable side by side.
BANDS = (0.0, 1.0, 2.0, 4.0, 8.0)

_CELLS = 22


def _square(x: float, y: float, cell: float, band: int) -> Markup:
    """Draw one square about a centre: larger and darker with the difference."""
    side = cell * (0.36 + 0.14 * band)
    left, top, across = number(x - side / 2, 1), number(y - side / 2, 1), number(side, 1)
    return element("rect", x=left, y=top, width=across, height=across, class_=f"band band-{band}")


def difference_map(
    result: AngleResult, held: HeldOut, views: Views | None, size: tuple[int, int], *, after: bool
) -> Markup:
    """Draw the mean difference of held-out samples in each cell of the angle's picture of (height, width)."""
    error = held.error_after if after else held.error_before
    height, width = size
    cell = width / _CELLS
    rows = max(1, int(np.ceil(height / cell)))
    known = np.isfinite(error) & kept_samples(result)
    column = np.clip((result.pairs.angle_xy[known, 0] / cell).astype(int), 0, _CELLS - 1)
    row = np.clip((result.pairs.angle_xy[known, 1] / cell).astype(int), 0, rows - 1)
    count = np.bincount(row * _CELLS + column, minlength=rows * _CELLS)
    total = np.bincount(row * _CELLS + column, weights=error[known], minlength=rows * _CELLS)
    squares = []
    for index in np.flatnonzero(count):
        band = int(np.searchsorted(BANDS, total[index] / count[index], side="right")) - 1
        squares.append(_square((index % _CELLS + 0.5) * cell, (index // _CELLS + 0.5) * cell, cell, band))
    ground = None
    if views is not None:
        below = views.before
        ground = element("g", below.use(), transform=f"scale({number(1 / below.scale, 5)})", class_="faint")
    when = "after the match" if after else "as shot"
    label = f"Difference {when}: {len(squares)} places with samples, {len(count) - len(squares)} without any."
    return svg(ground, squares, box=f"0 0 {width} {height}", kind="picture map", label=label)


def map_legend() -> Markup:
    """Explain the bands."""
    items = []
    for band, low in enumerate(BANDS):
        high = BANDS[band + 1] if band + 1 < len(BANDS) else None
        label = f"over {low:g}" if high is None else f"under {high:g}" if band == 0 else f"{low:g} to {high:g}"
        ground = element("rect", width=22, height=22, class_="ground")
        swatch = svg(ground, _square(11, 11, 22, band), box="0 0 22 22", kind="swatch")
        items.append(element("li", swatch, label))
    items.append(element("li", "no square: no shared sample there, so nothing is known"))
    return element("ul", items, class_="legend")
