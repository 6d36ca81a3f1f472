"""EDLs and timelines: nothing of a list is lost, and another reader finds the CDLs in it."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from huemend.errors import MissingLibraryError, TimelineError
from huemend.model import Angle
from huemend.write.luts.cdl import Cdl, CdlEntry
from huemend.write.timeline.clips import (
    AngleFacts,
    clip_csv,
    graded_edl,
    match_events,
    read_timeline,
    timeline_files,
)
from huemend.write.timeline.edl import EdlEvent, parse_edl, with_cdls

# Made for this test after the CMX3600 layout: number, reel, channels, transition, four timecodes.
LIST = """TITLE: GLAZE TABLE V3
FCM: NON-DROP FRAME

001  A001C003 V     C        01:00:10:00 01:00:14:12 10:00:00:00 10:00:04:12
* FROM CLIP NAME: A001C003_220101_R1AB.mov
* LOC: 10:00:01:00 RED     LOOK HERE
002  B001C002 V     C        01:00:20:00 01:00:22:00 10:00:04:12 10:00:06:12
M2   B001C002       012.5                01:00:20:00
* FROM CLIP NAME: B001C002_220101_R2CD.mov
003  A001C003 V     C        01:00:14:12 01:00:14:12 10:00:06:12 10:00:06:12
003  B001C002 V     D    024 01:00:22:00 01:00:25:00 10:00:06:12 10:00:09:12
EFFECTS NAME IS CROSS DISSOLVE
* FROM CLIP NAME: A001C003_220101_R1AB.mov
* TO CLIP NAME: B001C002_220101_R2CD.mov
004  AX       AA/V  C        00:00:00:00 00:00:02:00 10:00:09:12 10:00:11:12
* FROM CLIP NAME: TITLES
005  BL       V     C        00:00:00:00 00:00:01:00 10:00:11:12 10:00:12:12
006  B001C002 A     C        01:00:20:00 01:00:22:00 10:00:12:12 10:00:14:12
007  B001C002 V     C        01:00:30:00 01:00:31:00 10:00:14:12 10:00:15:12
* FROM CLIP NAME: B001C002_220101_R2CD.mov
* ASC_SOP (1.0 1.0 1.0)(0.0 0.0 0.0)(1.0 1.0 1.0)
* ASC_SAT 1.0
"""
MILD = Cdl(slope=(1.1, 0.9, 1.0), offset=(0.01, -0.02, 0.0), power=(1.0, 1.05, 0.95), saturation=0.9)


def angle(name: str, *media: str) -> Angle:
    return Angle(name=name, media=tuple(Path("/media") / file for file in media), encoding="V-Log/V-Gamut")


ANGLES = (angle("wide", "A001C003_220101_R1AB.mov"), angle("tight", "B001C002_220101_R2CD.mov"))


def luts(name: str, *kinds: str) -> dict[str, str]:
    return {kind: f"luts/glaze_{name}_{kind}.cube" for kind in kinds}


FACTS = {
    "wide": AngleFacts(verdict="hero", note="the hero: nothing to match", luts=luts("wide", "working", "view")),
    "tight": AngleFacts(
        verdict="matched",
        luts=luts("tight", "match", "view"),
        cdl=CdlEntry(id="glaze_tight", cdl=MILD, input="ACEScct, full range", description="", mean=0.0, p95=0.0),
    ),
    "third": AngleFacts(verdict="unsolved", note="unsolved: no match", luts=luts("third", "view")),
}


def test_events_are_read() -> None:
    edl = parse_edl(LIST.encode(), "list")
    assert [(event.number, event.reel, event.channels) for event in edl.events] == [
        ("001", "A001C003", "V"),
        ("002", "B001C002", "V"),
        ("003", "A001C003", "V"),
        ("003", "B001C002", "V"),
        ("004", "AX", "AA/V"),
        ("005", "BL", "V"),
        ("006", "B001C002", "A"),
        ("007", "B001C002", "V"),
    ]
    assert edl.events[0].source_in == "01:00:10:00" and edl.events[0].record_out == "10:00:04:12"
    # The two halves of a dissolve: where from, where to.
    assert edl.events[2].clip.startswith("A001") and edl.events[3].clip.startswith("B001")
    assert [event.is_picture for event in edl.events] == [True, True, True, True, True, False, False, True]
    assert [event.graded for event in edl.events] == [False] * 7 + [True]


def test_an_edl_without_cdls_comes_out_byte_for_byte() -> None:
    for text in (LIST, LIST.replace("\n", "\r\n"), LIST.rstrip("\n"), "\ufeff" + LIST):
        assert with_cdls(parse_edl(text.encode(), "list"), {}) == text.encode()
    latin = LIST.replace("LOOK HERE", "SCH\u00d6N").encode("latin-1")
    assert with_cdls(parse_edl(latin, "list"), {}) == latin


def test_comments_are_added_and_nothing_else_changes() -> None:
    edl = parse_edl(LIST.encode(), "list")
    out = graded_edl(edl, match_events(edl.events, ANGLES), FACTS).decode()
    lines = out.splitlines()
    ours = [line for line in lines if line.startswith(("*ASC_", "* CDL IS"))]
    assert [line for line in lines if line not in ours] == LIST.splitlines()
    # Event 002, and 003 to the clip that it dissolves to; 007 keeps its own, the hero and the titles have none.
    assert len(ours) == 6
    assert ours[2] == ours[5] == "* CDL IS MEANT IN ACESCCT, FULL RANGE"
    assert lines[lines.index(ours[0]) - 1].startswith("M2")
    place = [index for index, line in enumerate(lines) if line == ours[0]][1]
    assert lines[place - 1].startswith("003  B001C002")


def test_opentimelineio_finds_the_cdls() -> None:
    # OpenTimelineIO's CMX3600 adapter, which reads CDLs from the comments of an event.
    otio = pytest.importorskip("opentimelineio")
    pytest.importorskip("otio_cmx3600_adapter")
    text = "\n".join(line for line in LIST.splitlines() if not line.startswith("006"))
    edl = parse_edl(text.encode(), "list")
    out = graded_edl(edl, match_events(edl.events, ANGLES), FACTS).decode()
    timeline = otio.adapters.read_from_string(out, adapter_name="cmx_3600")
    clips = [clip for clip in timeline.find_clips() if clip.metadata.get("cdl")]
    assert len(clips) == 3
    for clip in clips[:2]:
        cdl = clip.metadata["cdl"]
        assert clip.name == "B001C002_220101_R2CD.mov"
        assert list(cdl["asc_sop"]["slope"]) == pytest.approx(MILD.slope)
        assert list(cdl["asc_sop"]["offset"]) == pytest.approx(MILD.offset)
        assert list(cdl["asc_sop"]["power"]) == pytest.approx(MILD.power)
        assert float(cdl["asc_sat"]) == pytest.approx(MILD.saturation)


def test_an_edl_whose_rate_is_stated_goes_out_as_otio_too(tmp_path: Path) -> None:
    # Times as OpenTimelineIO computes them from its own timeline, against the timecodes of the list.
    otio = pytest.importorskip("opentimelineio")
    pytest.importorskip("otio_cmx3600_adapter")
    path = tmp_path / "cut.edl"
    path.write_text(LIST)
    timeline = read_timeline(path, rate="24")
    files = timeline_files(timeline, ANGLES, FACTS, "glaze")
    named = [output.of("glaze") for output in timeline.outputs]
    assert list(files) == named == ["glaze_clips.csv", "glaze_cdl.edl", "glaze_luts.otio"]

    plain = timeline_files(read_timeline(path), ANGLES, FACTS, "glaze")
    assert plain == {name: files[name] for name in plain}
    out = otio.adapters.read_from_string(files["glaze_luts.otio"].decode(), "otio_json")
    listed = [event for event in timeline.events if "V" in event.channels and event.source_in != event.source_out]
    clips = [clip for track in out.video_tracks() for clip in track.find_clips()]
    assert len(clips) == len(listed) == 6
    for clip, event in zip(clips, listed, strict=True):
        place = clip.transformed_time_range(clip.trimmed_range(), out.tracks)
        start = place.start_time + out.global_start_time
        assert otio.opentime.to_timecode(clip.source_range.start_time) == event.source_in
        assert otio.opentime.to_timecode(start) == event.record_in
        assert otio.opentime.to_timecode(start + place.duration) == event.record_out
    tight = [clip for clip in clips if clip.name.startswith("B001")]
    assert [clip.metadata["huemend"]["luts"]["match"] for clip in tight] == ["luts/glaze_tight_match.cube"] * 3
    slopes = [list(clip.metadata["cdl"]["asc_sop"]["slope"]) for clip in tight]
    # The last one carried a CDL already.
    assert slopes == [list(MILD.slope), list(MILD.slope), [1.0, 1.0, 1.0]]
    with pytest.raises(TimelineError, match="at 24 frames a second"):
        path.write_text(LIST.replace("01:00:14:12", "01:00:14:29"))
        read_timeline(path, rate="24")


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("", None, "no event"),
        ("TITLE: X\n\nhello\n", None, "no event"),
        ("TITLE: X\n001  A V C 01:00:00:00 01:00:01:00 10:00:00:00\n", 2, "begins like an event"),
        ("001  A V Q 01:00:00:00 01:00:01:00 10:00:00:00 10:00:01:00\n", 1, "begins like an event"),
        ("001  A V C 01:61:00:00 01:00:01:00 10:00:00:00 10:00:01:00\n", 1, "no timecode"),
        ("\n1\n", 2, "begins like an event"),
        ("\0\0", None, "no text"),
    ],
)
def test_what_is_no_list_is_refused_with_file_and_line(
    tmp_path: Path, text: str, line: int | None, words: str
) -> None:
    path = tmp_path / "bad.edl"
    path.write_text(text)
    with pytest.raises(TimelineError, match=words) as caught:
        read_timeline(path)
    assert str(caught.value).startswith(f"{path}:{line}: " if line else f"{path}: ")
    with pytest.raises(TimelineError, match="there is no such EDL"):
        read_timeline(tmp_path / "missing.edl")


@settings(max_examples=200)
@given(
    st.lists(st.sampled_from([*LIST.splitlines(), "M2", "* ASC_SOP", "99", "", "* TO CLIP NAME: x"]), max_size=12)
)
def test_any_shuffled_list_is_read_or_refused_and_keeps_its_lines(lines: list[str]) -> None:
    text = "\n".join(lines)
    try:
        edl = parse_edl(text.encode(), "fuzz")
    except TimelineError:
        return
    cdls = {place: MILD for place, event in enumerate(edl.events) if not event.graded}
    out = with_cdls(edl, cdls).decode().split("\n")
    assert [line for line in out if not line.startswith("*ASC_")] == lines


def event(reel: str, clip: str = "", file: str = "", channels: str = "V") -> EdlEvent:
    code = "01:00:00:00"
    return EdlEvent(
        number="001", reel=reel, clip=clip, file=file, channels=channels,
        source_in=code, source_out=code, record_in=code, record_out=code,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("shown", "expected"),
    [
        (event("X", "A001C003_220101_R1AB.mov"), "wide"),
        (event("X", "a001c003_220101_r1ab"), "wide"),
        (event("X", "A001C003"), "wide"),
        (event("X", "A001C003_220101_R1AB.new.01"), "wide"),
        (event("X", "C:\\media\\A001C003_220101_R1AB.mov"), "wide"),
        (event("X", "scene 4", "B001C002_220101_R2CD.mxf"), "tight"),
        (event("X", "wide"), "wide"),
        (event("A001C003"), "wide"),
        (event("A001"), "wide"),
        # The same reel is no proof where the clip's name says that it is another clip.
        (event("A001", "A001C009_220101_R1AB.mov"), ""),
        (event("A00", ""), ""),
        (event("A001C0031", ""), ""),
        (event("AX", "TITLES"), ""),
    ],
)
def test_whose_event_it_is(shown: EdlEvent, expected: str) -> None:
    (found,) = match_events([shown], ANGLES)
    assert found.angle == expected
    assert bool(found.note) == (not expected)


def test_an_event_that_two_angles_could_claim_is_given_to_none() -> None:
    twins = (angle("wide", "A001C003_X.mov"), angle("tight", "A001C003_Y.mov"))
    (found,) = match_events([event("A001C003")], twins)
    assert found.angle == "" and found.note == "could be wide or tight"


def test_patterns_come_first() -> None:
    (found,) = match_events([event("A001", "A001C009.mov")], ANGLES, {"tight": ["A001*"]})
    assert found.angle == "tight"


def test_the_csv() -> None:
    edl = parse_edl(LIST.encode(), "list")
    rows = list(csv.DictReader(io.StringIO(clip_csv(match_events(edl.events, ANGLES), FACTS))))
    assert [row["event"] for row in rows] == ["001", "002", "003", "003", "004", "007"]
    assert [row["angle"] for row in rows] == ["wide", "tight", "wide", "tight", "", "tight"]
    assert rows[0]["verdict"] == "hero" and rows[0]["match_lut"] == "" and rows[0]["note"].startswith("the hero")
    assert rows[1]["match_lut"] == "luts/glaze_tight_match.cube" and rows[1]["cdl"] == "glaze_tight"
    assert rows[4]["note"] == "no angle of this setup has that name"
    assert rows[5]["note"] == "carries a CDL already"


def test_a_spreadsheet_never_runs_a_clip_name() -> None:
    shown = match_events([event("X", "=HYPERLINK(1)")], ANGLES)
    assert next(csv.DictReader(io.StringIO(clip_csv(shown, FACTS))))["clip"] == "'=HYPERLINK(1)"


def test_an_unsolved_angle_is_told() -> None:
    third = match_events([event("third")], (*ANGLES, angle("third", "C001.mov")))
    row = next(csv.DictReader(io.StringIO(clip_csv(third, FACTS))))
    assert (row["verdict"], row["note"], row["match_lut"]) == ("unsolved", "unsolved: no match", "")


def test_an_opentimelineio_file(tmp_path: Path) -> None:
    otio = pytest.importorskip("opentimelineio")
    time = otio.opentime
    timeline = otio.schema.Timeline("glaze", global_start_time=time.RationalTime(86400, 24))
    track = otio.schema.Track("V1", kind=otio.schema.TrackKind.Video)
    timeline.tracks.append(track)
    for name, start in (("A001C003_220101_R1AB", 100), ("B001C002_220101_R2CD", 200)):
        span = time.TimeRange(time.RationalTime(start, 24), time.RationalTime(48, 24))
        media = otio.schema.ExternalReference(f"file:///media/{name}.mov", span)
        track.append(otio.schema.Clip(name, media, span))
    path = tmp_path / "glaze.otio"
    otio.adapters.write_to_file(timeline, str(path))
    timeline = read_timeline(path)
    events = timeline.events
    assert timeline.edl is None
    files = timeline_files(timeline, ANGLES, FACTS, "glaze")
    assert list(files) == [each.of("glaze") for each in timeline.outputs] == ["glaze_clips.csv", "glaze_luts.otio"]
    back = otio.adapters.read_from_string(files["glaze_luts.otio"].decode(), "otio_json")
    wide, tight = back.find_clips()
    assert wide.metadata["huemend"]["verdict"] == "hero" and "cdl" not in wide.metadata
    assert tight.metadata["huemend"]["luts"]["match"] == "luts/glaze_tight_match.cube"
    assert tight.metadata["huemend"]["cdl"]["input"] == "ACEScct, full range"
    assert list(tight.metadata["cdl"]["asc_sop"]["slope"]) == pytest.approx(MILD.slope)
    assert all(not clip.metadata for clip in timeline.otio.find_clips()), "what came in is left alone"
    assert timeline_files(timeline, ANGLES, FACTS, "glaze") == files
    for clip in (wide, tight):
        del clip.metadata["huemend"]
    del tight.metadata["cdl"]
    assert back.to_json_string() == timeline.otio.to_json_string(), "nothing else changed"
    assert [found.angle for found in match_events(events, ANGLES)] == ["wide", "tight"]
    assert (events[1].source_in, events[1].source_out) == ("00:00:08:08", "00:00:10:08")
    assert (events[1].record_in, events[1].record_out) == ("01:00:02:00", "01:00:04:00")
    for text in ("", "{}", "[" * 5000, '{"OTIO_SCHEMA": "Timeline.1"}'):
        path.write_text(text)
        with pytest.raises(TimelineError):
            read_timeline(path)


def test_without_opentimelineio_the_extra_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "opentimelineio", None)
    with pytest.raises(MissingLibraryError, match=r"huemend\[timeline\]"):
        read_timeline(tmp_path / "x.otio")


def test_an_edl_is_a_timeline_too(tmp_path: Path) -> None:
    path = tmp_path / "list.edl"
    path.write_text(LIST)
    timeline = read_timeline(path, {"tight": ["B*"]})
    assert timeline.edl is not None and timeline.events == timeline.edl.events
    files = timeline_files(timeline, ANGLES, FACTS, "glaze")
    assert list(files) == ["glaze_clips.csv", "glaze_cdl.edl"]
    assert files["glaze_cdl.edl"].count(b"*ASC_SOP") == 2
