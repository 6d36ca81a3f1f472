"""The top of the report: what to use, what to check, and by how much each angle was moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from huemend.model import AngleResult, Interval, SetupResult, Verdict
from huemend.model.reasons import Code
from huemend.write.luts.kinds import LutFile
from huemend.write.report.figures import interval_text, signed, stops_of
from huemend.write.report.markup import Child, Markup, element, fold, number
from huemend.write.report.plots import Axis, reaching
from huemend.write.report.reason_order import by_gravity
from huemend.write.report.words import SAID, VERDICTS, overall, sentence, visible_words

#: What a reader must know of the limits of a match, in the order in which it is said.
LIMITS = (
    (
        "Look before it goes out.",
        "Put the matched angles next to the hero on a calibrated display. A measured match is a claim, your eye "
        "is the proof.",
    ),
    (
        "Relative to the hero.",
        "The match makes an angle agree with the hero. It does not make the hero right: grade the hero first or "
        "last, as you like, and every matched angle follows.",
    ),
    ("Originals untouched.", "The camera files were only read. Without the LUT an angle looks as it was shot."),
    (
        "How long it holds.",
        "For these files and their timecodes. Match again after a change of light, iris, filter, white balance, "
        "lens or base sensitivity.",
    ),
    ("What it leaves alone.", "Noise, sharpness, shutter, vignetting and distortion stay as they were shot."),
)

_LOOK_FIRST = "Look here first"
_DIFFERENCE = "Colour difference"


def match_lut(luts: Sequence[LutFile]) -> LutFile | None:
    """Return the LUT among an angle's that carries its match best, or None.

    That is the cube, which every program reads, but where its straight lines between nodes miss the match by more
    than passes unseen: there it is the exact CLF, if one was written.
    """
    kinds = {lut.kind: lut for lut in luts}
    cube = kinds.get("match")
    return kinds.get("clf", cube) if cube is not None and cube.is_coarse else cube


def reasons_list(result: AngleResult) -> Markup | None:
    """Return what limits a match, the gravest reason first; all but a few are folded, None where there is none."""
    # What speaks for a match stands in the table of verdicts.
    ordered = by_gravity([reason for reason in result.reasons if reason.code != Code.PROVEN])
    if not ordered:
        return None
    gravest = element("ul", [element("li", sentence(reason.text)) for reason in ordered[:SAID]], class_="reasons")
    rest = ordered[SAID:]
    if not rest:
        return gravest
    head = f"{len(rest)} more {'reason' if len(rest) == 1 else 'reasons'}"
    items = [element("li", sentence(reason.text), " ", sentence(reason.todo)) for reason in rest]
    return element("div", gravest, fold(head, element("ul", items, class_="reasons")))


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
        for _, stops, interval in stops_of(angle):
            values += [abs(stops), *(() if interval is None else (abs(interval.low), abs(interval.high)))]
    return reaching(max(values), (1.0, 1.5, 2.0, 3.0, 4.0, 6.0))


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
    return _fact(name, f"{signed(value)} stop", within, stop_rule(value, interval, reach))


def _fact(name: str, *said: Child) -> Markup:
    return element("div", element("dt", name), element("dd", *said))


def _difference(result: AngleResult) -> Markup:
    held = result.held_out
    if held is None:
        return _fact(_DIFFERENCE, "not measured: no samples to hold out")
    if result.match is None:
        worst = element("small", f" (5 % are over {held.before.p95:.1f})")
        return _fact(_DIFFERENCE, f"{held.before.mean:.1f} as shot", worst)
    reach = max(held.before.mean, held.after.mean, 4.0)
    bars = element(
        "svg",
        element("rect", x=0, y=2, width=number(200 * held.before.mean / reach), height=8, class_="bar-before"),
        element("rect", x=0, y=13, width=number(200 * held.after.mean / reach), height=8, class_="bar-after"),
        viewBox="0 0 200 24",
        class_="bars",
        aria_hidden="true",
    )
    words = element("small", f" {visible_words(result)}; 5 % are over {held.after.p95:.1f}")
    return _fact(_DIFFERENCE, f"{held.before.mean:.1f} → {held.after.mean:.1f}", words, bars)


def amounts(result: AngleResult, reach: float) -> Markup | None:
    """Draw by how much an angle was moved, with its intervals; ``reach`` is `reach_of` the setup."""
    if result.match is None:
        return None
    moved = [_amount(name.capitalize(), stops, within, reach) for name, stops, within in stops_of(result)]
    return element("dl", moved, _difference(result), class_="amounts")


def _stops(value: float, interval: Interval | None, nudged: float) -> list[Child]:
    """Write stops with their 90 % interval, as the terminal does, and what somebody nudged on top of them."""
    said: list[Child] = [signed(value)]
    if interval is not None:
        said.append(element("small", f" ({interval_text(interval)})", class_="interval"))
    if nudged:
        said.append(element("small", f" nudged {signed(nudged)}"))
    return said


def _verdict_row(result: AngleResult, link: str | None) -> Markup:
    name = element("a", result.angle.name, href=f"#{link}") if link else element("span", result.angle.name)
    match, held = result.match, result.held_out
    cells: list[list[Child]] = [[verdict_mark(result.verdict), VERDICTS[result.verdict]]]
    if held is None:
        cells.append(["not measured"])
    elif match is None:
        cells.append([f"{held.before.mean:.1f}", element("small", " as shot")])
    else:
        words = element("small", f" {visible_words(result)}", class_="in-words")
        moved = element("span", f"{held.before.mean:.1f} → {held.after.mean:.1f}", class_="together")
        cells.append([moved, words])
    if match is None:
        cells += [["none"], ["none"], ["none"]]
    else:
        nudge = result.angle.nudge
        by = (nudge.exposure, nudge.red, nudge.blue)
        cells += [_stops(*each[1:], nudged) for each, nudged in zip(stops_of(result), by, strict=True)]
    row = [element("td", cell) for cell in cells]
    return element("tr", element("th", name, scope="row"), row, class_=str(result.verdict))


def _verdicts(result: SetupResult, links: Mapping[str, str]) -> Markup:
    head = ["angle", "verdict", "colour difference", "adds exposure, stop", "adds red, stop", "adds blue, stop"]
    return element(
        "div",
        element(
            "table",
            element("caption", "Verdicts", class_="unseen"),
            element("thead", element("tr", [element("th", cell, scope="col") for cell in head])),
            element("tbody", [_verdict_row(angle, links.get(angle.angle.name)) for angle in result]),
            class_="verdicts",
        ),
        class_="scroll",
        tabindex=0,
        role="group",
        aria_label="Verdicts",
    )


def _again(places: Sequence[tuple[str, str]]) -> Markup | None:
    """List what to look at first, one click away: (id on the page, words) each."""
    if not places:
        return None
    items = [element("li", element("a", words, href=f"#{at}")) for at, words in places]
    return element("div", element("h2", _LOOK_FIRST), element("ol", items), class_="again")


def limits() -> Markup:
    """Return the safety lines: what a match is, how long it holds, and what it leaves alone."""
    return element("dl", [_fact(head, text) for head, text in LIMITS], class_="limits")


def summary(result: SetupResult, links: Mapping[str, str], places: Sequence[tuple[str, str]] = ()) -> Markup:
    """Return the top of the page: every verdict in one table, and the worst places to look at again.

    Parameters
    ----------
    links : mapping of angle name to id
    places : sequence of (id, words)
        The worst places over all angles, worst first.
    """
    return element(
        "section",
        element("p", overall(result), class_="overall"),
        _verdicts(result, links) if result.angles else None,
        _again(places),
        id="verdicts",
    )
