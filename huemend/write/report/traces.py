"""The drawings of the scopes: what ``scopes`` measures, on axes that hero, as shot and matched share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np

from huemend.base.arrays import Bool, Float, Float64
from huemend.base.units import AP1_LUMINANCE, MID_GREY
from huemend.view import measurement_signal
from huemend.write.report import scopes
from huemend.write.report.figures import signed
from huemend.write.report.markup import Markup, element, fragment, number
from huemend.write.report.plots import Axis, Frame, density_image, marks, reaching, spread, text
from huemend.write.report.samples import difference_stops, spread_text

#: What each series is called on the page.
NAMES = {"hero": "hero", "before": "as shot", "after": "matched"}

#: Top of the level axis in percent. The measurement view clips at 100; the rest is room to see that it does.
_TOP = 104.0
_LEVELS = tuple((percent / 100, f"{percent}") for percent in (0, 25, 50, 75, 100))


@dataclass(frozen=True, eq=False)
class Series:
    """What one picture contributes to the scopes."""

    #: ``hero``, ``before`` or ``after``.
    name: str
    #: (rows, columns, 3) array. The patch-averaged picture as a signal of the measurement view.
    signal: Float
    #: (n, 3) array. The shared samples, scene-linear ACEScg.
    sample_rgb: Float
    #: (n, 3) array. The same as a signal of the measurement view.
    sample_signal: Float

    @classmethod
    def of(cls, name: str, patches: Float, sample_rgb: Float, view_stops: float) -> Self:
        """Take a patch-averaged picture and its samples, both scene-linear ACEScg, through the view."""
        samples = np.asarray(sample_rgb, float).reshape(-1, 3)
        return cls(name, measurement_signal(patches, view_stops), samples, measurement_signal(samples, view_stops))

    def off(self, hero: Series) -> Float64:
        """Return how the samples differ from the hero's, (n, 3) in stops: level, red-green, blue-green."""
        return difference_stops(hero.sample_rgb, self.sample_rgb)


def _line(frame: Frame, level: float) -> Markup:
    if not np.isfinite(level):
        return Markup("")
    path = f"M{number(frame.x.start)} {number(frame.y(level))}H{number(frame.x.end)}"
    return element("path", d=path, class_="hero-line")


def _trace(frame: Frame, level: Float, left: float, right: float) -> Markup:
    """Place the trace of one signal between two edges of a panel."""
    ink = scopes.column_density(level, _TOP / 100)
    return density_image(ink, left, frame.y.end, right - left, frame.y.start - frame.y.end)


def _percent(level: float) -> str:
    return f"{100 * level:.0f} %" if np.isfinite(level) else "unknown"


def waveform(series: Series, hero: Series) -> Markup:
    """Draw the luma of one picture by column, and where its shared samples lie against the hero's."""
    frame, rail = Frame.of((0.0, 1.0), (0.0, _TOP / 100)), 24.0
    samples = scopes.luma(series.sample_signal)
    here, there = scopes.middle(samples), scopes.middle(scopes.luma(hero.sample_signal))
    return frame.svg(
        frame.grid(y_ticks=_LEVELS),
        _trace(frame, scopes.luma(series.signal), frame.x.start, frame.x.end - rail),
        _line(frame, there),
        spread(frame, frame.x.end - rail / 2, samples, series.name),
        label=f"Waveform, {NAMES[series.name]}; middle of shared samples {_percent(here)}, hero {_percent(there)}",
    )


def parade(channel: int, series: Sequence[Series]) -> Markup:
    """Draw one channel of every picture side by side on one axis."""
    frame = Frame.of((0.0, float(len(series))), (0.0, _TOP / 100), margins=(34.0, 4.0, 8.0, 20.0))
    gap, rail = 6.0, 14.0
    parts, said = [frame.grid(y_ticks=_LEVELS)], []
    for place, one in enumerate(series):
        left, right = frame.x(place) + gap / 2, frame.x(place + 1) - gap / 2
        samples = one.sample_signal[:, channel]
        parts.append(_trace(frame, one.signal[..., channel], left, right - rail))
        parts.append(spread(frame, right - rail / 2, samples, one.name))
        parts.append(text((left + right) / 2, frame.y.start + 14, NAMES[one.name], anchor="middle"))
        said.append(f"{NAMES[one.name]} {_percent(scopes.middle(samples))}")
    parts.append(_line(frame, scopes.middle(series[0].sample_signal[:, channel])))
    label = f"Parade, {scopes.CHANNELS[channel]}; middle of the shared samples: {', '.join(said)}"
    return frame.svg(fragment(parts), label=label)


def levels_text(series: Sequence[Series], sure: Float) -> str:
    """Say how the level of every picture's samples lies against the hero's, the first of them, by their weight."""
    hero = series[0]
    return "; ".join(f"{NAMES[one.name]} {spread_text(one.off(hero)[:, 0], sure)} stop" for one in series[1:])


def level_plot(series: Sequence[Series], levels: str) -> Markup:
    """Draw the level of every shared sample against the hero, over the hero's own level; ``levels`` says it."""
    hero = series[0]
    offs = np.concatenate([one.off(hero)[:, 0] for one in series[1:]])
    largest = float(np.nanpercentile(np.abs(offs), 99)) if np.isfinite(offs).any() else 0.0
    reach = int(reaching(largest, (2, 4, 8)))
    frame = Frame.of((-7.0, 4.0), (-reach, reach))
    hero_level = np.log2(np.maximum(hero.sample_rgb @ AP1_LUMINANCE, 1e-6) / MID_GREY)
    drawn = [marks(frame, hero_level, one.off(hero)[:, 0], one.name, size=2.0) for one in series[1:]]
    across = [(float(v), signed(v, 0)) for v in (-6, -4, -2, 0, 2, 4)]
    up = [(float(v), signed(v, 0)) for v in (-reach, -reach // 2, 0, reach // 2, reach)]
    label = f"Level of shared samples against the hero: {levels}"
    return frame.svg(frame.grid(across, up, zero=(0.0,)), fragment(drawn), label=label)


def balance_plot(series: Sequence[Series]) -> Markup:
    """Draw each sample's difference of balance: zero is agreement with the hero."""
    frame, hero = Frame.of((-1.2, 1.2), (-1.2, 1.2), size=(320.0, 320.0)), series[0]
    drawn, said = [], []
    for one in series[1:]:
        off = one.off(hero)
        drawn.append(marks(frame, off[:, 1], off[:, 2], one.name, size=2.0))
        said.append(
            f"{NAMES[one.name]}, red {spread_text(off[:, 1])}, blue {spread_text(off[:, 2])} stop against green"
        )
    ticks = [(v, signed(v, 1)) for v in (-1.0, -0.5, 0.0, 0.5, 1.0)]
    left, right, low, high = frame.x.start + 4, frame.x.end - 4, frame.y.start - 6, frame.y.end + 12
    corners = [
        text(right, low, "warmer", anchor="end", kind="corner"),
        text(left, high, "cooler", kind="corner"),
        text(right, high, "magenta", anchor="end", kind="corner"),
        text(left, low, "green", kind="corner"),
    ]
    return frame.svg(
        frame.grid(ticks, ticks, zero=(0.0,)),
        fragment(drawn, corners),
        label=f"Balance of shared samples against the hero, red and blue against green: {'; '.join(said)}",
        kind="square",
    )


def chroma_frame(reach: float) -> Frame:
    """Return the square panel of a vectorscope from -reach to reach."""
    return Frame.of((-reach, reach), (-reach, reach), size=(240.0, 240.0), margins=(6.0, 6.0, 6.0, 6.0))


def chroma_ground(frame: Frame) -> Markup:
    """Draw the edge, the cross, the skin guide, and 75 % bars where they lie, or their names towards them."""
    x, y = frame.x, frame.y
    cross = f"M{number(x(0))} {number(y.end)}V{number(y.start)}M{number(x.start)} {number(y(0))}H{number(x.end)}"
    edge = f"M{number(x.start)} {number(y.end)}H{number(x.end)}V{number(y.start)}H{number(x.start)}z"
    parts = [element("path", d=cross, class_="rule"), element("path", d=edge, class_="axis")]
    for name, bar in scopes.BARS_75.items():
        cb, cr = (float(v) for v in scopes.chroma(np.array(bar)))
        if max(abs(cb), abs(cr)) < x.high:
            path = f"M{number(x(cb) - 5)} {number(y(cr))}h10m-5 -5v10"
            parts.append(element("path", d=path, class_="target", data_bar=name))
        else:
            cb, cr = (0.9 * x.high / max(abs(cb), abs(cr)) * v for v in (cb, cr))
        anchor, beside = ("start", 7) if cb < x.high * 0.5 else ("end", -7)
        parts.append(text(x(cb) + beside, y(cr) - 4, name, kind="target-name", anchor=anchor))
    parts.append(element("path", d=_guide(x, y), class_="guide"))
    return fragment(parts)


def _guide(x: Axis, y: Axis) -> str:
    """Return the wedge of the skin hue guide as a path."""
    low, high = (np.tan(np.radians(90.0 - degrees)) for degrees in scopes.SKIN_GUIDE_DEGREES)
    end = 0.98 * x.high
    corners = [f"{number(x(float(end * side)))} {number(y(end))}" for side in (low, high)]
    return f"M{corners[0]}L{number(x(0))} {number(y(0))}L{corners[1]}"


def chroma_reach(chromas: Sequence[Float]) -> float:
    """Return how far the axes of vectorscopes must reach: to 0.5, or less where hardly any chroma lies further."""
    largest = max((float(np.percentile(np.abs(each), 99)) for each in chromas if each.size), default=0.5)
    return reaching(1.1 * largest, (0.125, 0.25, 0.5))


def gain_words(reach: float) -> str:
    """Say how much a vectorscope is enlarged.

    >>> gain_words(0.125), gain_words(0.5)
    (', gain 4x', '')
    """
    return "" if reach == 0.5 else f", gain {0.5 / reach:g}x"


def vectorscope(series: Series, reach: float) -> Markup:
    """Draw the chroma of one patch-averaged picture."""
    frame = chroma_frame(reach)
    ink = scopes.plane_density(scopes.chroma(series.signal), reach)
    side = frame.x.end - frame.x.start
    image = density_image(ink, frame.x.start, frame.y.end, side, side)
    return frame.svg(chroma_ground(frame), image, label=f"Vectorscope, {NAMES[series.name]}", kind="square")


def sample_vectorscope(series: Sequence[Series], chosen: Bool, what: str, reach: float) -> Markup:
    """Draw the chroma of chosen samples of every picture."""
    chromas = [scopes.chroma(one.sample_signal[chosen]) for one in series]
    frame = chroma_frame(reach)
    drawn = [marks(frame, c[:, 0], c[:, 1], one.name, size=2.2) for c, one in zip(chromas, series, strict=True)]
    return frame.svg(chroma_ground(frame), fragment(drawn), label=f"Vectorscope of {what}", kind="square")
