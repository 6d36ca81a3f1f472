"""What each picture of a setup shows by itself, before any two are compared: features, faces, a chart.

It is looked for once, whatever the picture is paired with afterwards: the sources of pairs are handed values.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from huemend.base.arrays import picked
from huemend.base.cv import import_chart_finder
from huemend.correspond.chart_finder import Chart, find_chart
from huemend.correspond.face_finder import forget_network
from huemend.correspond.features import Features, find_features
from huemend.correspond.people import Person, find_people
from huemend.correspond.raster import MatchPicture, matching_width
from huemend.correspond.stances import PictureId, picture_id
from huemend.model import LinearStill, Setup
from huemend.options import CorrespondOptions, HeroOptions, MatchOptions

Stills = Mapping[str, tuple[LinearStill, ...]]


class View(NamedTuple):
    """One way to look for features in a picture.

    ``squeeze`` makes the picture narrower or wider; a reference is looked at larger, and for more features.
    """

    picture: PictureId
    squeeze: float = 1.0
    as_reference: bool = False


class Pairing(NamedTuple):
    """Two angles that are paired."""

    reference: str
    angle: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Detected:
    """All that was found in the pictures of a setup."""

    #: Mapping of PictureId to tuple of Person.
    people: Mapping[PictureId, tuple[Person, ...]] = field(default_factory=dict)
    #: Mapping of PictureId to Chart or None. None where a picture shows no chart.
    charts: Mapping[PictureId, Chart | None] = field(default_factory=dict)


def detect_all(
    setup: Setup,
    stills: Stills,
    options: MatchOptions,
    *,
    people: Mapping[PictureId, tuple[Person, ...]],
) -> Detected:
    """Find people and charts in every picture, as far as the sources of pairs will ask for them.

    ``people`` were found already, when a picture was read. Raises a `MissingLibraryError` where a chart is to be
    looked for, and this OpenCV cannot.
    """
    if setup.chart:
        # Where no chart can be looked for, that is told before the long work begins.
        import_chart_finder()
    pairings = pairings_of(setup)
    hero = hero_pictures(stills[setup.hero], options.hero) if options.hero.balance else []
    with_faces = [*pictures_of(pairings, stills, options.faces.moments), *hero] if options.wants_faces else []
    seen = dict(people)
    for still in with_faces:
        if picture_id(still) not in seen:
            # The network that finds faces uses every thread itself.
            seen[picture_id(still)] = find_people(still, options.faces)
    forget_network()
    chart = options.correspond.chart
    with_chart = [*pictures_of(pairings, stills, chart.moments), *hero] if setup.chart else []
    charts = {picture_id(still): find_chart(still, chart) for still in dict.fromkeys(with_chart)}
    return Detected(people=seen, charts=charts)


def hero_pictures(stills: Sequence[LinearStill], hero: HeroOptions) -> list[LinearStill]:
    """Return the pictures of the hero in which greys and skin are measured."""
    return picked(stills, hero.moments)


def pairings_of(setup: Setup) -> tuple[Pairing, ...]:
    """Return each angle with its reference: the hero, or the angle that it goes through."""
    return tuple(Pairing(angle.through or setup.hero, angle.name) for angle in setup.others)


def views_of(
    pairings: Iterable[Pairing], firsts: Mapping[str, PictureId], options: CorrespondOptions
) -> list[View]:
    """Return every view in which features are to be looked for, each once.

    ``firsts`` are the pictures since which the cameras stand as they do, by angle. One of two pictures is
    foreshortened against the other: it is enough to undo that on one side.
    """
    wanted: list[View] = []
    for reference, angle in pairings:
        wanted.append(View(firsts[reference], as_reference=True))
        wanted += [View(firsts[angle], squeeze) for squeeze in squeezes(options)]
    return list(dict.fromkeys(wanted))


def pictures_of(pairings: Iterable[Pairing], stills: Stills, moments: int) -> tuple[LinearStill, ...]:
    """Return the pictures that a source looks at which takes at most so many moments of two angles, each once."""
    wanted = [
        still
        for reference, angle in pairings
        for two in picked(list(zip(stills[reference], stills[angle], strict=False)), moments)
        for still in two
    ]
    return tuple({picture_id(still): still for still in wanted}.values())


def squeezes(options: CorrespondOptions) -> tuple[float, ...]:
    """Return by how much an angle's picture is made narrower or wider: first of all not at all."""
    return 1.0, *options.squeezes


def detect_view(view: View, picture: MatchPicture, options: CorrespondOptions) -> Features:
    """Find the features of one view of a picture."""
    shape = picture.still.rgb.shape
    if view.as_reference:
        width = min(matching_width(shape, options.reference_width), 2 * shape[1])
        most = options.reference_features
    else:
        width, most = min(matching_width(shape, options.width), shape[1]), options.angle_features
    return find_features(picture, width, most, view.squeeze)
