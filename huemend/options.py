"""Options of every stage: the only place where a default or a bound is written."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = [
    "CorrespondOptions",
    "LineariseOptions",
    "MatchOptions",
    "ReportOptions",
    "SampleOptions",
    "SolveOptions",
    "ValidateOptions",
    "WriteOptions",
]


@dataclass(frozen=True, kw_only=True)
class SampleOptions:
    """Reading pictures and clips.

    ``largest_side`` and ``largest_megapixels`` bound what a hostile header can make us allocate. The setup file
    is bounded in bytes, angles and stills an angle for the same reason. ``pixel_aspect`` and ``exposure_index``
    are (lowest, highest) of what a setup file may say; ``crop_leaves`` is the least share of width and of height
    that a crop must leave.
    """

    largest_side: int = 20_000
    largest_megapixels: int = 120
    smallest_side: int = 32
    largest_setup_file: int = 1_000_000
    most_angles: int = 64
    most_stills: int = 1_000
    pixel_aspect: tuple[float, float] = (0.25, 4.0)
    exposure_index: tuple[int, int] = (25, 409_600)
    crop_leaves: float = 0.05


@dataclass(frozen=True, kw_only=True)
class LineariseOptions:
    """Decoding to scene-linear light.

    ``working_width`` is the width that pictures are averaged down to before surfaces are looked for: patches
    average many pixels anyway, and a colour match does not ask for more.
    """

    working_width: int = 1920


@dataclass(frozen=True, kw_only=True)
class CorrespondOptions:
    """Finding surfaces that two angles share."""


@dataclass(frozen=True, kw_only=True)
class SolveOptions:
    """Fitting a match to pairs."""


@dataclass(frozen=True, kw_only=True)
class ValidateOptions:
    """Proving a match on samples that it did not use."""


@dataclass(frozen=True, kw_only=True)
class ReportOptions:
    """How much the report shows, and how large.

    ``pictures`` set to False leaves out every image of the set and its people. ``picture_width`` and
    ``picture_megapixels`` bound one picture and all pictures of a report together; ``samples_drawn`` is the
    most samples drawn on one picture (the numbers cover all of them), ``worst`` how many of the worst are
    shown as crops.
    """

    pictures: bool = True
    picture_width: int = 1280
    picture_megapixels: float = 7.0
    jpeg_quality: int = 88
    samples_drawn: int = 500
    worst: int = 6


@dataclass(frozen=True, kw_only=True)
class WriteOptions:
    """LUTs and record.

    ``target`` says into which camera encoding the match LUT writes: the angle's own (``angle``) or the hero's
    (``hero``). ``lut_range`` is the range of the codes that go into and come out of the camera side of a LUT:
    ``full``, ``legal``, or ``media`` for that of the angle's own media. ``lut_size`` forces a size; None chooses
    from ``lut_sizes`` by the interpolation error, in 10-bit codes: its 99th percentile over the setup's own
    colours (``lut_p99``) and over the whole cube (``lut_whole_p99``). ``working_encoding`` is a published log
    space, ``view`` the rendering of the view LUT. ``colours`` bounds how many of the setup's own colours these
    measurements use, ``cdl_colours`` how many the closest CDL is fitted to.
    """

    target: str = "angle"
    lut_range: str = "media"
    lut_size: int | None = None
    lut_sizes: tuple[int, ...] = (17, 33, 65)
    lut_p99: float = 1.0
    lut_whole_p99: float = 4.0
    working_encoding: str = "ACEScct"
    view: str = "aces"
    clf: bool = True
    cdl: bool = True
    colours: int = 20_000
    cdl_colours: int = 1_500


@dataclass(frozen=True, kw_only=True)
class MatchOptions:
    """Everything that ``match_setup`` can be told."""

    sample: SampleOptions = field(default_factory=SampleOptions)
    linearise: LineariseOptions = field(default_factory=LineariseOptions)
    correspond: CorrespondOptions = field(default_factory=CorrespondOptions)
    solve: SolveOptions = field(default_factory=SolveOptions)
    validate: ValidateOptions = field(default_factory=ValidateOptions)
    write: WriteOptions = field(default_factory=WriteOptions)
