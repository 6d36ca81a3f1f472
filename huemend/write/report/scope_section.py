"""The scopes of one angle, laid out by the question that they answer."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.model import AngleResult, LinearStill
from huemend.units import AP1_LUMINANCE, MID_GREY
from huemend.view import measurement_signal
from huemend.write.report import scopes
from huemend.write.report.markup import Markup, element, fragment, number
from huemend.write.report.plots import Frame, density_image, marks, spread, text
from huemend.write.report.samples import difference_stops, spread_text
from huemend.write.report.words import NO_SKIN, SCOPES, SKIN_GUIDE, match_shown, signed

__all__ = ["Series", "scopes_section", "series_of"]

Float = NDArray[np.floating[Any]]

#: Top of the level axis in percent. The measurement view clips at 100; the rest is room to see that it does.
_TOP = 104.0
_NAMES = {"hero": "hero", "before": "as shot", "after": "matched"}
_TICKS = tuple((v / 100, f"{v:g}") for v in (0, 25, 50, 75, 100))


class Series:
    """What one picture contributes: its patch-averaged signal, and the signal and light of its shared samples."""

    def __init__(self, name: str, rgb: Float, sample_rgb: Float, view_stops: float) -> None:
        self.name = name
        self.sample_rgb = np.asarray(sample_rgb, float)
        self.signal = measurement_signal(scopes.patch_average(rgb), view_stops)
        self.sample_signal = measurement_signal(self.sample_rgb, view_stops)


def series_of(result: AngleResult, hero: LinearStill, angle: LinearStill, view_stops: float) -> list[Series]:
    """Return hero, angle as shot and, where there is a match, angle matched."""
    pairs, match = result.pairs, match_shown(result)
    out = [
        Series("hero", hero.rgb, pairs.reference_rgb, view_stops),
        Series("before", angle.rgb, pairs.angle_rgb, view_stops),
    ]
    if match is not None:
        patches = match.apply(scopes.patch_average(angle.rgb))
        out.append(Series("after", patches, match.apply(np.asarray(pairs.angle_rgb, float)), view_stops))
    return out


def waveform(series: Series, hero: Series) -> Markup:
    """Draw the luma of one picture by column, and where its shared samples lie against the hero's."""
    frame = Frame.of((0.0, 1.0), (0.0, _TOP / 100))
    return _trace(
        frame,
        scopes.luma(series.signal),
        scopes.luma(series.sample_signal),
        scopes.luma(hero.sample_signal),
        series.name,
        f"Waveform, {_NAMES[series.name]}",
    )


def _trace(frame: Frame, level: Float, samples: Float, hero_samples: Float, name: str, label: str) -> Markup:
    x, y = frame.x, frame.y
    rail = 24.0
    ink = density_image(
        scopes.column_density(level, _TOP / 100), x.start, y.end, x.end - x.start - rail, y.start - y.end
    )
    good = hero_samples[np.isfinite(hero_samples)]
    lines = Markup("")
    if good.size:
        middle = frame.y(float(np.median(good)))
        lines = element("path", d=f"M{number(x.start)} {number(middle)}H{number(x.end)}", class_="hero-line")
        label += (
            f"; shared samples have their middle at {100 * float(np.nanmedian(samples)):.0f} %, the hero's at "
        )
        label += f"{100 * float(np.median(good)):.0f} %"
    return frame.svg(
        frame.grid(y_ticks=_TICKS), ink, lines, spread(frame, x.end - rail / 2, samples, name), label=label
    )


def level_plot(result: AngleResult, series: list[Series]) -> Markup:
    """Draw the level of every shared sample against the hero, over the hero's own level."""
    frame = Frame.of((-7.0, 4.0), (-2.0, 2.0))
    hero_level = np.log2(np.maximum(series[0].sample_rgb @ AP1_LUMINANCE, 1e-6) / MID_GREY)
    drawn = [
        marks(frame, hero_level, difference_stops(series[0].sample_rgb, s.sample_rgb)[:, 0], s.name, size=2.0)
        for s in series[1:]
    ]
    grid = frame.grid(
        [(v, signed(v, 0)) for v in (-6, -4, -2, 0, 2, 4)],
        [(v, signed(v, 0)) for v in (-2, -1, 0, 1, 2)],
        zero=(0,),
    )
    said = "; ".join(
        f"{_NAMES[s.name]} {spread_text(difference_stops(series[0].sample_rgb, s.sample_rgb)[:, 0])} stop"
        for s in series[1:]
    )
    return frame.svg(grid, fragment(drawn), label=f"Level of shared samples against the hero: {said}")


def parade(channel: int, series: list[Series]) -> Markup:
    """Draw one channel of every picture side by side on one axis."""
    frame = Frame.of((0.0, float(len(series))), (0.0, _TOP / 100), margins=(34.0, 4.0, 8.0, 20.0))
    parts = [frame.grid(y_ticks=_TICKS)]
    gap, rail = 6.0, 14.0
    good = series[0].sample_signal[:, channel]
    good = good[np.isfinite(good)]
    for place, one in enumerate(series):
        left, right = frame.x(place) + gap / 2, frame.x(place + 1) - gap / 2
        ink = scopes.column_density(one.signal[..., channel], _TOP / 100)
        parts.append(density_image(ink, left, frame.y.end, right - left - rail, frame.y.start - frame.y.end))
        parts.append(spread(frame, right - rail / 2, one.sample_signal[:, channel], one.name))
        parts.append(text((left + right) / 2, frame.y.start + 14, _NAMES[one.name], anchor="middle"))
    if good.size:
        middle = frame.y(float(np.median(good)))
        parts.append(
            element(
                "path", d=f"M{number(frame.x.start)} {number(middle)}H{number(frame.x.end)}", class_="hero-line"
            )
        )
    medians = (
        ", ".join(
            f"{_NAMES[s.name]} {100 * float(np.nanmedian(s.sample_signal[:, channel])):.0f} %" for s in series
        )
        if good.size
        else ""
    )
    return frame.svg(
        fragment(parts), label=f"Parade, {scopes.CHANNELS[channel]}; middle of the shared samples: {medians}"
    )


def balance_plot(series: list[Series]) -> Markup:
    """Draw each sample's difference of balance: zero is agreement with the hero."""
    frame = Frame.of((-1.2, 1.2), (-1.2, 1.2), size=(320.0, 320.0))
    drawn = []
    for one in series[1:]:
        off = difference_stops(series[0].sample_rgb, one.sample_rgb)
        drawn.append(marks(frame, off[:, 1], off[:, 2], one.name, size=2.0))
    ticks = [(v, signed(v, 1)) for v in (-1.0, -0.5, 0.0, 0.5, 1.0)]
    corners = [
        text(frame.x.end - 4, frame.y.start - 6, "warmer", anchor="end", kind="corner"),
        text(frame.x.start + 4, frame.y.end + 12, "cooler", kind="corner"),
        text(frame.x.end - 4, frame.y.end + 12, "magenta", anchor="end", kind="corner"),
        text(frame.x.start + 4, frame.y.start - 6, "green", kind="corner"),
    ]
    offs = [(s, difference_stops(series[0].sample_rgb, s.sample_rgb)) for s in series[1:]]
    said = "; ".join(
        f"{_NAMES[s.name]}, red {spread_text(off[:, 1])}, blue {spread_text(off[:, 2])} stop against green"
        for s, off in offs
    )
    return frame.svg(
        frame.grid(ticks, ticks, zero=(0.0,)),
        fragment(drawn),
        fragment(corners),
        label=f"Balance of shared samples against the hero: {said}",
        kind="square",
    )


def chroma_frame(reach: float) -> Frame:
    """Return the square panel of a vectorscope from -reach to reach."""
    return Frame.of((-reach, reach), (-reach, reach), size=(240.0, 240.0), margins=(6.0, 6.0, 6.0, 6.0))


def chroma_ground(frame: Frame) -> Markup:
    """Draw the cross, the places of 75 % bars and the skin hue guide."""
    x, y = frame.x, frame.y
    parts = [
        element(
            "path",
            d=f"M{number(x(0))} {number(y.end)}V{number(y.start)}"
            f"M{number(x.start)} {number(y(0))}H{number(x.end)}",
            class_="rule",
        ),
        element(
            "rect",
            x=number(x.start),
            y=number(y.end),
            width=number(x.end - x.start),
            height=number(y.start - y.end),
            class_="axis",
        ),
    ]
    for name, bar in scopes.BARS_75.items():
        cb, cr = (float(v) for v in scopes.chroma(np.array(bar)))
        if max(abs(cb), abs(cr)) < x.high:
            parts.append(
                element(
                    "path", d=f"M{number(x(cb) - 5)} {number(y(cr))}h10m-5 -5v10", class_="target", data_bar=name
                )
            )
            parts.append(
                text(
                    x(cb) + 7, y(cr) - 3, name, kind="target-name", anchor="start" if cb < x.high * 0.5 else "end"
                )
            )
    turn = np.radians(scopes.SKIN_GUIDE_DEGREES)
    end_x, end_y = x.high * 0.98 * np.cos(turn) / abs(np.sin(turn)), x.high * 0.98
    parts.append(
        element(
            "path",
            d=f"M{number(x(0))} {number(y(0))}L{number(x(float(end_x)))} {number(y(float(end_y)))}",
            class_="guide",
        )
    )
    return fragment(parts)


def vectorscope(series: Series) -> Markup:
    """Draw the chroma of one patch-averaged picture."""
    frame = chroma_frame(0.5)
    ink = scopes.plane_density(scopes.chroma(series.signal), 0.5)
    side = frame.x.end - frame.x.start
    image = density_image(ink, frame.x.start, frame.y.end, side, side)
    return frame.svg(chroma_ground(frame), image, label=f"Vectorscope, {_NAMES[series.name]}", kind="square")


def sample_vectorscope(series: list[Series], chosen: NDArray[np.bool_], what: str) -> Markup:
    """Draw the chroma of chosen samples of every picture, enlarged as far as they allow."""
    chromas = [scopes.chroma(s.sample_signal[chosen]) for s in series]
    largest = max((float(np.nanpercentile(np.abs(c), 99)) for c in chromas if c.size), default=0.5)
    reach = next(step for step in (0.125, 0.25, 0.375, 0.5) if largest * 1.1 <= step or step == 0.5)
    frame = chroma_frame(reach)
    drawn = [marks(frame, c[:, 0], c[:, 1], s.name, size=2.2) for c, s in zip(chromas, series, strict=True)]
    inside = text(frame.x.start + 6, frame.y.start - 6, f"edge: {reach:g}", kind="tick")
    return frame.svg(chroma_ground(frame), fragment(drawn), inside, label=f"Vectorscope of {what}", kind="square")


def people_table(result: AngleResult, series: list[Series]) -> Markup | None:
    """Compare each named surface with itself across the two views: level, hue angle and saturation."""
    names = sorted({str(name) for name in result.pairs.label if name})
    if not names:
        return None
    rows = []
    for name in names:
        chosen = result.pairs.label == name
        hero = np.nanmean(scopes.chroma(series[0].sample_signal[chosen]), axis=0)
        for one in series[1:]:
            here = np.nanmean(scopes.chroma(one.sample_signal[chosen]), axis=0)
            level = difference_stops(series[0].sample_rgb[chosen], one.sample_rgb[chosen])[:, 0]
            turn = scopes.turn_degrees(float(scopes.hue_degrees(hero)), float(scopes.hue_degrees(here)))
            more = float(np.linalg.norm(here)) / max(float(np.linalg.norm(hero)), 1e-9) - 1.0
            near_grey = np.linalg.norm(hero) < 0.01
            rows.append(
                element(
                    "tr",
                    element("th", f"{name}, {_NAMES[one.name]}", scope="row"),
                    element("td", f"{int(chosen.sum())}"),
                    element("td", signed(float(np.nanmedian(level)))),
                    element("td", "near grey" if near_grey else f"{signed(turn, 1)}°"),
                    element("td", "near grey" if near_grey else f"{signed(100 * more, 0)} %"),
                )
            )
    head = element(
        "tr",
        [element("th", h, scope="col") for h in ("Surface", "Samples", "Level, stop", "Hue angle", "Saturation")],
    )
    return element(
        "div",
        element(
            "table",
            element("caption", "Against the same surface on the hero"),
            element("thead", head),
            element("tbody", rows),
        ),
        class_="scroll",
        tabindex=0,
        role="region",
        aria_label="Surfaces compared",
    )


def _panel(drawing: Markup, title: str) -> Markup:
    return element("figure", element("figcaption", title), drawing, class_="panel")


def _question(words: str, answer: str, *panels: Markup | None) -> Markup:
    return element(
        "section",
        element("h4", words),
        element("p", answer, class_="answer"),
        element("div", panels, class_="panels"),
        class_="question",
    )


def scopes_section(result: AngleResult, series: list[Series], view_stops: float) -> Markup:
    """Lay out every scope of one angle under the three questions."""
    hero = series[0]
    has_samples = len(result.pairs) > 0
    offs = [(s, difference_stops(hero.sample_rgb, s.sample_rgb)) for s in series[1:]] if has_samples else []
    level = "; ".join(f"{_NAMES[s.name]} {spread_text(off[:, 0])} stop" for s, off in offs)
    balance = "; ".join(
        f"{_NAMES[s.name]} red {spread_text(off[:, 1])}, blue {spread_text(off[:, 2])} stop against green"
        for s, off in offs
    )
    skin = np.array([("skin" in str(n).lower() or "face" in str(n).lower()) for n in result.pairs.label], bool)
    if skin.any():
        who, chosen, what = (
            f"{int(skin.sum())} skin samples of this angle and the same places on the hero.",
            skin,
            "skin samples",
        )
    else:
        who = NO_SKIN
        chosen, what = np.ones(len(result.pairs), bool), "all shared samples"
    key = element(
        "p",
        [
            element("span", _series_key(n), _NAMES[n], class_="key")
            for n in ("hero", *(s.name for s in series[1:]))
        ],
        class_="keys",
    )
    return element(
        "section",
        element("h3", "Scopes"),
        element(
            "p",
            f"Measurement view: Rec.709, BT.1886, {signed(view_stops)} stop. {SCOPES}",
            class_="fine",
        ),
        key,
        _question(
            "Is the exposure level?",
            f"Shared samples against the hero: {level}." if level else "There are no shared samples to compare.",
            *[_panel(waveform(s, hero), f"Luma by column, {_NAMES[s.name]} (%)") for s in series],
            _panel(
                level_plot(result, series),
                "Level against the hero (stop) over the hero's level (stop from mid-grey)",
            )
            if has_samples
            else None,
        ),
        _question(
            "Is it balanced?",
            f"Shared samples against the hero: {balance}."
            if balance
            else "There are no shared samples to compare.",
            *[_panel(parade(c, series), f"{scopes.CHANNELS[c].capitalize()} by column (%)") for c in range(3)],
            _panel(
                balance_plot(series), "Red against green (across) and blue against green (up), stop from the hero"
            )
            if has_samples
            else None,
        ),
        _question(
            "Does this person's skin agree with itself?",
            f"{who} {SKIN_GUIDE}",
            _panel(sample_vectorscope(series, chosen, what), f"Chroma of {what}") if has_samples else None,
            *[_panel(vectorscope(s), f"Chroma of the whole picture, {_NAMES[s.name]}") for s in series],
            people_table(result, series),
        ),
        class_="scopes",
    )


def _series_key(name: str) -> Markup:
    frame = Frame.of((0.0, 1.0), (0.0, 1.0), size=(18.0, 18.0), margins=(0.0, 0.0, 0.0, 0.0))
    half = np.array([0.5])
    return element(
        "svg", marks(frame, half, half, name, size=4.5), viewBox="0 0 18 18", class_="swatch", aria_hidden="true"
    )
