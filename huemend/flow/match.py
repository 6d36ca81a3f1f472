"""One setup, from media to verdicts: the recipe, to be read from top to bottom."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction

import numpy as np

from huemend.base.tasks import over
from huemend.correspond.detect import detect_all, pairings_of
from huemend.correspond.hero_surfaces import hero_surfaces
from huemend.correspond.pairs import FeatureSource
from huemend.correspond.sources import Sources
from huemend.correspond.stabilised import stabilised
from huemend.correspond.stances import PictureId, Stance, moving_cameras
from huemend.encodings.registry import Encoding, encodings_of
from huemend.errors import MediaError
from huemend.flow.angles import Scene, match_angle, pair_step
from huemend.flow.read import read_moments
from huemend.linearise.decode import linearise
from huemend.model import Angle, AngleResult, Event, LinearStill, OnEvent, Setup, SetupResult, Still
from huemend.model.drift import Drift, Track
from huemend.model.event import unheard
from huemend.model.learnt import Carried
from huemend.options import DriftOptions, LineariseOptions, MatchOptions
from huemend.sample.clip_plan import ClipPlan, plan_clips
from huemend.sample.clips import drift_stills
from huemend.sample.marked_frames import marks_within
from huemend.solve.chain import chain_order
from huemend.validate.drift import compare_cameras, moments_apart, with_segments
from huemend.validate.hero_balance import suggest_balance
from huemend.validate.track import follow
from huemend.view import view_exposure_stops


def match_setup(
    setup: Setup,
    options: MatchOptions | None = None,
    on_event: OnEvent | None = None,
    *,
    span: tuple[Fraction, Fraction] | None = None,
    avoid: Sequence[Fraction] = (),
    carried: Mapping[str, Carried] | None = None,
) -> SetupResult:
    """Match every angle of a setup to its hero.

    Parameters
    ----------
    on_event : callable, optional
        Is told of progress.
    span : (start, end), optional
        Of clips, sample this range only: seconds from the hero's first frame.
    avoid : sequence of times, optional
        Of clips, sample no frames at these moments, which another run used.
    carried : mapping of angle name to Carried, optional
        What earlier setups of the day learnt of the cameras; lent to angles that cannot be trusted without.

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
    on_event = on_event or unheard
    encodings = encodings_of(setup)

    plan = plan_clips(setup, options.sample, span=span, avoid=avoid, on_event=on_event)
    if plan is not None and (span is not None or avoid):
        setup = marks_within(setup, plan.frames)
    features = FeatureSource(pairings_of(setup), options.correspond) if options.correspond.features else None
    with read_moments(setup, encodings, options, plan, on_event) as read:
        for pictures in read.moments():
            # Each is let go of once it is measured: what is kept of a later moment is small.
            if features is not None:
                features.see(pictures, read.stances)
    stills = read.stills
    on_event(Event(stage="match", text=", ".join(angle.name for angle in setup.others)))
    detected = detect_all(setup, stills, options, people=read.people)
    exposure = view_exposure_stops(stills[setup.hero][0])
    drift = None if plan is None else _follow_cameras(setup, plan, encodings, read.stances, options)
    scene = Scene(
        setup=setup,
        stills=stills,
        sources=Sources(
            setup, detected, options.correspond, features, options.faces if options.wants_faces else None
        ),
        encodings=encodings,
        view_stops=exposure,
        drift=drift,
        carried=carried or {},
        apart={} if plan is None or drift is None else _apart(setup, plan, drift, options.drift),
    )
    found: dict[str, AngleResult] = {}
    for step in chain_order(setup.others):
        pairs = pair_step(scene, step, found)
        for angle in step:
            on_event(Event(stage="match", angle=angle.name, done=len(found), total=len(setup.others)))
            found[angle.name] = match_angle(scene, angle, pairs[angle.name], found, options)
    on_event(Event(stage="match", done=len(setup.others), total=len(setup.others)))
    balance = None
    if options.hero.balance:
        surfaces = hero_surfaces(stills[setup.hero], setup, options.correspond, options.hero, detected=detected)
        balance = suggest_balance(surfaces, options.hero)
    return SetupResult(
        setup=setup,
        view_exposure_stops=exposure,
        angles=tuple(found[angle.name] for angle in setup.others),
        stills=stills,
        inputs=read.files,
        clips=None if plan is None else plan.sampled,
        drift=drift,
        hero_balance=balance,
    )


def _follow_cameras(
    setup: Setup,
    plan: ClipPlan,
    encodings: Mapping[str, Encoding],
    stances: Mapping[PictureId, Stance],
    options: MatchOptions,
) -> Drift | None:
    """Follow exposure and balance of every clip over the common range; None if there is nothing to follow."""
    if len(plan.followed) < 2:
        return None

    moving = moving_cameras(stances)

    def track(name: str) -> Track:
        linear = _small_linear(drift_stills(setup[name], plan), setup[name], encodings[name], options.linearise)
        if name in moving:
            # A place is held against the same place, wherever a bump or a pan has taken it.
            linear = stabilised(linear, options.correspond.framing)
        return follow(linear, options.drift)

    tracks = dict(zip(plan.clips, over(plan.clips, track), strict=True))
    drift = compare_cameras(tracks, [float(time) for time in plan.followed], options.drift)
    return with_segments(drift, setup.hero, options.drift)


def _apart(setup: Setup, plan: ClipPlan, drift: Drift, options: DriftOptions) -> dict[str, frozenset[int]]:
    """Return the moments at which each angle differs from how it mostly stands to the hero; none beside marks."""
    if setup.marks.pairs or setup.marks.neutral or setup.chart:
        return {}
    return {
        angle.name: moments_apart(drift, angle.name, setup.hero, plan.times, options) for angle in setup.others
    }


def _small_linear(
    stills: Iterable[Still], angle: Angle, encoding: Encoding, options: LineariseOptions
) -> Iterator[LinearStill]:
    noise = None
    for still in stills:
        try:
            light = linearise(
                still,
                encoding,
                range=still.range or angle.range,
                pixel_aspect=angle.pixel_aspect,
                options=options,
                noise=noise,
            )
            noise = light.noise  # the camera's, not the frame's
        except MediaError:
            # A covered lens or a white frame is nothing to measure, and no reason to stop following.
            nothing = np.zeros(size := still.codes.shape[:2], bool)
            light = LinearStill(
                rgb=np.zeros((*size, 3), np.float32),
                valid=nothing,
                clipped=nothing,
                angle=still.angle,
                moment=still.moment,
                source=still.source,
                full_size=size,
            )
        yield light
