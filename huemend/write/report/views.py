"""The stills that stand for one angle, and the pictures of them that its section shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

from huemend.model import AngleResult, LinearStill, SetupResult
from huemend.write.report.pictures import Gallery, Picture, moment_shown, still_at


@dataclass(frozen=True, eq=False)
class AngleStills:
    """The stills that stand for one angle: those of the moment that shows most of its samples.

    ``reference`` is the angle that the samples are shared with; the hero, unless angles were chained.
    """

    hero: LinearStill
    reference: LinearStill
    angle: LinearStill

    @classmethod
    def of(cls, result: AngleResult, setup: SetupResult) -> Self:
        """Choose the stills of an angle."""
        hero, name, shared = setup.setup.hero, result.angle.name, result.pairs.reference
        moment = moment_shown(result, setup.stills, hero)
        names = (hero, shared if shared in setup.stills else hero, name)
        return cls(*(still_at(setup.stills[each], moment) for each in names))


@dataclass(frozen=True)
class Views:
    """The pictures of these, the angle's as shot (``before``) and matched; ``after`` is None without a match."""

    hero: Picture
    reference: Picture
    before: Picture
    after: Picture | None

    @classmethod
    def of(cls, result: AngleResult, setup: SetupResult, gallery: Gallery) -> Self:
        """Return the pictures of an angle, rendered into the gallery."""
        stills = AngleStills.of(result, setup)
        return cls(
            hero=gallery.show(stills.hero),
            reference=gallery.show(stills.reference),
            before=gallery.show(stills.angle),
            after=None if result.match is None else gallery.show(stills.angle, result),
        )


def draw_views(setup: SetupResult, gallery: Gallery) -> None:
    """Draw what `Views` of all angles will ask for, several pictures at a time."""
    for_all: list[tuple[LinearStill, AngleResult | None]] = []
    for result in setup:
        stills = AngleStills.of(result, setup)
        for_all += [(stills.hero, None), (stills.reference, None), (stills.angle, None)]
        if result.match is not None:
            for_all.append((stills.angle, result))
    gallery.draw(for_all)
