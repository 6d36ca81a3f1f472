"""Every file that a result may hold beside its record: what it is called, and which of them a match will write.

What is no `Output` is never cleared away, whatever a record lists (`huemend.write.folder`).
"""

from __future__ import annotations

import re
import unicodedata
from enum import StrEnum
from typing import TYPE_CHECKING

from huemend.base.text import WINDOWS_DEVICE, told_apart
from huemend.model import Setup
from huemend.options import MatchOptions
from huemend.write.luts.kinds import CUBES, PARTS

if TYPE_CHECKING:
    from huemend.write.timeline.clips import Timeline


class Output(StrEnum):
    """A kind of file in a result; ``*`` stands for the setup, or for the angle and which of its LUTs it is."""

    CUBE = "luts/*.cube"
    CLF = "luts/*.clf"
    CDLS = "*.ccc"
    CLIPS = "*_clips.csv"
    GRADED_EDL = "*_cdl.edl"
    TIMELINE = "*_luts.otio"
    REPORT = "report.html"
    SUMMARY = "summary.html"
    CONTACT = "contact.png"
    SOLVED = "solved.npz"

    def of(self, stem: str) -> str:
        """Return the path inside the output folder, with ``/``."""
        return self.replace("*", stem)


_ANY = re.compile("|".join(re.escape(output).replace(r"\*", "[^/]+") for output in Output))


def is_output(path: str) -> bool:
    """Say whether a path inside an output folder is one that a result may hold."""
    return _ANY.fullmatch(path) is not None


def outputs_of(setup: Setup, options: MatchOptions, timeline: Timeline | None = None) -> list[str]:
    """Return the files that a match of a setup may write beside its record: paths inside the output folder."""
    write, stems = options.write, stems_of(setup).values()
    kinds = (*CUBES, *(PARTS if write.hue_luts else ()))
    names = [Output.CUBE.of(f"{stem}_{kind}") for stem in stems for kind in kinds]
    names += [Output.CLF.of(f"{stem}_match") for stem in stems if write.clf]
    of_setup = [Output.CDLS] if write.cdl else []
    of_setup += timeline.outputs if timeline is not None else []
    of_setup += [Output.REPORT, Output.SUMMARY, Output.SOLVED]
    of_setup += [Output.CONTACT] if options.report.pictures else []
    return names + [output.of(file_name(setup.name)) for output in of_setup]


def stems_of(setup: Setup) -> dict[str, str]:
    """Return what each angle's files are called; two names never share a file, whatever the disk ignores."""
    taken: set[str] = set()
    return {angle.name: told_apart(file_name(setup.name, angle.name), taken) for angle in setup.angles}


def file_name(*parts: str) -> str:
    """Join names to a file name that every disk can hold and that cannot leave its folder.

    Letters and digits of any script stay; all else becomes ``_``.

    >>> file_name("glaze-table", "wide")
    'glaze-table_wide'
    >>> file_name("..", "a/b c")
    '_a_b_c'
    """
    kept = []
    for part in parts:
        normal = unicodedata.normalize("NFC", part)
        kept.append("".join(c if c.isalnum() or c in "-_." else "_" for c in normal).strip("."))
    name = "_".join(kept)
    if WINDOWS_DEVICE.fullmatch(name):
        name = f"_{name}"
    # 255 bytes is what most disks allow; the caller still adds an ending.
    return name.encode("utf-8")[:180].decode("utf-8", "ignore")
