"""The report: what a colorist reads before trusting a match.

``render_report`` turns a result into files, ``render_day_index`` many records into a page; nothing is written
here, so that the caller can place every file whole or not at all. Throughout, ``result`` is a setup's result and
``found`` that of one of its angles.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from huemend.model import SetupResult
from huemend.write.luts.kinds import LutFile
from huemend.write.outputs import Output
from huemend.write.report.day import render_day_index
from huemend.write.report.day_rows import DayRow
from huemend.write.report.terminal import terminal_table

if TYPE_CHECKING:
    from huemend.write.luts.shoulder import NeutralShoulder
    from huemend.write.report.crops import Crop
    from huemend.write.report.pictures import Gallery

__all__ = ["DayRow", "render_day_index", "render_report", "terminal_table"]


def render_report(
    result: SetupResult,
    luts: Mapping[str, Sequence[LutFile]],
    shoulders: Mapping[str, NeutralShoulder],
    gallery: Gallery | None,
    crops: Mapping[str, Sequence[Crop]],
) -> dict[str, bytes]:
    """Render everything that people look at: the same result gives the same bytes.

    Returns, by name, ``report.html``, ``summary.html`` (one page for the editor) and, unless ``gallery`` is None,
    which leaves all pictures out, ``contact.png``. By angle, ``luts`` are the files that were written,
    ``shoulders`` those of LUTs that let highlights run to neutral.
    """
    from huemend.write.report.contact import contact_sheet
    from huemend.write.report.editor import editor_page
    from huemend.write.report.page import report_page
    from huemend.write.report.views import draw_views

    if gallery is not None:
        draw_views(result, gallery)
    files: dict[str, bytes] = {
        Output.REPORT: report_page(result, luts, shoulders, gallery, crops),
        Output.SUMMARY: editor_page(result, luts, gallery),
    }
    if gallery is not None:
        files[Output.CONTACT] = contact_sheet(result, gallery)
    return files
