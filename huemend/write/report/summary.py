"""The top of the report: what to use, what to check, and by how much each angle was moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from huemend.model import AngleResult, Interval, SetupResult, Verdict
from huemend.write.luts.kinds import LutFile
from huemend.write.report.markup import Markup, element, fragment, number
from huemend.write.report.plots import Axis
from huemend.write.report.words import (
    LIMITS,
    TOP_NOTE,
    VERDICTS,
    difference_words,
    interval_text,
    match_words,
    next_step,
    overall,
    sentence,
    signed,
)

__all__ = ["angle_row", "limits", "match_lut", "reach_of", "reasons_list", "stop_rule", "summary", "verdict_mark"]


def match_lut(luts: Sequence[LutFile]) -> str:
    """Return the file of the match LUT among an angle's, or an empty string."""
    return next((lut.path for lut in luts if lut.kind == "match"), "")


def reasons_list(result: AngleResult) -> Markup | None:
    """Return why a verdict is what it is."""
    if not result.reasons:
        return None
    return element("ul", [element("li", sentence(reason.text)) for reason in result.reasons], class_="reasons")


def verdict_mark(verdict: Verdict) -> Markup:
    """Draw a verdict as a shape that needs no colour: a full, a half and an empty square."""
    filled = {Verdict.MATCHED: "M3 3h14v14h-14z", Verdict.REVIEW: "M3 17v-14l14 14z", Verdict.UNSOLVED: ""}[
        verdict
    ]
    return element(
        "svg",
        element("path", d="M3 3h14v14h-14z", class_="edge"),
        element("path", d=filled, class_="fill") if filled else None,
        viewBox="0 0 20 20",
        class_="verdict-mark",
        aria_hidden="true",
    )


def reach_of(result: SetupResult) -> float:
    """Return how far the stop rules must reach: one length for all angles, so that they compare."""
    values = [1.0]
    for angle in result:
        if angle.match is not None:
            values += [abs(angle.match.exposure_stops), *(abs(v) for v in angle.match.balance)]
        if angle.match is not None and angle.uncertainty is not None:
            held = angle.uncertainty
            for interval in (held.exposure_stops, held.red_green_stops, held.blue_green_stops):
                values += [abs(interval.low), abs(interval.high)]
    largest = max(values)
    return next((step for step in (1.0, 1.5, 2.0, 3.0, 4.0) if largest <= step), 6.0)


def stop_rule(value: float, interval: Interval | None, reach: float) -> Markup:
    """Draw a value in stops on a rule with its 90 % interval as a band."""
    axis = Axis(-reach, reach, 8.0, 192.0)
    step = 0.25 if reach <= 1 else 0.5 if reach <= 2 else 1.0
    parts = [element("path", d="M8 16H192", class_="axis")]
    for n in range(-int(reach / step), int(reach / step) + 1):
        at, whole = axis(n * step), (n * step).is_integer()
        parts.append(
            element(
                "path",
                d=f"M{number(at)} {10 if n == 0 else 12 if whole else 14}V16",
                class_="tick-mark" + (" zero" if n == 0 else ""),
            )
        )
    if interval is not None:
        low, high = axis(interval.low), axis(interval.high)
        parts.append(
            element("rect", x=number(low), y=17, width=number(max(high - low, 1.5)), height=5, class_="band-90")
        )
    at = axis(value)
    parts.append(element("path", d=f"M{number(at)} 15l-5 -9h10z", class_="pointer"))
    return element("svg", parts, viewBox="0 0 200 24", class_="stop-rule", aria_hidden="true")


def _amount(name: str, value: float, interval: Interval | None, reach: float) -> Markup:
    within = element("small", f" ({interval_text(interval)})") if interval is not None else None
    return element(
        "div",
        element("dt", name),
        element("dd", f"{signed(value)} stop", within, stop_rule(value, interval, reach)),
    )


def _difference(result: AngleResult) -> Markup:
    held = result.held_out
    if held is None:
        return element(
            "div", element("dt", "Colour difference"), element("dd", "not measured: no samples to hold out")
        )
    if result.match is None:
        return element(
            "div",
            element("dt", "Colour difference"),
            element(
                "dd",
                f"{held.before.mean:.1f} as shot",
                element("small", f" (worst twentieth over {held.before.p95:.1f})"),
            ),
        )
    reach = max(held.before.mean, held.after.mean, 4.0)
    bars = element(
        "svg",
        element("rect", x=0, y=2, width=number(200 * held.before.mean / reach), height=8, class_="bar-before"),
        element("rect", x=0, y=13, width=number(200 * held.after.mean / reach), height=8, class_="bar-after"),
        viewBox="0 0 200 24",
        class_="bars",
        aria_hidden="true",
    )
    return element(
        "div",
        element("dt", "Colour difference"),
        element(
            "dd",
            f"{held.before.mean:.1f} → {held.after.mean:.1f}",
            element("small", f" {difference_words(held.after)}; worst twentieth over {held.after.p95:.1f}"),
            bars,
        ),
    )


def angle_row(result: AngleResult, lut: str, reach: float, link: str | None) -> Markup:
    """Return one angle of the top list."""
    name = element("a", result.angle.name, href=f"#{link}") if link else Markup(element("span", result.angle.name))
    head = element(
        "div",
        element("h3", name),
        element("p", verdict_mark(result.verdict), VERDICTS[result.verdict], class_="verdict"),
        class_="who",
    )
    what = element(
        "div",
        element("p", match_words(result)),
        reasons_list(result),
        element("p", element("strong", "Next: "), next_step(result, lut), class_="next"),
        class_="what",
    )
    amounts: list[Markup] = []
    if result.match is not None:
        held = result.uncertainty
        red_green, blue_green = result.match.balance
        amounts = [
            _amount("Exposure", result.match.exposure_stops, held.exposure_stops if held else None, reach),
            _amount("Red against green", red_green, held.red_green_stops if held else None, reach),
            _amount("Blue against green", blue_green, held.blue_green_stops if held else None, reach),
        ]
    return element(
        "li", head, what, element("dl", amounts, _difference(result)), class_=f"angle-row {result.verdict}"
    )


def limits() -> Markup:
    """Return the safety lines: what a match is, how long it holds, and what it leaves alone."""
    return element(
        "dl", [element("div", element("dt", head), element("dd", text)) for head, text in LIMITS], class_="limits"
    )


def summary(result: SetupResult, luts: Mapping[str, Sequence[LutFile]], links: Mapping[str, str]) -> Markup:
    """Return the whole top section."""
    reach = reach_of(result)
    rows = [
        angle_row(angle, match_lut(luts.get(angle.angle.name, ())), reach, links.get(angle.angle.name))
        for angle in result
    ]
    return element(
        "section",
        element("h2", "What to use, what to check"),
        element("p", overall(result), class_="overall"),
        element("ol", rows, class_="angle-rows") if rows else None,
        element(
            "p",
            TOP_NOTE,
            class_="fine",
        ),
        fragment(limits()),
        id="verdicts",
    )
