"""The section of one angle, from its verdict to its numbers."""

from __future__ import annotations

from collections.abc import Sequence

from huemend.model import AngleResult, SetupResult
from huemend.write.luts.kinds import LutFile
from huemend.write.luts.shoulder import NeutralShoulder
from huemend.write.report.crop_choice import FEWEST
from huemend.write.report.crops import Crop
from huemend.write.report.differences import difference_map, map_legend, worst_list
from huemend.write.report.markup import Markup, element, figure, fold, fragment
from huemend.write.report.motion import motion_section
from huemend.write.report.numbers import numbers_section
from huemend.write.report.pictures import Gallery, overview_at, viewport
from huemend.write.report.reason_crops import limits_section, marks_section
from huemend.write.report.samples import clipped_samples, samples_section
from huemend.write.report.scope_section import scopes_section, series_of
from huemend.write.report.strip_section import skin_table, strips_section
from huemend.write.report.summary import match_lut, reasons_list, verdict_mark
from huemend.write.report.views import AngleStills, Views
from huemend.write.report.whole_pictures import cut_check, luminance_switch, whole_pictures, wipe
from huemend.write.report.words import VERDICTS, match_words, next_step, nudge_words


def _pictures(views: Views, hero: str, name: str, link: str, crops: int) -> Markup:
    """Show the whole pictures: folded away where there are crops to look at in their place, unfolded if few."""
    checks = element("div", wipe(views, name), cut_check(views, hero, name), class_="checks")
    whole, switch = whole_pictures(views, hero, name), luminance_switch(link)
    if not crops:
        return fragment(whole, switch, fold("As a cut", checks))
    # Paper can't be unfolded.
    on_paper = whole_pictures(views, hero, name, "on-paper")
    return fragment(on_paper, fold("Whole pictures, wipe and cut", whole, switch, checks, open=crops < FEWEST))


def _moments(
    found: AngleResult, result: SetupResult, stills: AngleStills, gallery: Gallery | None
) -> Markup | None:
    """Say which moment is shown, and fold away small pictures of all of them."""
    own = result.stills[found.angle.name]
    if len(own) < 2:
        return None
    place = [still.moment for still in own].index(stills.angle.moment) + 1
    note = element("p", f"Moment {place} of {len(own)} is shown: most of the samples lie in it.", class_="fine")
    if gallery is None:
        return note
    heroes = tuple(overview_at(result.stills[result.setup.hero], still.moment) for still in own)
    pictures = [("hero", heroes, gallery.overviews(heroes)), ("as shot", own, gallery.overviews(own))]
    if found.match is not None:
        pictures.append(("matched", own, gallery.overviews(own, found)))
    rows = []
    for number in range(len(own)):
        for what, shown, picture in pictures:
            high = picture.height // len(own)
            said = f"{shown[number].source}, {what}"
            view = viewport(picture, label=said, box=f"0 {number * high} {picture.width} {high}")
            rows.append(figure(view, said))
    strip = element("div", rows, class_=f"moments moments-{3 if found.match is not None else 2}")
    return fold(f"All {len(own)} moments", note, strip)


def _differences(
    found: AngleResult, result: SetupResult, views: Views | None, stills: AngleStills
) -> Markup | None:
    held = found.held_out
    if held is None:
        return None
    height, width = stills.angle.rgb.shape[:2]
    states = [("as shot", False), ("matched", True)][: 1 if found.match is None else 2]
    maps = [
        figure(difference_map(found, held, views, (height, width), after=after), element("b", what))
        for what, after in states
    ]
    listed = worst_list(found, held, views, stills.angle.moment, width, clipped_samples(found, result.stills))
    where = (element("h3", "Where it still differs"), element("div", maps, class_="pair"), map_legend())
    return element("section", where, element("h4", "The worst samples"), listed)


def angle_section(
    found: AngleResult,
    result: SetupResult,
    gallery: Gallery | None,
    link: str,
    luts: Sequence[LutFile],
    crops: Sequence[Crop],
    shoulder: NeutralShoulder | None,
) -> Markup:
    """Return the section of one angle, ``link`` being its id on the page; without a gallery there are no pictures.

    Of the angle come its LUTs, the surfaces that it shares with the hero, as `crops_of` cut them into the gallery,
    and the shoulder of its matched LUTs.
    """
    hero, name = result.setup.hero, found.angle.name
    stills = AngleStills.of(found, result)
    views = None if gallery is None else Views.of(found, result, gallery)
    samples = None
    if len(found.pairs):
        section = samples_section(found, views, stills.reference, stills.angle)
        samples = fragment(element("h3", "Samples that both views show"), section)
    verdict = element("small", f": {VERDICTS[found.verdict].lower()}. {match_words(found)}")
    apart = [part for part in (samples, _differences(found, result, views, stills)) if part is not None]
    nudged, reasons = nudge_words(found), reasons_list(found)
    view_stops = result.view_stops
    series = series_of(found, stills.hero, stills.angle, view_stops, shoulder)
    return element(
        "article",
        element("h2", verdict_mark(found.verdict), name, verdict),
        element(
            "div",
            element("div", element("p", nudged) if nudged else None, reasons) if nudged or reasons else None,
            element("p", element("strong", "Next: "), next_step(found, match_lut(luts)), class_="next"),
            class_="said",
        ),
        strips_section(found, result, crops, link)
        if gallery is not None
        else fragment(element("p", "Pictures were left out of this report.", class_="fine"), skin_table(found)),
        marks_section(found, result, gallery),
        limits_section(found, result, gallery),
        _pictures(views, hero, name, link, len(crops)) if views is not None else None,
        motion_section(found, gallery) if gallery is not None else None,
        _moments(found, result, stills, gallery),
        fold("Samples, and where it still differs", apart) if apart else None,
        fold("Scopes", scopes_section(found, series, view_stops)),
        numbers_section(found, luts),
        class_="angle",
        id=link,
    )
