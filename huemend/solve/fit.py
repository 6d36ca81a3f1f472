"""The public face of the solve: pairs in, `Fit` or `NoFit` out."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from huemend.base.arrays import Int64
from huemend.base.text import listed
from huemend.model import Fit, Match, NoFit, PairedColours, Reason, Rung, Uncertainty
from huemend.model.learnt import Learnt
from huemend.model.reasons import Code
from huemend.options import SolveOptions
from huemend.solve.evidence import (
    against,
    beyond_presets,
    by_hand_alone,
    is_strange,
    preset_doubt,
    strange_mix,
    too_little,
)
from huemend.solve.folds import Folds, deal_out
from huemend.solve.hints import beyond_noise
from huemend.solve.ladder import LADDER, WITH_CONTRAST, climb, to_match, veil_gain
from huemend.solve.prior import CAMERA_PAIR, CameraPairPrior
from huemend.solve.residuals import FLARE, FREE, Samples
from huemend.solve.robust import Estimate, estimate, estimate_veiled
from huemend.solve.trials import Trials
from huemend.solve.uncertainty import spread
from huemend.view import delta_e2000, measurement_lab

# A move that is barely seen must gain this share of itself (a judgement).
_WORTH = 0.2


def fit(
    pairs: PairedColours,
    options: SolveOptions | None = None,
    *,
    prior: CameraPairPrior | None = None,
    offer_contrast: bool = False,
    view_stops: float,
) -> Fit | NoFit:
    """Fit the simplest sufficient match to pairs.

    Parameters
    ----------
    pairs : PairedColours
        Scene-linear ACEScg; ``reference`` is what the angle is to agree with.
    prior : CameraPairPrior, optional
        What earlier setups learnt of these two cameras: it takes the place of what is known of any two before
        footage is seen, which still says what is plausible, and a match is then the full 3x3 (and bent hues, where
        these prove themselves) or none.
    offer_contrast : bool
        Light and dark surfaces ask for different exposures: offer a contrast about mid-grey, too.
    view_stops : float
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
    pairs.check()
    # Areas marked beside enough that was found say what the match is to be. Whether there is one, on which rung,
    # and which pairs show one surface, found pairs say.
    found = pairs.take(~pairs.marked_beside) if pairs.marked_beside.any() else pairs
    ground = _ground(found, options or SolveOptions(), prior)
    if isinstance(ground, NoFit):
        return ground
    ladder: tuple[Rung, ...] = WITH_CONTRAST if offer_contrast else LADDER
    if prior is not None:
        ladder = (Rung.NONE, Rung.MATRIX)
    chosen = _choose(ground, ladder, view_stops)
    return chosen if found is pairs else _with_marks(ground, chosen, pairs, view_stops)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Ground:
    """What every rung is fitted to."""

    pairs: PairedColours
    samples: Samples
    #: As given, but for ``scale_places`` where the match rests on areas named by hand alone.
    options: SolveOptions
    #: What is known of the two cameras without the pairs.
    known: CameraPairPrior
    flare_unit: float
    #: That the match rests on areas named by hand alone; empty where it does not.
    by_hand: tuple[Reason, ...]
    #: That one of the two cameras was balanced for another lamp; empty where none was.
    preset: tuple[Reason, ...]

    #: Mapping of rung to Estimate, as they are asked for.
    fits: dict[Rung, Estimate] = field(default_factory=dict, init=False)

    @cached_property
    def strange(self) -> bool:
        """That no two cameras under one light have such a mix."""
        return is_strange(self.at(Rung.MATRIX), self.options)

    @property
    def learnt(self) -> Learnt | None:
        """What these pairs say of the two cameras; None where that is not believed."""
        return None if self.strange else self.at(Rung.MATRIX).learnt

    def at(self, rung: Rung) -> Estimate:
        """Return the fit of a rung."""
        if rung not in self.fits:
            fitted, free = estimate_veiled if rung is Rung.FLARE else estimate, FREE[rung]
            self.fits[rung] = fitted(self.samples, free, self.known, self.options, flare_unit=self.flare_unit)
        return self.fits[rung]

    def strange_among(self, ladder: tuple[Rung, ...]) -> frozenset[Rung]:
        """Return the rungs with a strange mix; a veil of haze may be what feigned it."""
        if not self.strange:
            return frozenset()
        richer = ladder[ladder.index(Rung.MATRIX) + 1 :]
        strange = (rung for rung in richer if is_strange(self.at(rung), self.options))
        return frozenset({Rung.MATRIX, *strange})

    def hazy(self, chosen: Rung, ladder: tuple[Rung, ...], strange: frozenset[Rung]) -> str:
        """Say by how much a veil explains the pairs better than any match without one; empty where it does not.

        Dark surfaces under haze look like other surfaces to a match without flare. It drops them as wrong pairs,
        and what is held out, cut off for such pairs, hardly tells. Views that agree as shot are left alone.
        """
        plain = (Rung.BALANCE, Rung.MATRIX)
        if chosen not in plain or Rung.FLARE not in ladder or Rung.FLARE in strange:
            return ""
        gain = veil_gain(self.samples, [self.at(rung) for rung in plain], self.at(Rung.FLARE), self.options)
        return f"flare explains the shared surfaces better by {gain:.2f} nats a pair" if gain else ""

    def trials(self, folds: Folds, view_stops: float, rungs: tuple[Rung, ...]) -> Trials:
        """Return what these rungs are tried on."""
        proof = _thin(self.pairs, self.options.fold_pairs)
        return Trials(
            samples=self.samples.take(proof),
            reference_rgb=self.pairs.reference_rgb[proof],
            folds=folds.take(proof),
            known=self.known,
            options=self.options,
            flare_unit=self.flare_unit,
            flare_start=self.at(Rung.FLARE).theta[FLARE] if Rung.FLARE in rungs else 0.0,
            view_stops=view_stops,
            skin=self.pairs.skin[proof],
        )

    def unsure(self, final: Estimate, rung: Rung, *, strange: bool) -> Uncertainty:
        """Return how unsure a match of a rung is."""
        # Beside a contrast the exposure is that of mid-grey, and beside flare that of what shines through it: a
        # plain 3x3 tells neither.
        unsure = final
        if rung not in (Rung.FLARE, Rung.CONTRAST, Rung.ROOTS):
            # A simpler rung is chosen where its difference from the full 3x3 cannot be told from chance: the mix
            # is as unknown as before. A strange mix is not what is unknown of it.
            unsure = self.at(Rung.BALANCE if strange and rung is not Rung.MATRIX else Rung.MATRIX)
        return spread(
            unsure.theta, unsure.covariance, self.options, taken=final.theta, misfit_ratio=unsure.misfit_ratio
        )


def _ground(pairs: PairedColours, options: SolveOptions, prior: CameraPairPrior | None) -> _Ground | NoFit:
    reasons = too_little(pairs, options)
    if reasons:
        return NoFit(reasons=reasons)
    by_hand = by_hand_alone(pairs, options)
    if by_hand:
        options = replace(options, scale_places=options.scale_places_by_hand)
    samples = Samples.of(pairs, options)
    unit = samples.mean_light
    balance = estimate(samples, FREE[Rung.BALANCE], CAMERA_PAIR, options, flare_unit=unit)
    distance, mired = beyond_presets(balance, options)
    reasons = against(balance, samples.weight, distance, options)
    if reasons:
        return NoFit(reasons=reasons)
    return _Ground(
        pairs=pairs,
        samples=samples,
        options=options,
        known=CAMERA_PAIR if prior is None else prior,
        flare_unit=unit,
        by_hand=by_hand,
        preset=preset_doubt(mired),
    )


def _choose(ground: _Ground, ladder: tuple[Rung, ...], view_stops: float) -> Fit:
    """Fit the simplest sufficient rung, and say why it is."""
    folds, strange = deal_out(ground.pairs, ground.options), ground.strange_among(ladder)
    trials = ground.trials(folds, view_stops, ladder)
    climbed = climb(trials, ladder, strange)
    rung, explained = climbed.rung, climbed.explained
    if ground.by_hand and Rung.MATRIX not in strange:
        # Held out one by one, a few areas cannot tell rungs apart; what is known of cameras holds a 3x3 in.
        rung, explained = Rung.MATRIX, "too few places to prove a rung on: the likeliest 3x3 between two cameras"
    final = ground.at(rung)
    if rung is not Rung.NONE:
        moved = moved_by(to_match(final.theta, rung), ground.pairs, view_stops)
        gain = climbed.error[Rung.NONE] - climbed.error[rung]
        if idle := _idle(moved, gain, ground.options, by_hand=bool(ground.by_hand)):
            explained += f"; it would move the shared colours by {idle}"
            rung = Rung.NONE
            final = ground.at(rung)
    if not ground.by_hand and (haze := ground.hazy(rung, ladder, strange)):
        rung, explained = Rung.FLARE, f"{explained}; {haze}"
        final = ground.at(rung)
    doubts, match = strange_mix(strange, rung), to_match(final.theta, rung)
    if rung is Rung.CONTRAST:
        doubts = (*doubts, _contrast_doubt(match))
    return Fit(
        match=match,
        rung=rung,
        uncertainty=ground.unsure(final, rung, strange=bool(strange)),
        agrees=final.agree > 0.5,
        fold=folds.judged,
        hidden=folds.hidden,
        fold_matches=_fold_matches(trials, climbed.folds[rung], rung),
        explained=explained,
        doubts=(*ground.by_hand, *ground.preset, *doubts),
        learnt=ground.learnt,
    )


def _with_marks(found: _Ground, alone: Fit, pairs: PairedColours, view_stops: float) -> Fit:
    """Fit the rung that found pairs chose to these and to the areas that were marked beside them."""
    folds, rung, beside = deal_out(pairs, found.options), alone.rung, pairs.marked_beside
    # Nor may areas drawn by hand drop what speaks against them out of the proof.
    used = np.array(beside)
    used[~beside] = alone.agrees
    alone = replace(alone, agrees=used, fold=folds.judged, hidden=folds.hidden)
    # What marks are held against: the match of the rung, as surely as the full 3x3 knows it.
    known = replace(found.at(Rung.MATRIX), theta=found.at(rung).theta)
    samples, asks = beyond_noise(pairs, Samples.of(pairs, found.options), known, found.options)
    met = sorted({*pairs.label[beside & ~asks].tolist()} - {*pairs.label[asks].tolist(), ""})
    notes = (Code.MARK_MET.because(names=listed([repr(name) for name in met])),) if met else ()
    if not asks.any():
        return replace(alone, alone=alone, notes=notes)
    ground = replace(found, pairs=pairs, samples=samples)
    trials, final = ground.trials(folds, view_stops, (rung,)), ground.at(rung)
    match = to_match(final.theta, rung)
    others = tuple(doubt for doubt in alone.doubts if doubt.code != Code.CONTRAST)
    return replace(
        alone,
        match=match,
        uncertainty=ground.unsure(final, rung, strange=found.strange),
        agrees=np.where(beside, final.agree > 0.5, used),
        fold_matches=_fold_matches(trials, trials.hold_out(rung)[0], rung),
        doubts=(*others, _contrast_doubt(match)) if rung is Rung.CONTRAST else others,
        notes=notes,
        alone=alone,
    )


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


def moved_by(match: Match, pairs: PairedColours, view_stops: float) -> float:
    """Return the mean CIEDE2000 by which a match moves the angle's shared colours in the measurement view."""
    shot = np.asarray(pairs.angle_rgb, float)
    labs = (measurement_lab(rgb, view_stops) for rgb in (shot, match.apply(shot)))
    return float(np.average(delta_e2000(*labs), weights=pairs.weight))


def _thin(pairs: PairedColours, most: int) -> Int64:
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
