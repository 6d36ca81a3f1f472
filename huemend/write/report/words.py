"""Every sentence that the report says by itself, in a colorist's words.

A verdict always comes with what to do next. What heads or explains one section stands with that section.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np

from huemend.base.arrays import Float
from huemend.base.text import listed
from huemend.model import AngleResult, ErrorSummary, Interval, Rung, SetupResult, Verdict
from huemend.model.reasons import Code, by_gravity
from huemend.write.luts.kinds import LutFile
from huemend.write.report.figures import signed, stop_text

#: So many reasons are said at once, the gravest; what to do is said for these.
SAID = 3

#: What each verdict is called on the page.
VERDICTS = {
    Verdict.MATCHED: "Matched",
    Verdict.REVIEW: "Review",
    Verdict.UNSOLVED: "Unsolved",
}

#: What each rung of the ladder may change.
RUNGS = {
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
    ('warmer', 'greener', 'balanced as it was')
    """
    if max(abs(red_green), abs(blue_green)) < _SAME_BALANCE:
        return "balanced as it was"
    warm, magenta = (red_green - blue_green) / 2, (red_green + blue_green) / 2
    ways = [(abs(warm), "warmer" if warm > 0 else "cooler")]
    ways += [(abs(magenta), "more magenta" if magenta > 0 else "greener")]
    (most, main), (less, other) = sorted(ways, key=lambda way: -way[0])
    return f"{main} and a little {other}" if less / most > 0.5 else main


def off_words(off: Float) -> str:
    """Say how a sample still differs from the hero: level, red-green and blue-green, in stops.

    >>> off_words(np.array([-0.4, 0.2, -0.2]))
    'Shows 0.40 stop darker than the hero, and warmer.'
    """
    if not np.isfinite(off).all():
        return "Too dark to say in stops."
    level, red_green, blue_green = (float(v) for v in off)
    said = "as bright as" if abs(level) < _SAME_EXPOSURE else f"{abs(level):.2f} stop {exposure_words(level)} than"
    return f"Shows {said} the hero, and {balance_words(red_green, blue_green).replace('as it was', 'like it')}."


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


def visible_words(found: AngleResult) -> str:
    """Say how visible what a match leaves is, and where that does not hold; empty without a proof."""
    if found.held_out is None:
        return ""
    clips = any(reason.code == Code.CLIPPED for reason in found.reasons)
    return f"{difference_words(found.held_out.after)}{' where it is not clipped' if clips else ''}"


def match_words(found: AngleResult) -> str:
    """Say in one line what is delivered of the match, with its nudge."""
    match = found.delivered
    if match is None:
        return "No match was made: this angle stays as it was shot."
    if match.is_identity:
        if found.verdict is Verdict.MATCHED:
            return "Nothing to change: this angle already agrees with the hero."
        left = "" if found.held_out is None else f", {found.held_out.before.mean:.1f} CIEDE2000 from the hero"
        return f"No change was proven to help: this angle stays as it was shot{left}."
    stops, (red_green, blue_green) = match.exposure_stops, match.balance
    words, sure = exposure_words(stops), found.uncertainty
    # What was nudged is what somebody wants, however sure the match below it is.
    if sure is not None and not found.angle.nudge:
        # No direction is surely that of what may as well be none.
        if exposure_words(_clear(stops, sure.exposure_stops)) != words:
            words = f"perhaps {words}"
        red_green, blue_green = _clear(red_green, sure.red_green_stops), _clear(blue_green, sure.blue_green_stops)
    balance = balance_words(red_green, blue_green)
    said = f"Makes this angle {words} ({stop_text(stops)})"
    return f"{said}, and leaves it {balance}." if balance.startswith("balanced") else f"{said} and {balance}."


def _clear(value: float, interval: Interval) -> float:
    # As printed: an end that reads 0.00 is zero to whoever reads it.
    return 0.0 if round(interval.low, 2) <= 0 <= round(interval.high, 2) else value


def nudge_words(found: AngleResult) -> str:
    """Say what was nudged and what is delivered; empty where nobody nudged. Other figures are as solved."""
    nudge, delivered = found.angle.nudge, found.delivered
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

    >>> without_echo(["look at it", "look at it, windows first", "look at it", "look at it, or away"])
    ['look at it', 'windows first', '', 'away']
    """
    said: set[str] = set()
    out = []
    for todo in todos:
        clause = re.split(r"[,;]", todo, maxsplit=1)[0]
        out.append(todo[len(clause) :].lstrip(",; ").removeprefix("or ") if clause in said else todo)
        said.add(clause)
    return out


def next_step(found: AngleResult, lut: LutFile | None = None) -> str:
    """Say what to do with an angle now; ``lut`` is its match LUT, where one was written."""
    where = f"{found.angle.encoding}, {lut.input_range if lut else found.angle.range} range"
    todos = without_echo(reason.todo for reason in by_gravity(found.reasons)[:SAID])
    todo = " ".join(dict.fromkeys(sentence(todo) for todo in todos if todo))
    if found.verdict is Verdict.UNSOLVED:
        by_areas = (
            "Name three or four surfaces that both views show in the setup file (the picker in the report writes "
            "the lines) and match again."
        )
        return f"{todo or by_areas} Or else balance this angle by hand."
    use = f"Put {lut.path if lut else 'its match LUT'} first on the clip"
    use += f", on ungraded camera log ({where}); grade after it."
    if lut and lut.kind == "clf":
        use += " The match.cube beside it is too coarse for so large a change."
    if found.delivered is not None and found.delivered.is_identity:
        use = "Leave the clip as it is; its LUT changes nothing."
    if found.verdict is Verdict.REVIEW:
        return f"Look at the cut before you use it. {todo} {use}".replace("  ", " ")
    return f"{use} {todo}".strip()


def views_text(view_stops: float) -> str:
    """Say what numbers and pictures are shown in."""
    level = "as exposed"
    if view_stops != 0:
        level = f"at {signed(view_stops)} stop, so that bright surfaces do not clip there"
    return (
        f"Numbers and scopes: measurement view, plain Rec.709 with BT.1886, {level}. Pictures: ACES 2.0 SDR, "
        "which rolls highlights off, as exposed, like the view LUT."
    )


def source_text(source: str) -> str:
    """Say where samples came from; pairs from several sources name each once, with a space between.

    >>> source_text("features faces")
    'surface details that both views show, faces seen by both'
    """
    return ", ".join(_SOURCES.get(part, part) for part in source.split()) or "nothing"


def overall(result: SetupResult) -> str:
    """Say in one sentence how the setup stands."""
    groups = {verdict: [found.angle.name for found in result if found.verdict is verdict] for verdict in Verdict}
    total = len(result.angles)
    if total == 0:
        return "This setup has a hero and no other angle: there was nothing to match."
    if len(groups[Verdict.MATCHED]) == total:
        return "Every angle is matched. Look once at each cut, then use the LUTs."
    said = []
    if groups[Verdict.UNSOLVED]:
        said.append(f"{listed(groups[Verdict.UNSOLVED])} could not be matched from this footage")
    if groups[Verdict.REVIEW]:
        said.append(f"{listed(groups[Verdict.REVIEW])} must be checked by eye")
    if matched := groups[Verdict.MATCHED]:
        said.append(f"{listed(matched)} {'is' if len(matched) == 1 else 'are'} matched")
    return "; ".join(said) + "."
