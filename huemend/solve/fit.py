"""The public face of the solve: pairs in, `Fit` or `NoFit` out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from huemend.base.text import listed
from huemend.model import Fit, Match, NoFit, PairedColours, Reason, Rung
from huemend.model.reasons import Code
from huemend.options import SolveOptions
from huemend.solve.fit_doubts import strange_mix
from huemend.solve.folds import deal_out
from huemend.solve.ground import Ground, ground_of
from huemend.solve.ladder import LADDER, choose, moved_by
from huemend.solve.marks import beyond_noise
from huemend.solve.parameters import to_match
from huemend.solve.prior import CAMERA_PAIR, CameraPairPrior
from huemend.solve.residuals import Samples
from huemend.solve.robust import Estimate
from huemend.solve.trials import Trials

# Of what marks ask for, that much is tried in turn.
_SHARES = (1.0, 0.5, 0.25, 0.125, 0.0625, 0.03125)


def fit(
    pairs: PairedColours,
    options: SolveOptions | None = None,
    *,
    prior: CameraPairPrior = CAMERA_PAIR,
    ladder: tuple[Rung, ...] = LADDER,
    view_stops: float,
) -> Fit | NoFit:
    """Fit the simplest sufficient match to pairs; `NoFit` is falsy and says why there is none.

    A ``prior`` of what earlier setups learnt of these two cameras takes the place of what is known of any two
    before footage is seen, which still says what is plausible. The ``ladder`` holds the rungs on offer, from
    nothing on, the 3x3 among them; bent hues are tried beyond that, whatever else is. Rungs are compared in the
    measurement view, of gain ``view_stops``. Raises ValueError if arrays of the pairs differ in length, or hold
    values that are not finite.
    """
    pairs.check()
    # Areas marked beside enough that was found say what the match is to be. Whether there is one, on which rung,
    # and which pairs show one surface, found pairs say.
    found = pairs.take(~pairs.marked_beside) if pairs.marked_beside.any() else pairs
    ground = ground_of(found, options or SolveOptions(), prior)
    if isinstance(ground, NoFit):
        return ground
    chosen = _choose(ground, ladder, view_stops)
    return chosen if found is pairs else _with_marks(ground, chosen, pairs, view_stops)


def _choose(ground: Ground, ladder: tuple[Rung, ...], view_stops: float) -> Fit:
    """Fit the rung that `ladder.choose` takes."""
    folds = deal_out(ground.pairs, ground.options)
    trials = Trials.of(ground, folds, ladder, view_stops=view_stops)
    choice = choose(ground, trials, ladder)
    rung, final = choice.rung, ground.settled(choice.rung)
    doubts, match = strange_mix(choice.strange, rung), to_match(final.theta, rung)
    if rung is Rung.CONTRAST:
        doubts = (*doubts, _contrast_doubt(match))
    return Fit(
        match=match,
        rung=rung,
        uncertainty=ground.unsure(final, rung, strange=bool(choice.strange)),
        agrees=final.agree > 0.5,
        fold=folds.judged,
        hidden=folds.hidden,
        fold_matches=_fold_matches(trials, trials.settled(choice.folds[rung]), rung),
        explained=choice.explained,
        doubts=(*ground.by_hand, *ground.preset, *doubts),
        learnt=ground.learnt,
    )


def _with_marks(found: Ground, alone: Fit, pairs: PairedColours, view_stops: float) -> Fit:
    """Fit the rung that found pairs chose to these and to the areas that were marked beside them."""
    folds, rung, beside = deal_out(pairs, found.options), alone.rung, pairs.marked_beside
    # Nor may areas drawn by hand drop what speaks against them out of the proof.
    used = np.array(beside)
    used[~beside] = alone.agrees
    alone = replace(alone, agrees=used, fold=folds.judged, hidden=folds.hidden)
    # What marks are held against: the match of the rung, as surely as the full 3x3 knows it.
    kept = found.settled(rung)
    rest = replace(found.at(Rung.MATRIX), theta=kept.theta)
    asked, samples = beyond_noise(pairs, rest, found.options), Samples.of(pairs, found.options)
    asks = asked.any(1)
    asking = {*pairs.label[asks].tolist()}
    notes = _met("", {*pairs.label[beside & ~asks].tolist()} - asking)
    # Found pairs ask for the exposure that theirs was settled on.
    short = np.where(beside[:, None], samples.residual(rest.theta), [-kept.settled, 0.0, 0.0])

    def followed(share: float) -> tuple[float, Ground, Estimate, Match]:
        target = samples.target - short + share * asked
        ground = replace(found, pairs=pairs, samples=replace(samples, target=target))
        final = ground.at(rung)
        return share, ground, final, to_match(final.theta, rung)

    def may_move(match: Match) -> bool:
        return moved_by(match, found.pairs, view_stops, since=alone.match) <= found.options.hint_moves

    tried = map(followed, _SHARES if asks.any() else ())
    most = next((each for each in tried if may_move(each[-1])), None)
    if most is None or most[0] < 1:
        notes = (*notes, *_met("in part", asking, found.options.hint_moves))
    if most is None:
        return replace(alone, alone=alone, notes=notes)
    _, ground, final, match = most
    trials = Trials.of(ground, folds, (rung,), view_stops=view_stops)
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


def _met(case: str, names: set[str], most: float = 0.0) -> tuple[Reason, ...]:
    said = [repr(name) for name in sorted(names - {""})]
    return (Code.MARK_MET.because(case, names=listed(said), most=f"{most:.1f}"),) if said else ()


def _contrast_doubt(match: Match) -> Reason:
    # What is no contrast at all is never taken; it must not print as none either.
    digits = 2 if round(match.contrast, 2) != 1 else 4
    return Code.CONTRAST.because(contrast=f"{match.contrast:.{digits}f}")


def _fold_matches(trials: Trials, estimates: tuple[Estimate, ...], rung: Rung) -> tuple[Match, ...]:
    fold, folds = trials.folds.judged, trials.options.folds
    fitted = dict(zip(np.unique(fold[fold >= 0]).tolist(), estimates, strict=True))
    # A fold that holds no pair was never held out; the first one's match stands in and is never asked for.
    first = next(iter(fitted.values()))
    return tuple(to_match(fitted.get(number, first).theta, rung) for number in range(folds))
