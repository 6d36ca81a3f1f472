"""The report: one self-contained page that opens from disk."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from huemend.model import AngleResult, SetupResult
from huemend.options import ReportOptions
from huemend.write.luts import LutFile
from huemend.write.report.markup import Markup, element, fragment, plain_id
from huemend.write.report.numbers import inputs_table, numbers_section, versions_table
from huemend.write.report.picker import picker_section
from huemend.write.report.pictures import Gallery, Picture, moment_shown, still_at, viewport
from huemend.write.report.samples import Views, both, difference_map, map_legend, samples_section, worst_list
from huemend.write.report.scope_section import scopes_section, series_of
from huemend.write.report.summary import match_lut, summary, verdict_mark
from huemend.write.report.words import VERDICTS, next_step, views_text

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


def _triptych(views: Views, hero: str, name: str, link: str) -> Markup:
    shown = [("hero", hero, views.reference), ("as shot", name, views.before)]
    if views.after is not None:
        shown.append(("matched", name, views.after))
    figures = [
        element(
            "figure",
            viewport(pair[0], both(pair), label=f"{who}, {what}"),
            element("figcaption", element("b", what), f" {who}"),
        )
        for what, who, pair in shown
    ]
    switch = element(
        "label",
        element("input", type="checkbox", class_="luminance", id=f"lum-{link}"),
        " luminance only, to judge exposure alone",
        class_="needs-script",
    )
    return fragment(element("div", figures, class_=f"row row-{len(figures)}"), element("p", switch, class_="keys"))


def _wipe(views: Views, name: str) -> Markup | None:
    if views.after is None:
        return None
    stage = element(
        "div",
        viewport(views.before[0], both(views.before), label=f"{name}, as shot"),
        viewport(views.after[0], both(views.after), label=f"{name}, matched", kind="over"),
        element(
            "div",
            class_="edge-handle",
            role="slider",
            tabindex=0,
            aria_label=f"Wipe between {name} as shot and matched",
            aria_valuemin=0,
            aria_valuemax=100,
            aria_valuenow=50,
            aria_valuetext="50 % as shot, the rest matched",
        ),
        class_="wipe",
    )
    words = element(
        "figcaption",
        element("b", "Wipe"),
        " as shot on the left, matched on the right. Move over it, drag it, or use the arrow keys.",
    )
    return element("figure", stage, words, class_="wide")


def _cut(views: Views, hero: str, name: str) -> Markup:
    second, what = (views.after, "matched") if views.after is not None else (views.before, "as shot")
    stage = element(
        "div",
        viewport(views.reference[0], both(views.reference), label=f"{hero}, hero", kind="first"),
        viewport(second[0], both(second), label=f"{name}, {what}", kind="second"),
        class_="cut",
        data_first=f"{hero}, hero",
        data_second=f"{name}, {what}",
    )
    buttons = element(
        "div",
        element("button", "Cut", type="button", class_="cut-once"),
        element("button", "Keep cutting", type="button", class_="cut-on", aria_pressed="false"),
        element("span", f"{hero}, hero", class_="on-air", role="status"),
        class_="needs-script buttons",
    )
    words = element(
        "figcaption",
        element("b", "Cut check"),
        " as an editor would cut: never more than once a second. ",
        buttons,
    )
    return element("figure", stage, words, class_="wide")


def _angle_section(
    result: AngleResult,
    setup: SetupResult,
    gallery: Gallery | None,
    link: str,
    luts: Sequence[LutFile],
    options: ReportOptions,
) -> tuple[Markup, Views | None]:
    hero_name, name = setup.setup.hero, result.angle.name
    moment = moment_shown(result, setup.stills, hero_name)
    hero, angle = still_at(setup.stills[hero_name], moment), still_at(setup.stills[name], moment)
    reference_name = result.pairs.reference if result.pairs.reference in setup.stills else hero_name
    reference = still_at(setup.stills[reference_name], moment)
    views = None
    if gallery is not None:
        ids = gallery.ids
        views = Views(
            reference=gallery.show(f"{ids[hero_name]}-{hero.moment}", hero),
            before=gallery.show(f"{ids[name]}-{angle.moment}", angle),
            after=gallery.show(f"{ids[name]}-{angle.moment}-matched", angle, result)
            if result.match is not None
            else None,
        )
    sample_views = views
    if gallery is not None and views is not None and reference_name != hero_name:
        shown = gallery.show(f"{gallery.ids[reference_name]}-{reference.moment}", reference)
        sample_views = Views(reference=shown, before=views.before, after=views.after)
    size = (angle.rgb.shape[0], angle.rgb.shape[1])
    sizes = {"reference": (reference.rgb.shape[0], reference.rgb.shape[1]), "angle": size}
    maps = None
    if result.held_out is not None:
        states = [("as shot", False), ("matched", True)] if result.match is not None else [("as shot", False)]
        maps = [
            element(
                "figure",
                difference_map(result, result.held_out, views, size, after=after),
                element("figcaption", element("b", what)),
            )
            for what, after in states
        ]
    moments = len({still.moment for still in setup.stills[name]})
    body = fragment(
        element(
            "h2", verdict_mark(result.verdict), name, element("small", f" {VERDICTS[result.verdict].lower()}")
        ),
        element("ul", [element("li", reason.text) for reason in result.reasons], class_="reasons")
        if result.reasons
        else None,
        element("p", element("strong", "Next: "), next_step(result, match_lut({name: luts}, name)), class_="next"),
        fragment(
            _triptych(views, hero_name, name, link),
            element("div", [_wipe(views, name), _cut(views, hero_name, name)], class_="checks"),
        )
        if views is not None
        else element("p", "Pictures were left out of this report.", class_="fine"),
        element("p", f"Moment {moment} of {moments} is shown.", class_="fine") if moments > 1 else None,
        element("h3", "Samples that both views show"),
        samples_section(result, sample_views, sizes, moment, options)
        if len(result.pairs)
        else element("p", "No surface was found that both views show under the same light."),
        element(
            "section",
            element("h3", "Where it still differs"),
            element("div", maps, class_="pair"),
            map_legend(),
            element("h4", "The worst samples"),
            worst_list(result, sample_views, moment, options),
        )
        if maps
        else None,
        scopes_section(
            result, series_of(result, hero, angle, setup.view_exposure_stops), setup.view_exposure_stops
        ),
        numbers_section(result, luts),
    )
    return element("article", body, class_="angle", id=link), views


def report_page(
    result: SetupResult,
    luts: Mapping[str, Sequence[LutFile]],
    record: Mapping[str, Any],
    options: ReportOptions,
    gallery: Gallery | None,
) -> bytes:
    """Return the whole report as UTF-8 HTML."""
    setup, used = result.setup, {"verdicts", "picker", "files", "toml"}
    links = {angle.angle.name: plain_id(angle.angle.name, used) for angle in result}
    sections, pictures = [], dict[str, Picture]()
    for angle in result:
        name = angle.angle.name
        section, views = _angle_section(angle, result, gallery, links[name], luts.get(name, ()), options)
        sections.append(section)
        if views is not None:
            pictures.setdefault(setup.hero, views.reference[0])
            pictures[name] = views.before[0]
    header = element(
        "header",
        element("p", "Match report", class_="eyebrow"),
        element("h1", setup.name),
        element(
            "p",
            f"Hero: {setup.hero}. {views_text(result.view_exposure_stops)}",
        ),
    )
    return document(
        f"Match report: {setup.name}",
        gallery.markup() if gallery is not None else Markup(""),
        element(
            "main",
            header,
            summary(result, luts, links),
            fragment(sections),
            picker_section(result, pictures) if len(pictures) > 1 else Markup(""),
            element(
                "section",
                element("h2", "Files and versions"),
                inputs_table(result),
                versions_table(record),
                id="files",
            ),
        ),
        script=asset("report.js"),
    )
