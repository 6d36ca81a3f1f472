"""OpenTimelineIO files: what clips they show, and the same timeline with LUTs and CDLs in its clips' metadata."""

from __future__ import annotations

import json
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from huemend.base.reading import open_regular, read_input
from huemend.errors import MissingLibraryError, TimelineError
from huemend.options.files import EDL_RATES, FileOptions
from huemend.write.timeline.edl import EdlEvent

#: Endings of files that OpenTimelineIO reads by itself.
OTIO_ENDINGS = (".otio", ".otioz", ".otiod")
# What a bundle calls the timeline in it (OpenTimelineIO documentation, File Bundles).
_CONTENT = "content.otio"


def read_otio(path: Path) -> Any:
    """Read a timeline.

    Raises MissingLibraryError where OpenTimelineIO is not installed, and TimelineError where it cannot read the
    file, or there is no picture clip in it.
    """
    try:
        import opentimelineio as otio
    except ImportError as error:
        raise MissingLibraryError(
            "OpenTimelineIO is not installed", where=path, todo='install it with: pip install "huemend[timeline]"'
        ) from error
    text = _otio_text(path)
    try:
        timeline = otio.adapters.read_from_string(text, "otio_json")
        events = otio_events(timeline)
    except Exception as error:  # the library raises RuntimeError, ValueError, KeyError ... on a bad file
        raise TimelineError(f"OpenTimelineIO cannot read this file ({error})", where=path) from error
    if not events:
        raise TimelineError("there is no picture clip in this timeline", where=path)
    return timeline


def otio_of_edl(data: bytes, rate: str, where: Path) -> Any:
    """Make an OpenTimelineIO timeline of the bytes of a CMX3600 EDL, which `parse_edl` has read before.

    An EDL does not state what its timecode counts: ``rate`` does, one of `EDL_RATES`. Raises MissingLibraryError
    where OpenTimelineIO or its reader of EDLs is not installed, and TimelineError, which names ``where``, where it
    cannot make one: of times that the rate does not have, for example.
    """
    try:
        import opentimelineio as otio
        import otio_cmx3600_adapter  # noqa: F401 - found by its name below
    except ImportError as error:
        raise MissingLibraryError(
            "what makes OTIO of an EDL is not installed",
            where=where,
            todo='install it with: pip install "huemend[timeline]", or leave --edl-rate out',
        ) from error
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    try:
        made = otio.adapters.read_from_string(text, adapter_name="cmx_3600", rate=EDL_RATES[rate])
        return _from_its_start(otio, made)
    except Exception as error:  # its own, ValueError, KeyError, AttributeError ... on a bad list
        raise TimelineError(
            f"OpenTimelineIO cannot make a timeline of this EDL at {rate} frames a second ({error})",
            where=where,
            todo="check --edl-rate, or leave it out",
        ) from error


def _from_its_start(otio: Any, timeline: Any) -> Any:
    """Begin a timeline where its first track does, and say at which timecode that is.

    The reader of EDLs lets every track begin at its own first event, the timecode before that being negative.
    """
    begins = [-(track.source_range or track.available_range()).start_time for track in timeline.tracks]
    first = min(begins)
    for track, begin in zip(timeline.tracks, begins, strict=True):
        track.source_range = None
        if begin > first:
            rest = otio.opentime.TimeRange(otio.opentime.RationalTime(0, first.rate), begin - first)
            track.insert(0, otio.schema.Gap(source_range=rest))
    timeline.global_start_time = first
    return timeline


def _otio_text(path: Path) -> str:
    """Return the JSON of an OpenTimelineIO file, bundle (.otioz, a ZIP) or folder (.otiod).

    Read here and not by the library: it knows no bounds, and follows brackets as deep as they go.
    """
    most = FileOptions().timeline
    if path.suffix.lower() == ".otiod" and path.is_dir():
        path = path / _CONTENT
    if path.suffix.lower() != ".otioz":
        data = read_input(path, most, kind=TimelineError, what="timeline", todo="check --edl")
    else:
        try:
            with open_regular(path) as file, zipfile.ZipFile(file) as bundle, bundle.open(_CONTENT) as inner:
                data = inner.read(most + 1)
        except (OSError, KeyError, ValueError, RuntimeError, zipfile.BadZipFile, zlib.error) as error:
            raise TimelineError(f"is not a bundle that can be read ({error})", where=path) from error
        if len(data) > most:
            raise TimelineError("holds too large a timeline", where=path, todo="give a shorter one")
    try:
        text = data.decode("utf-8")
        json.loads(text)
    except (ValueError, RecursionError) as error:
        raise TimelineError("is not a timeline that can be read: it is no JSON", where=path) from error
    return text


def _clips(timeline: Any) -> list[Any]:
    return [clip for track in timeline.video_tracks() for clip in track.find_clips()]


def otio_events(timeline: Any) -> tuple[EdlEvent, ...]:
    """Return the picture clips of a timeline as events, numbered from 1 in the order of its tracks."""
    import opentimelineio as otio

    return tuple(_otio_event(otio, clip, timeline, n) for n, clip in enumerate(_clips(timeline), start=1))


def with_metadata(timeline: Any, facts: Mapping[int, Mapping[str, Any]]) -> bytes:
    """Return the timeline as OTIO JSON, with what is known of its clips; all else as it was.

    Facts go by the clip's place in `otio_events`, from 0. They become ``metadata["huemend"]``; a ``cdl`` among
    them also becomes ``metadata["cdl"]``, where the CMX3600 adapter keeps one, unless the clip carries one
    already.
    """
    import opentimelineio as otio

    out = timeline.deepcopy()
    clips = _clips(out)
    for place, said in facts.items():
        metadata = clips[place].metadata
        metadata["huemend"] = dict(said)
        cdl = said.get("cdl")
        if cdl is not None and "cdl" not in metadata:
            sop = {name: list(cdl[name]) for name in ("slope", "offset", "power")}
            metadata["cdl"] = {"asc_sop": sop, "asc_sat": cdl["saturation"]}
    text: str = otio.adapters.write_to_string(out, "otio_json")
    return text.encode("utf-8")


def _otio_event(otio: Any, clip: Any, timeline: Any, number: int) -> EdlEvent:
    source = clip.trimmed_range()
    record = clip.transformed_time_range(clip.trimmed_range(), timeline.tracks)
    start = timeline.global_start_time or otio.opentime.RationalTime(0, record.start_time.rate)
    reference = clip.media_reference
    url = getattr(reference, "target_url", "") or ""
    reel = ""
    for facts in (clip.metadata, getattr(reference, "metadata", {})):
        for part in facts.values():
            if hasattr(part, "get"):
                reel = reel or str(part.get("reel", "") or "")
    return EdlEvent(
        number=f"{number:03d}",
        reel=reel or clip.name or "AX",
        clip=clip.name or "",
        file=url.rsplit("/", 1)[-1],
        channels="V",
        source_in=_timecode(otio, source.start_time),
        source_out=_timecode(otio, source.end_time_exclusive()),
        record_in=_timecode(otio, record.start_time + start),
        record_out=_timecode(otio, record.end_time_exclusive() + start),
    )


def _timecode(otio: Any, time: Any) -> str:
    try:
        return str(otio.opentime.to_timecode(time))
    except ValueError:
        # A rate that SMPTE has no timecode for.
        return f"{time.to_seconds():.3f}"
