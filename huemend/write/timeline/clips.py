"""From a timeline to the LUT of every clip in it.

Events are matched to the angles of a setup by the names they carry. The result is a CSV, one event a line, and the
timeline again: a CMX3600 EDL with the CDL of each event's angle in its comments, an OpenTimelineIO file with LUTs
and CDL in its clips' metadata. An EDL whose rate is stated goes out as both.
"""

from __future__ import annotations

import csv
import fnmatch
import io
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PureWindowsPath
from typing import Any

from huemend.base.text import csv_cell
from huemend.model import Angle
from huemend.write.luts.cdl import Cdl
from huemend.write.luts.kinds import CUBES
from huemend.write.timeline.edl import Edl, EdlEvent, edl_bytes, parse_edl, with_cdls
from huemend.write.timeline.otio import OTIO_ENDINGS, otio_events, otio_of_edl, read_otio, with_metadata


@dataclass(frozen=True, kw_only=True)
class EventMatch:
    """One event and its angle: the name, or empty with the reason in ``note``."""

    event: EdlEvent
    angle: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Timeline:
    """What clips a timeline uses, and how to tell whose they are."""

    events: tuple[EdlEvent, ...]
    #: The list itself, if it is an EDL.
    edl: Edl | None = None
    #: The timeline itself as OpenTimelineIO has it, if it is such a file, or an EDL whose rate is stated.
    otio: Any = None
    #: Mapping of angle name to patterns. Wildcards (``A001*``) for clip names and reels, which come before what
    #: names say by themselves.
    patterns: Mapping[str, Sequence[str]] = field(default_factory=dict)


def timeline_files(
    timeline: Timeline, angles: Sequence[Angle], record: Mapping[str, Any], stem: str
) -> dict[str, bytes]:
    """Return the files that a timeline gets: the CSV of clips, and the EDL or OTIO file with what is now known.

    Parameters
    ----------
    record : mapping
    stem : str
        What the files' names begin with.

    Returns
    -------
    dict of file name to bytes
    """
    matches = match_events(timeline.events, angles, timeline.patterns)
    files = {f"{stem}_clips.csv": clip_csv(matches, record).encode("utf-8")}
    if timeline.edl is not None:
        files[f"{stem}_cdl.edl"] = graded_edl(timeline.edl, matches, record)
    if timeline.otio is not None:
        # Its own events: of a dissolve, an EDL has one event more.
        events = otio_events(timeline.otio)
        places = {id(event): place for place, event in enumerate(events)}
        matches = match_events(events, angles, timeline.patterns)
        facts = {places[id(match.event)]: _facts(match.angle, record) for match in matches if match.angle}
        files[f"{stem}_luts.otio"] = with_metadata(timeline.otio, facts)
    return files


def _facts(angle: str, record: Mapping[str, Any]) -> dict[str, Any]:
    """Return what an OTIO clip is told of its angle; paths are relative to the record's folder."""
    entry = _entry(angle, record)
    facts: dict[str, Any] = {"angle": angle, "verdict": entry["verdict"]}
    facts["luts"] = {lut["kind"]: lut["path"] for lut in entry["luts"]}
    cdl = (record["angles"].get(angle) or {}).get("cdl")
    if cdl is not None:
        facts["cdl"] = {name: cdl[name] for name in ("slope", "offset", "power", "saturation", "input", "id")}
        facts["use"] = "the match LUT or the CDL, never both"
    return facts


def timeline_names(timeline: Timeline, stem: str) -> list[str]:
    """Return the names of what `timeline_files` gives."""
    names = [f"{stem}_clips.csv"]
    names += [f"{stem}_cdl.edl"] if timeline.edl is not None else []
    return names + ([f"{stem}_luts.otio"] if timeline.otio is not None else [])


def read_timeline(
    path: Path, patterns: Mapping[str, Sequence[str]] | None = None, rate: str | None = None
) -> Timeline:
    """Read a CMX3600 EDL or an OpenTimelineIO file.

    Parameters
    ----------
    patterns : mapping of angle name to patterns, optional
    rate : str, optional
        Of an EDL, one of `EDL_RATES`: it then goes out as OTIO as well.

    Raises
    ------
    TimelineError
        If the file cannot be read.
    MissingLibraryError
        If it takes OpenTimelineIO and that is not installed.
    """
    if path.suffix.lower() in OTIO_ENDINGS:
        timeline = read_otio(path)
        return Timeline(events=otio_events(timeline), otio=timeline, patterns=patterns or {})
    data = edl_bytes(path)
    edl = parse_edl(data, str(path))
    otio = None if rate is None else otio_of_edl(data, rate, path)
    return Timeline(events=edl.events, edl=edl, otio=otio, patterns=patterns or {})


def match_events(
    events: Iterable[EdlEvent], angles: Sequence[Angle], patterns: Mapping[str, Sequence[str]] | None = None
) -> list[EventMatch]:
    """Find the angle that each picture event shows.

    A clip name or source file says most: it is an angle's if it is the name of one of its media, or one begins
    with the other up to a separator (``A001C003`` and ``A001C003_220101.mov``). An event that has neither goes by
    its reel. Nothing is guessed: an event that two angles could claim is given to none.

    Parameters
    ----------
    events : iterable of EdlEvent
    patterns : mapping of angle name to patterns, optional
        Wildcards (``A001*``) for names and reels, which come before all else.

    Returns
    -------
    list of EventMatch
        One for each picture event.
    """
    known = {angle.name: {_stem(angle.name), *(_stem(media.name) for media in angle.media)} for angle in angles}
    wanted = {
        name: [pattern.casefold() for pattern in chosen] for name, chosen in (patterns or {}).items() if chosen
    }
    return [_match(event, known, wanted) for event in events if event.is_picture]


def _match(event: EdlEvent, known: Mapping[str, set[str]], wanted: Mapping[str, list[str]]) -> EventMatch:
    names = [_stem(name) for name in (event.clip, event.file) if name]
    reel = event.reel.casefold()
    tests: list[Callable[[str], bool]] = [
        lambda angle: any(fnmatch.fnmatchcase(n, p) for p in wanted.get(angle, ()) for n in [*names, reel]),
        lambda angle: any(name in known[angle] for name in names),
        lambda angle: any(_begins(name, other) for name in names for other in known[angle]),
        lambda angle: _stem(event.reel) in known[angle],
    ]
    if not names:
        tests.append(lambda angle: any(_begins(_stem(event.reel), other) for other in known[angle]))
    for test in tests:
        found = [angle for angle in known if test(angle)]
        if len(found) == 1:
            return EventMatch(event=event, angle=found[0])
        if found:
            return EventMatch(event=event, note=f"could be {' or '.join(found)}")
    return EventMatch(event=event, note="no angle of this setup has that name")


def _stem(name: str) -> str:
    """Return a file's or clip's name without folder and ending, in one case."""
    base = PureWindowsPath(name.strip()).name.casefold()
    return re.sub(r"\.[a-z0-9]{2,4}$", "", base)


def _begins(one: str, other: str) -> bool:
    """Return True if the shorter name begins the longer one, up to a separator or from a number to a letter."""
    short, long = sorted((one, other), key=len)
    if len(short) < 3 or not long.startswith(short) or short == long:
        return False
    following = long[len(short)]
    return not following.isalnum() or (short[-1].isdigit() and following.isalpha())


def clip_csv(matches: Iterable[EventMatch], record: Mapping[str, Any]) -> str:
    """Return the CSV of clips and their LUTs.

    Parameters
    ----------
    matches : iterable of EventMatch
    record : mapping
        The record of the setup (see huemend/write/record.schema.json).
    """
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    kinds = (*CUBES, "clf")
    table.writerow(
        ["event", "reel", "clip", "source_in", "source_out", "record_in", "record_out", "angle", "verdict"]
        + [f"{kind}_lut" for kind in kinds]
        + ["cdl", "note"]
    )
    for match in matches:
        event, entry = match.event, _entry(match.angle, record)
        luts = {lut["kind"]: lut["path"] for lut in entry["luts"]}
        note = match.note or entry["note"]
        if event.graded and entry["cdl"]:
            note = "carries a CDL already"
        row = [event.number, event.reel, event.clip or event.file]
        row += [event.source_in, event.source_out, event.record_in, event.record_out]
        row += [match.angle, entry["verdict"], *(luts.get(kind, "") for kind in kinds), entry["cdl"], note]
        # Clip names come from anywhere.
        table.writerow([csv_cell(value) for value in row])
    return text.getvalue()


def graded_edl(edl: Edl, matches: Iterable[EventMatch], record: Mapping[str, Any]) -> bytes:
    """Return the EDL with the CDL of each matched event's angle in its comments.

    An event that already carries a CDL keeps its own.
    """
    places = {id(event): place for place, event in enumerate(edl.events)}
    cdls, meant = {}, ""
    for match in matches:
        cdl = (record["angles"].get(match.angle) or {}).get("cdl")
        if cdl is not None and not match.event.graded:
            meant = cdl["input"]
            cdls[places[id(match.event)]] = Cdl(
                slope=tuple(cdl["slope"]),
                offset=tuple(cdl["offset"]),
                power=tuple(cdl["power"]),
                saturation=cdl["saturation"],
            )
    return with_cdls(edl, cdls, meant)


def _entry(angle: str, record: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the CSV says of an angle: the hero, one of the others, or none."""
    if angle == record["hero"]:
        return {"verdict": "hero", "luts": record["hero_luts"], "cdl": "", "note": "the hero: nothing to match"}
    found = record["angles"].get(angle)
    if found is None:
        return {"verdict": "", "luts": [], "cdl": "", "note": ""}
    note = "unsolved: no match" if found["matrix"] is None else ""
    return {
        "verdict": found["verdict"],
        "luts": found["luts"],
        "cdl": (found["cdl"] or {}).get("id", ""),
        "note": note,
    }
