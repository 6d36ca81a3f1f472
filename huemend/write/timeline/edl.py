"""Edit decision lists: read a CMX3600 EDL, and give its events the CDL of their angle.

An EDL is what a conform follows, so nothing in it is lost or reformatted: every line of the list goes out as it
came in, with three comment lines more after each event that has a match. Lines that begin like an event must be
one; all other lines are kept without judging them, for every editing system writes some of its own.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from huemend.base.reading import read_input
from huemend.errors import TimelineError
from huemend.options import FileOptions
from huemend.write.luts.cdl import Cdl, edl_comments

_TIMECODE = r"\d{2}:\d{2}:\d{2}[:;.]\d{2,3}"
_EVENT = re.compile(
    rf"(?P<number>\d{{1,6}})\s+(?P<reel>\S.*?)\s+(?P<channels>[ABNV][A-Z0-9/]*)\s+(?P<transition>C|D|W\d{{1,3}}|K(?:\s?[BO])?)"
    rf"(?:\s+\d{{1,3}})?"
    rf"\s+(?P<source_in>{_TIMECODE})\s+(?P<source_out>{_TIMECODE})"
    rf"\s+(?P<record_in>{_TIMECODE})\s+(?P<record_out>{_TIMECODE})\s*"
)
_COMMENT = re.compile(
    r"\*\s*(?P<key>FROM CLIP NAME|TO CLIP NAME|SOURCE FILE|CLIP NAME)\s*:\s*(?P<value>.*)", re.IGNORECASE
)
_CDL = re.compile(r"\*\s*ASC[_ ](SOP|SAT)\b", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class EdlEvent:
    """One event of a list: one stretch of one clip."""

    #: As the list numbers it.
    number: str
    reel: str
    #: Clip name and source file from the comments; empty where there is none.
    clip: str = ""
    file: str = ""
    #: ``V``, ``AA/V``, ``A1`` ...
    channels: str
    #: Timecodes as the list writes them.
    source_in: str
    source_out: str
    record_in: str
    record_out: str
    #: Index of the line behind which comments about it belong; None for the outgoing half of a transition.
    after: int | None = None
    #: True if the list already carries a CDL for it.
    graded: bool = False

    @property
    def is_picture(self) -> bool:
        """True unless the event is sound alone, black or another colour."""
        return ("V" in self.channels or self.channels == "B") and self.reel.upper() not in ("BL", "BLACK", "BARS")


@dataclass(frozen=True, kw_only=True)
class Edl:
    """A list as read: its lines, untouched, and the events in them.

    ``newline`` and ``coding`` are those of the file, so that it can go out as it came in.
    """

    lines: tuple[str, ...]
    events: tuple[EdlEvent, ...]
    newline: str = "\n"
    coding: str = "utf-8"


def edl_bytes(path: Path) -> bytes:
    """Return the bytes of an EDL, within bounds; raises TimelineError where there is none."""
    return read_input(path, FileOptions().edl, kind=TimelineError, what="EDL", todo="check --edl")


def parse_edl(data: bytes, where: str) -> Edl:
    """Read the bytes of a CMX3600 EDL; ``where`` names them in errors.

    Raises TimelineError, with the line, if they are no list, or a line begins like an event and is none.
    """
    if b"\0" in data:
        raise TimelineError("this is not a CMX3600 EDL (it is no text)", where=where)
    coding = "utf-8"
    try:
        text = data.decode(coding)
    except UnicodeDecodeError:
        coding = "latin-1"  # every byte has a meaning there, so every byte goes out again
        text = data.decode(coding)
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = tuple(text.split(newline))
    events: list[EdlEvent] = []
    for index, line in enumerate(lines):
        words = line.strip().lstrip("\ufeff")
        if words[:1].isdigit():
            event, is_transition = _event(words, index, f"{where}:{index + 1}")
            if events and is_transition and events[-1].number == event.number:
                # The two halves of a transition belong together: what is told of the first one is told before.
                events[-1] = replace(events[-1], after=None)
            events.append(event)
        elif events:
            _comment(words, index, events)
    if not events:
        raise TimelineError("there is no event in this list", where=where, todo="give a CMX3600 EDL")
    return Edl(lines=lines, events=tuple(events), newline=newline, coding=coding)


def _event(words: str, index: int, where: str) -> tuple[EdlEvent, bool]:
    found = _EVENT.fullmatch(words)
    if found is None:
        raise TimelineError(
            f"this line begins like an event and is none: {words[:60]!r}",
            where=where,
            todo="an event has a number, a reel, channels, a transition and four timecodes",
        )
    parts: dict[str, Any] = found.groupdict()
    for name in ("source_in", "source_out", "record_in", "record_out"):
        minutes, seconds = parts[name][3:5], parts[name][6:8]
        if int(minutes) > 59 or int(seconds) > 59:
            raise TimelineError(f"{parts[name]} is no timecode", where=where)
    is_transition = parts.pop("transition")[0] in "DWK"
    return EdlEvent(**parts, after=index), is_transition


def _comment(words: str, index: int, events: list[EdlEvent]) -> None:
    """Note what a line says of the last event, or of the first half of its transition."""
    last, found = events[-1], _COMMENT.fullmatch(words)
    key, value = (found["key"].upper(), found["value"].strip()) if found else ("", "")
    if _CDL.match(words):
        events[-1] = replace(last, graded=True)
    elif words.upper().startswith("M2"):
        events[-1] = replace(last, after=index)  # a change of speed stays right behind its event
    elif key == "SOURCE FILE":
        events[-1] = replace(last, file=last.file or value)
    elif key == "TO CLIP NAME":
        events[-1] = replace(last, clip=value)
    elif key:
        first = -2 if len(events) > 1 and events[-2].after is None else -1
        events[first] = replace(events[first], clip=events[first].clip or value)


def with_cdls(edl: Edl, cdls: Mapping[int, Cdl], meant: str = "") -> bytes:
    """Return the list with CDL comments after some events, all else byte for byte as it was.

    CDLs go by the event's place in ``edl.events``; events that already carry one keep it and must not be among
    them. ``meant`` names the space that the CDLs are meant in, which their numbers do not say; a comment states
    it.
    """
    more: dict[int, tuple[str, ...]] = {}
    stated = (f"* CDL IS MEANT IN {meant.upper()}",) if meant else ()
    for place, cdl in cdls.items():
        event = edl.events[place]
        if event.graded:
            raise ValueError(f"event {event.number} already carries a CDL")
        if event.after is not None:
            more[event.after] = (*edl_comments(cdl), *stated)
    lines = [out for index, line in enumerate(edl.lines) for out in (line, *more.get(index, ()))]
    return edl.newline.join(lines).encode(edl.coding)
