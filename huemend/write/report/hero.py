"""What is suggested for the hero itself."""

from __future__ import annotations

from huemend.model.hero import HeroBalance, Suggestion
from huemend.write.report.figures import signed
from huemend.write.report.markup import Markup, element
from huemend.write.report.numbers import table
from huemend.write.report.words import sentence

_APART = (
    "For the grade, if you want it: no match and no LUT here uses it; every angle is matched to the hero as it "
    "was shot. Of exposure that rests on skin, the interval is the range that would do."
)


def hero_section(name: str, found: HeroBalance) -> Markup:
    """Return the section on the hero's own exposure and balance."""
    rows = [
        _row("Exposure", found.exposure, found.exposure_basis, found.exposure_source),
        _row("Red against green", found.red_green, found.balance_basis, found.balance_source),
        _row("Blue against green", found.blue_green, found.balance_basis, found.balance_source),
    ]
    head = ["", "stops", "interval (90 %)", "rests on", "aims at"]
    suggested = table(f"Suggested for {name}, in stops to add", head, rows)
    skin = element("p", sentence(found.skin), class_="fine") if found.skin else None
    return element("section", element("h2", "The hero itself"), element("p", _APART), suggested, skin, id="hero")


def _row(head: str, found: Suggestion | None, basis: str, source: str) -> list[str | Markup | None]:
    if found is None:
        return [head, "none", "", sentence(basis), ""]
    value = signed(found.stops)
    if not found.is_clear:
        value += " (no change is as likely)"
    return [head, value, f"{signed(found.low)} to {signed(found.high)}", sentence(basis), sentence(source)]
