"""The scopes of one angle, laid out by the question that they answer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from huemend.model import AngleResult, LinearStill
from huemend.write.luts.shoulder import NeutralShoulder
from huemend.write.report import scopes, traces
from huemend.write.report.figures import signed
from huemend.write.report.markup import Markup, element, svg
from huemend.write.report.pictures import matched_light
from huemend.write.report.plots import Frame, marks, panel
from huemend.write.report.samples import kept_samples, spread_text
from huemend.write.report.traces import NAMES, Series

_SCOPES = (
    "Pictures are averaged over patches, so noise does not widen a trace. Rails and lines are the shared samples: "
    "bar, the middle half; notch, the middle; long line, the middle of the hero's. Frames show different parts of "
    "the set, so compare the rails, not the outlines."
)

#: By so much surfaces that are lit alike differ between two views, as a natural logarithm (our judgement).
_USUAL_SHADING = 0.05

_NO_SKIN = (
    "No sample is known to be skin, so all shared samples are shown. Name a skin area in the setup file, as a "
    "pair, to compare a person with themselves."
)

_NOTHING_SHARED = "There are no shared samples to compare: the scopes show the whole pictures."

_SKIN_GUIDE = (
    "The dashed wedge is where skin tends to lie: a guide, never a target. What counts is that the marks lie "
    "together."
)


def series_of(
    found: AngleResult,
    hero: LinearStill,
    angle: LinearStill,
    view_stops: float,
    shoulder: NeutralShoulder | None = None,
) -> list[Series]:
    """Return hero, angle as shot and, where there is a match, angle matched, as its LUTs would make it."""
    pairs, match, kept = found.pairs, found.delivered, kept_samples(found)
    patches, shot = scopes.patch_average(angle.rgb), pairs.angle_rgb[kept]
    there = pairs.reference_rgb[kept]
    out = [
        Series.of("hero", scopes.patch_average(hero.rgb), there, view_stops),
        Series.of("before", patches, shot, view_stops),
    ]
    if match is not None:
        after, samples = (matched_light(match, light, shoulder) for light in (patches, shot))
        out.append(Series.of("after", after, samples, view_stops))
    return out


def _question(words: str, answer: str, *panels: Markup | None) -> Markup:
    grid = element("div", panels, class_="panels")
    said = element("p", answer, class_="answer") if answer else None
    return element("section", element("h4", words), said, grid, class_="question")


def _exposure(found: AngleResult, series: Sequence[Series], has_samples: bool) -> Markup:
    hero = series[0]
    # A sample tells of exposure as surely as its two views are known to be lit alike.
    sure = found.pairs.weight / (np.square(found.pairs.light_spread) + _USUAL_SHADING**2)
    panels = [panel(f"Waveform, {NAMES[s.name]} (luma, %)", traces.waveform(s, hero)) for s in series]
    answer = _NOTHING_SHARED
    if has_samples:
        levels = traces.levels_text(series, sure[kept_samples(found)])
        answer = f"Shared samples against the hero, by how surely they are lit alike: {levels}."
        title = "Level against the hero (stop) over the hero's level (stop from mid-grey)"
        panels.append(panel(title, traces.level_plot(series, levels)))
    return _question("Is the exposure level?", answer, *panels)


def _balance(series: Sequence[Series], has_samples: bool) -> Markup:
    panels = [panel(f"Parade, {name} (%)", traces.parade(n, series)) for n, name in enumerate(scopes.CHANNELS)]
    answer = ""
    if has_samples:
        offs = [(NAMES[s.name], s.off(series[0])) for s in series[1:]]
        said = [f"{name} red {spread_text(off[:, 1])}, blue {spread_text(off[:, 2])} stop" for name, off in offs]
        answer = f"Shared samples against the hero, red and blue against green: {'; '.join(said)}."
        title = "Red against green (across) and blue against green (up), stop from the hero"
        panels.append(panel(title, traces.balance_plot(series)))
    return _question("Is it balanced?", answer, *panels)


def _skin(found: AngleResult, series: Sequence[Series], has_samples: bool) -> Markup:
    chosen, what, who = found.pairs.skin[kept_samples(found)], "skin samples", ""
    if chosen.any():
        who = f"{int(chosen.sum())} skin samples of this angle and the same places on the hero."
    else:
        chosen, what, who = np.ones(len(chosen), bool), "all shared samples", _NO_SKIN if has_samples else ""
    # One gain for the whole pictures, so that they compare, and one for what is chosen of them.
    reach = traces.chroma_reach([scopes.chroma(s.signal) for s in series])
    gain = traces.gain_words(reach)
    panels = [panel(f"Vectorscope, {NAMES[s.name]}{gain}", traces.vectorscope(s, reach)) for s in series]
    if has_samples:
        reach = traces.chroma_reach([scopes.chroma(s.sample_signal[chosen]) for s in series])
        title = f"Vectorscope, {what}{traces.gain_words(reach)}"
        panels.insert(0, panel(title, traces.sample_vectorscope(series, chosen, what, reach)))
    question = "Does this person's skin agree with itself?" if has_samples else "Which hues are there?"
    return _question(question, f"{who} {_SKIN_GUIDE}".strip(), *panels)


def scopes_section(found: AngleResult, series: Sequence[Series], view_stops: float) -> Markup:
    """Lay out every scope of one angle under the three questions."""
    has_samples = len(found.pairs) > 0
    aside = int(len(found.pairs) - kept_samples(found).sum())
    left_out = f" {aside} of {len(found.pairs)} samples were set aside and are left out." if aside else ""
    note = f"Measurement view: Rec.709, BT.1886, {signed(view_stops)} stop. {_SCOPES}{left_out}"
    return element(
        "section",
        element("p", note, class_="fine"),
        element("p", [element("span", _key(s.name), NAMES[s.name], class_="key") for s in series], class_="keys"),
        _exposure(found, series, has_samples),
        _balance(series, has_samples),
        _skin(found, series, has_samples),
        class_="scopes",
    )


def _key(name: str) -> Markup:
    frame = Frame.of((0.0, 1.0), (0.0, 1.0), size=(18.0, 18.0), margins=(0.0, 0.0, 0.0, 0.0))
    half = np.array([0.5])
    return svg(marks(frame, half, half, name, size=4.5), box="0 0 18 18", kind="swatch")
