"""The pictures of one angle: side by side, under a wipe, and as a cut."""

from __future__ import annotations

from huemend.write.report.markup import Child, Markup, element
from huemend.write.report.pictures import edge_handle, viewport
from huemend.write.report.samples import Views


def _larger(shown: Child, kind: str = "") -> Markup:
    """Return what is pressed to see a figure as wide as the page, and again to see it as it was."""
    return element("button", shown, type="button", class_=f"{kind} larger".strip(), aria_pressed="false")


def whole_pictures(views: Views, hero: str, name: str, kind: str = "") -> Markup:
    """Show hero, angle as shot and, where there is a match, matched at one size."""
    pictures = [("hero", hero, views.reference), ("as shot", name, views.before)]
    if views.after is not None:
        pictures.append(("matched", name, views.after))
    figures = [
        element(
            "figure",
            _larger(viewport(picture, picture.use(), label=f"{who}, {what}"), "tile"),
            element("figcaption", element("b", what), f" {who}" if who != what else None),
        )
        for what, who, picture in pictures
    ]
    return element("div", figures, class_=f"row row-{len(figures)} {kind}".strip())


def luminance_switch(link: str) -> Markup:
    """Offer an angle's pictures without colour; ``link`` is its id on the page."""
    switch = element(
        "label",
        element("input", type="checkbox", class_="luminance", id=f"lum-{link}"),
        " luminance only, to judge exposure alone",
        class_="needs-script",
    )
    return element("p", switch, class_="keys")


def wipe(views: Views, name: str) -> Markup | None:
    """Lay the matched picture over the one as shot, with an edge that follows pointer and keyboard."""
    if views.after is None:
        return None
    stage = element(
        "div",
        viewport(views.before, views.before.use(), label=f"{name}, as shot"),
        viewport(views.after, views.after.use(), label=f"{name}, matched", kind="over"),
        edge_handle(f"Wipe between {name} as shot and matched", "as shot", "matched"),
        class_="wipe",
        data_first="as shot",
        data_second="matched",
    )
    words = element(
        "figcaption",
        element("b", "Wipe"),
        " as shot on the left, matched on the right. Move over it, drag it, or use the arrow keys.",
        element("div", _larger("Larger"), class_="needs-script buttons"),
    )
    return element("figure", stage, words, class_="wide")


def cut_check(views: Views, hero: str, name: str) -> Markup:
    """Lay the angle over the hero, one of them visible: the page cuts between them when asked."""
    second, what = (views.after, "matched") if views.after is not None else (views.before, "as shot")
    first = "hero" if hero == "hero" else f"{hero}, hero"
    stage = element(
        "div",
        viewport(views.reference, views.reference.use(), label=first, kind="first"),
        viewport(second, second.use(), label=f"{name}, {what}", kind="second"),
        class_="cut",
        data_first=first,
        data_second=f"{name}, {what}",
    )
    buttons = element(
        "div",
        element("button", "Cut", type="button", class_="cut-once"),
        element("button", "Keep cutting", type="button", class_="cut-on", aria_pressed="false"),
        _larger("Larger"),
        element("span", first, class_="on-air", role="status"),
        class_="needs-script buttons",
    )
    words = element(
        "figcaption",
        element("b", "Cut check"),
        " as an editor would cut: never more than once a second. ",
        buttons,
    )
    return element("figure", stage, words, class_="wide")
