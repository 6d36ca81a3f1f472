"""The result as a terminal shows it: one line an angle, 80 columns, readable without colour.

Plain ASCII but for the names: a farm's log has no promise to make about its encoding.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from operator import itemgetter
from typing import Any

import numpy as np

from huemend.base.text import counted
from huemend.base.units import balance_stops
from huemend.model import Verdict
from huemend.model.reasons import Code, by_gravity
from huemend.write.report.figures import plain_signed
from huemend.write.report.words import SAID, sentence, without_echo

WIDTH = 80

_VERDICTS = {Verdict.MATCHED: "matched", Verdict.REVIEW: "REVIEW", Verdict.UNSOLVED: "UNSOLVED"}
#: Columns: name, verdict, exposure with its interval, red and blue against green, difference before > after.
_COLUMNS = (17, 8, 22, 13, 12)
#: What came of a wish is told whoever needs to look.
_ASKED = (Code.LEAST_ERROR, Code.STAYS_AS_SHOT, Code.MARK_MET, Code.NOT_SEEN)
_NOTHING = "-"
_LEGEND = (
    "Exposure and balance in stops, with a 90 % interval; difference: CIEDE2000 as shot -> matched, on surfaces "
    "that the match did not use."
)
_HEADS = ("angle", "verdict", "exposure", "red / blue", "difference")


def terminal_table(record: Mapping[str, Any]) -> str:
    """Return the table of a record, as made or as read back from JSON, without a final line break.

    No line is wider than 80 columns. Angles that need someone are followed by why, and what to do.
    """
    lines = [f"{_clean(record['setup'])}, hero: {_clean(record['hero'])}"]
    lines = [cut_to(lines[0], WIDTH).rstrip(), ""]
    angles: Mapping[str, Mapping[str, Any]] = record["angles"]
    about_hero = _hero(record["hero_balance"]) if record.get("hero_balance") else []
    if not angles:
        return "\n".join([*lines, "There is no other angle to match.", *about_hero])
    lines.append(_line(_HEADS))
    rows = [_cells(name, angle) for name, angle in angles.items()]
    lines += map(_line, rows)
    for name, angle in angles.items():
        if angle["verdict"] != Verdict.MATCHED:
            lines += ["", *_told(name, angle["reasons"], asked_only=False)]
        elif any(reason["code"] in _ASKED for reason in angle["reasons"]):
            lines += ["", *_told(name, angle["reasons"], asked_only=True)]
        if angle.get("nudge"):
            lines += ["", *_nudge(name, angle)]
    if any(cell != _NOTHING for row in rows for cell in row[2:]):
        lines += ["", *_wrapped(_LEGEND)]
    return "\n".join(line.rstrip() for line in [*lines, *about_hero])


def _hero(found: Mapping[str, Any]) -> list[str]:
    """Say what is suggested for the hero itself, and on what it rests."""
    said = []
    for head, name in (("exposure", "exposure"), ("red", "red_green"), ("blue", "blue_green")):
        if found[name] is not None:
            stops, low, high = (found[name][key] for key in ("stops", "low", "high"))
            said.append(f"{head} {plain_signed(stops)} ({plain_signed(low)} to {plain_signed(high)})")
    words = "Hero itself, a suggestion that no LUT here uses: "
    words += f"{', '.join(said)} stop." if said else "none."
    for what in ("balance", "exposure"):
        basis, source = _clean(found[f"{what}_basis"]), _clean(found[f"{what}_source"])
        words += f" {what.capitalize()} rests on {basis} [{source}]." if source else f" {sentence(basis)}"
        if not source and found["balance_basis"] == found["exposure_basis"]:
            break
    return ["", *_wrapped(f"{words} {sentence(_clean(found['skin']))}")]


def _line(cells: Sequence[str]) -> str:
    return "  ".join(cut_to(cell, width) for cell, width in zip(cells, _COLUMNS, strict=True))


def _cells(name: str, angle: Mapping[str, Any]) -> list[str]:
    exposure = balance = difference = _NOTHING
    match = angle.get("solved") or angle
    if match["matrix"] is not None:
        exposure = plain_signed(match["exposure_stops"])
        if angle.get("uncertainty"):
            low, high = angle["uncertainty"]["exposure_stops"]
            exposure += f" ({plain_signed(low)} to {plain_signed(high)})"
        red, blue = balance_stops(np.array(match["matrix"], float))
        balance = f"{plain_signed(red)} / {plain_signed(blue)}"
    held = angle.get("held_out")
    if held and held["before"]["mean"] is not None:
        difference = f"{held['before']['mean']:.1f}"
        if angle["matrix"] is not None and held["after"]["mean"] is not None:
            difference += f" -> {held['after']['mean']:.1f}"
    return [name, _VERDICTS[Verdict(angle["verdict"])], exposure, balance, difference]


def _told(name: str, reasons: Sequence[Mapping[str, Any]], *, asked_only: bool) -> list[str]:
    """Say the gravest reasons of an angle, what came of its wishes, and what to do; the page says them all."""
    ranked = by_gravity(reasons, itemgetter("code"))
    asked = [reason for reason in ranked if reason["code"] in _ASKED]
    said = asked if asked_only else [each for each in ranked if each in ranked[:SAID] or each in asked]
    lines = _wrapped(f"{_clean(name)}:")
    for reason in said:
        lines += _wrapped(sentence(_clean(reason["text"])), "- ")
    todos = (sentence(_clean(todo)) for todo in without_echo(reason.get("todo", "") for reason in said))
    todo = " ".join(each for each in todos if each)
    lines += _wrapped(todo or "Look at it before you use it.", "Next: ") if todo or not asked_only else []
    if not asked_only and (left := len(ranked) - len(said)):
        lines += [f"  {counted(left, 'more reason')} in the report."]
    return lines


def _nudge(name: str, angle: Mapping[str, Any]) -> list[str]:
    """Say what was nudged, and what is written; the table holds the match as solved."""
    asked = ", ".join(f"{what} {plain_signed(stops)}" for what, stops in angle["nudge"].items() if stops)
    red, blue = balance_stops(np.array(angle["matrix"], float))
    return _wrapped(
        f"{_clean(name)}: nudged after the solve by {asked} stop; LUTs and CDL carry "
        f"{plain_signed(angle['exposure_stops'])} stop, red {plain_signed(red)} and blue {plain_signed(blue)} "
        "against green."
    )


def _wrapped(words: str, head: str = "") -> list[str]:
    """Break a text into lines of at most 80 columns; a word that is wider than a line is broken anywhere.

    The first line begins with ``head``, the others two columns in.
    """
    lines, room = [head], WIDTH - len(head)
    for word in words.split():
        size = sum(_columns(c) for c in word)
        if size > room and lines[-1].strip():
            lines.append("  ")
            room = WIDTH - 2
        while size > room:
            piece = ""
            while sum(_columns(c) for c in piece + word[0]) <= room:
                piece, word = piece + word[0], word[1:]
            lines[-1] += piece
            lines.append("  ")
            size, room = sum(_columns(c) for c in word), WIDTH - 2
        lines[-1] += f"{word} "
        room -= size + 1
    return [line.rstrip() for line in lines]


def _clean(text: str) -> str:
    """Drop what could move a terminal's cursor: a name comes from somebody's file."""
    return "".join(c if unicodedata.category(c)[0] != "C" else " " for c in str(text))


def cut_to(text: str, width: int) -> str:
    """Bring a text to a width in terminal columns: wide characters take two, marks that combine none.

    >>> cut_to("left", 6), cut_to("a long name", 6)
    ('left  ', 'a lon~')
    """
    text = _clean(text)
    sizes = [_columns(c) for c in text]
    if sum(sizes) <= width:
        return text + " " * (width - sum(sizes))
    kept, used = "", 0
    for character, size in zip(text, sizes, strict=True):
        if used + size > width - 1:
            break
        kept, used = kept + character, used + size
    return f"{kept}~" + " " * (width - 1 - used)


def _columns(character: str) -> int:
    if unicodedata.combining(character):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1
