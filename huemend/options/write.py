"""Options of what is written: LUTs and report."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, kw_only=True)
class ReportOptions:
    """How much the report shows, and how large.

    ``pictures`` set to False leaves out every image of the set and its people. Squares of surfaces that both views
    show are ``crop_pixels`` wide, a whole number of 16. ``look`` is a cube under which every picture is shown as
    well; ``look_takes`` says what it is given: ``hero`` for the hero's camera log at the hero's range, else a
    published log space. ``motion`` shows so many seconds of clips, in pictures of about ``motion_pixels``.
    """

    pictures: bool = True
    crop_pixels: int = 256
    look: Path | None = None
    look_takes: str = "hero"
    motion: bool = False
    motion_seconds: float = 2.5
    motion_pixels: int = 29_000


@dataclass(frozen=True, kw_only=True)
class WriteOptions:
    """LUTs and record.

    ``target`` says into which camera encoding the match LUT writes: the angle's own (``angle``) or the hero's
    (``hero``). ``lut_range`` is the range of the codes that go into and come out of the camera side of a LUT:
    ``full``, ``legal``, or ``media`` for that of the angle's own media. ``lut_size`` forces a size; None chooses
    from ``lut_sizes`` (``view_sizes`` for a monitor: LUT boxes take 33 nodes as a rule; common practice, no
    source) by the interpolation error, in 10-bit codes: its 99th percentile over the setup's own colours
    (``lut_p99``), and for a match over every code of the cube that stands for real light (``lut_real_p99``).
    ``working_encoding`` is a published log space, ``view`` the rendering of the view LUT. ``colours`` bounds how
    many of the setup's own colours these measurements use, ``cdl_colours`` how many the closest CDL is fitted to.
    ``hue_luts`` writes a match that bends hues as two LUTs as well, the matrix and the rest.
    ``neutral_highlights`` lets what the camera clips run to neutral, from ``neutral_stops`` under the clip (a stop
    is common practice for a highlight roll-off, no source).
    """

    target: str = "angle"
    lut_range: str = "media"
    lut_size: int | None = None
    lut_sizes: tuple[int, ...] = (17, 33, 65)
    view_sizes: tuple[int, ...] = (17, 33)
    lut_p99: float = 1.0
    lut_real_p99: float = 4.0
    working_encoding: str = "ACEScct"
    view: str = "aces"
    clf: bool = True
    cdl: bool = True
    colours: int = 20_000
    cdl_colours: int = 600
    hue_luts: bool = False
    neutral_highlights: bool = False
    neutral_stops: float = 1.0
