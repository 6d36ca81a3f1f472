"""Drawing: axes, marks and traces as SVG that scales, prints and follows the page's light or dark theme.

Three series appear in every plot and each has a shape besides its colour: the hero is an open square, the
angle as shot a triangle, the matched angle a filled disc. Colours come from the style sheet by class.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from huemend.base.arrays import Float
from huemend.write.report.encoded import ink_uri
from huemend.write.report.markup import Markup, element, fragment, number, svg

#: More marks than this only cover one another.
_MOST_MARKS = 350


@dataclass(frozen=True)
class Axis:
    """A scale from values to drawing units; ``start`` is where ``low`` lies, ``end`` where ``high`` lies.

    >>> Axis(0.0, 1.0, 100.0, 0.0)(0.25)
    75.0
    """

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """Place a value, held inside the axis."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)


def reaching(largest: float, steps: Sequence[float]) -> float:
    """Return how far an axis must reach: the first of some rising steps that holds the largest value, or the last.

    >>> reaching(0.7, (0.5, 1.0, 2.0)), reaching(9.0, (0.5, 1.0, 2.0))
    (1.0, 2.0)
    """
    return next((step for step in steps if largest <= step), steps[-1])


@dataclass(frozen=True)
class Frame:
    """The plotting area of one panel and its two axes."""

    x: Axis
    y: Axis
    width: float
    height: float

    @classmethod
    def of(
        cls,
        x: tuple[float, float],
        y: tuple[float, float],
        *,
        size: tuple[float, float] = (320.0, 200.0),
        margins: tuple[float, float, float, float] = (34.0, 10.0, 8.0, 20.0),
    ) -> Frame:
        """Lay out a panel; ``margins`` are left, right, top, bottom."""
        left, right, top, bottom = margins
        width, height = size
        return cls(Axis(*x, left, width - right), Axis(*y, height - bottom, top), width, height)

    def grid(
        self,
        x_ticks: Sequence[tuple[float, str]] = (),
        y_ticks: Sequence[tuple[float, str]] = (),
        *,
        zero: Sequence[float] = (),
    ) -> Markup:
        """Draw the ticks with their labels; those in ``zero`` are the lines that a reader looks for."""
        left, right = self.x.start, self.x.end
        bottom, top = self.y.start, self.y.end
        parts = [element("path", d=f"M{_n(left)} {_n(top)}V{_n(bottom)}H{_n(right)}", class_="axis")]
        for value, label in y_ticks:
            at = self.y(value)
            kind = "rule zero" if value in zero else "rule"
            parts.append(element("path", d=f"M{_n(left)} {_n(at)}H{_n(right)}", class_=kind))
            parts.append(text(left - 5, at + 3.5, label, anchor="end"))
        for value, label in x_ticks:
            at = self.x(value)
            kind = "rule zero" if value in zero else "rule"
            parts.append(element("path", d=f"M{_n(at)} {_n(top)}V{_n(bottom)}", class_=kind))
            parts.append(text(at, bottom + 14, label, anchor="middle"))
        return fragment(parts)

    def svg(self, *children: Markup, label: str, kind: str = "") -> Markup:
        """Close the panel; ``label`` is what a reader who cannot see it is told."""
        box = f"0 0 {_n(self.width)} {_n(self.height)}"
        return svg(*children, box=box, kind=f"plot {kind}".strip(), label=label)


def panel(title: str, drawing: Markup) -> Markup:
    """Put a drawing under its title."""
    return element("figure", element("figcaption", title), drawing, class_="panel")


def _n(value: float) -> str:
    return number(value, 1)


def text(x: float, y: float, words: str, *, anchor: str = "start", kind: str = "tick") -> Markup:
    """Write a word into a drawing."""
    return element("text", words, x=_n(x), y=_n(y), text_anchor=anchor, class_=kind)


def marks(frame: Frame, x: Float, y: Float, series: str, *, size: float = 2.4) -> Markup:
    """Draw one series of points as a single path, each series with its own shape.

    Points that are not finite are left out, those outside the axes lie on the edge; of very many an even choice is
    drawn.
    """
    good = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    if len(good) > _MOST_MARKS:
        good = good[np.linspace(0, len(good) - 1, _MOST_MARKS).astype(int)]
    # Where a shape begins, beside its point, and its outline from there.
    if series == "hero":
        left, up, outline = size, size, f"h{_n(2 * size)}v{_n(2 * size)}h{_n(-2 * size)}z"
    elif series == "before":
        left, up, outline = 0.0, 1.3 * size, f"l{_n(1.2 * size)} {_n(2.2 * size)}h{_n(-2.4 * size)}z"
    else:
        arc = f"a{_n(size)} {_n(size)} 0 1 0"
        left, up, outline = size, 0.0, f"{arc} {_n(2 * size)} 0{arc} {_n(-2 * size)} 0z"
    steps = [
        f"M{_n(frame.x(float(px)) - left)} {_n(frame.y(float(py)) - up)}{outline}"
        for px, py in zip(np.asarray(x, float)[good], np.asarray(y, float)[good], strict=True)
    ]
    return element("path", d="".join(steps), class_=f"mark {series}") if steps else Markup("")


def spread(frame: Frame, at: float, values: Float, series: str) -> Markup:
    """Draw where values lie: a thin line from the 5th to the 95th percentile, a bar over the middle half, a
    notch at the median."""
    good = np.asarray(values, float)[np.isfinite(values)]
    if good.size == 0:
        return Markup("")
    low, lower, middle, upper, high = (frame.y(float(v)) for v in np.percentile(good, [5, 25, 50, 75, 95]))
    return element(
        "g",
        element("path", d=f"M{_n(at)} {_n(low)}V{_n(high)}", class_="whisker"),
        element("rect", x=_n(at - 3), y=_n(upper), width="6", height=_n(max(lower - upper, 1.0)), class_="bar"),
        element("path", d=f"M{_n(at - 6)} {_n(middle)}h12", class_="notch"),
        class_=f"spread {series}",
    )


def density_image(ink: Float, x: float, y: float, width: float, height: float) -> Markup:
    """Place a density between two corners of a drawing."""
    place = {"x": _n(x), "y": _n(y), "width": _n(width), "height": _n(height)}
    return element("image", href=ink_uri(ink), **place, preserveAspectRatio="none", class_="ink")
