"""The public face of the solve: pairs in, `Fit` or `NoFit` out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.model import Fit, Match, NoFit, PairedColours, Reason, Rung
from huemend.model.learnt import Learnt
from huemend.model.reasons import Code
from huemend.options import SolveOptions
from huemend.solve.evidence import (
    against,
    by_hand_alone,
    is_strange,
    preset_doubt,
    strange_mix,
    too_little,
)
from huemend.solve.folds import deal_out
from huemend.solve.hues import unfolded
from huemend.solve.joint import Message
from huemend.solve.ladder import LADDER, WITH_CONTRAST, climb, to_match
from huemend.solve.prior import CAMERA_PAIR, CameraPairPrior
from huemend.solve.residuals import Samples
from huemend.solve.robust import Estimate, estimate
from huemend.solve.trials import FREE, Trials
from huemend.solve.uncertainty import spread
from huemend.view import delta_e2000, measurement_lab

# A move that is barely seen must gain this share of itself (a judgement).
_WORTH = 0.2


def fit(
    pairs: PairedColours,
    options: SolveOptions | None = None,
    *,
    prior: CameraPairPrior = CAMERA_PAIR,
    carried: CameraPairPrior | None = None,
    message: Message | None = None,
    offer_contrast: bool = False,
    view_exposure_stops: float = 0.0,
) -> Fit | NoFit:
    """Fit the simplest sufficient match to pairs.

    Parameters
    ----------
    pairs : PairedColours
        Scene-linear ACEScg; ``reference`` is what the angle is to agree with.
    prior : CameraPairPrior, optional
        What is known of two cameras before any footage is seen.
    carried : CameraPairPrior, optional
        What earlier setups learnt of these two cameras: it takes the place of ``prior``, which still says what is
        plausible, and a match is then the full 3x3 or none.
    message : Message, optional
        What the setup's other angles say of this one's match.
    offer_contrast : bool
        Light and dark surfaces ask for different exposures: offer a contrast about mid-grey, too.
    view_exposure_stops : float
        Gain of the measurement view, in which rungs are compared.

    Returns
    -------
    Fit or NoFit
        `NoFit` is falsy and says why.

    Raises
    ------
    ValueError
        If arrays of the pairs differ in length, or hold values that are not finite.
    """
    options = options or SolveOptions()
    density = None if message is None else (message.information, message.pull)
    full = _fit_full_mix(pairs, options, prior, carried, density)
    if isinstance(full, NoFit):
        return full
    options, samples, flare_unit = full.options, full.samples, full.flare_unit
    richest, by_hand = full.richest, full.by_hand
    known = prior if carried is None else carried
    ladder: tuple[Rung, ...] = WITH_CONTRAST if offer_contrast else LADDER
    if carried is not None:
        ladder = (Rung.NONE, Rung.MATRIX)

    def at(rung: Rung, samples: Samples = samples) -> Estimate:
        found = estimate(samples, FREE[rung], known, options, message=density, flare_unit=flare_unit)
        return replace(found, theta=unfolded(found.theta))

    strange = _strange_rungs(full, lambda rung: at(rung, full.found), prior, ladder)
    folds = deal_out(pairs, options)
    proof = _thin(pairs, options.fold_pairs)
    trials = Trials(
        samples=samples.take(proof),
        reference_rgb=pairs.reference_rgb[proof],
        folds=folds.take(proof),
        known=known,
        options=options,
        flare_unit=flare_unit,
        view_exposure_stops=view_exposure_stops,
        message=density,
        skin=pairs.skin[proof],
    )
    climbed = climb(trials.choosing, ladder, strange)
    rung, explained = climbed.rung, climbed.explained
    if by_hand and Rung.MATRIX not in strange:
        # Held out one by one, a few areas cannot tell rungs apart; what is known of cameras holds a 3x3 in.
        rung, explained = Rung.MATRIX, "too few places to prove a rung on: the likeliest 3x3 between two cameras"

    final = richest if rung is Rung.MATRIX else at(rung)
    if rung is not Rung.NONE:
        moved = _moved(pairs, to_match(final.theta, rung), view_exposure_stops)
        gain = climbed.error[Rung.NONE] - climbed.error[rung]
        if idle := _idle(moved, gain, options, by_hand=bool(by_hand)):
            explained += f"; it would move the shared colours by {idle}"
            rung = Rung.NONE
            final = at(rung)
    alike = trials.choosing is trials
    used = final.agree > 0.5
    if full.found is not samples:
        # Nor may areas drawn by hand drop what speaks against them out of the proof.
        used[~pairs.by_hand] = at(rung, full.found).agree > 0.5
    doubts = strange_mix(strange, rung)
    if rung is Rung.CONTRAST:
        doubts = (*doubts, _contrast_doubt(to_match(final.theta, rung)))
    if rung in (Rung.FLARE, Rung.CONTRAST, Rung.ROOTS):
        # Beside a contrast the exposure is that of mid-grey, and beside flare that of what shines through it: a
        # plain 3x3 tells neither.
        unsure = final
    else:
        # The simpler rung was chosen because its difference from the full 3x3 cannot be told from chance: what is
        # not known of the mix is as unknown as before. Nothing at all is such a rung, too. A strange mix is not
        # what is unknown of a simpler rung.
        unsure = at(Rung.BALANCE) if strange and rung is not Rung.MATRIX else richest
    return Fit(
        match=to_match(final.theta, rung),
        rung=rung,
        uncertainty=spread(unsure.theta, unsure.covariance, options, taken=final.theta, misfit=unsure.misfit),
        used=used,
        fold=folds.judged,
        hidden=folds.hidden,
        fold_matches=_fold_matches(trials, climbed.folds[rung] if alike else trials.hold_out(rung)[0], rung),
        without_marks=() if alike else _fold_matches(trials.choosing, climbed.folds[rung], rung),
        explained=explained,
        doubts=(*by_hand, *full.preset, *doubts),
        learnt=full.learnt,
    )


def learn(pairs: PairedColours, options: SolveOptions | None = None) -> Learnt | None:
    """Return what pairs alone say of the 3x3 between two cameras; None where they cannot pin a match.

    Raises
    ------
    ValueError
        As `fit` does.
    """
    full = _fit_full_mix(pairs, options or SolveOptions(), CAMERA_PAIR, None, None)
    return None if isinstance(full, NoFit) else full.learnt


@dataclass(frozen=True, kw_only=True, eq=False)
class _FullMix:
    """The full 3x3, before anything is proven."""

    #: As given, but for ``scale_places`` where the match rests on areas named by hand alone.
    options: SolveOptions
    samples: Samples
    found: Samples
    flare_unit: float
    richest: Estimate
    strange: bool
    #: That the match rests on areas named by hand alone; empty where it does not.
    by_hand: tuple[Reason, ...]
    #: That one of the two cameras was balanced for another lamp; empty where none was.
    preset: tuple[Reason, ...]

    @property
    def learnt(self) -> Learnt | None:
        if self.strange:
            return None
        return self.richest.learnt


def _fit_full_mix(
    pairs: PairedColours,
    options: SolveOptions,
    prior: CameraPairPrior,
    carried: CameraPairPrior | None,
    message: tuple[NDArray[Any], NDArray[Any]] | None,
) -> _FullMix | NoFit:
    pairs.check()
    reasons = too_little(pairs, options)
    if reasons:
        return NoFit(reasons=reasons)
    by_hand = by_hand_alone(pairs, options)
    if by_hand:
        options = replace(options, scale_places=options.scale_places_by_hand)
    samples = Samples.of(pairs, options)
    beside = bool(pairs.by_hand.any()) and pairs.places_found >= options.fewest_groups
    found = samples.take(~pairs.by_hand) if beside else samples
    flare_unit = found.mean_light
    # What others say comes in after the evidence was weighed: it must speak for itself.
    balance = estimate(samples, FREE[Rung.BALANCE], prior, options, flare_unit=flare_unit)
    reasons = against(balance, samples.weight, prior, options)
    if reasons:
        return NoFit(reasons=reasons)
    richest = estimate(
        samples, FREE[Rung.MATRIX], carried or prior, options, message=message, flare_unit=flare_unit
    )
    asked = [richest]
    if beside:
        # Areas drawn by hand may pull a mix that no two cameras have to where it passes for one that they do.
        asked.append(
            estimate(found, FREE[Rung.MATRIX], carried or prior, options, message=message, flare_unit=flare_unit)
        )
    return _FullMix(
        options=options,
        samples=samples,
        found=found,
        flare_unit=flare_unit,
        richest=richest,
        strange=any(is_strange(each, prior, options) for each in asked),
        by_hand=by_hand,
        preset=preset_doubt(balance, prior, options),
    )


def _strange_rungs(
    full: _FullMix, at: Callable[[Rung], Estimate], prior: CameraPairPrior, ladder: tuple[Rung, ...]
) -> frozenset[Rung]:
    """Return the rungs with a channel mix that no two cameras have; a veil of haze may be what feigned it."""
    if not full.strange:
        return frozenset()
    richer = (rung for rung in ladder if ladder.index(rung) > ladder.index(Rung.MATRIX))
    return frozenset({Rung.MATRIX, *(rung for rung in richer if is_strange(at(rung), prior, full.options))})


def _idle(moved: float, gain: float, options: SolveOptions, *, by_hand: bool) -> str:
    """Say by how little a match moves the shared colours where nobody would see it; empty where it is worth it."""
    if moved < options.unseen:
        return f"{moved:.2f} only, which cannot be seen"
    # What a small move gains where the views differ by more than that anyway is theirs as likely as the cameras':
    # a settled angle would be spoilt for nothing that a cut shows. A few areas by hand prove no gain either way.
    if moved < options.barely_seen and gain < _WORTH * moved and not by_hand:
        return f"{moved:.2f} and bring them nearer by {gain:.2f} only, which a cut does not show"
    return ""


def _contrast_doubt(match: Match) -> Reason:
    # What is no contrast at all is never taken; it must not print as none either.
    digits = 2 if round(match.contrast, 2) != 1 else 4
    return Code.CONTRAST.because(contrast=f"{match.contrast:.{digits}f}")


def _moved(pairs: PairedColours, match: Match, view_exposure_stops: float) -> float:
    """Return the mean CIEDE2000 by which a match moves the angle's shared colours in the measurement view."""
    shot = np.asarray(pairs.angle_rgb, float)
    labs = (measurement_lab(rgb, view_exposure_stops) for rgb in (shot, match.apply(shot)))
    return float(np.average(delta_e2000(*labs), weights=pairs.weight))


def _thin(pairs: PairedColours, most: int) -> NDArray[np.int64]:
    """Return the rows of at most so many found pairs, evenly picked, and of all areas drawn by hand."""
    found, marked = np.flatnonzero(~pairs.by_hand), np.flatnonzero(pairs.by_hand)
    picked = np.linspace(0, len(found) - 1, min(len(found), most)).astype(np.int64)
    return np.union1d(found[picked], marked)


def _fold_matches(trials: Trials, estimates: tuple[Estimate, ...], rung: Rung) -> tuple[Match, ...]:
    fold, folds = trials.folds.judged, trials.options.folds
    fitted = dict(zip(np.unique(fold[fold >= 0]).tolist(), estimates, strict=True))
    # A fold that holds no pair was never held out; the first one's match stands in and is never asked for.
    first = next(iter(fitted.values()))
    return tuple(to_match(fitted.get(number, first).theta, rung) for number in range(folds))
