"""Options that say what is matched and handed on, which several commands have; and what they come to."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from huemend.base.text import printable
from huemend.cli.params import PATH
from huemend.options import MatchOptions, ReportOptions, WriteOptions
from huemend.options.files import EDL_RATES

if TYPE_CHECKING:
    from huemend.write.timeline.clips import Timeline

_Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]


def _group(*options: _Decorator) -> _Decorator:
    """Return what adds several options to a command, which is given them by their names."""

    def add(command: Callable[..., Any]) -> Callable[..., Any]:
        for option in reversed(options):
            command = option(command)
        return command

    return add


#: What one setup and a day of them are matched with, here or on a farm: all that `match_options` reads.
matching_options = _group(
    click.option(
        "--look",
        type=PATH,
        metavar="FILE",
        help="The show's look (.cube): the report shows every picture under it as well; numbers stay plain.",
    ),
    click.option(
        "--look-takes",
        default=ReportOptions.look_takes,
        show_default=True,
        metavar="NAME",
        help="What the look expects: hero, the hero's camera log at its range, or a log space such as ACEScct.",
    ),
    click.option("--no-pictures", is_flag=True, help="Leave every picture out of the report."),
    click.option(
        "--motion", is_flag=True, help="Of clips, let the report play a few seconds of hero and angle too."
    ),
    click.option(
        "--model",
        type=click.Choice(["auto", "matrix"]),
        default="auto",
        show_default=True,
        help="How far a match may go: as far as is proven, or exposure, balance and a 3x3 at most.",
    ),
    click.option(
        "--by-colours",
        is_flag=True,
        help="Match angles that would stay unsolved by their colours alone, always to be reviewed.",
    ),
    click.option(
        "--target",
        type=click.Choice(["angle", "hero"]),
        default=WriteOptions.target,
        show_default=True,
        help="Encoding that match LUTs write: the angle's own, or the hero's, so that one conversion serves all.",
    ),
    click.option(
        "--lut-range",
        type=click.Choice(["media", "full", "legal"]),
        default=WriteOptions.lut_range,
        show_default=True,
        help="Range of the codes that LUTs are given: that of the media, or another.",
    ),
    click.option(
        "--lut-size",
        type=click.IntRange(2, 129),
        metavar="N",
        help="Nodes along each side of every cube; chosen by the error that it leaves if not given.",
    ),
    click.option(
        "--working-encoding",
        default=WriteOptions.working_encoding,
        show_default=True,
        metavar="NAME",
        help="Published log space of the working LUT and the CDL.",
    ),
    click.option(
        "--view",
        type=click.Choice(["aces", "plain", "hdr"]),
        default=WriteOptions.view,
        show_default=True,
        help="Rendering of the view LUT: ACES 2.0 for Rec.709, the plain measurement view, or ACES 2.0 for PQ.",
    ),
    click.option(
        "--hue-luts",
        is_flag=True,
        help="Where a match bends hues beyond its matrix, also write matrix and hues as two LUTs, so that the "
        "grade can mix in less of the hues.",
    ),
    click.option(
        "--neutral-highlights",
        is_flag=True,
        help="Let highlights run to neutral where the camera clips, so that the match tints no clipped window; "
        "in match, working and view LUTs, not in CLF and CDL.",
    ),
)
timeline_options = _group(
    click.option(
        "--edl",
        type=PATH,
        metavar="FILE",
        help="CMX3600 EDL or OpenTimelineIO file: list each clip's LUTs, and write it again with its CDLs.",
    ),
    click.option(
        "--edl-rate",
        type=click.Choice(list(EDL_RATES)),
        metavar="RATE",
        help="Frames a second of an EDL, which does not state them: it is then written as OpenTimelineIO too, "
        f"each clip with its LUTs and CDL. One of {', '.join(EDL_RATES)}.",
    ),
    click.option(
        "--clip",
        "clips",
        multiple=True,
        metavar="ANGLE=PATTERN",
        help="Clips or reels of --edl that are an angle's, such as wide=A001*; several may be given.",
    ),
)


def match_options(given: Mapping[str, Any]) -> MatchOptions:
    """Return the options of a match as a command was given `matching_options`."""
    luts = ("target", "lut_range", "lut_size", "working_encoding", "view", "hue_luts", "neutral_highlights")
    plain = MatchOptions(write=WriteOptions(**{name: given[name] for name in luts}))
    report = replace(
        plain.report,
        pictures=not given["no_pictures"],
        motion=given["motion"],
        look=given["look"],
        look_takes=given["look_takes"],
    )
    return replace(
        plain,
        report=report,
        solve=replace(plain.solve, roots=given["model"] == "auto"),
        colours=replace(plain.colours, ask=given["by_colours"]),
    )


def timeline_of(given: dict[str, Any], angles: list[str]) -> Timeline | None:
    """Read the timeline that a command was given, before the long work starts; None if it was given none.

    Raises click.UsageError if ``--clip`` names no angle or comes without ``--edl``, or a rate is stated for no
    EDL.
    """
    patterns: dict[str, list[str]] = {}
    for clip in given["clips"]:
        angle, equals, pattern = clip.partition("=")
        if not equals or not pattern or angle not in angles:
            raise click.UsageError(f"--clip {printable(clip)}: say ANGLE=PATTERN, with one of {', '.join(angles)}")
        patterns.setdefault(angle, []).append(pattern)
    if given["edl"] is None:
        if patterns:
            raise click.UsageError("--clip needs --edl")
        if given["edl_rate"] is not None:
            raise click.UsageError("--edl-rate needs --edl")
        return None
    from huemend.write.timeline.clips import read_timeline
    from huemend.write.timeline.otio import OTIO_ENDINGS

    if given["edl_rate"] is not None and given["edl"].suffix.lower() in OTIO_ENDINGS:
        raise click.UsageError("--edl-rate is for EDLs; an OpenTimelineIO file states its rate")
    return read_timeline(given["edl"], patterns, given["edl_rate"])


def lut_notes(record: Mapping[str, Any]) -> Iterator[str]:
    """Yield what a user should know before using LUTs of a record, one line an angle."""
    for name, angle in record["angles"].items():
        notes = dict.fromkeys(lut["note"] for lut in angle["luts"] if lut["note"])
        if notes:
            yield f"{name}: {'; '.join(notes)}"
