"""Options of files that are not media: how much of each is read; ``huemend.options`` hands them on."""

from __future__ import annotations

from dataclasses import dataclass

#: Rates that an EDL's timecode can count, in frames a second, by the names that people call them: those of SMPTE
#: ST 12-1 and ST 12-3, from memory, and in thousandths their neighbours over 1.001.
EDL_RATES = {
    "23.976": 24000 / 1001,
    "24": 24.0,
    "25": 25.0,
    "29.97": 30000 / 1001,
    "30": 30.0,
    "47.952": 48000 / 1001,
    "48": 48.0,
    "50": 50.0,
    "59.94": 60000 / 1001,
    "60": 60.0,
}


@dataclass(frozen=True, kw_only=True)
class FileOptions:
    """Bytes that files other than media may hold; what is larger is not read."""

    #: ``report.json``. That of 64 angles with every sample's counts holds a few megabytes.
    record: int = 64_000_000
    #: What a run leaves for the next one: of a setup of a day, of a bake.
    state: int = 4_000_000
    #: A .cube: 129 nodes a side with seven decimals hold 64 MB.
    lut: int = 128_000_000
    #: A CMX3600 EDL; an event with its comments holds some 300 bytes.
    edl: int = 16_000_000
    #: An OpenTimelineIO file.
    timeline: int = 64_000_000
    #: A text file of numbers that an encoding of the setup file names.
    table: int = 4_000_000
    #: The contact sheet of a setup, as the index of a day shows it.
    picture: int = 16_000_000
