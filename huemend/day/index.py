"""The day at a glance: a page and a table, made from what lies in the output folder."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

from huemend.base.kept import Kept
from huemend.base.reading import read_bounded
from huemend.base.text import csv_cell
from huemend.day.state import read_state
from huemend.errors import OutputError
from huemend.options import FileOptions
from huemend.write.outputs import Output
from huemend.write.record_reading import JOURNAL, read_record
from huemend.write.report.day import render_day_index
from huemend.write.report.day_rows import DayRow

#: The page, and the table, of a day.
INDEX, TABLE = "index.html", "day.csv"

#: Setups up to which the page shows a thumbnail of each.
_THUMBNAILS = 300

_SCHEMA = "huemend-day/1"
_FIGURES = (
    *("exposure_stops", "red_green_stops", "blue_green_stops"),
    *("difference_before", "difference_after", "difference_upper"),
)
_COLUMNS = ("setup", "angle", "verdict", *_FIGURES, "model", "reason", "text", "report")


def read_rows(out: Path, names: Sequence[str]) -> list[DayRow]:
    """Read from a day's output folder how each setup stands; those with no results get a row that says so."""
    return [_row(out / name, name, thumbnail=len(names) <= _THUMBNAILS) for name in names]


def _row(folder: Path, name: str, *, thumbnail: bool) -> DayRow:
    state = read_state(folder)
    if state is not None and not state.done:
        return DayRow(name=name, error=state.error)
    try:
        record = read_record(folder)
    except OutputError as error:
        # One record that an older version or another program left must not cost the day its index.
        return DayRow(name=name, error=str(error))
    if record is None or (folder / JOURNAL).exists():
        interrupted = (folder / JOURNAL).exists()
        return DayRow(name=name, error="was interrupted; run the day again" if interrupted else "was not run yet")
    contact = _bytes(folder / Output.CONTACT) if thumbnail else b""
    return DayRow.of(name, record, report=quote(f"{name}/{Output.REPORT}"), contact=contact)


def _bytes(path: Path) -> bytes:
    try:
        return read_bounded(path, FileOptions().picture)
    except OSError:
        return b""


def write_index(place: Kept, title: str, rows: Sequence[DayRow]) -> None:
    """Write the page and the table of a day; raises OutputError where the folder cannot be written."""
    place.write(TABLE, _table(rows).encode("utf-8"))
    place.write(INDEX, render_day_index(rows, title=title))


def _table(rows: Sequence[DayRow]) -> str:
    text = io.StringIO()
    table = csv.DictWriter(text, _COLUMNS)
    table.writeheader()
    for row in rows:
        table.writerows({key: csv_cell(value) for key, value in line.items()} for line in _lines(row))
    return text.getvalue()


def _lines(row: DayRow) -> Iterator[dict[str, Any]]:
    if row.angles is None:
        yield {"setup": row.name, "verdict": "failed", "text": row.error}
        return
    for angle in row.angles:
        figures = (*(angle.stops or 3 * (None,)), angle.before, angle.after, angle.upper)
        known = {
            name: f"{figure:.3f}" for name, figure in zip(_FIGURES, figures, strict=True) if figure is not None
        }
        reason = {} if angle.reason is None else {"reason": angle.reason.code, "text": angle.reason.text}
        yield {
            "setup": row.name,
            "angle": angle.name,
            "verdict": str(angle.verdict),
            "model": angle.model,
            "report": row.report,
            **known,
            **reason,
        }


def day_record(title: str, rows: Sequence[DayRow]) -> dict[str, Any]:
    """Return the day as JSON: every setup with the verdict of each angle, or why there is none."""
    setups: dict[str, Mapping[str, Any]] = {}
    for row in rows:
        said: dict[str, Any] = {"status": "failed", "error": row.error, "angles": {}, "report": None}
        if row.angles is not None:
            angles = {angle.name: str(angle.verdict) for angle in row.angles}
            said = {"status": "done", "error": "", "angles": angles, "report": row.report}
        setups[row.name] = said
    return {"schema": _SCHEMA, "day": title, "setups": setups}
