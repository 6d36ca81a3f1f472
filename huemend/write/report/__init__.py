"""The report: what a colorist reads before trusting a match.

``render_report`` turns a result into files, ``render_day_index`` many records into a page; nothing is written
here, so that the caller can place every file whole or not at all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from huemend.model import SetupResult
from huemend.options import ReportOptions
from huemend.write.luts.kinds import LutFile
from huemend.write.report.day import render_day_index
from huemend.write.report.day_rows import DayRow
from huemend.write.report.terminal import terminal_table

if TYPE_CHECKING:
    from huemend.write.report.pictures import Gallery

__all__ = ["DayRow", "render_day_index", "render_report", "report_names", "terminal_table"]


def report_names(options: ReportOptions) -> list[str]:
    """Return the names of what `render_report` gives."""
    return ["report.html", "summary.html", *(["contact.png"] if options.pictures else [])]


def render_report(
    result: SetupResult,
    *,
    luts: Mapping[str, Sequence[LutFile]] | None = None,
    options: ReportOptions | None = None,
    gallery: Gallery | None = None,
) -> dict[str, bytes]:
    """Render everything that people look at.

    Parameters
    ----------
    result : SetupResult
        With its stills.
    luts : mapping of angle name to LUT files
        What was written for each angle.
    gallery : Gallery, optional
        Its pictures, of this setup, with the shoulders of its LUTs; without one they are drawn here, and no
        highlights run to neutral.

    Returns
    -------
    dict of file name to bytes
        ``report.html``, ``summary.html`` (one page for the editor) and, unless pictures are left out,
        ``contact.png``. The same result gives the same bytes.
    """
    from huemend.write.report.angle import AngleStills, pictured
    from huemend.write.report.contact import contact_sheet
    from huemend.write.report.editor import editor_page
    from huemend.write.report.page import report_page
    from huemend.write.report.pictures import Gallery

    options = options or ReportOptions()
    drawn = gallery or Gallery(result.setup, result.stills, options)
    gallery = drawn if options.pictures else None
    if gallery is not None:
        gallery.draw(view for angle in result for view in pictured(angle, AngleStills.of(angle, result)))
    files = {
        "report.html": report_page(result, luts or {}, options, gallery, drawn.shoulders),
        "summary.html": editor_page(result, luts or {}, gallery),
    }
    if gallery is not None:
        files["contact.png"] = contact_sheet(result, gallery)
    return files
