"""``huemend encodings``: list the camera encodings that are known."""

from __future__ import annotations

import click

from huemend.cli.streams import say_json

_HELP = """List the camera encodings that are known, by the names that a setup file uses.

The mid-grey code is that of an 18 % grey in ten bits, full range: read it off a waveform of a grey card to
make sure of an encoding. Case, spaces and punctuation of a name do not matter.
"""


@click.command(help=_HELP)
@click.option("--json", "as_json", is_flag=True, help="Print the list as JSON.")
def encodings(as_json: bool) -> None:
    from huemend.encodings.registry import all_encodings

    known = all_encodings()
    if as_json:
        rows = [
            {
                "name": encoding.name,
                "curve": encoding.curve.name,
                "gamut": encoding.gamut.name,
                "mid_grey_code": encoding.mid_grey_code,
                "largest_linear": None if encoding.is_linear else encoding.largest_linear,
                "display_referred": encoding.display_referred,
                "source": encoding.source,
            }
            for encoding in known
        ]
        say_json({"schema": "huemend-encodings/1", "encodings": rows})
        return
    width = max(len(encoding.name) for encoding in known)
    gamut_width = max(len(encoding.gamut.name) for encoding in known)
    click.echo(f"{'NAME':{width}}  MID-GREY  {'GAMUT':{gamut_width}}  SOURCE")
    for encoding in known:
        code = "-" if encoding.mid_grey_code is None else f"{encoding.mid_grey_code:.0f}"
        click.echo(
            f"{encoding.name:{width}}  {code:>8}  {encoding.gamut.name:{gamut_width}}  {encoding.curve.source}"
        )
