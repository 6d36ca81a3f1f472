"""From media to light: the pictures of an angle, one at a time, and what is kept of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from huemend.correspond.area_colour import with_ignored
from huemend.correspond.detect import picked
from huemend.correspond.people import Person, find_people
from huemend.correspond.raster import matching_width
from huemend.correspond.stances import Follower, PictureId, Stance, picture_id
from huemend.encodings.registry import Encoding
from huemend.linearise.decode import linearise, reduced
from huemend.model import Angle, InputFile, LinearStill, Setup, Still
from huemend.options import MatchOptions
from huemend.sample.clips import ClipPlan
from huemend.sample.stills import sample_angle

__all__ = ["Reading", "read_angle"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Reading:
    """What is kept of an angle's pictures.

    Of several moments only the first of each stance stays as large as it was read: people are looked for while a
    picture is at hand, and all else that is asked of a later moment a picture of matching size can tell. So memory
    hardly grows with the number of moments.

    Attributes
    ----------
    stills : tuple of LinearStill
    files : tuple of InputFile
    stances : mapping of PictureId to Stance
        Since when the camera has stood as it does there.
    people : mapping of PictureId to tuple of Person
        Of the pictures that are no longer there as they were read; the others are still to be looked at.
    """

    stills: tuple[LinearStill, ...]
    files: tuple[InputFile, ...]
    stances: Mapping[PictureId, Stance] = field(default_factory=dict)
    people: Mapping[PictureId, tuple[Person, ...]] = field(default_factory=dict)


def read_angle(
    setup: Setup, angle: Angle, encoding: Encoding, options: MatchOptions, plan: ClipPlan | None = None
) -> Reading:
    """Read an angle's pictures, one at a time, and decode them."""
    whole = _wanted_whole(setup, options)
    count = len(angle.media) if plan is None or angle.name not in plan.frames else len(plan.frames[angle.name])
    faces = options.faces.look and options.correspond.features
    with_faces = set(picked(range(count), options.faces.moments)) if faces else set()
    follower = Follower(options.correspond)
    stills, files, people = [], [], {}
    for still in sample_angle(angle, options.sample, plan):
        files.append(_file_of(still, angle))
        light = linearise(
            still,
            encoding,
            range=still.range or angle.range,
            pixel_aspect=angle.pixel_aspect,
            options=options.linearise,
        )
        del still
        light = with_ignored(light, setup)
        stance = follower.see(light) if count > 1 else None
        if stance is not None and stance.first != picture_id(light) and not whole:
            if light.moment in with_faces:
                # Whoever shows in small only is looked for closer on the first picture of a stance alone.
                people[picture_id(light)] = find_people(light, replace(options.faces, closer=0))
            light = reduced(light, matching_width(light.rgb.shape, options.correspond.width))
        stills.append(light)
    return Reading(stills=tuple(stills), files=tuple(files), stances=follower.stances, people=people)


def _wanted_whole(setup: Setup, options: MatchOptions) -> bool:
    """Say whether later moments are wanted as large as they are read: small areas and charts are."""
    return bool(setup.chart or setup.marks.pairs or setup.marks.neutral or options.hero.balance)


def _file_of(still: Still, angle: Angle) -> InputFile:
    return InputFile(
        angle=angle.name,
        moment=still.moment,
        source=still.source,
        sha256=still.sha256,
        bit_depth=still.bit_depth,
        size=(still.codes.shape[0], still.codes.shape[1]),
        range=still.range or angle.range,
    )
