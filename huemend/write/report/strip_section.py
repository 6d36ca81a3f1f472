"""The same thing in both: what an eye judges first, one strip a surface, and one of them large under a wipe."""

from __future__ import annotations

import math
from collections.abc import Sequence

from huemend.model import AngleResult, SetupResult
from huemend.write.report.crop_choice import FEWEST
from huemend.write.report.crops import Crop, differs_most
from huemend.write.report.figures import signed
from huemend.write.report.left_over import left_words, of_skin
from huemend.write.report.markup import Child, Markup, element, filled, fragment
from huemend.write.report.numbers import table
from huemend.write.report.pictures import viewport
from huemend.write.report.surfaces import Kind

# From this share on it is said that a part of a strip is clipped.
_TELLING = 0.1
# From this ratio on an eye takes the coarser of two pictures for soft.
_SOFTER = 1.5

NOTHING_SHARED = "No place was found that both views show beyond doubt: here are the whole pictures."


def crop_id(link: str, number: int) -> str:
    """Return the id of a surface on the page; ``link`` is that of its angle."""
    return f"{link}-same-{number + 1}"


def crop_name(crop: Crop, size: tuple[int, int]) -> str:
    """Say what a surface is, as far as anybody knows, and where on the hero, (height, width), it lies."""
    surface = crop.surface
    if surface.kind in {Kind.SKIN, Kind.NAMED}:
        return surface.name
    if surface.kind is Kind.CLOTHES:
        # Found faces are called "skin", or "skin of" somebody; one that was named by hand has any name.
        whose = surface.name.removeprefix("skin")
        return f"clothes{whose}" if not whose or whose.startswith(" of ") else f"below {surface.name}"
    height, width = size
    across = min(int(3 * surface.centre[0] / width), 2)
    down = min(int(3 * surface.centre[1] / height), 2)
    where = f"{('upper', 'middle', 'lower')[down]} {('left', 'middle', 'right')[across]}"
    where = "middle" if where == "middle middle" else where
    return f"plain surface, {where}" if surface.kind is Kind.GROUND else where


def crop_names(crops: Sequence[Crop], size: tuple[int, int]) -> list[str]:
    """Name all surfaces of an angle; of two that would be called the same, the second is told apart."""
    names: list[str] = []
    for crop in crops:
        name, count = crop_name(crop, size), 2
        names.append(name)
        while names.count(names[-1]) > 1:
            names[-1], count = f"{name} ({count})", count + 1
    return names


def _square(crop: Crop, state: str) -> str:
    """Return the part of a strip that shows a state, as a viewBox."""
    side = crop.picture.height
    return f"{crop.states.index(state) * side} 0 {side} {side}"


def _tile(crop: Crop, name: str, link: str, number: int, *, most: bool, aside: bool) -> Markup:
    """Return one strip; ``most`` of the one that differs most, ``aside`` where its difference forgives light."""
    strip = viewport(crop.picture, label=f"{name}: {', '.join(crop.states)}, edge to edge", kind="strip")
    error = f": difference {crop.left.error:.1f}" if math.isfinite(crop.left.error) else None
    asides = [", light aside" if aside else None, ", the most" if most else None]
    lines: list[Child] = [[element("b", name), error, asides]]
    if crop.after is None:
        lines.append(f"as shot: {left_words(crop.before)[0]}")
    else:
        matched, shot = left_words(crop.after, crop.before)
        lines += [f"matched: {matched}", element("small", f"as shot: {shot}")]
    if crop.surface.clipped >= _TELLING:
        lines.append(element("small", f"{crop.surface.clipped:.0%} of it is clipped in one of the views"))
    if crop.surface.kind is Kind.GROUND:
        lines.append(element("small", "may be another part of it, under other light"))
    elif crop.surface.kind is not Kind.SKIN and not crop.surface.alignment.affine:
        lines.append(element("small", "laid over by shift and scale alone: few samples here"))
    said = [part for line in lines for part in (element("br"), line)][1:]
    pressed = "true" if number == 0 else "false"
    data = {"data_picture": crop.picture.id, "data_name": name, "data_note": _finer_words(crop)}
    button = element("button", strip, type="button", class_="tile", aria_pressed=pressed, **data)
    # The first row says which square is which.
    heads = element("div", [element("span", state) for state in crop.states], class_="states", aria_hidden="true")
    return element("li", heads if number < 2 else None, button, element("p", said), id=crop_id(link, number))


def _finer_words(crop: Crop) -> str:
    """Say why the hero's side is soft, where it is: else it would be taken for a difference."""
    if crop.finer < _SOFTER:
        return ""
    return f"The hero recorded it {crop.finer:.1f} times smaller, so it is softer there."


def _stage(crop: Crop, name: str, link: str) -> Markup:
    """Lay one surface large, the hero's under the angle's, with an edge to move and a flip."""
    second, as_shot = "as shot", None
    if crop.after is not None:
        second = crop.states[-1]
        as_shot = element("button", "As shot", type="button", class_="as-shot", aria_pressed="false")
    views = [
        viewport(crop.picture, label=f"{name}, {state}", kind=kind, box=_square(crop, state), data_state=state)
        for state, kind in (("hero", ""), (second, "over"))
    ]
    return filled(
        "stage.html",
        link=link,
        second=second,
        side=str(crop.picture.height),
        views=views,
        name=name,
        note=_finer_words(crop),
        as_shot=as_shot,
    )


def skin_table(found: AngleResult, without: Sequence[Crop] = ()) -> Markup | None:
    """Compare people with themselves, as shot and matched; those that have a strip (``without``) have it there."""
    shown = {crop.surface.name for crop in without}
    people = [person for person in found.people if person.name not in shown]
    rows: list[list[Child]] = []
    for person in people:
        samples = f"{person.samples} {'sample' if person.samples == 1 else 'samples'}"
        states = zip(("as shot", "matched"), of_skin(found, person), strict=True)
        for what, skin in list(states)[: 2 if found.match is not None else 1]:
            who = f"{person.name.removeprefix('skin of ')} ({samples}), {what}"
            hue, saturation = f"{signed(skin.hue_degrees, 0)}°", f"{signed(100 * skin.saturation, 0)} %"
            rows.append([who, signed(skin.stops), hue, saturation, f"{skin.error:.1f}"])
    head = ["", "stop", "hue", "saturation", "difference, light aside"]
    return table("Skin, each person on this angle against the hero", head, rows) if rows else None


def _few_words(count: int) -> str:
    strips = "one strip is" if count == 1 else f"{count} strips are"
    return (
        f"Only {strips} shown: elsewhere too little is shared, or what looks alike (an edge, books, a bare wall) "
        "may be another place under other light. Judge the rest from the whole pictures below."
    )


def strips_section(found: AngleResult, result: SetupResult, crops: Sequence[Crop], link: str) -> Markup:
    """Lay out what an angle shares with the hero; without a surface, say so."""
    reference = found.pairs.reference
    if not crops:
        return fragment(element("p", NOTHING_SHARED, class_="fine"), skin_table(found))
    size = result.stills[reference][0].rgb.shape[:2]
    names = crop_names(crops, (size[0], size[1]))
    most = differs_most(crops)
    people = {person.name for person in found.people}
    tiles = []
    for number, (crop, name) in enumerate(zip(crops, names, strict=True)):
        aside = crop.surface.kind is Kind.SKIN and crop.surface.name in people
        tiles.append(_tile(crop, name, link, number, most=number == most, aside=aside))
    taken = f"The hero's place is taken by {reference}, which is matched."
    note = element("p", taken, class_="fine") if reference != result.setup.hero else None
    few = element("p", _few_words(len(crops)), class_="fine") if len(crops) < FEWEST else None
    closer = element("div", _stage(crops[0], names[0], link), skin_table(found, crops), class_="closer")
    strips = element("ul", tiles, class_="tiles", data_states=",".join(crops[0].states))
    return element("div", closer, element("div", note, few, strips), class_="same")
