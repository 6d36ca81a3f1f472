"""The top of the report: what to use, what to check, and by how much each angle was moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from huemend.base.text import counted
from huemend.model import AngleResult, Interval, SetupResult, Verdict
from huemend.model.reasons import Code, by_gravity
from huemend.write.luts.kinds import LutFile
from huemend.write.report.figures import interval_text, signed, stops_of
from huemend.write.report.left_over import of_skin
from huemend.write.report.markup import Child, Markup, element, fold, scrolling, svg
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


def match_lut(luts: Sequence[LutFile]) -> LutFile | None:
    """Return the LUT among an angle's that carries its match best, or None.

    That is the cube, which every program reads, but where its straight lines between nodes miss the match by more
    than passes unseen: there it is the exact CLF, if one was written.
    """
    kinds = {lut.kind: lut for lut in luts}
    cube = kinds.get("match")
    return kinds.get("clf", cube) if cube is not None and cube.is_coarse else cube


def reasons_list(found: AngleResult) -> Markup | None:
    """Return what limits a match, the gravest reason first; all but a few are folded, None where there is none."""
    # What speaks for a match stands in the table of verdicts.
    ordered = by_gravity([reason for reason in found.reasons if reason.code != Code.PROVEN])
    if not ordered:
        return None
    gravest = element("ul", [element("li", sentence(reason.text)) for reason in ordered[:SAID]], class_="reasons")
    rest = ordered[SAID:]
    if not rest:
        return gravest
    items = [element("li", sentence(reason.text), " ", sentence(reason.todo)) for reason in rest]
    return element("div", gravest, fold(counted(len(rest), "more reason"), element("ul", items, class_="reasons")))


def verdict_mark(verdict: Verdict) -> Markup:
    """Draw a verdict as a shape that needs no colour: a full, a half and an empty square."""
    square = "M3 3h14v14h-14z"
    filled = {Verdict.MATCHED: square, Verdict.REVIEW: "M3 17v-14l14 14z"}.get(verdict)
    fill = element("path", d=filled, class_="fill") if filled else None
    return svg(element("path", d=square, class_="edge"), fill, box="0 0 20 20", kind="verdict-mark")


def _fact(name: str, *said: Child) -> Markup:
    return element("div", element("dt", name), element("dd", *said))


def _stops(solved: float, interval: Interval | None, nudged: float) -> list[Child]:
    """Write the stops that the LUTs add: solved, with their 90 % interval, or with a nudge on top."""
    said: list[Child] = [signed(solved + nudged)]
    if interval is not None and not nudged:
        said.append(element("small", f" ({interval_text(interval)})", class_="interval"))
    if nudged:
        said.append(element("small", f"solved {signed(solved)}, nudged {signed(nudged)}", class_="beneath"))
    return said


def _skin(found: AngleResult) -> Markup | None:
    """Tell the person who is left furthest off, as shot and matched, as the strips tell them."""
    if found.match is None or not found.people:
        return None
    checks = [(person.name, *of_skin(found, person)) for person in found.people]
    name, before, after = max(checks, key=lambda check: check[2].error)
    words = f"{name}: {before.error:.1f} → {after.error:.1f}, at {signed(after.stops)} stop"
    return element("small", words, class_="beneath")


def _verdict_row(found: AngleResult, link: str | None) -> Markup:
    name = element("a", found.angle.name, href=f"#{link}") if link else element("span", found.angle.name)
    match, held = found.match, found.held_out
    cells: list[list[Child]] = [[verdict_mark(found.verdict), VERDICTS[found.verdict]]]
    if held is None:
        cells.append(["not measured"])
    elif match is None:
        cells.append([f"{held.before.mean:.1f}", element("small", " as shot")])
    else:
        words = element("small", f" {visible_words(found)}", class_="in-words")
        moved = element("span", f"{held.before.mean:.1f} → {held.after.mean:.1f}", class_="together")
        cells.append([moved, words, _skin(found)])
    if match is None:
        cells += [["none"], ["none"], ["none"]]
    else:
        nudge = found.angle.nudge
        by = (nudge.exposure, nudge.red, nudge.blue)
        cells += [_stops(*each[1:], nudged) for each, nudged in zip(stops_of(found), by, strict=True)]
    row = [element("td", cell) for cell in cells]
    return element("tr", element("th", name, scope="row"), row, class_=str(found.verdict))


def _verdicts(result: SetupResult, links: Mapping[str, str]) -> Markup:
    head = ["angle", "verdict", "colour difference", "adds exposure, stop", "adds red, stop", "adds blue, stop"]
    table = element(
        "table",
        element("caption", "Verdicts", class_="unseen"),
        element("thead", element("tr", [element("th", cell, scope="col") for cell in head])),
        element("tbody", [_verdict_row(found, links.get(found.angle.name)) for found in result]),
        class_="verdicts",
    )
    return scrolling("scroll", "Verdicts", table)


def _again(places: Sequence[tuple[str, str]]) -> Markup | None:
    """List what to look at first, one click away: (id on the page, words) each."""
    if not places:
        return None
    items = [element("li", element("a", words, href=f"#{at}")) for at, words in places]
    return element(
        "div", element("h2", _LOOK_FIRST), element("ol" if len(items) > 1 else "ul", items), class_="again"
    )


def limits() -> Markup:
    """Return the safety lines: what a match is, how long it holds, and what it leaves alone."""
    return element("dl", [_fact(head, text) for head, text in LIMITS], class_="limits")


def summary(result: SetupResult, links: Mapping[str, str], places: Sequence[tuple[str, str]] = ()) -> Markup:
    """Return the top of the page: every verdict in one table, and the places, (id, words), to look at first."""
    return element(
        "section",
        element("p", overall(result), class_="overall"),
        _verdicts(result, links) if result.angles else None,
        _again(places),
        id="verdicts",
    )
