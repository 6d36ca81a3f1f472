"""The matched samples: drawn on both pictures, the worst of them listed, and a map of where angles differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.model import AngleResult, HeldOut, PairedColours
from huemend.options import ReportOptions
from huemend.units import AP1_LUMINANCE
from huemend.write.report.markup import Markup, element, fragment, number
from huemend.write.report.pictures import Picture, viewport
from huemend.write.report.words import balance_words, match_shown, signed

__all__ = ["BANDS", "Views", "difference_map", "difference_stops", "overlay", "parts", "samples_section"]

Float = NDArray[np.floating[Any]]

#: Lower ends of the difference map's bands in CIEDE2000; one is about just noticeable side by side.
BANDS = (0.0, 1.0, 2.0, 4.0, 8.0)

_MAP_CELLS = 22


@dataclass(frozen=True)
class Views:
    """The pictures of one angle's section, in colour and in luminance; ``after`` is None without a match."""

    reference: tuple[Picture, Picture]
    before: tuple[Picture, Picture]
    after: tuple[Picture, Picture] | None


def both(pair: tuple[Picture, Picture]) -> Markup:
    """Refer to a picture in colour and in luminance; the page shows one of them."""
    return fragment(pair[0].use("colour"), pair[1].use("grey"))


def difference_stops(reference_rgb: Float, angle_rgb: Float) -> NDArray[np.float64]:
    """Return how an angle's samples differ from the hero's: level, red-green and blue-green, in stops.

    Parameters
    ----------
    reference_rgb, angle_rgb : (n, 3) arrays, scene-linear ACEScg

    Returns
    -------
    (n, 3) float64
        NaN where a value is not above zero.
    """
    reference, angle = np.asarray(reference_rgb, float), np.asarray(angle_rgb, float)
    level = _stops(angle @ AP1_LUMINANCE) - _stops(reference @ AP1_LUMINANCE)
    channels = _stops(angle) - _stops(reference)
    return np.stack([level, channels[:, 0] - channels[:, 1], channels[:, 2] - channels[:, 1]], axis=1)


def _stops(values: Float) -> NDArray[np.float64]:
    out = np.full(np.shape(values), np.nan)
    return np.log2(values, out=out, where=np.asarray(values) > 0)


def parts(result: AngleResult) -> list[int]:
    """Return the parts in which samples were held out, or an empty list without a proof."""
    if result.held_out is None:
        return []
    return sorted({int(fold) for fold in result.held_out.fold if fold >= 0})


def overlay(result: AngleResult, picture: Picture, side: str, moment: int, options: ReportOptions) -> Markup:
    """Draw the samples of a moment on one picture.

    ``side`` is ``reference`` or ``angle``. Samples that the fit set aside as outliers are crosses, the others
    rings; the page marks one held-out part at a time by the ``data-part`` that each group carries.
    """
    pairs = result.pairs
    drawn = _drawn(result, moment, options.samples_drawn)
    xy = (getattr(pairs, f"{side}_xy")[drawn] + 0.5) * picture.scale
    smallest = picture.width / 160
    radius = np.maximum(pairs.radius[drawn, 0 if side == "reference" else 1] * picture.scale, smallest)
    used = result.used[drawn] if len(result.used) == len(pairs) else np.ones(len(drawn), bool)
    fold = result.held_out.fold[drawn] if result.held_out is not None else np.full(len(drawn), -1)
    # One black path below all marks: white stays legible on white, and no filter slows the page down.
    groups, halo = [], ""
    known = parts(result)
    for part in sorted({int(f) for f in fold}):
        for kept in (True, False):
            chosen = (fold == part) & (used == kept)
            path = "".join(
                _ring(x, y, r) if kept else _cross(x, y, r)
                for (x, y), r in zip(xy[chosen], radius[chosen], strict=True)
            )
            halo += path
            if path:
                out = " out" if known and part == known[0] else ""
                kind = f"sample {'kept' if kept else 'aside'}{out}"
                groups.append(element("path", d=path, class_=kind, data_part=part))
    stroke = picture.width / 420
    below = element("path", d=halo, class_="halo", stroke_width=number(2.4 * stroke)) if halo else None
    return element("g", below, fragment(groups), class_="samples", stroke_width=number(stroke))


def _drawn(result: AngleResult, moment: int, most: int) -> NDArray[np.intp]:
    """Choose which samples to draw: all of the moment, or an even choice that keeps the worst."""
    index = np.flatnonzero(result.pairs.moment == moment)
    if len(index) <= most:
        return index
    even = index[np.linspace(0, len(index) - 1, most).astype(int)]
    return np.union1d(even, np.intersect1d(index, worst(result, 12)))


def _ring(x: float, y: float, r: float) -> str:
    radius, across = number(r, 1), number(2 * r, 1)
    half = f"a{radius} {radius} 0 1 0"
    return f"M{number(x - r, 1)} {number(y, 1)}{half} {across} 0{half} -{across} 0"


def _cross(x: float, y: float, r: float) -> str:
    n, a = number, r * 0.8
    return (
        f"M{n(x - a, 1)} {n(y - a, 1)}l{n(2 * a, 1)} {n(2 * a, 1)}m0 {n(-2 * a, 1)}l{n(-2 * a, 1)} {n(2 * a, 1)}"
    )


def worst(result: AngleResult, count: int) -> NDArray[np.intp]:
    """Return the samples that differ most when held out, worst first; none without a proof."""
    if result.held_out is None:
        return np.zeros(0, np.intp)
    error = result.held_out.error_after if result.match is not None else result.held_out.error_before
    known = np.flatnonzero(np.isfinite(error))
    return np.asarray(known[np.argsort(-error[known], kind="stable")][:count])


def difference_map(
    result: AngleResult, held: HeldOut, views: Views | None, size: tuple[int, int], *, after: bool
) -> Markup:
    """Draw where held-out samples differ: one square a cell, larger and darker with the difference.

    Parameters
    ----------
    size : (height, width)
        Of the angle's still, in which the samples' places are given.
    """
    error = held.error_after if after else held.error_before
    height, width = size
    cell = width / _MAP_CELLS
    rows = max(1, int(np.ceil(height / cell)))
    known = np.isfinite(error)
    x = np.clip((result.pairs.angle_xy[known, 0] / cell).astype(int), 0, _MAP_CELLS - 1)
    y = np.clip((result.pairs.angle_xy[known, 1] / cell).astype(int), 0, rows - 1)
    total = np.bincount(y * _MAP_CELLS + x, weights=error[known], minlength=rows * _MAP_CELLS)
    count = np.bincount(y * _MAP_CELLS + x, minlength=rows * _MAP_CELLS)
    squares = []
    for index in np.flatnonzero(count):
        mean = total[index] / count[index]
        band = int(np.searchsorted(BANDS, mean, side="right")) - 1
        side = cell * (0.36 + 0.14 * band)
        cx, cy = (index % _MAP_CELLS + 0.5) * cell, (index // _MAP_CELLS + 0.5) * cell
        squares.append(
            element(
                "rect",
                x=number(cx - side / 2, 1),
                y=number(cy - side / 2, 1),
                width=number(side, 1),
                height=number(side, 1),
                class_=f"band band-{band}",
            )
        )
    ground = Markup("")
    if views is not None:
        grey = views.before[1]
        ground = element("g", grey.use("faint"), transform=f"scale({number(1 / grey.scale, 5)})")
    when = "after the match" if after else "as shot"
    empty = int((count == 0).sum())
    return element(
        "svg",
        ground,
        fragment(squares),
        viewBox=f"0 0 {width} {height}",
        class_="picture map",
        role="img",
        aria_label=f"Difference {when}: {len(squares)} places with samples, {empty} without any.",
    )


def map_legend() -> Markup:
    """Explain the bands of the difference map."""
    labels = ("under 1", "1 to 2", "2 to 4", "4 to 8", "over 8")
    items = []
    for band, label in enumerate(labels):
        side = 22 * (0.36 + 0.14 * band)
        box = element(
            "rect",
            x=number(11 - side / 2),
            y=number(11 - side / 2),
            width=number(side),
            height=number(side),
            class_=f"band band-{band}",
        )
        swatch = element("svg", box, viewBox="0 0 22 22", class_="swatch", aria_hidden="true")
        items.append(element("li", swatch, label))
    items.append(element("li", "no square: no shared sample there, so nothing is known"))
    return element("ul", items, class_="legend")


def worst_list(result: AngleResult, views: Views | None, moment: int, options: ReportOptions) -> Markup:
    """List the worst samples with a crop of each picture and what is still off, in words."""
    held = result.held_out
    chosen = worst(result, options.worst)
    if held is None or len(chosen) == 0:
        return element("p", "There were no samples to hold out, so there is nothing to list.")
    match = match_shown(result)
    pairs = result.pairs
    shown = pairs.angle_rgb if match is None else match.apply(np.asarray(pairs.angle_rgb, float))
    off = difference_stops(pairs.reference_rgb[chosen], shown[chosen])
    rows = []
    for place, index in enumerate(chosen):
        after = f" → {held.error_after[index]:.1f}" if match is not None else ""
        name = str(pairs.label[index])
        words = fragment(
            element("strong", f"{held.error_before[index]:.1f}{after}"),
            f" {name}" if name else None,
            element("br"),
            _still_off(off[place]),
        )
        crops = _crops(pairs, int(index), views, moment)
        rows.append(element("li", crops, element("p", words)))
    return element("ol", rows, class_="worst")


def _still_off(off: Float) -> str:
    if not np.isfinite(off).all():
        return "Too dark to say in stops."
    level = (
        "as bright as"
        if abs(off[0]) < 0.03
        else f"{abs(off[0]):.2f} stop {'brighter' if off[0] > 0 else 'darker'} than"
    )
    balance = balance_words(float(off[1]), float(off[2]))
    return f"Shows {level} the hero, and {balance.replace('it was', 'there')}."


def _crops(pairs: PairedColours, index: int, views: Views | None, moment: int) -> Markup | None:
    if views is None or pairs.moment[index] != moment:
        return None
    places = [
        ("hero", views.reference, pairs.reference_xy[index], pairs.radius[index, 0]),
        ("as shot", views.before, pairs.angle_xy[index], pairs.radius[index, 1]),
    ]
    if views.after is not None:
        places.append(("matched", views.after, pairs.angle_xy[index], pairs.radius[index, 1]))
    crops = []
    for name, pair, xy, radius in places:
        picture = pair[0]
        x, y = (float(v + 0.5) * picture.scale for v in xy)
        r = max(float(radius) * picture.scale, picture.width / 160)
        side = min(max(9 * r, picture.width / 12), picture.width, picture.height)
        left = min(max(x - side / 2, 0), picture.width - side)
        top = min(max(y - side / 2, 0), picture.height - side)
        path = _ring(x, y, r)
        ring = fragment(
            element("path", d=path, class_="halo", stroke_width=number(side / 28)),
            element("path", d=path, class_="sample kept", stroke_width=number(side / 70)),
        )
        box = " ".join(number(v, 1) for v in (left, top, side, side))
        crops.append(
            viewport(picture, both(pair), ring, label=f"Crop of the sample, {name}", kind="crop", box=box)
        )
    return element("div", crops, class_="crops")


def samples_section(
    result: AngleResult,
    views: Views | None,
    sizes: dict[str, tuple[int, int]],
    moment: int,
    options: ReportOptions,
) -> Markup:
    """Lay out the samples on both pictures, with the choice of the part to mark.

    Parameters
    ----------
    sizes : mapping of ``reference`` and ``angle`` to (height, width)
        Of the stills, for the page without pictures.
    """
    figures = []
    for side, name in (("reference", result.pairs.reference), ("angle", result.angle.name)):
        if views is not None:
            pair = views.reference if side == "reference" else views.before
            drawn = overlay(result, pair[0], side, moment, options)
            picture = viewport(pair[0], both(pair), drawn, label=f"Samples on {name}")
        else:
            height, width = sizes[side]
            blank = Picture("", width, height, 1.0)
            picture = viewport(blank, overlay(result, blank, side, moment, options), label=f"Samples on {name}")
        figures.append(element("figure", picture, element("figcaption", name)))
    known = parts(result)
    choice = None
    if len(known) > 1:
        options_ = [element("option", f"part {n + 1} of {len(known)}", value=part) for n, part in enumerate(known)]
        choice = element("label", "Held out: ", element("select", options_, class_="part"), class_="needs-script")
    drawn_count = len(_drawn(result, moment, options.samples_drawn))
    total = len(result.pairs)
    note = (
        f"{drawn_count} of {total} samples are drawn."
        if drawn_count < total
        else f"All {total} samples are drawn."
    )
    return fragment(
        element("div", figures, class_="pair samples-on"),
        element(
            "p",
            choice,
            element("span", _key("kept"), "fitted", class_="key"),
            element("span", _key("kept out"), "held out for proof", class_="key") if known else None,
            element("span", _key("aside"), "set aside as an outlier", class_="key"),
            element("span", note, class_="key"),
            class_="keys",
        ),
    )


def _key(kind: str) -> Markup:
    path = _cross(9, 9, 6) if "aside" in kind else _ring(9, 9, 6)
    mark = element("path", d=path, class_=f"sample {kind}", stroke_width="2")
    return element(
        "svg",
        element("rect", width=18, height=18, class_="ground"),
        mark,
        viewBox="0 0 18 18",
        class_="swatch",
        aria_hidden="true",
    )


def spread_text(values: Float) -> str:
    """Write the median and middle half of differences in stops."""
    good = np.asarray(values, float)[np.isfinite(values)]
    if good.size == 0:
        return "unknown"
    lower, middle, upper = np.percentile(good, [25, 50, 75])
    return f"{signed(float(middle))} ({signed(float(lower))} to {signed(float(upper))})"
