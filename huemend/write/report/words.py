"""Every sentence that the report says by itself, in a colorist's words.

A verdict always comes with what to do next. Numbers are written the same way everywhere: stops with a sign
and two decimals, colour differences with one.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.model import AngleResult, ErrorSummary, Interval, Match, Rung, SetupResult, Verdict
from huemend.write.report.gravity import by_gravity

__all__ = [
    "FRESH_EYES",
    "HOLDS_FOR",
    "LEFT_ALONE",
    "LIMITS",
    "MARKS_HEAD",
    "MARKS_NOTE",
    "NOTHING_SHARED",
    "NO_SKIN",
    "PICKER",
    "SAFETY",
    "SAID",
    "SAME_THING",
    "SCOPES",
    "SET_ASIDE",
    "SKIN_GUIDE",
    "TOP_NOTE",
    "VERDICTS",
    "WORST",
    "balance_words",
    "difference_words",
    "exposure_words",
    "interval_text",
    "match_shown",
    "match_words",
    "next_step",
    "nudge_words",
    "off_words",
    "overall",
    "range_text",
    "rung_text",
    "sentence",
    "signed",
    "source_text",
    "stop_text",
    "views_text",
    "without_echo",
]

#: So many reasons are said at once, the gravest; what to do is said for these.
SAID = 3

#: What each verdict is called on the page.
VERDICTS = {
    Verdict.MATCHED: "Matched",
    Verdict.REVIEW: "Review",
    Verdict.UNSOLVED: "Unsolved",
}

SAFETY = (
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
)

HOLDS_FOR = (
    "How long it holds.",
    "For these files and their timecodes. Match again after a change of light, iris, filter, white balance, lens "
    "or base sensitivity.",
)

LEFT_ALONE = (
    "What it leaves alone.",
    "Noise, sharpness, shutter, vignetting and distortion stay as they were shot.",
)

PICKER = (
    "Drag over a surface on the hero and over the same surface on the angle: skin, an apron, a shelf, under the "
    "same light. Or mark what must never count (a screen, a coloured lamp, a window) or what is grey. Click on "
    "something small and come closer. Keep what is marked to mark more; paste the lines into the setup file and "
    "match again."
)

SCOPES = (
    "Pictures are averaged over patches, so noise does not widen a trace. Rails and lines are the shared samples: "
    "bar, the middle half; notch, the middle; long line, the middle of the hero's. Frames show different parts of "
    "the set, so compare the rails, not the outlines."
)

NO_SKIN = (
    "No sample is known to be skin, so all shared samples are shown. Name a skin area in the setup file, as a "
    "pair, to compare a person with themselves."
)

SKIN_GUIDE = (
    "The dashed wedge is where skin tends to lie: a guide, never a target. What counts is that the marks lie "
    "together."
)

WORST = (
    "Colour difference of single samples, each held out of the match that it is judged by. One sample carries "
    "noise, gloss and shading that a surface averages out, so these lie above the mean."
)

SET_ASIDE = (
    "These pairs do not show the same surface, whatever the match; neither the match nor its proof counts them. "
    "If one of them does show the same surface, the match is wrong there: look at the cut."
)

MARKS_HEAD = "Marks that contradict the rest"

MARKS_NOTE = "What each mark is on, as shot; it was left out of the match, which is to be looked at."

LIMITS_HEAD = "What no match can mend"

LIMITS_NOTE = "Where each shows most on this angle; the ring marks the middle of it."

FRESH_EYES = "To look at with fresh eyes"

NOTHING_SHARED = "No place was found that both views show beyond doubt: here are the whole pictures."

SAME_THING = (
    "Strips show the same surface in both views at one scale, the angle laid over the hero by the samples there: "
    "faces first, then clothes, then the ground behind, then other places, and last what differs most. Numbers "
    "are against the hero: the colour difference, the level in stops, hue and saturation in CIELAB, of greys red "
    "and blue against green. They are measured on the samples in the strip, set aside or not, on the half that "
    "agrees best; for skin on skin alone. Views differ in gloss and shading: a tenth of a stop means little."
)

TOP_NOTE = (
    "Bands, and ranges in brackets, are 90 % intervals; red and blue are against green, in stops. Colour "
    "difference is CIEDE2000 on surfaces that the match did not use, in the measurement view: as shot → matched; "
    "1 is about just noticeable side by side."
)

#: Everything that a reader must know of the limits, in the order in which it is said.
LIMITS = (*SAFETY, HOLDS_FOR, LEFT_ALONE)

_RUNGS = {
    Rung.NONE: "nothing",
    Rung.EXPOSURE: "exposure",
    Rung.BALANCE: "exposure and balance",
    Rung.MATRIX: "exposure and a 3x3 channel mix",
    Rung.ROOTS: "exposure, a 3x3 channel mix and, beyond it, hues",
    Rung.FLARE: "exposure, a 3x3 channel mix and a flare offset",
    Rung.CONTRAST: "exposure, a 3x3 channel mix and contrast about mid-grey",
}

_SOURCES = {
    "areas": "areas marked by hand",
    "chart": "a colour chart in frame",
    "faces": "faces seen by both",
    "features": "surface details that both views show",
    "neutral": "greys marked by hand",
    "none": "nothing",
}

# Below these a change is not worth a word: a tenth of the smallest step that is offered on a camera's iris
# ring (common practice, no source).
_SAME_EXPOSURE, _SAME_BALANCE = 0.03, 0.02


def sentence(text: str) -> str:
    """Return a text with a capital and a full stop: reasons come as the stage that found them wrote them.

    >>> sentence("look at the cut"), sentence("Done."), sentence("")
    ('Look at the cut.', 'Done.', '')
    """
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def signed(value: float, digits: int = 2) -> str:
    """Write a signed number with a true minus, and no sign on a zero.

    >>> signed(0.434), signed(-1.2), signed(-0.001)
    ('+0.43', '−1.20', '0.00')
    """
    if not math.isfinite(value):
        return "unknown"
    if round(value, digits) == 0:
        return f"{0:.{digits}f}"
    return f"{'+' if value > 0 else '−'}{abs(value):.{digits}f}"


def stop_text(value: float) -> str:
    """Write stops with their unit.

    >>> stop_text(-0.5)
    '−0.50 stop'
    """
    return f"{signed(value)} stop"


def interval_text(interval: Interval | None) -> str:
    """Write a 90 % interval, or an empty string where there is none.

    >>> interval_text(Interval(low=-0.05, high=0.1))
    '−0.05 to +0.10'
    """
    return "" if interval is None else f"{signed(interval.low)} to {signed(interval.high)}"


def exposure_words(stops: float) -> str:
    """Say what an exposure change does to the picture.

    >>> exposure_words(0.4), exposure_words(0.01)
    ('brighter', 'as bright as it was')
    """
    if abs(stops) < _SAME_EXPOSURE:
        return "as bright as it was"
    return "brighter" if stops > 0 else "darker"


def balance_words(red_green: float, blue_green: float) -> str:
    """Say what a change of balance does to a grey, from red and blue against green in stops.

    >>> balance_words(0.2, -0.3), balance_words(-0.2, -0.2), balance_words(0.0, 0.01)
    ('warmer', 'greener', 'as balanced as it was')
    """
    if max(abs(red_green), abs(blue_green)) < _SAME_BALANCE:
        return "as balanced as it was"
    warm, magenta = (red_green - blue_green) / 2, (red_green + blue_green) / 2
    if abs(warm) >= abs(magenta):
        main, other = ("warmer" if warm > 0 else "cooler"), ("more magenta" if magenta > 0 else "greener")
        share = abs(magenta) / abs(warm)
    else:
        main, other = ("more magenta" if magenta > 0 else "greener"), ("warmer" if warm > 0 else "cooler")
        share = abs(warm) / abs(magenta)
    return f"{main} and a little {other}" if share > 0.5 else main


def off_words(off: NDArray[np.floating[Any]]) -> str:
    """Say how a sample still differs from the hero: level, red-green and blue-green, in stops.

    >>> off_words(np.array([-0.4, 0.2, -0.2]))
    'Shows 0.40 stop darker than the hero, and warmer.'
    """
    if not np.isfinite(off).all():
        return "Too dark to say in stops."
    level, red_green, blue_green = (float(v) for v in off)
    said = "as bright as" if abs(level) < _SAME_EXPOSURE else f"{abs(level):.2f} stop {exposure_words(level)} than"
    return f"Shows {said} the hero, and {balance_words(red_green, blue_green).replace('it was', 'there')}."


def difference_words(error: ErrorSummary) -> str:
    """Say how visible a mean CIEDE2000 is.

    One is about just noticeable over whole pictures side by side; on faces 1.5 is perceptible and 1.8 still
    accepted (figures of the literature on colour differences in pictures). The words past 2 are common
    practice, no source.
    """
    if error.mean < 1.0:
        return "hard to see side by side"
    if error.mean < 2.0:
        return "visible on a close look"
    if error.mean < 4.0:
        return "visible at a cut"
    return "plain to see"


def match_shown(result: AngleResult) -> Match | None:
    """Return the match that the pictures show: the angle's own with its nudge, else none at all.

    A candidate of an unsolved angle is never shown as if it were a match.
    """
    return result.delivered


def match_words(result: AngleResult) -> str:
    """Say in one line what the match does."""
    match = result.match
    if match is None:
        return "No match was made: this angle stays as it was shot."
    if match.is_identity:
        if result.verdict is Verdict.MATCHED:
            return "Nothing to change: this angle already agrees with the hero."
        left = "" if result.held_out is None else f", {result.held_out.before.mean:.1f} CIEDE2000 from the hero"
        return f"No change was proven to help: this angle stays as it was shot{left}."
    red_green, blue_green = match.balance
    return (
        f"Makes this angle {exposure_words(match.exposure_stops)} ({stop_text(match.exposure_stops)}) and "
        f"{balance_words(red_green, blue_green)}."
    )


def nudge_words(result: AngleResult) -> str:
    """Say what was nudged and what is delivered; empty where nobody nudged. Other figures are as solved."""
    nudge, delivered = result.angle.nudge, result.delivered
    if not nudge:
        return ""
    if delivered is None:
        return "There is no match to nudge: the nudge in the setup file was not used."
    asked = (("exposure", nudge.exposure), ("red", nudge.red), ("blue", nudge.blue))
    red, blue = delivered.balance
    return (
        f"Nudged after the solve: {', '.join(f'{name} {stop_text(value)}' for name, value in asked if value)}. "
        f"LUTs and CDL carry {stop_text(delivered.exposure_stops)}, red {signed(red)} and blue {signed(blue)} "
        "against green; pictures and scopes show that, figures of the match are as solved."
    )


def without_echo(todos: Iterable[str]) -> list[str]:
    """Leave out what was said before: whole, or as the clause that a text begins with.

    Returns one text for each that came in, empty where nothing new is left.

    >>> without_echo(["look at it", "look at it, windows first", "look at it"])
    ['look at it', 'windows first', '']
    """
    said: set[str] = set()
    out = []
    for todo in todos:
        clause = re.split(r"[,;]", todo, maxsplit=1)[0]
        out.append(todo[len(clause) :].lstrip(",; ") if clause in said else todo)
        said.add(clause)
    return out


def next_step(result: AngleResult, lut: str = "") -> str:
    """Say what to do with an angle now.

    Parameters
    ----------
    lut : str
        File of its match LUT, where one was written.
    """
    where = f"{result.angle.encoding}, {range_text(result.angle.range)}"
    todos = without_echo(reason.todo for reason in by_gravity(result.reasons)[:SAID])
    todo = " ".join(dict.fromkeys(sentence(todo) for todo in todos if todo))
    if result.verdict is Verdict.UNSOLVED:
        return (
            f"Balance this angle by hand. {todo}".strip()
            if todo
            else (
                "Balance this angle by hand, or name three or four surfaces that both views show "
                "in the setup file (the picker in the report writes the lines) and match again."
            )
        )
    use = f"Put {lut} first on the clip" if lut else "Put its match LUT first on the clip"
    use += f", on ungraded camera log ({where}); grade after it."
    if result.delivered is not None and result.delivered.is_identity:
        use = "Leave the clip as it is; its LUT changes nothing."
    if result.verdict is Verdict.REVIEW:
        return f"Look at the cut before you use it. {todo} {use}".replace("  ", " ")
    return f"{use} {todo}".strip()


def views_text(view_stops: float) -> str:
    """Say what numbers and pictures are shown in."""
    return (
        "Numbers and scopes: measurement view, plain Rec.709 with BT.1886, "
        f"{'as exposed' if view_stops == 0 else f'at {signed(view_stops)} stop'}. Pictures: ACES 2.0 SDR, which "
        "rolls highlights off, as exposed, like the view LUT."
    )


def range_text(name: str) -> str:
    """Write a code range in words.

    >>> range_text("legal")
    'legal range'
    """
    return f"{name} range"


def rung_text(rung: Rung) -> str:
    """Say what a rung of the ladder may change."""
    return _RUNGS[rung]


def source_text(source: str) -> str:
    """Say where samples came from; pairs from several sources name each once, with a space between.

    >>> source_text("features faces")
    'surface details that both views show, faces seen by both'
    """
    return ", ".join(_SOURCES.get(part, part) for part in source.split()) or "nothing"


def overall(result: SetupResult) -> str:
    """Say in one sentence how the setup stands."""
    groups = {verdict: [r.angle.name for r in result if r.verdict is verdict] for verdict in Verdict}
    total = len(result.angles)
    if total == 0:
        return "This setup has a hero and no other angle: there was nothing to match."
    if len(groups[Verdict.MATCHED]) == total:
        return "Every angle is matched. Look once at each cut, then use the LUTs."
    said = []
    if groups[Verdict.UNSOLVED]:
        said.append(f"{_names(groups[Verdict.UNSOLVED])} could not be matched from this footage")
    if groups[Verdict.REVIEW]:
        said.append(f"{_names(groups[Verdict.REVIEW])} must be checked by eye")
    if groups[Verdict.MATCHED]:
        said.append(f"{_names(groups[Verdict.MATCHED])} {_are(groups[Verdict.MATCHED])} matched")
    return "; ".join(said) + "."


def _names(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _are(names: list[str]) -> str:
    return "is" if len(names) == 1 else "are"
