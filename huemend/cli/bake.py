"""``huemend bake``: run a match over media."""

from __future__ import annotations

from pathlib import Path

import click

from huemend.base.text import printable
from huemend.cli.params import PATH, delivered_option, read_setup, setup_argument
from huemend.cli.progress import progress
from huemend.cli.streams import say

_HELP = """Write the media of ANGLE in SETUP (a TOML file, or - for standard input) with its match in them.

Sound, timecode, frame rate and tags are carried over. The result is camera log as before: the grade
comes after it, and the LUT must not be applied to it again.
"""


@click.command(help=_HELP)
@setup_argument
@click.argument("angle")
@delivered_option
@click.option(
    "--out",
    type=PATH,
    metavar="PATH",
    help="File for a clip, folder for pictures; `baked/<setup>_<angle>_matched` beside SETUP if not given.",
)
@click.option(
    "--format",
    "format_",
    metavar="NAME",
    help="Of clips prores-4444 (if not given), prores-422hq, dnxhr-444, dnxhr-hqx, h264, hevc or ffv1; of stills, "
    "or of a clip as numbered pictures, tiff (of stills if not given) or exr.",
)
@click.option(
    "--overwrite", is_flag=True, help="Replace what an earlier bake left there; nothing else is ever written over."
)
@click.option("--quiet", is_flag=True, help="No progress on stderr.")
def bake(
    setup: Path,
    angle: str,
    delivered: Path | None,
    out: Path | None,
    format_: str | None,
    overwrite: bool,
    quiet: bool,
) -> None:
    from huemend.flow.bake import bake_angle
    from huemend.flow.deliver import default_out
    from huemend.media.encode import FORMATS
    from huemend.options import BakeOptions

    if format_ is not None and format_ not in FORMATS:
        raise click.BadParameter(f"'{printable(format_)}' is none of {', '.join(FORMATS)}", param_hint="--format")
    loaded = read_setup(setup)
    names = [each.name for each in loaded.angles]
    if angle not in names:
        raise click.BadParameter(f"'{printable(angle)}' is none of {', '.join(names)}", param_hint="ANGLE")
    options = BakeOptions() if format_ is None else BakeOptions(clip_format=format_, picture_format=format_)
    with progress(quiet=quiet) as on_event:
        done = bake_angle(
            loaded,
            angle,
            delivered or default_out(loaded),
            out,
            overwrite=overwrite,
            options=options,
            on_event=on_event,
        )
    where = done.paths[0] if len(done.paths) == 1 else done.paths[0].parent
    earlier = f", {done.skipped} were there from an earlier run" if done.skipped else ""
    rate = f", {done.fps:.1f} frames/s" if done.frames > 1 else ""
    say(f"{printable(where)}: {done.frames} {'frame' if done.frames == 1 else 'frames'}{rate}{earlier}")
    for note in done.notes:
        click.echo(f"huemend: {note}", err=True)
