"""Options of writing a match into media."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class BakeOptions:
    """Running a match over media."""

    #: What is written unless told otherwise: a key of ``huemend.media.encode.FORMATS``.
    clip_format: str = "prores-4444"
    picture_format: str = "tiff"
    #: Frames held between reading, the LUT and writing, which bounds the memory.
    queue: int = 2
    #: Pixels of a still that go through the LUT at a time, which bounds the memory; 4096 x 2160 go at once.
    strip_pixels: int = 9_000_000
    #: Seconds between two words on progress.
    report_every: float = 0.5
