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
    def of(cls, found: AngleResult, result: SetupResult) -> Self:
        """Choose the stills of an angle."""
        hero, name, shared = result.setup.hero, found.angle.name, found.pairs.reference
        moment = moment_shown(found, result.stills, hero)
        names = (hero, shared if shared in result.stills else hero, name)
        return cls(*(still_at(result.stills[each], moment) for each in names))


@dataclass(frozen=True)
class Views:
    """The pictures of these, the angle's as shot (``before``) and matched; ``after`` is None without a match."""

    hero: Picture
    reference: Picture
    before: Picture
    after: Picture | None

    @classmethod
    def of(cls, found: AngleResult, result: SetupResult, gallery: Gallery) -> Self:
        """Return the pictures of an angle, rendered into the gallery."""
        stills = AngleStills.of(found, result)
        return cls(
            hero=gallery.show(stills.hero),
            reference=gallery.show(stills.reference),
            before=gallery.show(stills.angle),
            after=None if found.match is None else gallery.show(stills.angle, found),
        )


def draw_views(result: SetupResult, gallery: Gallery) -> None:
    """Draw what `Views` of all angles will ask for, several pictures at a time."""
    for_all: list[tuple[LinearStill, AngleResult | None]] = []
    for found in result:
        stills = AngleStills.of(found, result)
        for_all += [(stills.hero, None), (stills.reference, None), (stills.angle, None)]
        if found.match is not None:
            for_all.append((stills.angle, found))
    gallery.draw(for_all)
