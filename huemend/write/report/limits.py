"""What no match can mend, each with a crop of where it shows most."""

from __future__ import annotations

import numpy as np

from huemend.model import AngleResult, Place, SetupResult
from huemend.write.report.markup import Markup, element
from huemend.write.report.pictures import Gallery, Picture, overview_at
from huemend.write.report.words import sentence
from huemend.write.report.worst import crop

LIMITS_HEAD = "What no match can mend"

_LIMITS_NOTE = "Where each shows most on this angle; the ring marks the middle of it."


# A crop shows what is around the place as well, or nobody would recognise it: so many radii, and at least this
# share of the picture's width.
_RADII, _LEAST = 5.0, 0.15


def limits_section(result: AngleResult, setup: SetupResult, gallery: Gallery | None) -> Markup | None:
    """Return the crops of an angle's limits, as shot and as matched; None where there are none, or no pictures."""
    placed = [(reason, reason.place) for reason in result.reasons if reason.place is not None]
    placed = [(reason, place) for reason, place in placed if reason.reference_place is None]
    if gallery is None or not placed:
        return None
    rows = [
        element("li", _crops(result, setup, place, gallery), element("p", sentence(reason.text)))
        for reason, place in placed
    ]
    return element(
        "details",
        element("summary", LIMITS_HEAD),
        element("p", _LIMITS_NOTE, class_="fine"),
        element("ul", rows, class_="worst plain"),
        class_="fold",
    )


def _crops(result: AngleResult, setup: SetupResult, place: Place, gallery: Gallery) -> Markup:
    still = overview_at(setup.stills[result.angle.name], place.moment)
    pictures = [("as shot", gallery.show(still))]
    if result.match is not None:
        pictures.append(("matched", gallery.show(still, result)))
    figures = [
        element("figure", _crop(picture, place, name), element("figcaption", name)) for name, picture in pictures
    ]
    return element("div", figures, class_="crops crops-2")


def _crop(picture: Picture, place: Place, name: str) -> Markup:
    width, height = picture.width, picture.height
    radius = place.radius * width
    side = max(_RADII * radius, _LEAST * width)
    return crop(picture, np.array([place.x * width, place.y * height]), radius, side, f"Crop of the limit, {name}")
