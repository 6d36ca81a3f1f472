"""One page for the editor: what to put on which clip, and what to look at. Prints to a single sheet of paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from huemend.model import AngleResult, SetupResult, Verdict
from huemend.model.reasons import by_gravity
from huemend.write.luts.kinds import LutFile
from huemend.write.report.encoded import thumbnail_uri
from huemend.write.report.figures import stop_text
from huemend.write.report.markup import Markup, element, figure, filled
from huemend.write.report.numbers import inputs_line
from huemend.write.report.page import document, made_by
from huemend.write.report.pictures import Gallery
from huemend.write.report.summary import limits, match_lut, verdict_mark
from huemend.write.report.views import Views
from huemend.write.report.words import VERDICTS, next_step, overall, sentence, visible_words


def _thumbnails(found: AngleResult, result: SetupResult, gallery: Gallery | None) -> Markup | None:
    if gallery is None:
        return None
    views, name = Views.of(found, result, gallery), found.angle.name
    second, what = (views.before, "as shot") if views.after is None else (views.after, "matched")
    pictures = [(views.hero, result.setup.hero, "hero"), (second, name, what)]
    figures = []
    for picture, who, what in pictures:
        uri = thumbnail_uri(gallery.pixels[picture.id], 420)
        figures.append(figure(element("img", src=uri, alt=f"{who}, {what}"), what))
    return element("div", figures, class_="thumbs")


def _row(found: AngleResult, result: SetupResult, lut: LutFile | None, gallery: Gallery | None) -> Markup:
    facts = []
    if found.delivered is not None:
        nudged = ", nudge included" if found.angle.nudge else ""
        facts.append(f"Exposure {stop_text(found.delivered.exposure_stops)}{nudged}.")
    if found.match is not None and found.held_out is not None:
        facts.append(f"What is left against the hero is {visible_words(found)}.")
    if found.verdict is not Verdict.MATCHED:
        facts += [sentence(reason.text) for reason in by_gravity(found.reasons)[:1]]
    return filled(
        "editor-row.html",
        name=found.angle.name,
        verdict=[verdict_mark(found.verdict), VERDICTS[found.verdict]],
        facts=element("p", " ".join(facts)) if facts else None,
        next=next_step(found, lut),
        pictures=_thumbnails(found, result, gallery),
    )


def editor_page(result: SetupResult, luts: Mapping[str, Sequence[LutFile]], gallery: Gallery | None) -> bytes:
    """Return the page as UTF-8 HTML."""
    rows = [_row(found, result, match_lut(luts.get(found.angle.name, ())), gallery) for found in result]
    page = filled(
        "editor.html",
        setup=result.setup.name,
        overall=overall(result),
        hero=result.setup.hero,
        rows=element("ol", rows, class_="editor-rows") if rows else None,
        limits=limits(),
        made=made_by(),
        inputs=inputs_line(result),
    )
    return document(f"For the editor: {result.setup.name}", page)
