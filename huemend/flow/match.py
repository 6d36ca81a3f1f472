"""One setup, from media to verdicts: the recipe, to be read from top to bottom."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from importlib import import_module
from itertools import chain
from typing import TYPE_CHECKING, Protocol

import numpy as np

from huemend.base.tasks import Crew, do
from huemend.encodings.registry import Encoding, find_encoding
from huemend.errors import MediaError
from huemend.linearise.decode import linearise
from huemend.model import (
    Angle,
    AngleResult,
    Event,
    InputFile,
    LinearStill,
    OnEvent,
    Setup,
    SetupResult,
    Still,
    Verdict,
)
from huemend.model.learnt import Carried
from huemend.options import MatchOptions
from huemend.sample.clips import ClipPlan, drift_stills, plan_clips
from huemend.sample.marked_frames import marks_within
from huemend.sample.stills import sample_angle
from huemend.validate.drift import Drift, drift_reasons, measure_drift
from huemend.validate.hero_balance import suggest_balance
from huemend.view import view_exposure_stops

if TYPE_CHECKING:
    from huemend.correspond.sources import Sources

__all__ = [
    "Beside",
    "find_encodings",
    "match_setup",
    "read_angle",
]


class Beside(Protocol):
    """Is told how far a setup is while it is solved; works that wait for no more can be done beside the rest."""

    def paired(self, result: SetupResult) -> object:
        """The pictures are decoded and the first angles paired; the result holds no angle."""

    def solved(self, name: str, result: SetupResult) -> object:
        """An angle has its result, and the result holds it."""


# What comes after the pictures were looked at; looks are long calls that leave Python to whoever needs it.
_LOADED_BESIDE = ("huemend.flow.angles", "huemend.write.results", "huemend.write.report.page")


def match_setup(
    setup: Setup,
    options: MatchOptions | None = None,
    on_event: OnEvent | None = None,
    *,
    span: tuple[Fraction, Fraction] | None = None,
    avoid: Sequence[Fraction] = (),
    carried: Mapping[str, Carried] | None = None,
    beside: Beside | None = None,
) -> SetupResult:
    """Match every angle of a setup to its hero.

    Parameters
    ----------
    setup : Setup
    options : MatchOptions, optional
    on_event : callable, optional
        Is told of progress.
    span : (start, end), optional
        Of clips, sample this range only: seconds from the hero's first frame.
    avoid : sequence of times, optional
        Of clips, sample no frames at these moments, which another run used.
    carried : mapping of angle name to Carried, optional
        What earlier setups of the day learnt of the cameras; lent to angles that cannot be trusted without.
    beside : Beside, optional
        Is told what is known already while the rest is solved.

    Returns
    -------
    SetupResult
        An angle that cannot be matched is in it, with its reasons; the others still get theirs.

    Raises
    ------
    InputError
        A medium or an encoding cannot be read or understood.
    """
    options = options or MatchOptions()
    tell = on_event or _silent
    encodings = find_encodings(setup)

    plan = plan_clips(setup, options.sample, span=span, avoid=avoid, on_event=tell)
    if plan is not None and (span is not None or avoid):
        setup = marks_within(setup, plan.frames)
    stills: dict[str, tuple[LinearStill, ...]] = {angle.name: () for angle in setup.angles}
    inputs: dict[str, list[InputFile]] = {}
    # An angle is read once and looked at about four times.
    with Crew(4 * len(setup.angles)) as crew:
        hero_first = (setup[setup.hero], *setup.others)
        reads = crew.each(lambda angle: read_angle(angle, encodings[angle.name], options, plan), hero_first)
        from huemend.correspond.area_colour import with_ignored
        from huemend.correspond.sources import Sources

        source = Sources(setup, options.correspond, options.faces)
        looks: list[Iterator[object]] = []
        for done, angle in enumerate(hero_first):
            tell(Event(stage="sample", angle=angle.name, done=done, total=len(setup.angles)))
            read, inputs[angle.name] = next(reads)
            stills[angle.name] = tuple(with_ignored(still, setup) for still in read)
            if done == 0:
                # What takes longest begins first, and leaves Python to those that still read.
                looks.append(crew.each(do, source.looks(stills[setup.hero], 0, as_reference=True)))
        tell(Event(stage="match", angle=", ".join(angle.name for angle in setup.others), total=len(setup.others)))
        # Loading takes as long as a look, and would keep a thread that reads waiting for its turn with Python.
        looks.append(crew.each(import_module, _LOADED_BESIDE))
        looks.append(crew.each(do, _further_looks(setup, stills, source)))
        deque(chain(*looks), maxlen=0)
    from huemend.flow.angles import match_angles

    drift = None if plan is None else follow_cameras(setup, plan, encodings, options)
    exposure = view_exposure_stops(stills[setup.hero][0])
    found: dict[str, AngleResult] = {}

    def doubt(result: AngleResult) -> AngleResult:
        return result if drift is None else _with_drift(result, drift, setup.hero, options)

    def so_far() -> SetupResult:
        return SetupResult(
            setup=setup,
            view_exposure_stops=exposure,
            angles=tuple(found[angle.name] for angle in setup.others if angle.name in found),
            stills=stills,
            inputs=tuple(file for angle in setup.angles for file in inputs[angle.name]),
        )

    def paired() -> None:
        if beside is not None:
            beside.paired(so_far())

    for result in match_angles(setup, stills, source, exposure, options, carried or {}, doubt, paired):
        name = result.angle.name
        found[name] = result
        if beside is not None:
            beside.solved(name, so_far())
        tell(Event(stage="match", angle=name, done=len(found) - 1, total=len(setup.others)))
    tell(Event(stage="match", done=len(setup.others), total=len(setup.others)))
    return replace(
        so_far(),
        clips=None if plan is None else plan.record(),
        drift=None if drift is None else drift.record(setup.hero, options.drift),
        hero_balance=suggest_balance(source.of_hero(stills[setup.hero], options.hero), options.hero)
        if options.hero.balance
        else None,
    )


def _further_looks(
    setup: Setup, stills: Mapping[str, tuple[LinearStill, ...]], source: Sources
) -> Iterator[Callable[[], object]]:
    """Yield the looks at all pictures that are paired with the hero's, or are the hero's, but for its first.

    Moment by moment, so that the pictures of few are held at a time.
    """
    others = [stills[angle.name] for angle in setup.others if angle.through is None]
    hero = stills[setup.hero][: max(map(len, others), default=0)]
    for index in range(len(hero)):
        if index:
            yield from source.looks(hero, index, as_reference=True)
        for view in others:
            if index < len(view):
                yield from source.looks(view[: len(hero)], index, as_reference=False)


def find_encodings(setup: Setup) -> dict[str, Encoding]:
    """Look up every angle's encoding, before any picture is read."""
    return {
        angle.name: find_encoding(angle.encoding, exposure_index=angle.exposure_index, custom=setup.encodings)
        for angle in setup.angles
    }


def read_angle(
    angle: Angle, encoding: Encoding, options: MatchOptions, plan: ClipPlan | None = None
) -> tuple[tuple[LinearStill, ...], list[InputFile]]:
    """Read an angle's pictures, one at a time, and decode them."""
    linear, files = [], []
    for still in sample_angle(angle, options.sample, plan):
        files.append(
            InputFile(
                angle=angle.name,
                moment=still.moment,
                source=still.source,
                sha256=still.sha256,
                bit_depth=still.bit_depth,
                size=(still.codes.shape[0], still.codes.shape[1]),
                range=still.range or angle.range,
            )
        )
        linear.append(
            linearise(
                still,
                encoding,
                range=still.range or angle.range,
                pixel_aspect=angle.pixel_aspect,
                options=options.linearise,
            )
        )
    return tuple(linear), files


def follow_cameras(
    setup: Setup, plan: ClipPlan, encodings: Mapping[str, Encoding], options: MatchOptions
) -> Drift | None:
    """Follow exposure and balance of every clip over the common range; None if there is nothing to follow."""
    start, end = plan.span
    count = options.drift.pictures
    if end <= start or count < 2:
        return None
    times = [start + (end - start) * Fraction(index, count - 1) for index in range(count)]
    linear = {}
    for name in plan.infos:
        stills = drift_stills(setup[name], plan, times, options.sample)
        linear[name] = [_small_linear(still, setup[name], encodings[name], options) for still in stills]
    return measure_drift(linear, [float(time) for time in times], options.drift)


def _small_linear(still: Still, angle: Angle, encoding: Encoding, options: MatchOptions) -> LinearStill:
    try:
        return linearise(
            still,
            encoding,
            range=still.range or angle.range,
            pixel_aspect=angle.pixel_aspect,
            options=options.linearise,
        )
    except MediaError:
        # A covered lens or a white frame is nothing to measure, and no reason to stop following.
        size = still.codes.shape[:2]
        nothing = np.zeros(size, bool)
        return LinearStill(
            rgb=np.zeros((*size, 3), np.float32),
            valid=nothing,
            clipped=nothing,
            angle=still.angle,
            moment=still.moment,
            source=still.source,
            full_size=size,
        )


def _with_drift(found: AngleResult, drift: Drift, hero: str, options: MatchOptions) -> AngleResult:
    """A match that does not hold over the whole range is to be looked at, however well it fits elsewhere."""
    if found.angle.name not in drift.tracks or hero not in drift.tracks:
        return found
    reasons = drift_reasons(drift, found.angle.name, hero, options.drift)
    if not reasons or found.verdict is Verdict.UNSOLVED:
        return replace(found, reasons=(*found.reasons, *reasons))
    # What spoke for the match stays out: beside a doubt it would only confuse.
    kept = () if found.verdict is Verdict.MATCHED else found.reasons
    return replace(found, verdict=Verdict.REVIEW, reasons=(*kept, *reasons))


def _silent(event: Event) -> None:
    pass
