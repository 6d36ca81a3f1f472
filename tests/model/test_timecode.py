"""Timecode against SMPTE ST 12-1."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from huemend.model.timecode import Timecode, nominal_rate

NTSC = Fraction(30000, 1001)
FILM = Fraction(24000, 1001)

# SMPTE ST 12-1:2014, 5.2.2: labels ;00 and ;01 are left out each minute but minutes 00, 10, 20, 30, 40 and 50.
# The counts follow from that rule: 1,798 frames a minute, 17,982 in ten, 107,892 in an hour, 2,589,408 in a day.
DROP = [
    ("00:00:00;00", 0),
    ("00:00:59;29", 1799),
    ("00:01:00;02", 1800),
    ("00:01:59;29", 3597),
    ("00:02:00;02", 3598),
    ("00:09:59;29", 17981),
    ("00:10:00;00", 17982),
    ("00:10:00;01", 17983),
    ("00:11:00;02", 19782),
    ("01:00:00;00", 107892),
    ("23:59:59;29", 2589407),
]


@pytest.mark.parametrize(("label", "frame"), DROP)
def test_drop_frame_labels(label: str, frame: int) -> None:
    assert Timecode.parse(label, NTSC).frame == frame
    assert str(Timecode(frame, NTSC, True)) == label


def test_drop_frame_keeps_up_with_the_clock() -> None:
    # ST 12-1, 5.2.2: over a day drop-frame differs from the clock by about 2.6 frames, 86 ms (as commonly stated).
    hours = Timecode.parse("23:59:59;29", NTSC)
    assert float(hours.seconds + 1 / NTSC) == pytest.approx(86400, abs=0.09)
    # Non-drop labels at 29.97 fall behind by 3.6 s an hour.
    assert float(Timecode.parse("01:00:00:00", NTSC).seconds) == pytest.approx(3603.6)


def test_twice_the_rate_leaves_out_four() -> None:
    # ST 12-1, 12.1: at 59.94 the four labels 00 to 03 go.
    fast = 2 * NTSC
    assert Timecode.parse("00:01:00;04", fast).frame == 3600
    with pytest.raises(ValueError, match="leaves out"):
        Timecode.parse("00:01:00;03", fast)


@pytest.mark.parametrize("label", ["00:01:00;00", "00:01:00;01", "23:59:00;01"])
def test_labels_that_do_not_exist(label: str) -> None:
    with pytest.raises(ValueError, match="leaves out"):
        Timecode.parse(label, NTSC)


@pytest.mark.parametrize(
    "text", ["", "1:2:3", "24:00:00:00", "00:60:00:00", "00:00:00:25", "a0:00:00:00", "00:00:60:00"]
)
def test_what_is_no_timecode(text: str) -> None:
    with pytest.raises(ValueError, match=r"not a (timecode|label)"):
        Timecode.parse(text, Fraction(25))


def test_whole_rates_know_no_drop_frame() -> None:
    assert not Timecode.parse("01:00:00;00", Fraction(30)).drop
    assert not Timecode.parse("01:00:00;00", FILM).drop
    assert nominal_rate(FILM) == 24


def test_midnight() -> None:
    assert str(Timecode.parse("23:59:59:24", Fraction(25)) + 1) == "00:00:00:00"
    assert str(Timecode.parse("23:59:59;29", NTSC) + 1) == "00:00:00;00"
    assert str(Timecode.parse("00:00:00:00", Fraction(25)) + -1) == "23:59:59:24"


RATES = [(NTSC, True), (NTSC, False), (2 * NTSC, True), (4 * NTSC, True), (FILM, False), (Fraction(25), False)]


@given(frame=st.integers(0, 2_000_000), case=st.sampled_from(RATES))
def test_a_label_names_one_frame(frame: int, case: tuple[Fraction, bool]) -> None:
    fps, drop = case
    once = Timecode(frame, fps, drop)
    assert Timecode.parse(str(once), fps) == once


@pytest.mark.parametrize("fps", [NTSC, 2 * NTSC])
@pytest.mark.slow
def test_a_day_of_drop_frame_labels_is_that_of_opentimelineio(fps: Fraction) -> None:
    """Labels and frames of a whole day by OpenTimelineIO (Academy Software Foundation): every tenth frame, and all
    of the frames about each minute, where labels are left out."""
    time = pytest.importorskip("opentimelineio.opentime", reason="needs opentimelineio")
    rate = nominal_rate(fps)
    day = 86_400 * rate - rate // 15 * (1440 - 144)
    starts = [Timecode.parse(f"{minute // 60:02d}:{minute % 60:02d}:00;04", fps).frame for minute in range(1440)]
    frames = {*range(0, day, 10 * rate // 30), day - 1}
    frames.update(frame for start in starts for frame in range(max(start - 8, 0), start + 2))
    for frame in sorted(frames):
        label = str(Timecode(frame, fps, True))
        assert label == time.to_timecode(time.RationalTime(frame, float(fps)), float(fps), True)
        assert Timecode.parse(label, fps).frame == frame
        assert time.from_timecode(label, float(fps)).value == frame
