"""The picker: drag rectangles on the pictures, read off the lines for the setup file.

The page holds the pictures and a small script; nothing is sent anywhere. Areas are in fractions of the upright
frame as the camera recorded it, so the crop of an angle is undone here by the numbers that each surface carries.
"""

from __future__ import annotations

from huemend.model import SetupResult
from huemend.write.report.angle import AngleStills
from huemend.write.report.markup import Markup, element, fragment, number
from huemend.write.report.pictures import Gallery, Picture, viewport
from huemend.write.report.words import PICKER

__all__ = ["picker_section"]

_EDGES = ("left", "top", "right", "bottom")


def _surface(name: str, role: str, crop: tuple[float, ...], picture: Picture) -> Markup:
    rectangle = element("rect", class_="chosen", x=0, y=0, width=0, height=0)
    halo = element("rect", class_="chosen-halo", x=0, y=0, width=0, height=0)
    drawing = viewport(picture, picture.use(), halo, rectangle, label=f"Picture of {name}")
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
        aria_label=f"Area on {name}. Arrow keys move it, with shift they change its size, Delete clears it.",
    )
    return element(
        "figure",
        element("figcaption", name),
        pad,
        element("fieldset", element("legend", f"Area on {name}", class_="unseen"), edges),
        class_="surface",
        data_role=role,
        data_name=name,
        data_crop=" ".join(number(v, 6) for v in crop),
    )


def picker_section(result: SetupResult, gallery: Gallery) -> Markup:
    """Lay out the picker: the hero, the other angles as they were shot, a name, and the lines to paste."""
    setup = result.setup
    first = AngleStills.of(result.angles[0], result)
    pictures = {setup.hero: gallery.show(first.hero)}
    for angle in result:
        pictures[angle.angle.name] = gallery.show(AngleStills.of(angle, result).angle)
    hero = _surface(setup.hero, "hero", setup[setup.hero].crop, pictures[setup.hero])
    others = [_surface(r.angle.name, "angle", r.angle.crop, pictures[r.angle.name]) for r in result]
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
        class_="kinds",
    )
    controls = element(
        "div",
        kinds,
        element("label", "Name ", element("input", type="text", class_="pair-name", value="skin", maxlength=60)),
        element("label", "Angle ", element("select", choices, class_="pick-angle")),
        class_="controls",
    )
    output = element(
        "div",
        element("label", "Lines for the setup file", for_="toml"),
        element("textarea", "", id="toml", readonly=True, rows=6, spellcheck="false"),
        element(
            "p",
            element("button", "Copy", type="button", class_="copy"),
            element("span", "", class_="said", role="status"),
        ),
        class_="lines",
    )
    return fragment(
        element("p", PICKER),
        element("p", "The picker needs JavaScript, which is off.", class_="no-script"),
        element(
            "div",
            controls,
            element("div", hero, others, class_="pair surfaces"),
            output,
            class_="picker needs-script",
        ),
    )
