"""Marks that contradict what else is known, with a crop of both of their areas."""

from __future__ import annotations

import numpy as np

from huemend.model import AngleResult, Place, Reason, SetupResult
from huemend.write.report.markup import Markup, element
from huemend.write.report.pictures import Gallery, still_at
from huemend.write.report.words import sentence
from huemend.write.report.worst import crop

_MARKS_HEAD = "Marks that contradict the rest"

_MARKS_NOTE = "What each mark is on, as shot; it was left out of the match, which is to be looked at."


# So many radii of an area are shown, and at least this share of the picture's width, or nobody would recognise it.
_RADII, _LEAST = 5.0, 0.15


def marks_section(result: AngleResult, setup: SetupResult, gallery: Gallery | None) -> Markup | None:
    """Return both crops of each contradicted mark of an angle; None where there is none, or no pictures."""
    placed = [
        (reason, reason.reference_place, reason.place)
        for reason in result.reasons
        if reason.place is not None and reason.reference_place is not None
    ]
    if gallery is None or not placed:
        return None
    rows = [element("li", _crops(*mark, result, setup, gallery)) for mark in placed]
    return element(
        "section",
        element("h3", _MARKS_HEAD),
        element("p", _MARKS_NOTE, class_="fine"),
        element("ul", rows, class_="worst plain"),
    )


def _crops(
    reason: Reason, there: Place, here: Place, result: AngleResult, setup: SetupResult, gallery: Gallery
) -> Markup:
    figures = []
    for name, place in ((result.pairs.reference, there), (result.angle.name, here)):
        picture = gallery.show(still_at(setup.stills[name], place.moment))
        radius = place.radius * picture.width
        side = max(_RADII * radius, _LEAST * picture.width)
        centre = np.array([place.x * picture.width, place.y * picture.height])
        what = f"{name}, as shot"
        cut = crop(picture, centre, radius, side, f"Crop of the mark on {what}")
        figures.append(element("figure", cut, element("figcaption", what)))
    return element("div", element("div", figures, class_="crops crops-2"), element("p", sentence(reason.text)))
