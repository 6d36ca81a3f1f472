"""The ladder of models: nothing, exposure, balance, 3x3, flare or contrast; the simplest sufficient one wins.

`choose` holds the steps of that choice, in the order in which they overrule one another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from huemend.base.arrays import Bool, Float, numbered
from huemend.model import Match, PairedColours, Rung
from huemend.options import SolveOptions
from huemend.solve.ground import Ground
from huemend.solve.parameters import to_match
from huemend.solve.residuals import Samples
from huemend.solve.robust import Estimate, surprise
from huemend.solve.trials import Trials
from huemend.view import delta_e2000, measurement_lab

#: From nothing to the richest.
LADDER = (Rung.NONE, Rung.EXPOSURE, Rung.BALANCE, Rung.MATRIX, Rung.FLARE)

# A move that is barely seen must gain this share of itself (a judgement).
_WORTH = 0.2

#: Only where the slope of luminance gives cause: between cameras that were decoded rightly it is one.
WITH_CONTRAST = (*LADDER, Rung.CONTRAST)


@dataclass(frozen=True, kw_only=True, eq=False)
class Climb:
    """What the folds say of every rung, and the rung that is taken."""

    #: The chosen one.
    rung: Rung
    #: Those on offer, from the simplest on, and of them those whose mix no two cameras have.
    rungs: tuple[Rung, ...]
    strange: frozenset[Rung]
    #: Mapping of rung to held-out mean CIEDE2000, wrong pairs capped.
    error: dict[Rung, float]
    #: Mapping of rung to the estimates of its folds.
    folds: dict[Rung, tuple[Estimate, ...]]
    explained: str


def choose(ground: Ground, trials: Trials, rungs: tuple[Rung, ...]) -> Climb:
    """Choose a rung: by the folds, and then by what they cannot tell, each step overruling those before.

    1. `climb`: the simplest rung that the folds find sufficient, without a strange mix where that does as well,
       and with bent hues where these gain.
    2. Where areas named by hand are all there is, which folds tell nothing of: the likeliest 3x3.
    3. Nothing, where nobody would see the match.
    4. Flare, where a veil explains the pairs better than any match without one.
    """
    choice = climb(trials, rungs, ground.strange_among(rungs))
    if ground.by_hand and Rung.MATRIX not in choice.strange:
        # Held out one by one, a few areas cannot tell rungs apart; what is known of cameras holds a 3x3 in.
        alone = "too few places to prove a rung on: the likeliest 3x3 between two cameras"
        choice = replace(choice, rung=Rung.MATRIX, explained=alone)
    if idle := _idle(choice, ground, trials.view_stops):
        choice = replace(choice, rung=Rung.NONE, explained=f"{choice.explained}; {idle}")
    if haze := _haze(choice, ground):
        choice = replace(choice, rung=Rung.FLARE, explained=f"{choice.explained}; {haze}")
    return choice


def _idle(choice: Climb, ground: Ground, view_stops: float) -> str:
    """Say by how little a match moves the shared colours where nobody would see it; empty where it is worth it."""
    if choice.rung is Rung.NONE:
        return ""
    options, match = ground.options, to_match(ground.at(choice.rung).theta, choice.rung)
    moved = moved_by(match, ground.pairs, view_stops)
    gain = choice.error[Rung.NONE] - choice.error[choice.rung]
    if moved < options.unseen:
        return f"it would move the shared colours by {moved:.2f} only, which cannot be seen"
    # What a small move gains where the views differ by more than that anyway is theirs as likely as the cameras':
    # a settled angle would be spoilt for nothing that a cut shows. A few areas by hand prove no gain either way.
    if moved < options.barely_seen and gain < _WORTH * moved and not ground.by_hand:
        said = f"it would move the shared colours by {moved:.2f} and bring them nearer by {gain:.2f} only"
        return f"{said}, which a cut does not show"
    return ""


def _haze(choice: Climb, ground: Ground) -> str:
    """Say by how much a veil explains the pairs better than any match without one; empty where it does not.

    Dark surfaces under haze look like other surfaces to a match without flare. It drops them as wrong pairs,
    and what is held out, cut off for such pairs, hardly tells. Views that agree as shot are left alone.
    """
    plain = (Rung.BALANCE, Rung.MATRIX)
    offered = Rung.FLARE in choice.rungs and Rung.FLARE not in choice.strange
    if ground.by_hand or choice.rung not in plain or not offered:
        return ""
    gain = veil_gain(ground.samples, [ground.at(rung) for rung in plain], ground.at(Rung.FLARE), ground.options)
    return f"flare explains the shared surfaces better by {gain:.2f} nats a pair" if gain else ""


def climb(trials: Trials, rungs: tuple[Rung, ...] = LADDER, strange: frozenset[Rung] = frozenset()) -> Climb:
    """Hold every fold out on every rung, and choose by that alone (docs/maths.md, section 5).

    A rung is taken if it lowers the held-out error of the one chosen so far by more than chance does, and by more
    than light that only one view gets could feign; one of the ``strange`` must gain more than others.
    """
    options, judged = trials.options, trials.judged
    per_rung: dict[Rung, tuple[Estimate, ...]] = {}
    errors: dict[Rung, Float] = {}
    for rung in rungs:
        per_rung[rung], errors[rung] = trials.hold_out(rung)
    mean = {rung: float(np.average(value, weights=judged.weight)) for rung, value in errors.items()}
    chosen, steps = rungs[0], []
    for rung in rungs[1:]:
        gain, chance = paired(errors[chosen] - errors[rung], judged)
        least = _least_gain(rung, options)
        if rung in strange:
            least = max(least, options.gain_strange)
        if gain > max(options.rung_slack * chance, least):
            steps.append(f"{rung} lowers the held-out error by {gain:.2f}")
            chosen = rung
    beyond = [rung for rung in rungs if rungs.index(rung) > rungs.index(chosen)]
    if chosen in strange:
        # A veil may be what feigns a mix that no two cameras have: of two that explain as much, the likelier.
        for rung in beyond:
            gain, chance = paired(errors[chosen] - errors[rung], judged)
            if rung not in strange and gain > -options.strange_slack * chance:
                steps.append(f"{rung} explains as much without a strange mix")
                chosen = rung
                break
        beyond = [rung for rung in rungs if rungs.index(rung) > rungs.index(chosen)]
    if chosen is Rung.MATRIX and chosen not in strange and options.roots and trials.promises_hues():
        per_rung[Rung.ROOTS], errors[Rung.ROOTS] = trials.hold_out(Rung.ROOTS)
        gain, chance = paired(errors[Rung.MATRIX] - errors[Rung.ROOTS], judged)
        on_skin = errors[Rung.ROOTS] - errors[Rung.MATRIX]
        if gain > max(options.roots_slack * chance, options.gain_roots) and not _worse(
            on_skin, judged, trials.ground.pairs.skin[trials.judges]
        ):
            mean[Rung.ROOTS] = mean[Rung.MATRIX] - gain
            steps.append(f"bending hues lowers it by another {gain:.2f}")
            chosen = Rung.ROOTS
    if beyond:
        best = min(beyond, key=lambda rung: mean[rung])
        steps.append(f"{best} would lower it by {max(0.0, mean[chosen] - mean[best]):.2f} only")
    return Climb(rung=chosen, rungs=rungs, strange=strange, error=mean, folds=per_rung, explained="; ".join(steps))


def moved_by(match: Match, pairs: PairedColours, view_stops: float, *, since: Match | None = None) -> float:
    """Return the mean CIEDE2000 by which a match moves the shared colours: from as shot, or another match."""
    labs = (measurement_lab(each.apply(pairs.angle_rgb), view_stops) for each in (since or Match(), match))
    return float(np.average(delta_e2000(*labs), weights=pairs.weight))


def _worse(loss: Float, samples: Samples, which: Bool) -> bool:
    """Return whether some samples lose by more than chance feigns."""
    if not which.any():
        return False
    mean, chance = paired(loss[which], samples.take(which))
    return mean > max(chance, 0.0)


def _least_gain(rung: Rung, options: SolveOptions) -> float:
    return {
        Rung.EXPOSURE: options.gain_exposure,
        Rung.BALANCE: options.gain_balance,
        Rung.MATRIX: options.gain_matrix,
        Rung.FLARE: options.gain_flare,
        Rung.CONTRAST: options.gain_contrast,
    }[rung]


def veil_gain(samples: Samples, plain: Sequence[Estimate], veiled: Estimate, options: SolveOptions) -> float:
    """Return by how many nats a pair a veil explains pairs better than nothing does; 0 where it may be chance."""
    with_veil = surprise(samples, veiled, options)
    gain, chance = min(paired(surprise(samples, each, options) - with_veil, samples) for each in plain)
    return gain if gain > max(options.haze_evidence, options.rung_slack * chance) else 0.0


def paired(difference: Float, samples: Samples) -> tuple[float, float]:
    """Return the weighted mean of a difference between samples, and its standard error over groups."""
    groups = numbered(samples.group)
    weight = np.bincount(groups, samples.weight)
    value = np.bincount(groups, samples.weight * difference) / weight
    share = weight / weight.sum()
    mean = float(share @ value)
    # Variance of a weighted mean of independent groups, with the small-sample factor.
    count = len(value)
    variance = float((share**2 @ (value - mean) ** 2) * count / max(count - 1, 1))
    return mean, variance**0.5
