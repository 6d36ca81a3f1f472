"""From media to light: the pictures of an angle, one at a time, and what is kept of each."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import replace
from itertools import count

from huemend.base.arrays import picked
from huemend.base.memory import give_back
from huemend.base.tasks import over
from huemend.correspond.area_colour import with_ignored
from huemend.correspond.detect import pairings_of
from huemend.correspond.face_finder import forget_network
from huemend.correspond.people import Person, find_people
from huemend.correspond.raster import matching_size
from huemend.correspond.stances import MOST_STANCES, Follower, PictureId, Stance, picture_id
from huemend.encodings.registry import Encoding, encodings_of
from huemend.errors import MediaError
from huemend.linearise.decode import linearise, shrunk, working_size
from huemend.model import Angle, Event, InputFile, LinearStill, OnEvent, Setup, Still
from huemend.model.event import unheard
from huemend.options import MatchOptions
from huemend.sample.clip_plan import ClipPlan, plan_clips
from huemend.sample.stills import is_large, sample_angle

#: So many pixels across is what is kept of later moments: for lamps, colours of whole pictures, and eyes.
_KEPT_WIDTH = 480
#: Marked areas are measured in so many moments of a take.
_MARKED = 4
#: Where a camera showed nobody in so many pictures, those that come to sit far off are looked for no more.
_IN_VAIN = 2
#: Pixels of a picture that is as large as this or more.
_LARGE = 1920 * 1200


class AngleReading:
    """Reads the pictures of an angle, one at a time, and keeps of each what is looked at later."""

    def __init__(
        self,
        setup: Setup,
        angle: Angle,
        encoding: Encoding,
        options: MatchOptions,
        plan: ClipPlan | None = None,
        with_faces: Collection[int] = (),
        whole: Collection[int] = (),
    ) -> None:
        self._setup, self._angle, self._encoding, self._options = setup, angle, encoding, options
        self.count = _count(angle, plan)
        self._whole = whole
        self._with_faces = set(with_faces).difference(whole)
        self._follower = Follower(options.correspond)
        self._known: tuple[Person, ...] | None = None
        self._in_vain = 0
        self._pictures = sample_angle(angle, options.sample, plan)
        self.stills: list[LinearStill] = []
        self.files: list[InputFile] = []
        #: By picture. Of those of several moments in which people were looked for.
        self.people: dict[PictureId, tuple[Person, ...]] = {}

    @property
    def stances(self) -> Mapping[PictureId, Stance]:
        """Since when the camera has stood as it does in each picture that was read."""
        return self._follower.stances

    def read(self) -> LinearStill | None:
        """Return the next picture as it is matched, or None after the last."""
        still = next(self._pictures, None)
        if still is None:
            return None
        self.files.append(_file_of(still, self._angle))
        size = working_size(still.codes.shape[:2], self._angle.pixel_aspect, self._options.linearise.working_width)
        if self.count == 1:
            self.stills.append(self._light_of(still, size))
            return self.stills[0]
        small = matching_size(size, self._options.correspond.width)
        whole = still.moment in self._whole
        light = self._light_of(still, size if whole or not self.stills else small)
        self._follower.see(light)
        stood = dict.fromkeys(stance.first for stance in self.stances.values())
        first = picture_id(light) in [*stood][:MOST_STANCES]
        if first and light.reduced > 1:
            light = self._light_of(still, size)
        del still
        if first:
            self._known, self._in_vain = None, 0
        if light.moment in self._with_faces:
            # Who is too small at one of several moments mostly is not at another.
            faces = replace(self._options.faces, closer=0)
            if not self._known and self._in_vain >= _IN_VAIN:
                faces = replace(faces, sides=faces.sides[:1])
            self.people[picture_id(light)] = found = find_people(light, faces, self._known)
            self._known = self._known or found
            self._in_vain += not self._known
        if not first and (light.frame is not None or not whole):
            kept_size = light.rgb.shape[:2] if whole else matching_size(size, _KEPT_WIDTH)
            self.stills.append(shrunk(light, kept_size))
        else:
            self.stills.append(light)
        if len(self.stills) == 1 or light.full_size[0] * light.full_size[1] > _LARGE:
            give_back()  # a large picture leaves much behind, and others are read beside it
        return light

    def close(self) -> None:
        """Let go of the file that is read."""
        self._pictures.close()

    def _light_of(self, still: Still, size: tuple[int, int]) -> LinearStill:
        light = linearise(
            still,
            self._encoding,
            range=still.range or self._angle.range,
            pixel_aspect=self._angle.pixel_aspect,
            options=self._options.linearise,
            size=size,
            # Noise is the camera's, not the frame's.
            noise=self.stills[0].noise if self.stills and still.frame is not None else None,
        )
        return with_ignored(light, self._setup)


class SetupReading:
    """The pictures of a setup, moment by moment, and what is kept of them.

    Of several moments only the first of each stance stays as large as it was read: surfaces and people are looked
    for while a picture is at hand, and all else that is asked of a later moment a small one can tell. So memory
    hardly grows with the number of moments.
    """

    def __init__(self, setup: Setup, readings: Mapping[str, AngleReading], together: bool, told: OnEvent) -> None:
        self._setup = setup
        self._readings = readings
        self._together = together
        self._told = told

    def moments(self) -> Iterator[dict[str, LinearStill]]:
        """Yield the pictures of each moment, by angle, the hero's first; an angle's few stills may end before."""
        hero_first = [self._setup.hero, *(angle.name for angle in self._setup.others)]
        several = max(reading.count for reading in self._readings.values()) > 1
        for moment in count():
            if several and moment == 1:
                give_back()  # what looking for features left
            found = {}
            with closing(over(hero_first, self._read, together=self._together)) as reads:
                for done, name in enumerate(hero_first):
                    if not moment:
                        self._told(Event(stage="sample", angle=name, done=done, total=len(hero_first)))
                    found[name] = next(reads)
            pictures = {name: light for name, light in found.items() if light is not None}
            del found
            if not moment:
                _check_copies(self._setup, self.files)
            if not pictures:
                if several:
                    give_back()
                return
            if any(self.people.get(picture_id(light)) is not None for light in pictures.values()):
                # It holds a few hundred megabytes once it has seen a large picture, and is quickly read again.
                forget_network()
            yield pictures

    def _read(self, name: str) -> LinearStill | None:
        return self._readings[name].read()

    @property
    def stills(self) -> dict[str, tuple[LinearStill, ...]]:
        """What is kept of each picture, by angle, in the order of the setup file."""
        return {angle.name: tuple(self._readings[angle.name].stills) for angle in self._setup.angles}

    @property
    def files(self) -> tuple[InputFile, ...]:
        """What was read."""
        return tuple(file for angle in self._setup.angles for file in self._readings[angle.name].files)

    @property
    def stances(self) -> dict[PictureId, Stance]:
        """Since when each camera has stood as it does in a picture."""
        return {at: stance for reading in self._readings.values() for at, stance in reading.stances.items()}

    @property
    def people(self) -> dict[PictureId, tuple[Person, ...]]:
        """Whom the pictures show in which people were looked for already; in others they are still to be."""
        return {at: seen for reading in self._readings.values() for at, seen in reading.people.items()}


@contextmanager
def read_moments(
    setup: Setup,
    encodings: Mapping[str, Encoding],
    options: MatchOptions,
    plan: ClipPlan | None,
    on_event: OnEvent,
) -> Iterator[SetupReading]:
    """Open the media of every angle, to be read and decoded moment by moment."""
    faces: dict[str, set[int]] = {angle.name: set() for angle in setup.angles}
    for pairing in pairings_of(setup) if options.wants_faces else ():
        shared = range(min(_count(setup[name], plan) for name in pairing))
        for name in pairing:
            faces[name] |= set(picked(shared, options.faces.moments))
    whole = _whole_moments(setup, options, plan)
    readings = {
        angle.name: AngleReading(setup, angle, encodings[angle.name], options, plan, faces[angle.name], whole)
        for angle in setup.angles
    }
    together = not any(is_large(angle, options.sample) for angle in setup.angles)
    try:
        yield SetupReading(setup, readings, together, on_event)
    finally:
        for reading in readings.values():
            reading.close()


def read_setup(setup: Setup, options: MatchOptions, on_event: OnEvent | None = None) -> SetupReading:
    """Read and decode the pictures that a match of a setup rests on, as the match itself does."""
    on_event = on_event or unheard
    plan = plan_clips(setup, options.sample, on_event=on_event)
    with read_moments(setup, encodings_of(setup), options, plan, on_event) as read:
        for _ in read.moments():
            pass
    return read


def _count(angle: Angle, plan: ClipPlan | None) -> int:
    """Return how many pictures of an angle there are to read."""
    return len(plan.times) if plan is not None and angle.name in plan.clips else len(angle.media)


def _check_copies(setup: Setup, files: tuple[InputFile, ...]) -> None:
    """No file was recorded in two encodings: of two angles that show one, one names another camera's picture."""
    first: dict[str, Angle] = {}
    for file in files:
        angle = setup[file.angle]
        other = first.setdefault(file.sha256, angle) if file.sha256 else angle
        if (other.encoding, other.range) != (angle.encoding, angle.range):
            raise MediaError(
                f"is the very picture that {other.name} names, under another encoding or range",
                where=f"{angle.name}: {file.source}",
                todo="name what this camera recorded",
            )


def _whole_moments(setup: Setup, options: MatchOptions, plan: ClipPlan | None) -> Collection[int]:
    """Return the moments that are kept as large as they are read: small areas and charts ask for it.

    Of clips those are few, whatever the number of moments: some over the take, and some within a mark's frames.
    """
    marks = setup.marks
    if not (setup.chart or marks.pairs or marks.neutral or options.hero.balance):
        return ()
    if plan is None:
        return range(max(len(angle.media) for angle in setup.angles))
    moments = range(len(plan.times))
    looks = _MARKED, options.correspond.chart.moments, options.hero.moments, options.faces.moments
    found = {moment for most in looks for moment in picked(moments, most)}
    marked = [(setup.hero, pair.frames) for pair in marks.pairs]
    for name, frames in [*marked, *((mark.angle, mark.frames) for mark in marks.neutral)]:
        if frames is not None:
            shown = plan.frames.get(name, tuple(moments))
            within = [moment for moment in moments if frames[0] <= shown[moment] <= frames[1]]
            found.update(picked(within, _MARKED) if within else ())
    return found


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
