"""The picker: drag rectangles on the pictures, read off the lines for the setup file.

The page holds the pictures and a small script; nothing is sent anywhere. Areas are in fractions of the upright
frame as the camera recorded it, so the crop of an angle is undone here by the numbers that each surface carries.
What the setup file marks already is drawn on the pictures.
"""

from __future__ import annotations

import json

from huemend.model import Angle, Area, Marks, Setup, SetupResult
from huemend.write.report.angle import AngleStills
from huemend.write.report.markup import Markup, element, fragment, number
from huemend.write.report.pictures import Gallery, Picture, viewport

_PICKER = (
    "Drag over a surface on the hero and over the same surface on the angle: skin, an apron, a shelf, under the "
    "same light. Or mark what must never count (a screen, a coloured lamp, a window) or what is grey. Click on "
    "something small and come closer. Keep what is marked to mark more; paste the lines into the setup file and "
    "match again."
)


# Keys of the setup file that name surfaces, in the order in which they are written.
_WISHES = ("least_error_on", "keep_as_shot")
_EDGES = ("left", "top", "right", "bottom")


def _surface(angle: Angle, role: str, picture: Picture, marks: Marks) -> Markup:
    name = angle.name
    rectangle = element("rect", class_="chosen", x=0, y=0, width=0, height=0)
    halo = element("rect", class_="chosen-halo", x=0, y=0, width=0, height=0)
    known, added = _known(angle, picture, marks), element("g", class_="added")
    drawing = viewport(picture, picture.use(), known, added, halo, rectangle, label=f"Picture of {name}")
    edges = [
        element(
            "label", f"{edge} %", element("input", type="number", min=0, max=100, step=0.1, value="", data_edge=n)
        )
        for n, edge in enumerate(_EDGES)
    ]
    pad = element(
        "div",
        drawing,
        class_="pad",
        tabindex=0,
        role="application",
        aria_label=f"Area on {name}. Arrow keys move it, with shift they change its size, Delete clears it, "
        "plus and minus zoom.",
    )
    zoom = element(
        "span",
        element("button", "Closer", type="button", class_="closer-by", aria_label=f"Closer on {name}"),
        element("button", "Whole", type="button", class_="whole", aria_label=f"Whole picture of {name}"),
        class_="zoom",
    )
    return element(
        "figure",
        element("figcaption", name, " ", zoom),
        pad,
        element("fieldset", element("legend", f"Area on {name}", class_="unseen"), edges),
        class_="surface",
        data_role=role,
        data_name=name,
        data_crop=" ".join(number(v, 6) for v in angle.crop),
    )


def _marked(marks: Marks, name: str) -> list[tuple[str, Area]]:
    """Return what the setup file marks on an angle, in words and where."""
    found = [(pair.name, pair.areas[name]) for pair in marks.pairs if name in pair.areas]
    found += [("left out", mark.area) for mark in marks.ignore if mark.angle == name]
    return found + [("neutral", mark.area) for mark in marks.neutral if mark.angle == name]


def _known(angle: Angle, picture: Picture, marks: Marks) -> Markup:
    """Draw what the setup file marks on an angle."""
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
    """List what the setup file marks already."""
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
    first = AngleStills.of(result.angles[0], result)
    pictures = {setup.hero: gallery.show(first.hero)}
    for angle in result:
        pictures[angle.angle.name] = gallery.show(AngleStills.of(angle, result).angle)
    hero = _surface(setup[setup.hero], "hero", pictures[setup.hero], setup.marks)
    others = [_surface(r.angle, "angle", pictures[r.angle.name], setup.marks) for r in result]
    choices = [element("option", r.angle.name, value=r.angle.name) for r in result]
    kinds = element(
        "fieldset",
        element("legend", "What is it?"),
        element(
            "label",
            element("input", type="radio", name="kind", value="pair", checked=True),
            " the same surface on both",
        ),
        element("label", element("input", type="radio", name="kind", value="ignore"), " areas to leave out"),
        element("label", element("input", type="radio", name="kind", value="neutral"), " grey"),
        class_="kinds",
    )
    controls = element(
        "div",
        kinds,
        element("label", "Name ", element("input", type="text", class_="pair-name", value="skin", maxlength=60)),
        element("label", element("input", type="checkbox", class_="first"), " comes first: the least error there"),
        element("label", element("input", type="checkbox", class_="stays"), " stays as it was shot"),
        element("label", "Angle ", element("select", choices, class_="pick-angle")),
        class_="controls",
    )
    output = element(
        "div",
        element("label", "Lines for the setup file", for_="toml"),
        element("textarea", "", id="toml", readonly=True, rows=6, spellcheck="false"),
        element(
            "div",
            element("label", "Below [setup], in the place of what is there", for_="stay-line"),
            element(
                "textarea",
                "",
                id="stay-line",
                readonly=True,
                rows=2,
                spellcheck="false",
                data_names=json.dumps({key: list(getattr(setup.marks, key)) for key in _WISHES}),
            ),
            class_="stay",
            hidden=True,
        ),
        element(
            "p",
            element("button", "Keep, and mark another", type="button", class_="keep"),
            element("button", "Drop the last", type="button", class_="drop"),
            element("button", "Copy", type="button", class_="copy"),
            element("span", "", class_="said", role="status"),
        ),
        class_="lines",
    )
    return fragment(
        element("p", _PICKER),
        _already(setup),
        element("p", "The picker needs JavaScript, which is off.", class_="no-script"),
        element(
            "div",
            controls,
            element("div", hero, others, class_="pair surfaces"),
            output,
            class_="picker needs-script",
        ),
    )
