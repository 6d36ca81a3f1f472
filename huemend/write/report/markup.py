"""Building HTML and SVG so that nothing a user wrote can become markup.

Every string that is not already ``Markup`` is escaped on its way in: a setup, angle or file name comes from
somebody's disk and may hold anything. What hardly changes from page to page stands as HTML among the assets.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from html import escape
from importlib.resources import files
from string import Template

from huemend.base.text import told_apart


class Markup(str):
    """Text that is already HTML or SVG."""

    __slots__ = ()


Child = str | Iterable["Child"] | None

_VOID = frozenset({"br", "col", "hr", "img", "input", "link", "meta", "wbr"})


def fragment(*children: Child) -> Markup:
    """Join children, escaping those that are plain text.

    >>> fragment("a < b", Markup("<br>"), None, ["x", "y"])
    'a &lt; b<br>xy'
    """
    parts: list[str] = []
    for child in children:
        if child is None:
            continue
        if isinstance(child, Markup):
            parts.append(child)
        elif isinstance(child, str):
            parts.append(escape(child))
        else:
            parts.append(fragment(*child))
    return Markup("".join(parts))


def element(name: str, /, *children: Child, **attributes: str | int | float | bool | None) -> Markup:
    """Return one element; ``class_`` and ``aria_label`` become ``class`` and ``aria-label``.

    An attribute that is None or False is left out, one that is True has no value; floats are written short.

    >>> element("p", "a & b", class_="note", hidden=True)
    '<p class="note" hidden>a &amp; b</p>'
    """
    written = []
    for key, value in attributes.items():
        if value is None or value is False:
            continue
        key = key.rstrip("_").replace("_", "-") if not key[0].isupper() else key
        if value is True:
            written.append(f" {key}")
        else:
            text = number(value) if isinstance(value, float) else str(value)
            written.append(f' {key}="{escape(text, quote=True)}"')
    opening = f"<{name}{''.join(written)}>"
    if name in _VOID:
        return Markup(opening)
    return Markup(f"{opening}{fragment(*children)}</{name}>")


def svg(
    *children: Child, box: str, kind: str, label: str | None = None, **attributes: str | int | float | None
) -> Markup:
    """Return a drawing; ``label`` is what a reader who cannot see it is told; without it, nothing."""
    told = {"aria_hidden": "true"} if label is None else {"role": "img", "aria_label": label}
    return element("svg", *children, viewBox=box, class_=kind, **told, **attributes)


def figure(picture: Child, *caption: Child, **attributes: str | None) -> Markup:
    """Return a picture with its caption below it."""
    return element("figure", picture, element("figcaption", *caption), **attributes)


def scrolling(kind: str, label: str, table: Markup) -> Markup:
    """Let a table scroll by itself on a narrow screen, by the keyboard too."""
    return element("div", table, class_=kind, tabindex=0, role="group", aria_label=label)


def fold(head: Child, *children: Child, **attributes: str | int | float | bool | None) -> Markup:
    """Fold something away under a line that says what it is."""
    return element("details", element("summary", head), *children, class_="fold", **attributes)


@cache
def asset(name: str) -> str:
    """Return one of the page's own files."""
    return files("huemend.write.report").joinpath("assets", name).read_text(encoding="utf-8")


def filled(template: str, **parts: Child) -> Markup:
    """Return a template of the page's own files with its ``$parts`` filled in; its indented lines are joined."""
    text = "".join(line.strip() for line in asset(template).splitlines())
    return Markup(Template(text).substitute({name: fragment(part) for name, part in parts.items()}))


def number(value: float, digits: int = 2) -> str:
    """Write a coordinate: at most ``digits`` decimals, no trailing zeros, never ``-0``.

    >>> number(1.50001), number(-0.0001), number(3.0)
    ('1.5', '0', '3')
    """
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def plain_id(text: str, used: set[str]) -> str:
    """Return a unique id made of letters, digits and hyphens, and note it in ``used``.

    >>> seen = set()
    >>> plain_id("Kamera Ö/2", seen), plain_id("Kamera-2", seen)
    ('kamera-2', 'kamera-2-2')
    """
    letters = "".join(c if c.isascii() and c.isalnum() else "-" for c in text.lower())
    base = "-".join(part for part in letters.split("-") if part) or "angle"
    return told_apart(base, used)
