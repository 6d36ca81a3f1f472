"""The shared samples, drawn on both pictures."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, Float64
from huemend.base.units import AP1_LUMINANCE
from huemend.model import AngleResult, LinearStill
from huemend.write.report.figures import signed
from huemend.write.report.markup import Markup, element, figure, fragment, number, svg
from huemend.write.report.pictures import Picture, still_at, viewport
from huemend.write.report.views import Views

# The most samples that are drawn on one picture; the numbers cover all of them.
_MOST_DRAWN = 200


def difference_stops(reference_rgb: Float, angle_rgb: Float) -> Float64:
    """Return how an angle's samples differ from the hero's, (n, 3) in stops: level, red-green and blue-green.

    Both are (n, 3), scene-linear ACEScg; NaN where a value is not above zero.
    """
    reference, angle = np.asarray(reference_rgb, float), np.asarray(angle_rgb, float)
    level = _stops(angle @ AP1_LUMINANCE) - _stops(reference @ AP1_LUMINANCE)
    channels = _stops(angle) - _stops(reference)
    return np.stack([level, channels[:, 0] - channels[:, 1], channels[:, 2] - channels[:, 1]], axis=1)


def _stops(values: Float) -> Float64:
    out = np.full(np.shape(values), np.nan)
    return np.log2(values, out=out, where=np.asarray(values) > 0)


def held_parts(found: AngleResult) -> list[int]:
    """Return the parts in which samples were held out, or an empty list without a proof."""
    if found.held_out is None:
        return []
    return sorted({int(fold) for fold in found.held_out.fold if fold >= 0})


def kept_samples(found: AngleResult) -> Bool:
    """Return which samples show the same surface, as far as the fit could tell: what the proof counts.

    Where none does, all of them, so that a page can still show what there was.
    """
    return np.asarray(found.agrees if found.agrees.any() else np.ones(len(found.pairs)), bool)


def clipped_samples(found: AngleResult, stills: Mapping[str, tuple[LinearStill, ...]]) -> Bool:
    """Return which samples touch what is clipped on either picture, (n,): they say nothing of a match."""
    pairs, out = found.pairs, np.zeros(len(found.pairs), bool)
    sides = ((pairs.reference, pairs.reference_xy), (found.angle.name, pairs.angle_xy))
    for side, (name, places) in enumerate(sides):
        for moment in np.unique(pairs.moment):
            still = still_at(stills[name], int(moment))
            mask = still.without_detail
            if not mask.any():
                continue
            own = np.flatnonzero(pairs.moment == moment)
            for step in ((0, 0), (1, 0), (-1, 0), (0, 1), (0, -1)):
                at = np.rint(places[own] + pairs.radius[own, side, None] * np.array(step)).astype(int)
                x, y = np.clip(at, 0, np.array(mask.shape[::-1]) - 1).T
                out[own] |= mask[y, x]
    return out


def overlay(found: AngleResult, picture: Picture, side: str, moment: int) -> Markup:
    """Draw the samples of a moment on one picture.

    ``side`` is ``reference`` or ``angle``. Samples that the fit set aside as outliers are crosses, the others
    rings; the page marks one held-out part at a time by the ``data-part`` that each group carries.
    """
    pairs = found.pairs
    drawn = _drawn(found, moment)
    xy = (getattr(pairs, f"{side}_xy")[drawn] + 0.5) * picture.scale
    smallest = picture.width / 200
    radius = np.maximum(pairs.radius[drawn, 0 if side == "reference" else 1] * picture.scale, smallest)
    used = kept_samples(found)[drawn]
    fold = found.held_out.fold[drawn] if found.held_out is not None else np.full(len(drawn), -1)
    # One black path below all marks: white stays legible on white, and no filter slows the page down.
    groups, halo = [], ""
    known = held_parts(found)
    for part in sorted({int(f) for f in fold}):
        for kept in (True, False):
            chosen = (fold == part) & (used == kept)
            path = "".join(
                ring(x, y, r) if kept else _cross(x, y, r)
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


def _drawn(found: AngleResult, moment: int) -> NDArray[np.intp]:
    """Choose which samples to draw: all of the moment, or an even choice of them."""
    index = np.flatnonzero(found.pairs.moment == moment)
    if len(index) <= _MOST_DRAWN:
        return index
    return np.asarray(index[np.linspace(0, len(index) - 1, _MOST_DRAWN).astype(int)])


def ring(x: float, y: float, r: float) -> str:
    """Return the path of a circle."""
    radius, across = number(r, 1), number(2 * r, 1)
    half = f"a{radius} {radius} 0 1 0"
    return f"M{number(x - r, 1)} {number(y, 1)}{half} {across} 0{half} -{across} 0"


def _cross(x: float, y: float, r: float) -> str:
    n, a = number, r * 0.8
    return (
        f"M{n(x - a, 1)} {n(y - a, 1)}l{n(2 * a, 1)} {n(2 * a, 1)}m0 {n(-2 * a, 1)}l{n(-2 * a, 1)} {n(2 * a, 1)}"
    )


def samples_section(found: AngleResult, views: Views | None, reference: LinearStill, angle: LinearStill) -> Markup:
    """Lay out the samples on both pictures, with the choice of the part to mark; on none, of the stills' sizes."""
    moment, figures = angle.moment, []
    for side, still, name in (
        ("reference", reference, found.pairs.reference),
        ("angle", angle, found.angle.name),
    ):
        if views is not None:
            ground = views.reference if side == "reference" else views.before
        else:
            height, width = still.rgb.shape[:2]
            ground = Picture("", width, height, 1.0)
        marked = viewport(ground, overlay(found, ground, side, moment), label=f"Samples on {name}")
        figures.append(figure(marked, name))
    known = held_parts(found)
    choice = None
    if len(known) > 1:
        choices = [element("option", f"part {n + 1} of {len(known)}", value=part) for n, part in enumerate(known)]
        choice = element("label", "Held out: ", element("select", choices, class_="part"), class_="needs-script")
    drawn_count = len(_drawn(found, moment))
    total = len(found.pairs)
    count = f"{drawn_count} of {total}" if drawn_count < total else f"All {total}"
    keys = [
        _key("kept", "fitted"),
        _key("kept out", "held out for proof") if known else None,
        _key("aside", "set aside: at odds with the rest"),
        element("span", f"{count} samples are drawn.", class_="key"),
    ]
    return fragment(element("div", figures, class_="pair samples-on"), element("p", choice, keys, class_="keys"))


def _key(kind: str, words: str) -> Markup:
    path = _cross(9, 9, 6) if "aside" in kind else ring(9, 9, 6)
    ground = element("rect", width=18, height=18, class_="ground")
    mark = element("path", d=path, class_=f"sample {kind}", stroke_width="2")
    return element("span", svg(ground, mark, box="0 0 18 18", kind="swatch"), words, class_="key")


def spread_text(values: Float, weight: Float | None = None) -> str:
    """Write the median and middle half of differences in stops; samples count by their weight, if one is given."""
    good = np.isfinite(values)
    if not good.any():
        return "unknown"
    counts = np.ones(len(good)) if weight is None else np.maximum(weight, 1e-12)
    three = np.percentile(values[good], [25, 50, 75], weights=counts[good], method="inverted_cdf")
    lower, middle, upper = (signed(float(value)) for value in three)
    return f"{middle} ({lower} to {upper})"
