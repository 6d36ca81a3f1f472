"""One setup, from media to verdicts: the recipe, to be read from top to bottom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from huemend.correspond.detect import detect_all, pairings_of
from huemend.correspond.hero_surfaces import hero_surfaces
from huemend.correspond.pairs import FeatureSource
from huemend.correspond.sources import Sources
from huemend.encodings.registry import encodings_of
from huemend.flow.angles import Scene, match_angle, pair_step
from huemend.flow.follow import follow_cameras, moments_set_aside
from huemend.flow.read import read_moments
from huemend.model import AngleResult, Event, OnEvent, Setup, SetupResult
from huemend.model.event import unheard
from huemend.model.learnt import Carried
from huemend.options import MatchOptions
from huemend.sample.clip_plan import plan_clips
from huemend.sample.marked_frames import marks_within
from huemend.solve.chain import chain_order
from huemend.validate.hero_balance import suggest_balance
from huemend.view import view_stops_of


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
    view_stops = view_stops_of(stills[setup.hero][0])
    drift = None if plan is None else follow_cameras(setup, plan, encodings, read.stances, options)
    scene = Scene(
        setup=setup,
        stills=stills,
        sources=Sources(
            setup, detected, options.correspond, features, options.faces if options.wants_faces else None
        ),
        encodings=encodings,
        view_stops=view_stops,
        drift=drift,
        carried=carried or {},
        apart={} if plan is None or drift is None else moments_set_aside(setup, plan, drift, options.drift),
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
        view_stops=view_stops,
        angles=tuple(found[angle.name] for angle in setup.others),
        stills=stills,
        inputs=read.files,
        clips=None if plan is None else plan.sampled,
        drift=drift,
        hero_balance=balance,
    )
