"""The page of a day: every setup with its verdicts, those that need eyes first."""

from __future__ import annotations

import struct
from collections import Counter
from collections.abc import Iterable

import numpy as np

from huemend.base.cv import import_cv2
from huemend.model import Verdict
from huemend.write.report.cameras import cameras_section
from huemend.write.report.day_rows import DayAngle, DayRow, told_of_one_name
from huemend.write.report.encoded import thumbnail_uri
from huemend.write.report.figures import signed
from huemend.write.report.markup import Markup, element
from huemend.write.report.page import document, made_by
from huemend.write.report.summary import verdict_mark
from huemend.write.report.words import VERDICTS, sentence

_LARGEST_CONTACT = 64_000_000  # pixels


def _thumbnail(row: DayRow) -> Markup | None:
    if not row.contact:
        return None
    cv2 = import_cv2()
    if not _is_small_png(row.contact):
        return None  # not ours, whatever it is: a header may claim gigabytes
    pixels = cv2.imdecode(np.frombuffer(row.contact, np.uint8), cv2.IMREAD_COLOR)
    if pixels is None:
        return None
    uri = thumbnail_uri(np.ascontiguousarray(pixels[..., ::-1]), 640)
    return element("img", src=uri, alt=f"Contact sheet of {row.name}", loading="lazy")


def _is_small_png(data: bytes) -> bool:
    """Say whether bytes begin as a PNG (ISO/IEC 15948, 11.2.2) of no more pixels than a contact sheet has."""
    if data[:8] != b"\x89PNG\r\n\x1a\n" or data[12:16] != b"IHDR" or len(data) < 24:
        return False
    width, height = struct.unpack(">II", data[16:24])
    return bool(0 < width * height <= _LARGEST_CONTACT)


def _angle(angle: DayAngle) -> Markup:
    said, why = [VERDICTS[angle.verdict].lower()], None
    if angle.stops is not None:
        said.append(f"{signed(angle.stops[0])} stop{' with its nudge' if angle.nudged else ''}")
        if angle.after is not None:
            # Not to be broken at the arrow.
            said.append(f"difference {angle.before:.1f}\u00a0→\u00a0{angle.after:.1f}")
    if angle.verdict is not Verdict.MATCHED and angle.reason is not None:
        why = element("small", f" {sentence(angle.reason.text)} {sentence(angle.reason.todo)}")
    return element("li", verdict_mark(angle.verdict), element("b", angle.name), f" {', '.join(said)}.", why)


def _row(row: DayRow) -> Markup:
    name = element("a", row.name, href=row.report) if row.report else element("span", row.name)
    if row.angles is None:
        body = element("p", element("strong", "Did not run: "), row.error or "no reason was given", class_="next")
    else:
        body = element("ul", [_angle(angle) for angle in row.angles], class_="day-angles")
    return element("li", element("div", element("h2", name), body), _thumbnail(row), class_="day-row")


def render_day_index(rows: Iterable[DayRow], *, title: str = "Day") -> bytes:
    """Return the index page of a day as UTF-8 HTML: self-contained, setups that need eyes first.

    ``rows`` come in the day's order, in which the cameras are followed across it.
    """
    rows = list(rows)
    ordered = sorted(rows, key=lambda row: row.urgency)
    counts = Counter(angle.verdict for row in ordered for angle in row.angles or ())
    failed = sum(row.angles is None for row in ordered)
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
            element("header", element("p", "Match index", class_="eyebrow"), element("h1", title), made_by()),
            element("p", words, " What needs eyes comes first.", class_="overall"),
            [element("p", sentence(words), class_="next") for words in told_of_one_name(rows)],
            element("ol", [_row(row) for row in ordered], class_="day-rows"),
            cameras_section([(row.name, row.angles) for row in rows if row.angles is not None]),
        ),
    )
