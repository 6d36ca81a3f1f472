"""From what the pictures show to the result of every angle: pair, solve, prove, decide."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from huemend.base.tasks import over
from huemend.correspond.regions import find_regions
from huemend.correspond.sources import Sources
from huemend.encodings.alternatives import alternatives
from huemend.encodings.registry import Encoding
from huemend.flow.wishes import heed_wishes, wishes_for
from huemend.model import (
    Angle,
    AngleResult,
    Fit,
    LinearStill,
    NoFit,
    PairedColours,
    Reason,
    Rung,
    Setup,
    Uncertainty,
    Verdict,
)
from huemend.model.drift import Drift
from huemend.model.fit import ColourFit
from huemend.model.learnt import Carried
from huemend.model.reasons import Code
from huemend.options import ColourOptions, DriftOptions, MatchOptions, ValidateOptions
from huemend.solve.chain import in_hero_light, with_errors_of
from huemend.solve.colours import allowed_exposure, fit_colours
from huemend.solve.fit import fit
from huemend.solve.ladder import WITH_CONTRAST
from huemend.solve.lend import fit_carried, still_true
from huemend.solve.marks import without_contradictions
from huemend.solve.uneven_flare import uneven_flare
from huemend.validate.coverage import picture_lost, uncovered_share
from huemend.validate.decide import Basis, Decision, Evidence, decide, is_better
from huemend.validate.doubts import doubts_of_pictures
from huemend.validate.drift import drift_reasons
from huemend.validate.encoding_doubt import exposure_slack, slope_reasons
from huemend.validate.limits import chart_notes, rendered_doubts
from huemend.validate.moment_agreement import moment_reasons
from huemend.validate.observed_errors import with_observed_errors
from huemend.validate.people import check_skin
from huemend.validate.proof import Proven, proven


@dataclass(frozen=True, kw_only=True, eq=False)
class Scene:
    """What every angle of a setup is matched with."""

    setup: Setup
    #: Mapping of angle name to LinearStills. Stages are given `views` of them.
    stills: Mapping[str, tuple[LinearStill, ...]]
    #: Of pairs.
    sources: Sources
    #: Mapping of angle name to Encoding.
    encodings: Mapping[str, Encoding]
    #: Gain of the measurement view.
    view_stops: float
    #: How the cameras moved over the take, where there are clips.
    drift: Drift | None
    #: Mapping of angle name to Carried. What earlier setups of the day lend.
    carried: Mapping[str, Carried]
    #: Mapping of angle name to the moments at which it stands to the hero otherwise than most of the time.
    apart: Mapping[str, frozenset[int]] = field(default_factory=dict)

    def views(self, one: str, other: str) -> tuple[tuple[LinearStill, ...], tuple[LinearStill, ...]]:
        """Return the stills of two angles that one match fits; all of them where there are none."""
        both = self.stills[one], self.stills[other]
        apart = self.apart.get(one, frozenset()) | self.apart.get(other, frozenset())
        kept = tuple(tuple(still for still in stills if still.moment not in apart) for stills in both)
        return both if not all(kept) else (kept[0], kept[1])


def pair_step(scene: Scene, step: Sequence[Angle], found: Mapping[str, AngleResult]) -> dict[str, PairedColours]:
    """Pair each angle of a step with the hero, or with the angle that it goes through, in the hero's light."""

    def pair(angle: Angle) -> PairedColours:
        if angle.through is None:
            return scene.sources(*scene.views(scene.setup.hero, angle.name))
        between = found[angle.through].match
        if between is None:
            return PairedColours.empty(angle.through, angle.name, "none")
        return in_hero_light(scene.sources(*scene.views(angle.through, angle.name)), between)

    return {angle.name: pairs for angle, pairs in zip(step, over(step, pair), strict=True)}


def match_angle(
    scene: Scene,
    angle: Angle,
    pairs: PairedColours,
    found: Mapping[str, AngleResult],
    options: MatchOptions,
) -> AngleResult:
    """Return the result of an angle, to the hero or through an angle that was found before."""
    pairs, odd = without_contradictions(pairs, options.solve)
    first = [stills[0] for stills in scene.views(pairs.reference, angle.name)]
    through = None if angle.through is None else found[angle.through]
    if through is not None and through.match is None:
        known = Evidence(pairs=pairs, proven=NoFit(reasons=()))
    else:
        known = _solve_and_prove(scene, angle, pairs, options)
    known = replace(
        known,
        through=through,
        chart=chart_notes(pairs) if scene.setup.chart else (),
        marks=tuple(mark.reason(*first, wishes=wishes_for(mark.label, pairs, scene.setup.marks)) for mark in odd),
        drift=_drift(scene, angle, known, options.drift),
    )
    decision = decide(known, options.validate)
    if through is None and isinstance(known.proven, Proven) and decision.basis is Basis.PAIRS and decision.thin:
        # Where views share little, the hero may well show less of the angle's colours than a guess would ask for.
        whole = _by_colours(scene, angle, options, replace(options.colours, shrinkage=1.0, least_found=0.0))
        known = replace(known, whole=allowed_exposure(whole, pairs, known.proven.fit.agrees, options.colours))
        decision = decide(known, options.validate)
    if options.colours.ask and decision.verdict is Verdict.UNSOLVED:
        known = replace(known, guess=_by_colours(scene, angle, options, options.colours))
        decision = decide(known, options.validate)
    return _result(angle, known, decision, scene.view_stops, options.validate)


def _by_colours(scene: Scene, angle: Angle, options: MatchOptions, colours: ColourOptions) -> ColourFit | NoFit:
    views = scene.views(scene.setup.hero, angle.name)
    # A camera that stands still shows the same set at every moment: those that were kept whole say it best.
    whole = (tuple(still for still in stills if still.reduced == 1) or stills for stills in views)
    hero, shot = (find_regions(stills, options.colours) for stills in whole)
    return fit_colours(hero, shot, colours, options.solve)


def _drift(scene: Scene, angle: Angle, known: Evidence, options: DriftOptions) -> tuple[Reason, ...]:
    if scene.drift is not None and scene.drift.follows(angle.name, scene.setup.hero):
        return drift_reasons(scene.drift, angle.name, scene.setup.hero, options)
    if len(scene.stills[angle.name]) < 2 or isinstance(known.proven, NoFit):
        return ()
    # Stills are no clip to follow; what is paired at each of them tells whether one match fits them all.
    return moment_reasons(known.pairs, known.proven.fit.match, options)


def _solve_and_prove(scene: Scene, angle: Angle, pairs: PairedColours, options: MatchOptions) -> Evidence:
    """Fit and prove an angle's match: as it is and, where that is not trusted, with what earlier setups lend."""
    view_stops = scene.view_stops
    fitted = fit(pairs, options.solve, view_stops=view_stops)
    fitted, slope = _doubt_encoding(scene, angle, pairs, fitted, options.validate)
    if slope and isinstance(fitted, Fit):
        # Where light and dark disagree a contrast is on offer, and is taken only if the proof supports it.
        fitted = fit(pairs, options.solve, ladder=WITH_CONTRAST, view_stops=view_stops)
    own = _prove(scene, angle, pairs, fitted, slope, options)
    carried = None if angle.through else scene.carried.get(angle.name)
    if carried is None or decide(own, options.validate).verdict is Verdict.MATCHED:
        return own
    lent = still_true(pairs, carried, options.solve, options.carry)
    if lent is None:
        return replace(own, refused=(Code.CAMERAS_CHANGED.because(names=carried.named),))
    fitted = fit_carried(pairs, lent, options.solve, options.carry, view_stops=view_stops)
    if isinstance(fitted, NoFit):
        return own
    # What is lent is not learnt again.
    fitted = replace(fitted, learnt=own.proven.fit.learnt if isinstance(own.proven, Proven) else None)
    fitted, slope = _doubt_encoding(scene, angle, pairs, fitted, options.validate)
    other = replace(_prove(scene, angle, pairs, fitted, slope, options), lent=lent)
    return other if is_better(other, own, options.validate) else own


def _doubt_encoding(
    scene: Scene, angle: Angle, pairs: PairedColours, fitted: Fit | NoFit, options: ValidateOptions
) -> tuple[Fit | NoFit, tuple[Reason, ...]]:
    """Return a fit and which encodings are to be suspected; no fit where the slope is beyond what any explains."""
    encoding = scene.encodings[angle.name]
    used = (fitted.agrees if isinstance(fitted, Fit) else np.ones(len(pairs), bool)) & ~pairs.marked_beside
    flare = fitted.match.flare if isinstance(fitted, Fit) else 0.0
    suspects = alternatives(encoding, angle.range)
    slope = slope_reasons(pairs, used, encoding.name, suspects, options, flare=flare)
    if any(reason.code == Code.IMPLAUSIBLE for reason in slope) and isinstance(fitted, Fit):
        return NoFit(reasons=slope), ()
    return fitted, slope


def _prove(
    scene: Scene,
    angle: Angle,
    pairs: PairedColours,
    fitted: Fit | NoFit,
    slope: tuple[Reason, ...],
    options: MatchOptions,
) -> Evidence:
    """Heed what was wished of a fit, prove it on samples that it did not use, and look for what no match mends."""
    (hero, *_), shots = scene.views(scene.setup.hero, angle.name)
    encoding, view_stops, validate = scene.encodings[angle.name], scene.view_stops, options.validate
    rendered = rendered_doubts(encoding.name, encoding.display_referred, shots[0])
    if isinstance(fitted, NoFit):
        # Clipping, shading and lamps are judged on matched pictures.
        return Evidence(pairs=pairs, proven=fitted, encoding=slope, rendered=rendered)
    fitted = heed_wishes(pairs, fitted, scene.setup.marks, options.solve, validate, view_stops=view_stops)
    found = proven(pairs, fitted, validate, view_stops=view_stops)
    flare = uneven_flare(pairs, shots[0], options.solve)
    return Evidence(
        pairs=pairs,
        proven=found,
        lost=picture_lost(shots[0], pairs, found.held_out, view_stops=view_stops) if flare else (),
        uncovered=uncovered_share(shots[0], pairs, fitted, validate),
        encoding=slope,
        rendered=rendered,
        limits=(
            *doubts_of_pictures(hero, shots, pairs, fitted, validate, view_stops=view_stops),
            *flare,
        ),
    )


def _uncertainty(known: Evidence, proven: Proven, options: ValidateOptions) -> Uncertainty:
    """Return the uncertainty of a match with what the proof shows beside it."""
    fitted, slack = proven.fit, 0.0
    if known.encoding and fitted.rung is not Rung.CONTRAST:
        slack = exposure_slack(known.pairs, fitted.agrees, options, flare=fitted.match.flare)
    return with_observed_errors(fitted.uncertainty, proven.held_out, slack)


def _result(
    angle: Angle, known: Evidence, decision: Decision, view_stops: float, options: ValidateOptions
) -> AngleResult:
    """Put together what is handed on of an angle; what is not believed is left out."""
    proven, guess, solved = known.proven, known.guess, decision.verdict is not Verdict.UNSOLVED
    result = replace(AngleResult.without_match(angle, known.pairs, decision.reasons), verdict=decision.verdict)
    if decision.basis is Basis.COLOURS and isinstance(guess, ColourFit):
        return replace(
            result,
            match=guess.match,
            rung=Rung.BALANCE,
            explained=guess.explained,
            uncertainty=guess.uncertainty,
        )
    if isinstance(proven, Proven):
        fitted = proven.fit
        result = replace(
            result,
            match=fitted.match if solved else None,
            candidate=None if solved else fitted.match,
            rung=fitted.rung,
            explained=fitted.explained,
            uncertainty=fitted.uncertainty,
            least_error=fitted.least_error if solved else None,
        )
        if decision.basis is Basis.PAIRS:
            result = replace(
                result,
                held_out=proven.held_out,
                agrees=fitted.agrees,
                learnt=fitted.learnt,
                carried=known.lent,
                uncertainty=_uncertainty(known, proven, options),
                people=check_skin(known.pairs, fitted.match, fitted.agrees, view_stops=view_stops),
            )
    if known.through is None or known.through.match is None or guess is not None:
        return result
    return with_errors_of(result, known.through)
