"""The same thing in both: what an eye judges first, one strip a surface, and one of them large under a wipe."""

from __future__ import annotations

import math
from collections.abc import Sequence

from huemend.base.text import listed
from huemend.model import AngleResult, SetupResult
from huemend.write.report.crops import Crop
from huemend.write.report.figures import signed
from huemend.write.report.left_over import LeftOver
from huemend.write.report.markup import Child, Markup, element, fragment
from huemend.write.report.numbers import table
from huemend.write.report.pictures import edge_handle, viewport
from huemend.write.report.scopes import turn_degrees
from huemend.write.report.surfaces import FEWEST, Kind

NOTHING_SHARED = "No place was found that both views show beyond doubt: here are the whole pictures."


def crop_id(link: str, number: int) -> str:
    """Return the id of a surface on the page; ``link`` is that of its angle."""
    return f"{link}-same-{number + 1}"


def crop_name(crop: Crop, size: tuple[int, int]) -> str:
    """Say what a surface is, as far as anybody knows, and where it lies on the hero.

    Parameters
    ----------
    size : (height, width)
        Of the hero's still.
    """
    surface = crop.surface
    if surface.kind in {Kind.SKIN, Kind.NAMED}:
        return surface.name
    if surface.kind is Kind.CLOTHES:
        return f"below {surface.name.replace('skin of ', '').replace('skin', 'the face')}"
    height, width = size
    across = min(int(3 * surface.centre[0] / width), 2)
    down = min(int(3 * surface.centre[1] / height), 2)
    where = f"{('upper', 'middle', 'lower')[down]} {('left', 'middle', 'right')[across]}"
    where = "middle" if where == "middle middle" else where
    return {Kind.GROUND: f"plain ground, {where}", Kind.OFF: f"differs most, {where}"}.get(surface.kind, where)


def left_words(left: LeftOver) -> str:
    """Say how a surface differs from the hero's: stop, hue, saturation; of a grey, red and blue against green."""
    if not math.isfinite(left.stops):
        return "clips in the measurement view"
    said = f"{signed(left.stops)} stop"
    if math.isfinite(left.hue_degrees):
        return f"{said}, hue {signed(left.hue_degrees, 0)}°, saturation {signed(100 * left.saturation, 0)} %"
    if math.isfinite(left.red_green):
        return f"{said}, red {signed(left.red_green)}, blue {signed(left.blue_green)}"
    return said


def _square(crop: Crop, state: str) -> str:
    """Return the part of a strip that shows a state, as a viewBox."""
    side = crop.picture.height
    return f"{crop.states.index(state) * side} 0 {side} {side}"


def _tile(crop: Crop, name: str, link: str, number: int) -> Markup:
    strip = viewport(
        crop.picture, crop.picture.use(), label=f"{name}: {', '.join(crop.states)}, edge to edge", kind="strip"
    )
    kind = crop.states[-1] if crop.after is not None else "as shot"
    error = crop.left.error
    said = [
        element("b", name),
        f" {error:.1f}" if math.isfinite(error) else None,
        element("br"),
        f"{kind}: {left_words(crop.left)}",
    ]
    if crop.after is not None and crop.surface.kind is not Kind.SKIN:
        said += [element("br"), element("small", f"as shot: {left_words(crop.before)}")]
    if crop.surface.kind is Kind.GROUND:
        said += [
            element("br"),
            element("small", "nothing on it says where: perhaps another part, under other light"),
        ]
    elif crop.surface.kind is not Kind.SKIN and not crop.surface.alignment.affine:
        said += [element("br"), element("small", "laid over by shift and scale alone: few pairs here")]
    button = element(
        "button",
        strip,
        type="button",
        class_="tile",
        aria_pressed="true" if number == 0 else "false",
        data_picture=crop.picture.id,
        data_name=name,
    )
    return element("li", button, element("p", said), id=crop_id(link, number))


def _stage(crop: Crop, name: str, link: str) -> Markup:
    """Lay one surface large, the hero's under the angle's, with an edge to move and a flip."""
    first, second = "hero", crop.states[-1] if crop.after is not None else "as shot"
    side = crop.picture.height

    def view(state: str, kind: str) -> Markup:
        return element(
            "svg",
            crop.picture.use(),
            viewBox=_square(crop, state),
            class_=f"picture {kind}".strip(),
            role="img",
            aria_label=f"{name}, {state}",
            data_state=state,
        )

    wipe = element(
        "div",
        view(first, ""),
        view(second, "over"),
        edge_handle(f"Wipe between the hero and this angle, {second}", first, second),
        class_="wipe",
        data_first=first,
        data_second=second,
        data_side=side,
    )
    as_shot = element("button", "As shot", type="button", class_="as-shot", aria_pressed="false")
    buttons = element(
        "div",
        element("button", "Flip", type="button", class_="flip"),
        as_shot if crop.after is not None else None,
        element("span", f"hero | {second}", class_="on-show", role="status"),
        class_="needs-script buttons",
    )
    caption = element(
        "figcaption",
        element("b", name, class_="stage-name"),
        " hero left, ",
        element("span", second, class_="stage-second"),
        " right.",
        buttons,
    )
    return element("figure", wipe, caption, class_="wide stage", id=f"{link}-stage")


def skin_table(result: AngleResult) -> Markup | None:
    """Compare each person with themselves: light, hue and saturation against the hero, as shot and matched."""
    if not result.people:
        return None
    several = len(result.people) > 1
    rows: list[list[Child]] = []
    for person in result.people:
        states = [("as shot", person.before)]
        if result.match is not None:
            states.append(("matched", person.after))
        for what, skin in states:
            turn = turn_degrees(person.hero.hue_degrees, skin.hue_degrees)
            more = 100 * (skin.saturation / max(person.hero.saturation, 1e-6) - 1)
            rows.append(
                [
                    f"{person.name.replace('skin of ', '')} ({person.samples}), {what}" if several else what,
                    signed(skin.exposure_stops),
                    f"{signed(turn, 1)}°",
                    f"{signed(more, 0)} %",
                    f"{skin.error:.1f}",
                ]
            )
    first = result.people[0]
    caption = "Skin, each person against themselves (samples)"
    if not several:
        caption = (
            f"The {first.name} against itself, {first.samples} {'sample' if first.samples == 1 else 'samples'}"
        )
    return table(caption, ["", "stop", "hue", "saturation", "difference"], rows)


def _few_words(count: int) -> str:
    """Say why an angle shows so few strips."""
    strips = "one strip is" if count == 1 else f"{count} strips are"
    return (
        f"Only {strips} shown: elsewhere too little is shared, or what looks alike (an edge, books, tiles) may "
        "lie in another place. Judge the rest from the whole pictures below."
    )


def _unseen_words(result: AngleResult, crops: Sequence[Crop]) -> str:
    """Say which people have no strip though the table has their skin; empty where there are none."""
    shown = {crop.surface.name for crop in crops}
    names = [person.name.replace("skin of ", "") for person in result.people if person.name not in shown]
    if not names:
        return ""
    said = "too near the edge of a picture. The table below the large picture has the skin."
    return f"No strip of {listed(names)}: {said}"


def strips_section(result: AngleResult, setup: SetupResult, crops: Sequence[Crop], link: str) -> Markup:
    """Lay out what an angle shares with the hero; without a surface, say so."""
    reference = result.pairs.reference
    if not crops:
        return fragment(element("p", NOTHING_SHARED, class_="fine"), skin_table(result))
    size = setup.stills[reference][0].rgb.shape[:2]
    names = [crop_name(crop, (size[0], size[1])) for crop in crops]
    tiles = [_tile(crop, name, link, number) for number, (crop, name) in enumerate(zip(crops, names, strict=True))]
    order = ", ".join(crops[0].states)
    hero = "" if reference == setup.setup.hero else f" The hero's place is taken by {reference}, which is matched."
    note = element("p", f"Each strip, left to right: {order}. Places are the hero's.{hero}", class_="fine order")
    few = element("p", _few_words(len(crops)), class_="fine") if len(crops) < FEWEST else None
    unseen = _unseen_words(result, crops)
    missed = element("p", unseen, class_="fine") if unseen else None
    closer = element("div", _stage(crops[0], names[0], link), skin_table(result), class_="closer")
    return element(
        "div",
        closer,
        fragment(
            element(
                "div",
                note,
                missed,
                few,
                element("ul", tiles, class_="tiles", data_states=",".join(crops[0].states)),
            )
        ),
        class_="same",
    )
