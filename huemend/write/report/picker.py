"""The picker: drag rectangles on the pictures, read off the lines for the setup file.

The page holds the pictures and a small script; nothing is sent anywhere. Areas are in fractions of the upright
frame as the camera recorded it, so the crop of an angle is undone here by the numbers that each surface carries.
What the setup file marks already is drawn on the pictures.
"""

from __future__ import annotations

import json

from huemend.model import Angle, Area, Marks, Setup, SetupResult
from huemend.write.report.markup import Markup, element, filled, number
from huemend.write.report.pictures import Gallery, Picture, viewport
from huemend.write.report.views import Views

# Keys of the setup file that name surfaces, in the order in which they are written.
_WISHES = ("least_error_on", "keep_as_shot")


def _surface(angle: Angle, role: str, picture: Picture, marks: Marks) -> Markup:
    name = angle.name
    rectangle = element("rect", class_="chosen", x=0, y=0, width=0, height=0)
    halo = element("rect", class_="chosen-halo", x=0, y=0, width=0, height=0)
    known, added = _known(angle, picture, marks), element("g", class_="added")
    drawing = viewport(picture, known, added, halo, rectangle, label=f"Picture of {name}")
    crop = " ".join(number(v, 6) for v in angle.crop)
    return filled("surface.html", role=role, name=name, crop=crop, drawing=drawing)


def _marked(marks: Marks, name: str) -> list[tuple[str, Area]]:
    """Return what the setup file marks on an angle, in words and where."""
    found = [(pair.name, pair.areas[name]) for pair in marks.pairs if name in pair.areas]
    found += [("left out", mark.area) for mark in marks.ignore if mark.angle == name]
    return found + [("neutral", mark.area) for mark in marks.neutral if mark.angle == name]


def _known(angle: Angle, picture: Picture, marks: Marks) -> Markup:
    left, top, right, bottom = angle.crop
    drawn = []
    for words, area in _marked(marks, angle.name):
        places = [
            ((x - left) / (1 - left - right) * picture.width, (y - top) / (1 - top - bottom) * picture.height)
            for x, y in area.points
        ]
        points = " ".join(f"{number(x, 1)},{number(y, 1)}" for x, y in places)
        x, y = min(place[0] for place in places), min(place[1] for place in places)
        drawn += [
            element("polygon", points=points, class_="known-halo"),
            element("polygon", element("title", words), points=points, class_="known"),
            element("text", words, x=number(max(x, 0.0)), y=number(max(y, 14.0) - 4), class_="known-name"),
        ]
    return element("g", drawn)


def _already(setup: Setup) -> Markup | None:
    marks = setup.marks
    said = [f"pair {pair.name}" for pair in marks.pairs]
    said += [f"an area of {mark.angle} left out" for mark in marks.ignore]
    said += [f"a neutral of {mark.angle}" for mark in marks.neutral]
    said += [f"{name} comes first" for name in marks.least_error_on]
    said += [f"{name} stays as shot" for name in marks.keep_as_shot]
    if not said:
        return None
    return element("p", f"In the setup file already, drawn dashed: {', '.join(said)}.", class_="fine")


def picker_section(result: SetupResult, gallery: Gallery) -> Markup:
    """Lay out the picker: the hero, the other angles as they were shot, a name, and the lines to paste."""
    setup = result.setup
    views = [Views.of(found, result, gallery) for found in result]
    hero = _surface(setup[setup.hero], "hero", views[0].hero, setup.marks)
    others = [
        _surface(found.angle, "angle", seen.before, setup.marks) for found, seen in zip(result, views, strict=True)
    ]
    return filled(
        "picker.html",
        already=_already(setup),
        angles=[element("option", found.angle.name, value=found.angle.name) for found in result],
        surfaces=[hero, *others],
        names=json.dumps({key: list(getattr(setup.marks, key)) for key in _WISHES}),
    )
