"""The day at a glance: a page and a table, made from what lies in the output folder."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np

from huemend.base.kept import Kept
from huemend.base.reading import read_bounded
from huemend.base.text import csv_cell
from huemend.base.units import balance_stops
from huemend.day.state import read_state
from huemend.errors import OutputError
from huemend.options import DayOptions, FileOptions
from huemend.write.record_reading import JOURNAL, load_record
from huemend.write.report.day import DayRow, render_day_index
from huemend.write.report.gravity import by_gravity

#: The page, and the table, of a day.
INDEX, TABLE = "index.html", "day.csv"

_SCHEMA = "huemend-day/1"
_COLUMNS = (
    "setup",
    "angle",
    "verdict",
    "exposure_stops",
    "red_green_stops",
    "blue_green_stops",
    "difference_before",
    "difference_after",
    "difference_upper",
    "model",
    "reason",
    "text",
    "report",
)
_KEPT = ("verdict", "exposure_stops", "matrix", "model")


def read_rows(out: Path, names: Sequence[str], options: DayOptions | None = None) -> list[DayRow]:
    """Read how each setup of a day stands.

    Parameters
    ----------
    out : Path
        The day's output folder.
    names : sequence of str
        The setups; those with no results get a row that says so.
    """
    options = options or DayOptions()
    return [_row(out / name, name, thumbnail=len(names) <= options.thumbnails) for name in names]


def _row(folder: Path, name: str, *, thumbnail: bool) -> DayRow:
    state = read_state(folder)
    if state is not None and not state.done:
        return DayRow(name=name, error=state.error)
    try:
        record = load_record(folder)
    except OutputError as error:
        # One record that an older version or another program left must not cost the day its index.
        return DayRow(name=name, error=str(error))
    if record is None or (folder / JOURNAL).exists():
        interrupted = (folder / JOURNAL).exists()
        return DayRow(name=name, error="was interrupted; run the day again" if interrupted else "was not run yet")
    angles = record.get("angles", {})
    return DayRow(
        name=name,
        report=quote(f"{name}/report.html"),
        record={"angles": {angle: _kept(said) for angle, said in angles.items()}},
        contact=_bytes(folder / "contact.png") if thumbnail else b"",
    )


def _kept(angle: Mapping[str, Any]) -> dict[str, Any]:
    """Return what page and table need of an angle; the records of a day of thousands would not fit into memory."""
    held = angle.get("held_out")
    if held is not None:
        held = {"before": {"mean": held["before"]["mean"]}, "after": {"mean": held["after"]["mean"]}}
        held["upper"] = angle["held_out"]["upper"]
    return {**{key: angle.get(key) for key in _KEPT}, "reasons": _gravest(angle), "held_out": held}


def _gravest(angle: Mapping[str, Any]) -> list[dict[str, Any]]:
    return by_gravity(angle.get("reasons", []), lambda reason: str(reason["code"]))[:1]


def _bytes(path: Path) -> bytes:
    try:
        return read_bounded(path, FileOptions().picture)
    except OSError:
        return b""


def write_index(place: Kept, title: str, rows: Sequence[DayRow]) -> None:
    """Write the page and the table of a day.

    Raises
    ------
    OutputError
        The folder cannot be written.
    """
    place.write(TABLE, _table(rows).encode("utf-8"))
    place.write(INDEX, render_day_index(rows, title=title))


def _table(rows: Sequence[DayRow]) -> str:
    """Return the table as CSV (RFC 4180)."""
    text = io.StringIO()
    table = csv.DictWriter(text, _COLUMNS)
    table.writeheader()
    for row in rows:
        table.writerows({key: csv_cell(value) for key, value in line.items()} for line in _lines(row))
    return text.getvalue()


def _lines(row: DayRow) -> Iterator[dict[str, Any]]:
    if row.record is None:
        yield {"setup": row.name, "verdict": "failed", "text": row.error}
        return
    for name, angle in row.record["angles"].items():
        line: dict[str, Any] = {
            "setup": row.name,
            "angle": name,
            "verdict": angle["verdict"],
            "report": row.report,
        }
        line["model"] = angle["model"]
        if angle["matrix"] is not None:
            red, blue = balance_stops(np.array(angle["matrix"], float))
            stops = {"exposure_stops": angle["exposure_stops"], "red_green_stops": red, "blue_green_stops": blue}
            line |= {key: f"{value:.3f}" for key, value in stops.items()}
        if angle["held_out"] is not None:
            held = angle["held_out"]
            errors = {"before": held["before"]["mean"], "after": held["after"]["mean"], "upper": held["upper"]}
            line |= {f"difference_{k}": f"{v:.3f}" for k, v in errors.items() if v is not None}
        if angle["reasons"]:
            line |= {"reason": angle["reasons"][0]["code"], "text": angle["reasons"][0]["text"]}
        yield line


def day_record(title: str, rows: Sequence[DayRow]) -> dict[str, Any]:
    """Return the day as JSON: every setup with the verdict of each angle, or why there is none."""
    setups: dict[str, Mapping[str, Any]] = {}
    for row in rows:
        if row.record is None:
            setups[row.name] = {"status": "failed", "error": row.error, "angles": {}, "report": None}
        else:
            angles = {name: str(angle["verdict"]) for name, angle in row.record["angles"].items()}
            setups[row.name] = {"status": "done", "error": "", "angles": angles, "report": row.report}
    return {"schema": _SCHEMA, "day": title, "setups": setups}
