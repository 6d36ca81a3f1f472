"""From what the pictures show to the result of every angle: pair, link, solve, prove, judge."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial

import numpy as np

from huemend.base.tasks import over
from huemend.correspond.regions import find_regions
from huemend.correspond.sources import Sources
from huemend.encodings.alternatives import alternatives
from huemend.encodings.registry import find_encoding
from huemend.model import (
    Angle,
    AngleResult,
    Contradiction,
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
from huemend.solve.chain import broken_chain, chained, in_hero_light
from huemend.solve.colours import with_colours
from huemend.solve.fit import fit, learn
from huemend.solve.hints import without_contradictions
from huemend.solve.joint import Told, choose_links, tell
from huemend.solve.lend import better_with, fit_carried, what_was_lent
from huemend.solve.prior import CAMERA_PAIR
from huemend.solve.protect import protect
from huemend.solve.thin import unless_ruled_out
from huemend.validate.coverage import uncovered_share
from huemend.validate.lamps import lamp_notes
from huemend.validate.limits import chart_notes, clipping_notes, rendered_doubts
from huemend.validate.people import check_skin
from huemend.validate.proof import prove
from huemend.validate.suspicion import slope_reasons
from huemend.validate.verdict import judge, with_doubts

__all__ = ["Scene", "link_step", "match_angle", "pair_step"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Scene:
    """What every angle of a setup is matched with.

    Attributes
    ----------
    stills : mapping of angle name to LinearStills
    sources : Sources
        Of pairs.
    exposure : float
        ``view_exposure_stops`` of the measurement view.
    carried : mapping of angle name to Carried
        What earlier setups of the day lend.
    """

    setup: Setup
    stills: Mapping[str, tuple[LinearStill, ...]]
    sources: Sources
    exposure: float
    carried: Mapping[str, Carried]


def pair_step(scene: Scene, step: Sequence[Angle], found: Mapping[str, AngleResult]) -> dict[str, PairedColours]:
    """Pair each angle of a step with the hero, or with the angle that it goes through, in the hero's light."""
    stills = scene.stills

    def pair(angle: Angle) -> PairedColours:
        if angle.through is None:
            return scene.sources(stills[scene.setup.hero], stills[angle.name])
        between = found[angle.through].match
        if between is None:
            return PairedColours.empty(angle.through, angle.name, "none")
        return in_hero_light(scene.sources(stills[angle.through], stills[angle.name]), between)

    return {angle.name: pairs for angle, pairs in zip(step, over(step, pair), strict=True)}


def heed_marks(
    pairs: Mapping[str, PairedColours], options: MatchOptions
) -> tuple[dict[str, PairedColours], dict[str, tuple[Contradiction, ...]]]:
    """Leave out of each angle's pairs the marked areas that contradict what else is known; return both."""
    held = {name: without_contradictions(own, CAMERA_PAIR, options.solve) for name, own in pairs.items()}
    return {name: kept for name, (kept, _) in held.items()}, {name: odd for name, (_, odd) in held.items()}


def link_step(scene: Scene, pairs: Mapping[str, PairedColours], options: MatchOptions) -> dict[str, Told]:
    """Return what the angles tell one another; one that cannot be matched to the hero has no part in it."""
    if not options.joint.link:
        return {}
    first = {name: learn(own, options.solve) for name, own in pairs.items()}
    learnt = {name: said for name, said in first.items() if said is not None}
    links = choose_links({name: pairs[name] for name in learnt}, options.correspond.cell)

    def tie(two: tuple[str, str]) -> PairedColours:
        return scene.sources.between(scene.stills[two[0]], scene.stills[two[1]], options.joint.step)

    tied = {(shared.reference, shared.angle): shared for shared in over(links, tie)}
    return tell(tied, learnt, options.solve, options.joint)


def match_angle(
    scene: Scene,
    angle: Angle,
    pairs: PairedColours,
    told: Told | None,
    found: Mapping[str, AngleResult],
    options: MatchOptions,
) -> AngleResult:
    """Return the result of an angle, to the hero or through an angle that was found before."""
    through = None if angle.through is None else found[angle.through]
    if through is not None and through.match is None:
        result = broken_chain(angle, pairs, through)
    else:
        lent = None if through else scene.carried.get(angle.name)
        result = _match_angle(scene, angle, pairs, options, lent, told)

    @cache
    def regions(name: str) -> Regions:
        return find_regions(scene.stills[name], options.colours)

    # An angle goes through another one where the hero does not show what it does.
    if through is None:
        result = unless_ruled_out(
            result, lambda: (regions(scene.setup.hero), regions(angle.name)), options.colours, options.solve
        )
    if result.verdict is Verdict.UNSOLVED and options.colours.ask:
        result = with_colours(
            result, regions(scene.setup.hero), regions(angle.name), options.colours, options.solve
        )
    elif through is not None and through.match is not None:
        result = chained(result, through, options.validate.matched_mean)
    if scene.setup.chart:
        result = replace(result, reasons=(*result.reasons, *chart_notes(result.pairs)))
    return result


def _match_angle(
    scene: Scene,
    angle: Angle,
    pairs: PairedColours,
    options: MatchOptions,
    carried: Carried | None = None,
    told: Told | None = None,
) -> AngleResult:
    plain = partial(fit, pairs, options.solve, told=told, view_exposure_stops=scene.exposure)
    # A contrast is on offer where light and dark disagree, and is taken only if the held-out proof supports it.
    bent = partial(plain, bent=True)
    own = _judged(scene, angle, pairs, plain(), options, bent)
    if carried is None or own.verdict is Verdict.MATCHED:
        return own
    fitted, lent = fit_carried(
        pairs, carried, options.solve, options.carry, told=told, view_exposure_stops=scene.exposure
    )
    if lent is None:
        return own
    other = _judged(scene, angle, pairs, fitted, options)
    if not better_with(own, other):
        return own
    return replace(other, learnt=own.learnt, carried=lent, reasons=(*other.reasons, what_was_lent(lent)))


def _judged(
    scene: Scene,
    angle: Angle,
    pairs: PairedColours,
    fitted: Fit | NoFit,
    options: MatchOptions,
    bent: Callable[[], Fit | NoFit] | None = None,
) -> AngleResult:
    setup, stills = scene.setup, scene.stills
    hero, still = stills[setup.hero][0], stills[angle.name][0]
    encoding = find_encoding(angle.encoding, exposure_index=angle.exposure_index, custom=setup.encodings)
    used = np.ones(len(pairs), bool) if isinstance(fitted, NoFit) else fitted.used
    flare = 0.0 if isinstance(fitted, NoFit) else fitted.match.flare
    suspicion = slope_reasons(
        pairs, used, encoding.name, alternatives(encoding, angle.range), options.validate, flare=flare
    )
    if any(reason.code == "implausible" for reason in suspicion):
        refused = fitted.reasons if isinstance(fitted, NoFit) else ()
        return AngleResult.unsolved(angle, pairs, (*refused, *suspicion))
    if suspicion and bent and isinstance(fitted, Fit):
        fitted = bent()
    if isinstance(fitted, NoFit):
        return AngleResult.unsolved(angle, pairs, (*fitted.reasons, *suspicion))
    fitted = protect(pairs, fitted, setup.marks, options.solve, view_exposure_stops=scene.exposure)
    held_out = prove(pairs, fitted, options.validate, view_exposure_stops=scene.exposure)
    uncovered, _ = uncovered_share(still, pairs, fitted, options.validate)
    verdict, reasons = judge(pairs, fitted, held_out, options.validate, uncovered=uncovered)
    rendered = rendered_doubts(encoding.name, encoding.display_referred, still)
    verdict, reasons = with_doubts(verdict, reasons, (*suspicion, *rendered))
    lamps = lamp_notes(stills[angle.name], pairs, fitted, options.validate, view_exposure_stops=scene.exposure)
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
        people=check_skin(pairs, fitted.match, view_exposure_stops=scene.exposure),
    )
