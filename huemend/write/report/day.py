"""The page of a day: every setup with its verdicts, those that need eyes first."""

from __future__ import annotations

import struct
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from huemend.base.cv import import_cv2
from huemend.model import Verdict
from huemend.write.report.cameras import cameras_section
from huemend.write.report.encoded import thumbnail_uri
from huemend.write.report.figures import signed
from huemend.write.report.gravity import by_gravity
from huemend.write.report.markup import Markup, element
from huemend.write.report.page import document
from huemend.write.report.summary import verdict_mark
from huemend.write.report.words import VERDICTS, sentence

_LARGEST_CONTACT = 64_000_000  # pixels
_URGENCY = {Verdict.UNSOLVED: 1, Verdict.REVIEW: 2, Verdict.MATCHED: 3}


@dataclass(frozen=True, kw_only=True)
class DayRow:
    """One setup of a day."""

    name: str
    #: Address of its report, relative to the index; empty if there is none.
    report: str = ""
    #: Its ``report.json``; None for a setup that could not be run.
    record: Mapping[str, Any] | None = None
    #: Why it could not be run, in one line.
    error: str = ""
    #: Its contact sheet (PNG), from which the thumbnail is made; may be empty.
    contact: bytes = b""

    @property
    def verdicts(self) -> list[Verdict]:
        """The verdict of every angle, in the record's order."""
        return [Verdict(angle["verdict"]) for angle in (self.record or {}).get("angles", {}).values()]

    @property
    def urgency(self) -> tuple[int, float, str]:
        """A sorting key, what needs eyes first: failed, unsolved, review, matched; then the larger difference."""
        if self.record is None:
            return 0, 0.0, self.name
        angles = self.record.get("angles", {}).values()
        errors = [held["after"]["mean"] for a in angles if (held := a.get("held_out")) and held["after"]["mean"]]
        return min((_URGENCY[v] for v in self.verdicts), default=3), -max(errors, default=0.0), self.name


def _thumbnail(row: DayRow) -> Markup | None:
    if not row.contact:
        return None
    cv2 = import_cv2()
    if not _is_small_png(row.contact):
        return None  # not ours, whatever it is: a header may claim gigabytes
    pixels = cv2.imdecode(np.frombuffer(row.contact, np.uint8), cv2.IMREAD_COLOR)
    if pixels is None:
        return None
    uri = thumbnail_uri(np.ascontiguousarray(pixels[..., ::-1]), 480)
    return element("img", src=uri, alt=f"Contact sheet of {row.name}", loading="lazy")


def _is_small_png(data: bytes) -> bool:
    """Say whether bytes begin as a PNG (ISO/IEC 15948, 11.2.2) of no more pixels than a contact sheet has."""
    if data[:8] != b"\x89PNG\r\n\x1a\n" or data[12:16] != b"IHDR" or len(data) < 24:
        return False
    width, height = struct.unpack(">II", data[16:24])
    return bool(0 < width * height <= _LARGEST_CONTACT)


def _angle(name: str, angle: Mapping[str, Any]) -> Markup:
    verdict = Verdict(angle["verdict"])
    said = []
    if angle.get("matrix") is not None:
        said.append(f"{signed(angle['exposure_stops'])} stop")
    held = angle.get("held_out")
    if held and angle.get("matrix") is not None and held["after"]["mean"] is not None:
        said.append(f"difference {held['before']['mean']:.1f} → {held['after']['mean']:.1f}")
    why = None
    if verdict is not Verdict.MATCHED and angle.get("reasons"):
        first = by_gravity(angle["reasons"], lambda reason: str(reason["code"]))[0]
        why = element("small", f" {sentence(first['text'])} {sentence(first.get('todo', ''))}")
    return element(
        "li",
        verdict_mark(verdict),
        element("b", name),
        f" {VERDICTS[verdict].lower()}" + (f", {', '.join(said)}." if said else "."),
        why,
    )


def _row(row: DayRow) -> Markup:
    name = element("a", row.name, href=row.report) if row.report else element("span", row.name)
    if row.record is None:
        body = element("p", element("strong", "Did not run: "), row.error or "no reason was given", class_="next")
    else:
        angles = row.record.get("angles", {})
        body = element("ul", [_angle(*item) for item in angles.items()], class_="day-angles")
    return element("li", element("div", element("h2", name), body), _thumbnail(row), class_="day-row")


def render_day_index(rows: Iterable[DayRow], *, title: str = "Day") -> bytes:
    """Return the index page of a day as UTF-8 HTML: self-contained, setups that need eyes first.

    ``rows`` come in the day's order, in which the cameras are followed across it.
    """
    rows = list(rows)
    ordered = sorted(rows, key=lambda row: row.urgency)
    counts = {verdict: sum(v is verdict for row in ordered for v in row.verdicts) for verdict in Verdict}
    failed = sum(row.record is None for row in ordered)
    said = [
        f"{counts[Verdict.UNSOLVED]} unsolved",
        f"{counts[Verdict.REVIEW]} to review",
        f"{counts[Verdict.MATCHED]} matched",
    ]
    words = f"{len(ordered)} setups; angles: {', '.join(said)}."
    if failed:
        words += f" {failed} did not run."
    return document(
        f"{title}: match index",
        element(
            "main",
            element("p", "Match index", class_="eyebrow"),
            element("h1", title),
            element("p", words, " What needs eyes comes first.", class_="overall"),
            element("ol", [_row(row) for row in ordered], class_="day-rows"),
            cameras_section([(row.name, row.record.get("angles", {})) for row in rows if row.record is not None]),
        ),
    )
