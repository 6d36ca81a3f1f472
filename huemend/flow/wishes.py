"""What somebody wishes of some colours, beside the match of all: to match best, or to stay as shot.

Each wish moves a match as far as it takes and as the rest allows. How far that is, the proof says: by colours that
are held out of the match that they are judged by.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from huemend.base.arrays import Bool
from huemend.base.text import listed
from huemend.model import KNOWN_SURFACES, Fit, LeastErrorTrade, Marks, Match, PairedColours, Reason
from huemend.model.reasons import Code
from huemend.options import SolveOptions, ValidateOptions
from huemend.solve.ladder import moved_by
from huemend.solve.nearest import Wish, alike, faded, is_believable, nearest
from huemend.validate.doubts import above
from huemend.validate.proof import prove

#: How often a pair of a wish counts beside what it counts in the fit: the first that the rest allows. What more
#: would gain is mostly noise of the area itself, and all else would pay for it (measured on rendered sets).
_STRENGTHS = (4.0, 2.0, 1.0)
#: And for what is to stay as shot: from next to nothing to all.
_WEAKEST, _STRONGEST = 2.0**-4, 2.0**14
_HALVINGS = 24
#: How a match was held back, as its reason says it.
_BENT, _FADED = "it was held", "all of it was faded"


def heed_wishes(
    pairs: PairedColours,
    fitted: Fit,
    marks: Marks,
    solve: SolveOptions,
    validate: ValidateOptions,
    *,
    view_stops: float,
) -> Fit:
    """Return a fit that heeds what a setup file says of some colours: ``least_error_on``, then ``keep_as_shot``.

    It is ``fitted``, which is of the same pairs, where nothing is wished.
    """
    # No verdict hangs on this proof.
    proof = _Proof(pairs=pairs, options=replace(validate, resamples=1), view_stops=view_stops)
    moved = _least_error(proof, fitted, marks, solve) if marks.least_error_on else fitted
    kept = _kept(proof, moved, marks, solve) if marks.keep_as_shot else moved
    return _with_trade(proof, fitted, kept, marks, solve)


def wishes_for(name: str, pairs: PairedColours, marks: Marks) -> list[str]:
    """Return the keys that wish something of a surface that none of an angle's pairs shows any more."""
    wishes = {"least_error_on": marks.least_error_on, "keep_as_shot": marks.keep_as_shot}
    return [key for key, names in wishes.items() if name in names and name not in pairs.label]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Proof:
    """The pairs of an angle, and how a fit of them does on what it did not use."""

    pairs: PairedColours
    options: ValidateOptions
    view_stops: float

    @cached_property
    def _vouched(self) -> PairedColours:
        """The pairs, marked areas like all others: who wishes something of an area vouches for it."""
        return replace(self.pairs, marked_beside=np.zeros(len(self.pairs), bool))

    def inside(self, names: Iterable[str]) -> Bool:
        """Return which pairs bear one of some names: "skin" is that of every person, whatever its name."""
        wanted = set(names)
        return np.isin(self.pairs.label, list(wanted)) | (self.pairs.skin if "skin" in wanted else False)

    def error(self, fitted: Fit, some: Bool) -> float | None:
        """Return the mean CIEDE2000 of some pairs, held out of a fit; None where none can be judged."""
        every = np.ones(int(some.sum()), bool)
        own = replace(fitted, agrees=every, fold=fitted.fold[some])
        after = prove(self._vouched.take(some), own, self.options, view_stops=self.view_stops).after
        return after.mean if after.n else None

    def held_out(self, fitted: Fit, some: Bool) -> float | None:
        """Return the mean CIEDE2000 of some pairs that a fit was moved towards, held out as far as can be.

        Colours are not pooled over folds: the matches of all folds together have seen all pairs, and a mean over
        them would forgive what each alone has got wrong. What lies in one fold alone was never held out with its
        like: it is judged by the match itself.
        """
        folds = np.unique(fitted.fold[some & (fitted.fold >= 0)])
        if len(folds) < 2:
            every = np.zeros(len(self.pairs), int)
            return self.error(replace(fitted, fold=every, fold_matches=(fitted.match,)), some)
        parts = [some & (fitted.fold == number) for number in folds]
        known = [(error, part) for part in parts if (error := self.error(fitted, part)) is not None]
        if not known:
            return None
        weight = [float(self.pairs.weight[part].sum()) for _, part in known]
        return float(np.average([error for error, _ in known], weights=weight))

    def error_as_shot(self, fitted: Fit) -> float:
        """Return the mean CIEDE2000 of all pairs as shot."""
        return prove(self._vouched, fitted, self.options, view_stops=self.view_stops).before.mean

    def moved(self, match: Match, some: Bool) -> float:
        """Return by how much a match moves some colours: mean CIEDE2000 between as shot and matched."""
        return moved_by(match, self.pairs.take(some), self.view_stops)


def _unseen(proof: _Proof, names: Iterable[str], marks: Marks) -> list[str]:
    """Return the names that this angle should show and does not, as far as anybody knows."""
    # A pair that marks other angles only has nothing to say here; skin and greys are everywhere.
    elsewhere = {pair.name for pair in marks.pairs} - KNOWN_SURFACES
    return [name for name in names if not proof.inside([name]).any() and name not in elsewhere]


def _least_error(proof: _Proof, plain: Fit, marks: Marks, options: SolveOptions) -> Fit:
    """Move a match towards some areas while that lowers their error and costs the rest no more than it may."""
    names = tuple(name for name in marks.least_error_on if proof.inside([name]).any())
    missing = [Code.NOT_SEEN.because(name=name) for name in _unseen(proof, marks.least_error_on, marks)]
    # That marks ask for nothing is no news to who asks for more.
    plain = replace(plain, notes=(*(note for note in plain.notes if note.code != Code.MARK_MET), *missing))
    inside = proof.inside(names)
    there = alike(proof.pairs, plain.match, inside, options)
    rest = ~inside & plain.agrees
    before = proof.held_out(plain, there)
    if before is None:
        return plain
    wish = Wish(inside=there, target_rgb=proof.pairs.reference_rgb)
    best = plain
    for strength in _STRENGTHS:
        moved = nearest(proof.pairs, plain, wish, strength, options)
        if _affordable(proof, plain, moved, rest, there, options):
            after = proof.held_out(moved, there)
            if after is not None and after <= before - options.least_error_gain:
                best = moved
            break
    # Who asks for the least error on an area vouches for it.
    return replace(best, agrees=plain.agrees | there)


def _with_trade(proof: _Proof, plain: Fit, final: Fit, marks: Marks, options: SolveOptions) -> Fit:
    """Say what the least error that was wished for came to, in a match that may have been held back since."""
    names = tuple(name for name in marks.least_error_on if proof.inside([name]).any())
    if not names:
        return final
    inside = proof.inside(names)
    there, rest = alike(proof.pairs, plain.match, inside, options), ~inside & plain.agrees
    before, after = proof.held_out(plain, there), proof.held_out(final, there)
    if before is None or after is None:
        return final
    elsewhere = [proof.error(fit, rest) if rest.any() else None for fit in (plain, final)]
    told = LeastErrorTrade(
        names=names, there=(before, after), elsewhere=(_figure(elsewhere[0]), _figure(elsewhere[1]))
    )
    return replace(final, least_error=told, notes=(*final.notes, _traded(told, options.least_error_gain)))


def _affordable(proof: _Proof, plain: Fit, moved: Fit, rest: Bool, there: Bool, options: SolveOptions) -> bool:
    """Say whether a match that was moved still serves the rest, and everything better than none."""
    whole = proof.error(moved, rest | there)
    if whole is None or whole > proof.error_as_shot(plain) or not is_believable(moved.match, options):
        return False
    return not rest.any() or _costs_little(proof.error(plain, rest), proof.error(moved, rest), options)


def _costs_little(before: float | None, after: float | None, options: SolveOptions) -> bool:
    """Say whether the rest is off by little more; noise of the pairs hides a part of that: they add as squares."""
    return before is None or after is None or after**2 <= before**2 + options.least_error_cost**2


def _traded(told: LeastErrorTrade, least_gain: float) -> Reason:
    """Say what a wish for the least error gained there, and what it cost elsewhere."""
    (before, after), (rest_before, rest_after) = told.there, told.elsewhere
    known = np.isfinite(told.elsewhere).all()
    rest = f", {rest_before:.1f} -> {rest_after:.1f} elsewhere" if known else ""
    case = "as close" if round(after, 1) == round(before, 1) else "" if after < before else "held"
    return Code.LEAST_ERROR.because(
        case,
        names=listed(told.names),
        before=before,
        after=after,
        rest=rest,
        gain=least_gain,
    )


def _figure(error: float | None) -> float:
    """Return an error as a figure: NaN where there is nothing to measure it by."""
    return np.nan if error is None else error


def _kept(proof: _Proof, free: Fit, marks: Marks, options: SolveOptions) -> Fit:
    """Hold some colours to how they were shot, within a limit, and match the rest as well as that allows."""
    limit = options.keep_limit if marks.keep_limit is None else marks.keep_limit
    doubts = [Code.NOTHING_TO_KEEP.because(name=name) for name in _unseen(proof, marks.keep_as_shot, marks)]
    # That a surface is right as it was shot is said of the angles that it is marked on.
    named = {pair.name for pair in marks.pairs if proof.pairs.angle in pair.areas} | KNOWN_SURFACES
    wanted = [name for name in marks.keep_as_shot if name in named]
    areas = {name: inside for name in wanted if (inside := proof.inside([name])).any()}
    moved = {name: proof.moved(free.match, inside) for name, inside in areas.items()}
    over = [name for name in areas if moved[name] > limit]
    if over:
        held, how = _held(proof, free, list(areas.values()), limit, options)
        rest = ~np.any(list(areas.values()), axis=0) & free.agrees
        before, after = (proof.error(fit, rest) if rest.any() else None for fit in (free, held))
        # Who asked for it need look at it only where the rest pays.
        cheap = how == _BENT and _costs_little(before, after, options)
        known = before is not None and after is not None
        paid = f", and the rest is left with {after:.1f} in place of {before:.1f}" if known else ""
        code = Code.STAYS_AS_SHOT if cheap else Code.KEPT_AS_SHOT
        told = []
        for name in over:
            figure, passes = above(moved[name], limit)
            told.append(code.because(label=name, name=name, moved=figure, limit=passes, how=how, rest=paid))
        # What marks are met by is the match as it was.
        notes = tuple(note for note in held.notes if note.code != Code.MARK_MET)
        free = replace(held, notes=(*notes, *told)) if cheap else replace(held, notes=notes)
        doubts = doubts if cheap else [*told, *doubts]
    return replace(free, doubts=(*free.doubts, *doubts))


def _held(proof: _Proof, free: Fit, areas: list[Bool], limit: float, options: SolveOptions) -> tuple[Fit, str]:
    """Return the better for the rest of two fits that hold the limit, bent there or faded, and which it is."""

    def holds(fitted: Fit) -> bool:
        return all(proof.moved(fitted.match, inside) <= limit for inside in areas)

    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(faded(free, middle)) else (low, middle)
    whole = faded(free, low)
    whole = replace(whole, explained=f"{free.explained}; {low:.0%} of it, for what stays as shot")
    inside = np.any(areas, axis=0)
    wish = Wish(inside=inside, target_rgb=proof.pairs.angle_rgb, light=True)
    low, high = np.log2(_WEAKEST), np.log2(_STRONGEST)
    bent = nearest(proof.pairs, free, wish, 2.0**high, options)
    if not holds(bent):
        return whole, _FADED
    for _ in range(_HALVINGS // 2):
        middle = (low + high) / 2
        tried = nearest(proof.pairs, free, wish, 2.0**middle, options)
        low, high, bent = (low, middle, tried) if holds(tried) else (middle, high, bent)
    rest = ~inside & free.agrees
    errors = [proof.error(fit, rest) if rest.any() else 0.0 for fit in (bent, whole)]
    if not is_believable(bent.match, options) or (errors[0] or 0.0) > (errors[1] or 0.0):
        return whole, _FADED
    return replace(bent, explained=f"{free.explained}; moved off it for what stays as shot"), _BENT
