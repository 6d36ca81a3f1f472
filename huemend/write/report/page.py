"""The report: one self-contained page that opens from disk."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence

from huemend.model import SetupResult
from huemend.write.luts.kinds import LutFile
from huemend.write.luts.shoulder import NeutralShoulder
from huemend.write.report.angle import angle_section
from huemend.write.report.crops import NOTICED, Crop, worst_of
from huemend.write.report.hero import hero_section
from huemend.write.report.look import Look
from huemend.write.report.markup import Markup, asset, element, filled, fold, fragment, plain_id
from huemend.write.report.numbers import inputs_line, inputs_table, versions_line
from huemend.write.report.picker import picker_section
from huemend.write.report.pictures import Gallery
from huemend.write.report.strip_section import crop_id, crop_names
from huemend.write.report.summary import limits, summary
from huemend.write.report.words import views_text
from huemend.write.versions import versions

#: How many of the worst places the top of the page leads to.
_FRESH = 3

_SAME_THING = (
    "Strips show the same surface in both views at one scale, the angle laid over the hero by the samples "
    "there: faces first, then clothes, then other places, and last a plain surface, on which nothing says "
    "where it lies; names tell where on the hero. Numbers are against the hero: the colour difference, the "
    "level in stops, hue and saturation in CIELAB, of greys red and blue against green. They are measured on "
    "the samples in the strip, set aside or not, on the half that agrees best; for skin on skin alone, its "
    "colour difference as it was held out, or with its nudge as delivered, light aside: forgiven as far as it may "
    "differ between the views. "
    "Views differ in gloss and shading: a tenth of a stop means little."
)

_TOP_NOTE = (
    "Exposure, red and blue are what the match adds, in stops, red and blue against green; ranges in brackets are "
    "90 % intervals. Colour difference is CIEDE2000 on surfaces that the match did not use, in the "
    "measurement view: as shot → matched; 1 is about just noticeable side by side. A sample is one patch of a "
    "surface that both views show; samples of one colour are pooled into a surface, on which noise averages out."
)


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")


def document(title: str, *body: Markup, script: str = "") -> bytes:
    """Wrap a page: its own style and script and nothing else may run, and nothing can be fetched."""
    style, script = asset("report.css"), asset("saved.js") + script
    policy = "default-src 'none'; img-src data:; base-uri 'none'; form-action 'none'"
    policy += f"; style-src 'sha256-{_digest(style)}'; script-src 'sha256-{_digest(script)}'"
    # Style and script are the package's own files, hashed above: escaping would change them.
    code = element("script", Markup(script))
    page = filled("page.html", policy=policy, title=title, style=Markup(style), body=body, code=code)
    return f"<!doctype html>\n{page}\n".encode()


def report_page(
    result: SetupResult,
    luts: Mapping[str, Sequence[LutFile]],
    shoulders: Mapping[str, NeutralShoulder],
    gallery: Gallery | None,
    crops: Mapping[str, Sequence[Crop]],
) -> bytes:
    """Return the whole report as UTF-8 HTML; ``gallery`` is None, and nothing cut, where pictures are left out."""
    setup, used = result.setup, {"verdicts", "picker", "files", "toml", "hero", "reading"}
    links = {found.angle.name: plain_id(found.angle.name, used) for found in result}

    sections = [
        angle_section(
            result[name], result, gallery, link, luts.get(name, ()), crops.get(name, ()), shoulders.get(name)
        )
        for name, link in links.items()
    ]
    title = element("h1", setup.name, element("small", f" hero: {setup.hero}"))
    switch = _look_switch(gallery.look) if gallery is not None and gallery.look is not None else None
    header = element("header", element("p", "Match report", class_="eyebrow"), title, switch, made_by())
    notes = (_TOP_NOTE, _SAME_THING, views_text(result.view_stops))
    reading = [element("p", text, class_="fine") for text in notes]
    return document(
        f"Match report: {setup.name}",
        gallery.markup() if gallery is not None else Markup(""),
        element(
            "main",
            header,
            summary(result, links, _places(result, crops, links)),
            fragment(sections),
            hero_section(setup.hero, result.hero_balance) if result.hero_balance is not None else None,
            fold("How to read this page", reading, limits(), id="reading"),
            fold("Name what you know", picker_section(result, gallery), id="picker")
            if gallery is not None and result.angles
            else None,
            fold("Files and versions", inputs_table(result), versions_line(), id="files"),
            inputs_line(result),
        ),
        script=asset("report.js"),
    )


def made_by() -> Markup:
    """Name the version, and leave room for when the page was saved, which its script fills in."""
    return element("p", f"huemend {versions()['huemend']}", element("span", class_="saved"), class_="made fine")


def _look_switch(look: Look) -> Markup:
    """Offer the pictures plain; with JavaScript they open under the look."""
    box = element("input", type="checkbox", class_="look-switch", checked=True)
    return element("label", box, f" pictures under the look {look.name} ({look.takes})", class_="needs-script")


def _places(
    result: SetupResult, crops: Mapping[str, Sequence[Crop]], links: Mapping[str, str]
) -> list[tuple[str, str]]:
    """Return where to look first, as ids and words: no match, then the worst strips, then angles that differ."""
    places = [
        (links[found.angle.name], f"{found.angle.name}: no match") for found in result if found.match is None
    ]
    worst = worst_of(crops, _FRESH)
    for name, number in worst:
        height, width = result.stills[result[name].pairs.reference][0].rgb.shape[:2]
        surface = crop_names(crops[name], (height, width))[number]
        words = f"{name}, {surface}: difference {crops[name][number].left.error:.1f}"
        places.append((crop_id(links[name], number), words))
    for found in result:
        name, held = found.angle.name, found.held_out
        if found.match is not None and held is not None and held.after.mean >= NOTICED:
            if name not in dict(worst):
                places.append((links[name], f"{name}: difference {held.after.mean:.1f} on average"))
    return places[:_FRESH]
