"""One setup, from media to verdicts: the recipe, to be read from top to bottom."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any, Self, TypeVar

import numpy as np

from huemend.correspond.areas import with_ignored
from huemend.correspond.regions import find_regions
from huemend.correspond.sources import Sources
from huemend.cv import import_cv2
from huemend.errors import EncodingError, MediaError
from huemend.linearise.alternatives import alternatives
from huemend.linearise.encodings import Encoding, find_encoding
from huemend.linearise.pictures import linearise
from huemend.model import (
    Angle,
    AngleResult,
    Event,
    Fit,
    InputFile,
    LinearStill,
    NoFit,
    OnEvent,
    PairedColours,
    Rung,
    Setup,
    SetupResult,
    Still,
    Verdict,
)
from huemend.model_carry import Carried
from huemend.options import MatchOptions
from huemend.sample.clips import ClipPlan, drift_stills, plan_clips
from huemend.sample.marked_frames import marks_within
from huemend.sample.stills import sample_angle
from huemend.solve.carry import better_with, fit_carried, what_was_lent
from huemend.solve.chain import broken_chain, chain_order, chained, in_hero_light
from huemend.solve.colours import with_colours
from huemend.solve.fit import fit, learn
from huemend.solve.joint import Told, choose_links
from huemend.solve.joint import tell as tell_angles
from huemend.solve.protect import protect
from huemend.threads import usable_processors
from huemend.validate.coverage import uncovered_share
from huemend.validate.drift import Drift, drift_reasons, measure_drift
from huemend.validate.hero_balance import suggest_balance
from huemend.validate.lamps import lamp_notes
from huemend.validate.limits import chart_notes, clipping_notes, rendered_doubts
from huemend.validate.people import check_skin
from huemend.validate.proof import prove
from huemend.validate.suspicion import slope_reasons
from huemend.validate.verdict import judge, with_doubts
from huemend.view import view_exposure_stops
from huemend.write.files import OutputFolder
from huemend.write.luts import LutFile, shoulder_of
from huemend.write.report import render_report
from huemend.write.results import ColourTools, write_results
from huemend.write.timeline import Timeline

__all__ = ["find_encodings", "find_working_encoding", "match_setup", "read_angle", "write_setup"]

_In = TypeVar("_In")
_Out = TypeVar("_Out")


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
    stills: dict[str, tuple[LinearStill, ...]] = {}
    inputs: list[InputFile] = []
    for done, angle in enumerate(setup.angles):
        tell(Event(stage="sample", angle=angle.name, done=done, total=len(setup.angles)))
        read, files = read_angle(angle, encodings[angle.name], options, plan)
        stills[angle.name] = tuple(with_ignored(still, setup) for still in read)
        inputs += files
    drift = None if plan is None else follow_cameras(setup, plan, encodings, options)

    exposure = view_exposure_stops(stills[setup.hero][0])
    source = Sources(setup, options.correspond, options.faces)
    found: dict[str, AngleResult] = {}
    tell(Event(stage="match", angle=", ".join(angle.name for angle in setup.others), total=len(setup.others)))
    for result in _match_angles(setup, stills, source, exposure, options, carried or {}):
        name = result.angle.name
        found[name] = result if drift is None else _with_drift(result, drift, setup.hero, options)
        tell(Event(stage="match", angle=name, done=len(found) - 1, total=len(setup.others)))
    tell(Event(stage="match", done=len(setup.others), total=len(setup.others)))
    return SetupResult(
        setup=setup,
        view_exposure_stops=exposure,
        angles=tuple(found[angle.name] for angle in setup.others),
        stills=stills,
        inputs=tuple(inputs),
        clips=None if plan is None else plan.record(),
        drift=None if drift is None else drift.record(setup.hero, options.drift),
        hero_balance=suggest_balance(source.of_hero(stills[setup.hero], options.hero), options.hero)
        if options.hero.balance
        else None,
    )


def _match_angles(
    setup: Setup,
    stills: Mapping[str, tuple[LinearStill, ...]],
    source: Sources,
    exposure: float,
    options: MatchOptions,
    carried: Mapping[str, Carried],
) -> Iterator[AngleResult]:
    """Yield the result of every angle: first those matched to the hero, together, then along the chains."""
    found: dict[str, AngleResult] = {}

    def pair(angle: Angle) -> PairedColours:
        if angle.through is None:
            return source(stills[setup.hero], stills[angle.name])
        between = found[angle.through].match
        shared = source(stills[angle.through], stills[angle.name])
        return shared if between is None else in_hero_light(shared, between)

    def finish(angle: Angle) -> AngleResult:
        own = pairs[angle.name]
        through = None if angle.through is None else found[angle.through]
        if through is not None and through.match is None:
            return broken_chain(angle, own, through)
        lent = None if through else carried.get(angle.name)
        result = _match_angle(setup, angle, stills, own, exposure, options, lent, told.get(angle.name))
        if result.verdict is Verdict.UNSOLVED and options.colours.ask:
            shown = [find_regions(stills[name], options.colours) for name in (setup.hero, angle.name)]
            return with_colours(result, shown[0], shown[1], options.colours, options.solve)
        return result if through is None else chained(result, through, options.validate.matched_mean)

    with _Crew(_workers(setup)) as crew:
        for step in chain_order(setup.others):
            pairs = {angle.name: shared for angle, shared in zip(step, crew.each(pair, step), strict=True)}
            told = _solve_together(pairs, stills, source, options, crew) if step[0].through is None else {}
            for result in crew.each(finish, step):
                if setup.chart:
                    result = replace(result, reasons=(*result.reasons, *chart_notes(result.pairs)))
                found[result.angle.name] = result
                yield result


class _Crew:
    """Threads that do the same for every angle; nearly all the time is spent in libraries that let others run."""

    def __init__(self, workers: int) -> None:
        self._pool = ThreadPoolExecutor(workers)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        self._pool.shutdown(wait=kind is None, cancel_futures=True)

    def each(self, work: Callable[[_In], _Out], items: Iterable[_In]) -> Iterator[_Out]:
        """Yield what the work gives for each item, in their order."""
        return self._pool.map(work, items)


def _solve_together(
    pairs: Mapping[str, PairedColours],
    stills: Mapping[str, tuple[LinearStill, ...]],
    source: Sources,
    options: MatchOptions,
    crew: _Crew,
) -> dict[str, Told]:
    """Return what the angles tell one another; one that cannot be matched to the hero has no part in it."""
    if not options.joint.link:
        return {}
    first = zip(pairs, crew.each(lambda own: learn(own, options.solve), pairs.values()), strict=True)
    learnt = {name: said for name, said in first if said is not None}
    links = choose_links({name: pairs[name] for name in learnt}, options.correspond.cell)
    shared = crew.each(lambda two: source.between(stills[two[0]], stills[two[1]], options.joint.step), links)
    return tell_angles(dict(zip(links, shared, strict=True)), learnt, options.solve, options.joint)


def _workers(setup: Setup) -> int:
    """Return how many angles to match at once: as many as the processors and the threads allowed to OpenCV."""
    return max(1, min(len(setup.others), usable_processors(), int(import_cv2().getNumThreads())))


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


def _match_angle(
    setup: Setup,
    angle: Angle,
    stills: Mapping[str, tuple[LinearStill, ...]],
    pairs: PairedColours,
    exposure: float,
    options: MatchOptions,
    carried: Carried | None = None,
    told: Told | None = None,
) -> AngleResult:
    plain = partial(fit, pairs, options.solve, told=told, view_exposure_stops=exposure)
    # A contrast is on offer where light and dark disagree, and is taken only if the held-out proof supports it.
    bent = partial(plain, bent=True)
    own = _judged(setup, angle, stills, pairs, plain(), exposure, options, bent)
    if carried is None or own.verdict is Verdict.MATCHED:
        return own
    fitted, lent = fit_carried(
        pairs, carried, options.solve, options.carry, told=told, view_exposure_stops=exposure
    )
    if lent is None:
        return own
    other = _judged(setup, angle, stills, pairs, fitted, exposure, options)
    if not better_with(own, other):
        return own
    return replace(other, learnt=own.learnt, carried=lent, reasons=(*other.reasons, what_was_lent(lent)))


def _judged(
    setup: Setup,
    angle: Angle,
    stills: Mapping[str, tuple[LinearStill, ...]],
    pairs: PairedColours,
    fitted: Fit | NoFit,
    exposure: float,
    options: MatchOptions,
    bent: Callable[[], Fit | NoFit] | None = None,
) -> AngleResult:
    hero, still = stills[setup.hero][0], stills[angle.name][0]
    encoding = find_encoding(angle.encoding, exposure_index=angle.exposure_index, custom=setup.encodings)
    used = np.ones(len(pairs), bool) if isinstance(fitted, NoFit) else fitted.used
    suspicion = slope_reasons(pairs, used, encoding.name, alternatives(encoding, angle.range), options.validate)
    if suspicion and bent and isinstance(fitted, Fit):
        fitted = bent()
    if isinstance(fitted, NoFit):
        return AngleResult(
            angle=angle,
            verdict=Verdict.UNSOLVED,
            reasons=(*fitted.reasons, *suspicion),
            match=None,
            rung=Rung.NONE,
            explained="",
            uncertainty=None,
            held_out=None,
            pairs=pairs,
            used=pairs.weight < 0,
        )
    fitted = protect(pairs, fitted, setup.marks, options.solve, view_exposure_stops=exposure)
    held_out = prove(pairs, fitted, options.validate, view_exposure_stops=exposure)
    uncovered, _ = uncovered_share(still, pairs, fitted, options.validate)
    verdict, reasons = judge(pairs, fitted, held_out, options.validate, uncovered=uncovered)
    rendered = rendered_doubts(angle.name, encoding.name, encoding.display_referred, still)
    verdict, reasons = with_doubts(verdict, reasons, (*suspicion, *rendered))
    lamps = lamp_notes(stills[angle.name], pairs, fitted, options.validate, view_exposure_stops=exposure)
    reasons = (*reasons, *clipping_notes(hero, still, fitted.match, options.validate), *lamps)
    solved = verdict is not Verdict.UNSOLVED
    return AngleResult(
        angle=angle,
        verdict=verdict,
        reasons=reasons,
        match=fitted.match if solved else None,
        candidate=None if solved else fitted.match,
        rung=fitted.rung,
        explained=fitted.explained,
        uncertainty=fitted.uncertainty,
        held_out=held_out,
        pairs=pairs,
        used=fitted.used,
        learnt=fitted.learnt,
        people=check_skin(pairs, fitted.match, view_exposure_stops=exposure),
    )


def find_working_encoding(options: MatchOptions) -> Encoding:
    """Look up the log space that working LUTs lead to and CDLs work in, before any picture is read."""
    encoding = find_encoding(options.write.working_encoding)
    if encoding.is_linear:
        raise EncodingError(
            f"{encoding.name} is scene-linear, and a LUT or a CDL cannot hold its highlights",
            todo="name a log space, such as ACEScct",
        )
    return encoding


def write_setup(
    result: SetupResult,
    out: OutputFolder,
    options: MatchOptions | None = None,
    timeline: Timeline | None = None,
    on_event: OnEvent | None = None,
) -> dict[str, Any]:
    """Write LUTs, report and record of a result; return the record.

    Parameters
    ----------
    result : SetupResult
    out : OutputFolder
    options : MatchOptions, optional
    timeline : Timeline, optional
        Gets a list of its clips' LUTs.
    on_event : callable, optional

    Raises
    ------
    OutputError
        The folder cannot be written.
    """
    from huemend.linearise.ocio import decode_transform, encode_transform

    options = options or MatchOptions()
    tools = ColourTools(
        encodings=find_encodings(result.setup),
        working=find_working_encoding(options),
        decode_transform=decode_transform,
        encode_transform=encode_transform,
    )

    def report(luts: Mapping[str, tuple[LutFile, ...]]) -> Mapping[str, bytes]:
        found = {
            angle.name: shoulder_of(angle.name, result, tools.encodings, options.write)
            for angle in result.setup.angles
        }
        shoulders = {name: shoulder for name, shoulder in found.items() if shoulder is not None}
        return render_report(result, luts=luts, options=options.report, shoulders=shoulders)

    return write_results(
        result, out, tools=tools, options=options, report=report, timeline=timeline, on_event=on_event
    )


def default_out(setup: Setup) -> Path:
    """Return where a setup's results go unless told otherwise: ``match`` beside the setup file."""
    return setup.source.parent / "match"


def _silent(event: Event) -> None:
    pass
