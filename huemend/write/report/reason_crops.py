"""What reasons point at on the pictures: limits that no match can mend, and marks that contradict the rest."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from huemend.model import AngleResult, Place, Reason, SetupResult
from huemend.write.report.differences import ringed_crop
from huemend.write.report.markup import Markup, element, figure, fold
from huemend.write.report.pictures import Gallery, Picture, overview_at, still_at
from huemend.write.report.words import sentence

LIMITS_HEAD = "What no match can mend"
_LIMITS_NOTE = "Where each shows most on this angle; the ring marks the middle of it."
_MARKS_HEAD = "Marks that contradict the rest"
_MARKS_NOTE = "What each mark is on, as shot; it was left out of the match, which is to be looked at."
# So many radii of a place are shown, and at least this share of the picture's width, or nobody would recognise it.
_RADII, _LEAST = 5.0, 0.15


def limits_section(found: AngleResult, result: SetupResult, gallery: Gallery | None) -> Markup | None:
    """Return the crops of an angle's limits, as shot and as matched; None where there are none, or no pictures."""
    placed = [(reason, reason.place) for reason in found.reasons if reason.place is not None]
    placed = [(reason, place) for reason, place in placed if reason.reference_place is None]
    if gallery is None or not placed:
        return None
    rows = []
    for reason, place in placed:
        still = overview_at(result.stills[found.angle.name], place.moment)
        pictures = [("as shot", gallery.show(still))]
        if found.match is not None:
            pictures.append(("matched", gallery.show(still, found)))
        cuts = [(picture, place, name, f"Crop of the limit, {name}") for name, picture in pictures]
        rows.append(element("li", _crops(cuts), element("p", sentence(reason.text))))
    return fold(LIMITS_HEAD, element("p", _LIMITS_NOTE, class_="fine"), element("ul", rows, class_="worst plain"))


def marks_section(found: AngleResult, result: SetupResult, gallery: Gallery | None) -> Markup | None:
    """Return both crops of each contradicted mark of an angle; None where there is none, or no pictures."""
    placed: list[tuple[Reason, Place, Place]] = [
        (reason, reason.reference_place, reason.place)
        for reason in found.reasons
        if reason.place is not None and reason.reference_place is not None
    ]
    if gallery is None or not placed:
        return None
    rows = []
    for reason, there, here in placed:
        cuts = []
        for name, place in ((found.pairs.reference, there), (found.angle.name, here)):
            what = f"{name}, as shot"
            picture = gallery.show(still_at(result.stills[name], place.moment))
            cuts.append((picture, place, what, f"Crop of the mark on {what}"))
        # Why stands above.
        told = f"The mark {reason.label!r} was left out."
        rows.append(element("li", element("div", _crops(cuts), element("p", told))))
    note, crops = element("p", _MARKS_NOTE, class_="fine"), element("ul", rows, class_="worst plain")
    return element("section", element("h3", _MARKS_HEAD), note, crops)


def _crops(cuts: Iterable[tuple[Picture, Place, str, str]]) -> Markup:
    """Cut places out of pictures, each with its caption and its label."""
    figures = []
    for picture, place, caption, label in cuts:
        radius = place.radius * picture.width
        centre = np.array([place.x * picture.width, place.y * picture.height])
        cut = ringed_crop(picture, centre, radius, max(_RADII * radius, _LEAST * picture.width), label)
        figures.append(figure(cut, caption))
    return element("div", figures, class_="crops crops-2")
