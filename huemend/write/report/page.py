"""The report: one self-contained page that opens from disk."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from huemend.base.tasks import Crew
from huemend.model import AngleResult, SetupResult
from huemend.options import ReportOptions
from huemend.write.luts.kinds import LutFile
from huemend.write.luts.shoulder import NeutralShoulder
from huemend.write.report.angle import angle_section
from huemend.write.report.hero import hero_section
from huemend.write.report.markup import Markup, element, fragment, plain_id
from huemend.write.report.numbers import inputs_table, versions_line
from huemend.write.report.picker import picker_section
from huemend.write.report.pictures import Gallery
from huemend.write.report.summary import summary
from huemend.write.report.words import views_text

__all__ = ["asset", "document", "report_page"]


@cache
def asset(name: str) -> str:
    """Return one of the page's own files."""
    return files("huemend.write.report").joinpath("assets", name).read_text(encoding="utf-8")


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")


def document(title: str, *body: Markup, script: str = "") -> bytes:
    """Wrap a page: its own style and script and nothing else may run, and nothing can be fetched."""
    style = asset("report.css")
    policy = "default-src 'none'; img-src data:; base-uri 'none'; form-action 'none'"
    policy += f"; style-src 'sha256-{_digest(style)}'"
    policy += f"; script-src 'sha256-{_digest(script)}'" if script else ""
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", http_equiv="Content-Security-Policy", content=policy),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="color-scheme", content="light dark"),
        element("title", title),
        element("link", rel="icon", href="data:,"),
        # Style and script are the package's own files, hashed above: escaping would change them.
        element("style", Markup(style)),
    )
    code = element("script", Markup(script)) if script else None
    page = element("html", head, element("body", body, code), lang="en")
    return f"<!doctype html>\n{page}\n".encode()


def report_page(
    result: SetupResult,
    luts: Mapping[str, Sequence[LutFile]],
    record: Mapping[str, Any],
    options: ReportOptions,
    gallery: Gallery | None,
    shoulders: Mapping[str, NeutralShoulder],
) -> bytes:
    """Return the whole report as UTF-8 HTML; ``gallery`` is None for a report without pictures."""
    setup, used = result.setup, {"verdicts", "picker", "files", "toml", "hero"}
    links = {angle.angle.name: plain_id(angle.angle.name, used) for angle in result}

    def section(angle: AngleResult) -> Markup:
        name = angle.angle.name
        return angle_section(angle, result, gallery, links[name], luts.get(name, ()), options, shoulders.get(name))

    with Crew(len(result.angles)) as crew:
        sections = list(crew.each(section, result))
    header = element(
        "header",
        element("p", "Match report", class_="eyebrow"),
        element("h1", setup.name),
        element("p", f"Hero: {setup.hero}. {views_text(result.view_exposure_stops)}"),
    )
    return document(
        f"Match report: {setup.name}",
        gallery.markup() if gallery is not None else Markup(""),
        element(
            "main",
            header,
            summary(result, luts, links),
            hero_section(setup.hero, result.hero_balance) if result.hero_balance is not None else None,
            fragment(sections),
            picker_section(result, gallery) if gallery is not None and result.angles else None,
            element(
                "section",
                element("h2", "Files and versions"),
                inputs_table(result),
                versions_line(record),
                id="files",
            ),
        ),
        script=asset("report.js"),
    )
