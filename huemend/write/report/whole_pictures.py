"""The pictures of one angle: side by side, under a wipe, and as a cut."""

from __future__ import annotations

from huemend.write.report.markup import Markup, element, figure, filled
from huemend.write.report.pictures import viewport
from huemend.write.report.views import Views


def whole_pictures(views: Views, hero: str, name: str, kind: str = "") -> Markup:
    """Show hero, angle as shot and, where there is a match, matched at one size."""
    pictures = [("hero", hero, views.hero), ("as shot", name, views.before)]
    if views.after is not None:
        pictures.append(("matched", name, views.after))
    figures = []
    for what, who, picture in pictures:
        shown = viewport(picture, label=f"{who}, {what}")
        # Pressed, it is as wide as the page.
        tile = element("button", shown, type="button", class_="tile larger", aria_pressed="false")
        figures.append(figure(tile, element("b", what), f" {who}" if who != what else None))
    return element("div", figures, class_=f"row row-{len(figures)} {kind}".strip())


def luminance_switch(link: str) -> Markup:
    """Offer an angle's pictures without colour; ``link`` is its id on the page."""
    box = element("input", type="checkbox", class_="luminance", id=f"lum-{link}")
    words = " luminance only, to judge exposure alone"
    return element("p", element("label", box, words, class_="needs-script"), class_="keys")


def wipe(views: Views, name: str) -> Markup | None:
    """Lay the matched picture over the one as shot, with an edge that follows pointer and keyboard."""
    if views.after is None:
        return None
    return filled(
        "wipe.html",
        before=viewport(views.before, label=f"{name}, as shot"),
        after=viewport(views.after, label=f"{name}, matched", kind="over"),
        name=name,
    )


def cut_check(views: Views, hero: str, name: str) -> Markup:
    """Lay the angle over the hero, one of them visible: the page cuts between them when asked."""
    second, what = (views.after, "matched") if views.after is not None else (views.before, "as shot")
    first = "hero" if hero == "hero" else f"{hero}, hero"
    pictures = [
        viewport(views.hero, label=first, kind="first"),
        viewport(second, label=f"{name}, {what}", kind="second"),
    ]
    return filled("cut.html", first=first, second=f"{name}, {what}", pictures=pictures)
