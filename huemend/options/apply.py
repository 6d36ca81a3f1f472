"""Options of writing a match into media."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class BakeOptions:
    """Running a match over media.

    Attributes
    ----------
    clip_format, picture_format : str
        What is written unless told otherwise: a key of ``huemend.media.encode.FORMATS``.
    queue : int
        Frames held between reading, the LUT and writing, which bounds the memory.
    strip_pixels : int
        Pixels of a still that go through the LUT at a time, which bounds the memory; 4096 x 2160 go at once.
    report_every : float
        Seconds between two words on progress.
    """

    clip_format: str = "prores-4444"
    picture_format: str = "tiff"
    queue: int = 2
    strip_pixels: int = 9_000_000
    report_every: float = 0.5
