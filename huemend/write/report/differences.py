"""Where an angle still differs from the hero, as far as samples tell: on a map, and by the worst samples."""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Bool, Float
from huemend.model import AngleResult, HeldOut, PairedColours
from huemend.write.report.markup import Markup, element, figure, fragment, number, svg
from huemend.write.report.pictures import Picture, viewport
from huemend.write.report.samples import difference_stops, kept_samples, ring
from huemend.write.report.views import Views
from huemend.write.report.words import off_words

#: Lower ends of the bands in CIEDE2000; one is about just noticeable side by side.
BANDS = (0.0, 1.0, 2.0, 4.0, 8.0)

_CELLS = 22


def _square(x: float, y: float, cell: float, band: int) -> Markup:
    """Draw one square about a centre: larger and darker with the difference."""
    side = cell * (0.36 + 0.14 * band)
    left, top, across = number(x - side / 2, 1), number(y - side / 2, 1), number(side, 1)
    return element("rect", x=left, y=top, width=across, height=across, class_=f"band band-{band}")


def difference_map(
    found: AngleResult, held: HeldOut, views: Views | None, size: tuple[int, int], *, after: bool
) -> Markup:
    """Draw the mean difference of held-out samples in each cell of the angle's picture of (height, width)."""
    error = held.error_after if after else held.error_before
    height, width = size
    cell = width / _CELLS
    rows = max(1, int(np.ceil(height / cell)))
    known = np.isfinite(error) & kept_samples(found)
    column = np.clip((found.pairs.angle_xy[known, 0] / cell).astype(int), 0, _CELLS - 1)
    row = np.clip((found.pairs.angle_xy[known, 1] / cell).astype(int), 0, rows - 1)
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


# ------------------------------------------------------------------------------------ the worst samples

_WORST = (
    "Colour difference of single samples, each held out of the match that it is judged by; left to right as shot, "
    "hero, matched. One sample carries noise, gloss and shading that a surface averages out, so these lie above "
    "the mean."
)

_SET_ASIDE = (
    "What these show on hero and angle does not go together with the rest under any one match: mostly two "
    "surfaces, or one under two lights. Neither the match nor its proof counts them. If you see one surface under "
    "one light here, the match is wrong there: look at the cut."
)


#: So many of the worst are shown.
_COUNT = 6
#: Two of the worst lie at least this share of the picture's width apart: one bad book spine is one finding.
_APART = 0.06


def worst(found: AngleResult, held: HeldOut, width: int, among: Bool | None = None) -> list[int]:
    """Return the samples that differ most when held out, worst first, no two at one place of the angle.

    ``width`` is that of the angle's still. Of ``among``, (n,), or of those that the proof counts if it is not
    given.
    """
    error = held.error_after if found.match is not None else held.error_before
    known = np.flatnonzero(np.isfinite(error) & (kept_samples(found) if among is None else among))
    places = found.pairs.angle_xy
    chosen: list[int] = []
    for index in known[np.argsort(-error[known], kind="stable")]:
        far = np.hypot(*(places[chosen] - places[index]).T) if chosen else np.array([np.inf])
        if far.min() > _APART * width:
            chosen.append(int(index))
        if len(chosen) == _COUNT:
            break
    return chosen


def worst_list(
    found: AngleResult,
    held: HeldOut,
    views: Views | None,
    moment: int,
    width: int,
    clipped: Bool,
) -> Markup:
    """List the worst samples that the proof counts and, folded away, the worst of those set aside.

    Of the latter, those that touch what is ``clipped`` in either view, (n,) bool, are counted and not listed: they
    may well show one surface.
    """
    chosen = worst(found, held, width)
    if not chosen:
        return element("p", "There were no samples to hold out, so there is nothing to list.")
    set_aside = ~kept_samples(found)
    aside = worst(found, held, width, set_aside & ~clipped)
    count = int((set_aside & clipped).sum())
    others = f" {count} more touch what is clipped in one of the views." if count else ""
    folded = None
    if aside:
        head = element("summary", "The worst of those set aside")
        listed = _list(found, held, aside, views, moment)
        folded = element("details", head, element("p", _SET_ASIDE, others), listed)
    note = element("p", _WORST, class_="fine")
    return fragment(note, _list(found, held, chosen, views, moment), folded)


def _list(found: AngleResult, held: HeldOut, chosen: list[int], views: Views | None, moment: int) -> Markup:
    match, pairs = found.delivered, found.pairs
    rgb = pairs.angle_rgb[chosen]
    off = difference_stops(pairs.reference_rgb[chosen], rgb if match is None else match.apply(rgb))
    rows = []
    for place, index in enumerate(chosen):
        after = f" → {held.error_after[index]:.1f}" if match is not None else ""
        name = f" {pairs.label[index]}" if pairs.label[index] else None
        words = fragment(element("strong", f"{held.error_before[index]:.1f}{after}"), name, element("br"))
        crops = _crops(pairs, index, views) if views is not None and pairs.moment[index] == moment else None
        rows.append(element("li", crops, element("p", words, off_words(off[place]))))
    return element("ol", rows, class_="worst")


def _crops(pairs: PairedColours, index: int, views: Views) -> Markup:
    """Cut the same area of the set out of every picture."""
    places = [
        ("as shot", views.before, pairs.angle_xy[index]),
        ("hero", views.reference, pairs.reference_xy[index]),
    ]
    if views.after is not None:
        places.append(("matched", views.after, pairs.angle_xy[index]))
    reference = views.reference
    # How many radii to show, so that a crop of it is never a handful of pixels.
    radii = max(9.0, reference.width / 12 / max(float(pairs.radius[index, 0]) * reference.scale, 1e-6))
    crops = []
    for name, picture, xy in places:
        radius = float(pairs.radius[index, 0 if name == "hero" else 1]) * picture.scale
        label, centre = f"Crop of the sample, {name}", (xy + 0.5) * picture.scale
        crops.append(figure(ringed_crop(picture, centre, radius, radii * radius, label), name))
    return element("div", crops, class_="crops")


def ringed_crop(picture: Picture, centre: Float, radius: float, side: float, label: str) -> Markup:
    """Cut a square out of a picture and ring what it is about, all in the picture's own pixels."""
    x, y = (float(v) for v in centre)
    side = max(min(side, picture.width, picture.height), 8.0)
    left = min(max(x - side / 2, 0), picture.width - side)
    top = min(max(y - side / 2, 0), picture.height - side)
    path = ring(x, y, max(radius, side / 14))
    marks = fragment(
        element("path", d=path, class_="halo", stroke_width=number(side / 28)),
        element("path", d=path, class_="sample kept", stroke_width=number(side / 70)),
    )
    box = " ".join(number(v, 1) for v in (left, top, side, side))
    return viewport(picture, marks, label=label, kind="crop", box=box)
