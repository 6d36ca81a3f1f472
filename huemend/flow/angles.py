"""From decoded pictures to verdicts: every angle of a setup, those of one step together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import cache, partial

import numpy as np

from huemend.base.tasks import Crew, Once
from huemend.correspond.regions import find_regions
from huemend.correspond.sources import Sources
from huemend.encodings.alternatives import alternatives
from huemend.encodings.registry import find_encoding
from huemend.model import (
    Angle,
    AngleResult,
    Fit,
    LinearStill,
    NoFit,
    PairedColours,
    Setup,
    Verdict,
)
from huemend.model.learnt import Carried
from huemend.model.regions import Regions
from huemend.options import MatchOptions
from huemend.solve.chain import broken_chain, chain_order, chained, in_hero_light
from huemend.solve.colours import with_colours
from huemend.solve.fit import fit, learn
from huemend.solve.joint import Told, certain_links, choose_links, tell
from huemend.solve.lend import better_with, fit_carried, what_was_lent
from huemend.solve.protect import protect
from huemend.solve.thin import unless_ruled_out
from huemend.validate.coverage import uncovered_share
from huemend.validate.lamps import lamp_notes
from huemend.validate.limits import chart_notes, clipping_notes, rendered_doubts
from huemend.validate.people import check_skin
from huemend.validate.proof import prove
from huemend.validate.suspicion import slope_reasons
from huemend.validate.verdict import judge, with_doubts

__all__ = ["match_angles"]


def match_angles(
    setup: Setup,
    stills: Mapping[str, tuple[LinearStill, ...]],
    source: Sources,
    exposure: float,
    options: MatchOptions,
    carried: Mapping[str, Carried],
    doubt: Callable[[AngleResult], AngleResult] = lambda result: result,
    paired: Callable[[], object] = lambda: None,
) -> Iterator[AngleResult]:
    """Yield the result of every angle: first those matched to the hero, together, then along the chains.

    ``doubt`` adds what is known of a whole take to a result; angles that go through it are told. ``paired`` is
    called once the first angles are paired: links and fits leave a processor idle.
    """
    found: dict[str, AngleResult] = {}

    def pair(angle: Angle) -> PairedColours:
        if angle.through is None:
            return source(stills[setup.hero], stills[angle.name])
        between = found[angle.through].match
        if between is None:
            return PairedColours.empty(angle.through, angle.name, "none")
        return in_hero_light(source(stills[angle.through], stills[angle.name]), between)

    ties: Once[tuple[str, str], PairedColours] = Once()

    def tie(two: tuple[str, str]) -> PairedColours:
        return ties.get(two, lambda: source.between(stills[two[0]], stills[two[1]], options.joint.step))

    @cache
    def shown(name: str) -> Regions:
        return find_regions(stills[name], options.colours)

    def finish(angle: Angle) -> AngleResult:
        own = pairs[angle.name]
        through = None if angle.through is None else found[angle.through]
        if through is not None and through.match is None:
            result = broken_chain(angle, own, through)
        else:
            lent = None if through else carried.get(angle.name)
            result = _match_angle(setup, angle, stills, own, exposure, options, lent, told.get(angle.name))
        # An angle goes through another one where the hero does not show what it does.
        if through is None:
            result = unless_ruled_out(
                result, lambda: (shown(setup.hero), shown(angle.name)), options.colours, options.solve
            )
        if result.verdict is Verdict.UNSOLVED and options.colours.ask:
            return with_colours(result, shown(setup.hero), shown(angle.name), options.colours, options.solve)
        if through is None or through.match is None:
            return result
        return chained(result, through, options.validate.matched_mean)

    with Crew(len(setup.angles)) as crew:
        for number, step in enumerate(chain_order(setup.others)):
            pairing = crew.each(pair, step)
            to_hero = step[0].through is None
            if to_hero and options.joint.link:
                # Fills the processor that is left when one angle is paired sooner than the other.
                crew.each(tie, certain_links(angle.name for angle in step))
            pairs = {angle.name: shared for angle, shared in zip(step, pairing, strict=True)}
            if number == 0:
                paired()
            told = _solve_together(pairs, tie, options, crew) if to_hero else {}
            # One after another: in threads they would mostly wait for one another's turn with Python.
            for result in map(finish, step):
                if setup.chart:
                    result = replace(result, reasons=(*result.reasons, *chart_notes(result.pairs)))
                found[result.angle.name] = doubt(result)
                yield found[result.angle.name]


def _solve_together(
    pairs: Mapping[str, PairedColours],
    tie: Callable[[tuple[str, str]], PairedColours],
    options: MatchOptions,
    crew: Crew,
) -> dict[str, Told]:
    """Return what the angles tell one another; one that cannot be matched to the hero has no part in it."""
    if not options.joint.link:
        return {}
    first = zip(pairs, crew.each(lambda own: learn(own, options.solve), pairs.values()), strict=True)
    learnt = {name: said for name, said in first if said is not None}
    links = choose_links({name: pairs[name] for name in learnt}, options.correspond.cell)
    tied = {(shared.reference, shared.angle): shared for shared in crew.each(tie, links)}
    return tell(tied, learnt, options.solve, options.joint)


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
        return AngleResult.unsolved(angle, pairs, (*fitted.reasons, *suspicion))
    fitted = protect(pairs, fitted, setup.marks, options.solve, view_exposure_stops=exposure)
    held_out = prove(pairs, fitted, options.validate, view_exposure_stops=exposure)
    uncovered, _ = uncovered_share(still, pairs, fitted, options.validate)
    verdict, reasons = judge(pairs, fitted, held_out, options.validate, uncovered=uncovered)
    rendered = rendered_doubts(encoding.name, encoding.display_referred, still)
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
