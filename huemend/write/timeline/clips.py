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
from huemend.model import Angle, SetupResult
from huemend.write.luts.cdl import CdlEntry
from huemend.write.luts.kinds import CUBES, LutFile
from huemend.write.outputs import Output
from huemend.write.timeline.edl import Edl, EdlEvent, edl_bytes, parse_edl, with_cdls
from huemend.write.timeline.otio import OTIO_ENDINGS, otio_events, otio_of_edl, read_otio, with_metadata


@dataclass(frozen=True, kw_only=True)
class EventMatch:
    """One event and its angle: the name, or empty with the reason in ``note``."""

    event: EdlEvent
    #: Of the event in its timeline, from 0.
    place: int
    angle: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class AngleFacts:
    """What a timeline tells of an angle."""

    verdict: str = ""
    note: str = ""
    #: Mapping of kind to path inside the output folder.
    luts: Mapping[str, str] = field(default_factory=dict)
    cdl: CdlEntry | None = None


#: Of an event that shows no angle.
_NOTHING = AngleFacts()


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

    @property
    def outputs(self) -> list[Output]:
        """What `timeline_files` makes of it."""
        given = {Output.CLIPS: True, Output.GRADED_EDL: self.edl, Output.TIMELINE: self.otio}
        return [output for output, timeline in given.items() if timeline is not None]


def angle_facts(
    result: SetupResult, luts: Mapping[str, Sequence[LutFile]], cdls: Mapping[str, CdlEntry]
) -> dict[str, AngleFacts]:
    """Return what timelines tell of every angle, the hero included."""
    hero = result.setup.hero
    paths = {name: {lut.kind: lut.path for lut in own} for name, own in luts.items()}
    facts = {hero: AngleFacts(verdict="hero", note="the hero: nothing to match", luts=paths[hero])}
    for found in result.angles:
        name = found.angle.name
        facts[name] = AngleFacts(
            verdict=str(found.verdict),
            note="unsolved: no match" if found.match is None else "",
            luts=paths[name],
            cdl=cdls.get(name),
        )
    return facts


def timeline_files(
    timeline: Timeline, angles: Sequence[Angle], facts: Mapping[str, AngleFacts], stem: str
) -> dict[str, bytes]:
    """Return the CSV of clips, and the EDL or OTIO file with what is now known, by names that ``stem`` begins."""
    matches = match_events(timeline.events, angles, timeline.patterns)
    files = {Output.CLIPS.of(stem): clip_csv(matches, facts).encode("utf-8")}
    if timeline.edl is not None:
        files[Output.GRADED_EDL.of(stem)] = graded_edl(timeline.edl, matches, facts)
    if timeline.otio is not None:
        # Its own events: of a dissolve, an EDL has one event more.
        matches = match_events(otio_events(timeline.otio), angles, timeline.patterns)
        told = {each.place: _metadata(each.angle, facts[each.angle]) for each in matches if each.angle}
        files[Output.TIMELINE.of(stem)] = with_metadata(timeline.otio, told)
    return files


def _metadata(angle: str, facts: AngleFacts) -> dict[str, Any]:
    """Return what an OTIO clip is told of its angle; paths are relative to the output folder."""
    told: dict[str, Any] = {"angle": angle, "verdict": facts.verdict, "luts": facts.luts}
    if facts.cdl is not None:
        cdl = facts.cdl.cdl
        sop = {"slope": list(cdl.slope), "offset": list(cdl.offset), "power": list(cdl.power)}
        told["cdl"] = {**sop, "saturation": cdl.saturation, "input": facts.cdl.input, "id": facts.cdl.id}
        told["use"] = "the match LUT or the CDL, never both"
    return told


def read_timeline(
    path: Path, patterns: Mapping[str, Sequence[str]] | None = None, rate: str | None = None
) -> Timeline:
    """Read a CMX3600 EDL or an OpenTimelineIO file; ``patterns`` go by the angles' names.

    An EDL whose ``rate`` is stated, one of `EDL_RATES`, goes out as OTIO as well. Raises TimelineError if the file
    cannot be read, and MissingLibraryError if it takes OpenTimelineIO and that is not installed.
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
    its reel. Before all that come the patterns of an angle: wildcards (``A001*``) for names and reels. Nothing is
    guessed: an event that two angles could claim is given to none.
    """
    known = {angle.name: {_stem(angle.name), *(_stem(media.name) for media in angle.media)} for angle in angles}
    wanted = {
        name: [pattern.casefold() for pattern in chosen] for name, chosen in (patterns or {}).items() if chosen
    }
    return [_match(event, place, known, wanted) for place, event in enumerate(events) if event.is_picture]


def _match(
    event: EdlEvent, place: int, known: Mapping[str, set[str]], wanted: Mapping[str, list[str]]
) -> EventMatch:
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
            return EventMatch(event=event, place=place, angle=found[0])
        if found:
            return EventMatch(event=event, place=place, note=f"could be {' or '.join(found)}")
    return EventMatch(event=event, place=place, note="no angle of this setup has that name")


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


def clip_csv(matches: Iterable[EventMatch], facts: Mapping[str, AngleFacts]) -> str:
    """Return the CSV of clips and their LUTs."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    kinds = (*CUBES, "clf")
    table.writerow(
        ["event", "reel", "clip", "source_in", "source_out", "record_in", "record_out", "angle", "verdict"]
        + [f"{kind}_lut" for kind in kinds]
        + ["cdl", "note"]
    )
    for match in matches:
        event, told = match.event, facts.get(match.angle, _NOTHING)
        cdl = "" if told.cdl is None else told.cdl.id
        note = "carries a CDL already" if event.graded and cdl else match.note or told.note
        row = [event.number, event.reel, event.clip or event.file]
        row += [event.source_in, event.source_out, event.record_in, event.record_out]
        row += [match.angle, told.verdict, *(told.luts.get(kind, "") for kind in kinds), cdl, note]
        # Clip names come from anywhere.
        table.writerow([csv_cell(value) for value in row])
    return text.getvalue()


def graded_edl(edl: Edl, matches: Iterable[EventMatch], facts: Mapping[str, AngleFacts]) -> bytes:
    """Return the EDL with the CDL of each matched event's angle in its comments.

    An event that already carries a CDL keeps its own.
    """
    cdls, meant = {}, ""
    for match in matches:
        told = facts.get(match.angle, _NOTHING).cdl
        if told is not None and not match.event.graded:
            meant = told.input
            cdls[match.place] = told.cdl
    return with_cdls(edl, cdls, meant)
