"""From media to light: the pictures of an angle, one at a time, and what is kept of each."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace

from huemend.base.arrays import picked
from huemend.base.memory import give_back
from huemend.base.tasks import over
from huemend.correspond.area_colour import with_ignored
from huemend.correspond.people import Person, find_people
from huemend.correspond.raster import matching_size
from huemend.correspond.stances import Follower, PictureId, Stance, picture_id
from huemend.encodings.registry import Encoding, encodings_of
from huemend.linearise.decode import halved, linearise, working_size
from huemend.model import Angle, Event, InputFile, LinearStill, OnEvent, Setup, Still
from huemend.model.event import unheard
from huemend.options import MatchOptions
from huemend.sample.clip_plan import ClipPlan, plan_clips
from huemend.sample.stills import is_large, sample_angle


@dataclass(frozen=True, kw_only=True, eq=False)
class Reading:
    """What is kept of an angle's pictures.

    Of several moments only the first of each stance stays as large as it was read: people are looked for while a
    picture is at hand, and all else that is asked of a later moment a picture of matching size in half floats can
    tell. So memory hardly grows with the number of moments.
    """

    stills: tuple[LinearStill, ...]
    files: tuple[InputFile, ...]
    #: Mapping of PictureId to Stance. Since when the camera has stood as it does there.
    stances: Mapping[PictureId, Stance] = field(default_factory=dict)
    #: Mapping of PictureId to tuple of Person. Of those of several moments that were looked at; the others are
    #: still to be.
    people: Mapping[PictureId, tuple[Person, ...]] = field(default_factory=dict)


def read_setup(setup: Setup, options: MatchOptions, on_event: OnEvent | None = None) -> dict[str, Reading]:
    """Read and decode the pictures that a match of a setup rests on, as the match itself does."""
    on_event = on_event or unheard
    plan = plan_clips(setup, options.sample, on_event=on_event)
    return read_angles(setup, encodings_of(setup), options, plan, on_event)


def read_angles(
    setup: Setup,
    encodings: Mapping[str, Encoding],
    options: MatchOptions,
    plan: ClipPlan | None,
    on_event: OnEvent,
) -> dict[str, Reading]:
    """Read and decode the pictures of every angle, the hero's first; return what is kept of them, by angle."""
    read: dict[str, Reading] = {}
    hero_first = (setup[setup.hero], *setup.others)
    together = not any(is_large(angle, options.sample) for angle in hero_first)

    def work(angle: Angle) -> Reading:
        return read_angle(setup, angle, encodings[angle.name], options, plan)

    with closing(over(hero_first, work, together=together)) as reads:
        for done, angle in enumerate(hero_first):
            on_event(Event(stage="sample", angle=angle.name, done=done, total=len(setup.angles)))
            read[angle.name] = next(reads)
    return {angle.name: read[angle.name] for angle in setup.angles}


def read_angle(
    setup: Setup, angle: Angle, encoding: Encoding, options: MatchOptions, plan: ClipPlan | None = None
) -> Reading:
    """Read an angle's pictures, one at a time, and decode them."""
    whole = _wanted_whole(setup, options)
    count = len(angle.media) if plan is None or angle.name not in plan.frames else len(plan.frames[angle.name])
    with_faces = set(picked(range(count), options.faces.moments)) if options.wants_faces else set()
    # Who is too small at one of several moments mostly is not at another.
    faces = replace(options.faces, closer=0) if count > 1 else options.faces
    follower = Follower(options.correspond)
    stills, files, people = [], [], {}
    known: tuple[Person, ...] | None = None

    def light_of(still: Still, size: tuple[int, int], noise: float | None = None) -> LinearStill:
        light = linearise(
            still,
            encoding,
            range=still.range or angle.range,
            pixel_aspect=angle.pixel_aspect,
            options=options.linearise,
            size=size,
            noise=noise,
        )
        return with_ignored(light, setup)

    for still in sample_angle(angle, options.sample, plan):
        files.append(_file_of(still, angle))
        size = working_size(still.codes.shape[:2], angle.pixel_aspect, options.linearise.working_width)
        if count == 1:
            stills.append(light_of(still, size))
            continue
        small = matching_size(size, options.correspond.width)
        # Noise is the camera's, not the frame's.
        noise = stills[0].noise if stills and still.frame is not None else None
        light = light_of(still, size if whole or not stills else small, noise)
        first = follower.see(light).first == picture_id(light)
        if first and light.reduced > 1:
            light = light_of(still, size, noise)
        del still
        if first:
            known = None
        if light.moment in with_faces and not whole:
            people[picture_id(light)] = found = find_people(light, faces, known)
            known = found if known is None else known
        stills.append(light if first or whole else halved(light))
    if count > 1:
        give_back()
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
