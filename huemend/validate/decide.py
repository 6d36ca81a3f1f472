"""The verdict on an angle: every change of it in `decide`, in order, from what is known.

What a delivered LUT does on other frames is judged by `decide_delivered`.

What a reason does to a verdict stands with its code (`huemend.model.reasons`); here stands which reason overrules
which. Doubts come in by `doubts_of`, for figures of the proof, and by ``Evidence.limits``, for what pictures show;
anything else by a field of `Evidence` of its own, which `huemend.flow.angles` fills in.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from huemend.base.text import counted
from huemend.model import AngleResult, HeldOut, NoFit, PairedColours, Reason, Verdict
from huemend.model.fit import ColourFit
from huemend.model.learnt import Carried
from huemend.model.match import Interval, added_errors
from huemend.model.reasons import Code, Effect
from huemend.options import ValidateOptions
from huemend.validate.doubts import above, doubts_delivered, doubts_of
from huemend.validate.proof import Proven

_EFFECTS = {str(code): code.effect for code in Code}
#: What is said of a match whose pairs themselves are in doubt, and not only how well they agree.
_THIN = {Code.FEW_SURFACES, Code.DIVIDED, Code.UNCERTAIN}
#: What is said of a match and of nothing else: once it is taken back, nobody wants to know.
_OF_THE_MATCH = {Code.LOOSE, Code.AREA, Code.UNCOVERED, Code.SATURATED_LIGHT}
_OF_THE_MATCH |= {Code.LEAST_ERROR, Code.MARK_MET}
#: What pairs alone say of cameras and light: nothing once they are not believed.
_OF_THE_PAIRS = {Code.WHITE_BALANCE, Code.STRANGE_MIX, Code.CONTRAST}
_OF_THE_PAIRS |= {Code.VIGNETTING, Code.COLOUR_SHADING, Code.SECOND_EXPOSURE, Code.UNEVEN_FLARE, Code.BANDING}


@dataclass(frozen=True, kw_only=True, eq=False)
class Evidence:
    """All that is known of an angle when its verdict is given."""

    pairs: PairedColours
    #: What the pairs ask for, and how it does on samples that it did not use; or why they ask for nothing.
    proven: Proven | NoFit
    #: That flare from one side leaves the angle's picture further off than as shot.
    lost: tuple[Reason, ...] = ()
    #: Share of the angle's picture whose colours no pair covers.
    uncovered: float = 0.0
    #: Doubts about the encoding, and about a picture made for a display.
    encoding: tuple[Reason, ...] = ()
    rendered: tuple[Reason, ...] = ()
    #: What no match can mend (`doubts_of_pictures`): clipped highlights, shading, bands, coloured lamps.
    limits: tuple[Reason, ...] = ()
    #: What earlier setups of the day lent to the fit.
    lent: Carried | None = None
    #: That what earlier setups of the day would have lent does not hold here.
    refused: tuple[Reason, ...] = ()
    #: The angle that this one is matched through.
    through: AngleResult | None = None
    #: Stops of exposure that the colours of the whole pictures allow, where pairs are too thin to be believed by
    #: themselves; None where these say nothing.
    whole: Interval | None = None
    #: ColourFit, NoFit or None. The match by colours alone, where somebody asked for one.
    guess: ColourFit | NoFit | None = None
    #: That no chart was found where one was to be looked for.
    chart: tuple[Reason, ...] = ()
    #: Which marked areas contradict the pictures or one another.
    marks: tuple[Reason, ...] = ()
    #: That one match does not hold over all moments of clips or stills, or at which nothing was followed.
    drift: tuple[Reason, ...] = ()


class Basis(Enum):
    """What a verdict rests on."""

    PAIRS = "the pairs and their proof"
    COLOURS = "the colours of the whole pictures"
    NOTHING = "nothing: the pairs are not believed, and prove nothing"


@dataclass(frozen=True, kw_only=True)
class Decision:
    """A verdict, its reasons, and what it rests on."""

    verdict: Verdict
    reasons: tuple[Reason, ...]
    basis: Basis = Basis.PAIRS
    #: That the match stands on little, and may be chance: the colours of the whole pictures are to be asked.
    thin: bool = False


def decide(known: Evidence, options: ValidateOptions) -> Decision:
    """Say whether an angle's match may be trusted, and why.

    Steps in the order in which they can overrule one another; it may be asked again as more becomes known.
    ``unsolved`` where there is no match or it does no good; ``review`` with every reason for doubt;
    ``matched`` with what speaks for it.
    """
    basis, proven, through = Basis.PAIRS, known.proven, known.through
    reasons: tuple[Reason, ...]

    # What the pairs ask for, and how it does on samples that it did not use.
    if through is not None and through.match is None:
        reasons = (Code.BROKEN_CHAIN.because(name=through.angle.name),)
    elif isinstance(proven, NoFit):
        reasons = (*proven.reasons, *known.encoding, *known.rendered)
    elif harm := _no_gain(proven) or known.lost:
        limits = (each for each in known.limits if each.code not in _OF_THE_MATCH)
        reasons = (*harm, *known.encoding, *known.rendered, *limits)
    else:
        reasons = (_agreement(proven), *doubts_of(proven, known.pairs, known.uncovered, options))
        reasons = (*reasons, *known.encoding, *known.rendered, *known.limits)
    if isinstance(proven, Proven) and _asked_for(reasons) is not Verdict.UNSOLVED:
        reasons = (*reasons, *proven.fit.notes)
    if known.lent is not None:
        reasons = (*reasons, _what_was_lent(known.lent))
    reasons = (*reasons, *known.refused)

    # A match that stands on little may be chance. An angle goes through another one where the hero shows little of
    # it, and is not asked for more.
    against = _codes_against(known, reasons, options)
    if through is None and (taken_back := _against_thin(known, against, options)):
        basis = Basis.NOTHING
        gone = _THIN | _OF_THE_MATCH | _OF_THE_PAIRS
        reasons = (*taken_back, *(each for each in reasons if each.code not in gone))

    # Without a match, a guess by colours alone if somebody asked for it; with one, the error of a chain.
    verdict = _asked_for(reasons)
    if verdict is Verdict.UNSOLVED and known.guess is not None:
        # What to do where nothing is shared offers the very guess that was asked for.
        reasons = tuple(replace(each, todo="") if each.code == Code.NOTHING_SHARED else each for each in reasons)
        if isinstance(known.guess, NoFit):
            reasons = (*reasons, *known.guess.reasons)
        else:
            basis = Basis.COLOURS
            reasons = (Code.BY_COLOURS.because(share=known.guess.found), *reasons)
    elif through is not None and through.match is not None:
        trusted, said = _chained(known, through, options)
        # What spoke for the last step does not speak for a chain that is not trusted.
        reasons = (said,) if verdict is Verdict.MATCHED and not trusted else (*reasons, said)

    # However well a match fits where it was made, it may not hold over the whole take.
    reasons = (*known.marks, *reasons, *known.chart, *known.drift)

    # A guess stands beside the reasons why there is no match by pairs.
    verdict = Verdict.REVIEW if basis is Basis.COLOURS else _asked_for(reasons)
    if verdict is not Verdict.MATCHED:
        # Beside a doubt, what speaks for the match would only confuse.
        reasons = tuple(each for each in reasons if each.code != Code.PROVEN)
    return Decision(verdict=verdict, reasons=reasons, basis=basis, thin=_is_thin(against))


def _asked_for(reasons: tuple[Reason, ...]) -> Verdict:
    """Return the gravest verdict that any of the reasons asks for; without one that speaks for it, no match.

    >>> _asked_for(())
    <Verdict.UNSOLVED: 'unsolved'>
    """
    effects = {_EFFECTS[each.code] for each in reasons}
    proven = Effect.PROOF in effects
    if Effect.UNSOLVED in effects:
        return Verdict.UNSOLVED
    if Effect.REVIEW in effects or (Effect.UNLESS_PROVEN in effects and not proven):
        return Verdict.REVIEW
    return Verdict.MATCHED if proven else Verdict.UNSOLVED


def decide_delivered(
    held_out: HeldOut | None,
    pairs: PairedColours,
    options: ValidateOptions,
    *,
    skin_error: float = np.inf,
    why_not: tuple[Reason, ...] = (),
) -> Decision:
    """Say whether a delivered LUT holds on other frames, of what their pairs show through it, or why nothing.

    ``skin_error`` is what its match was known to on skin when it was made.
    """
    if held_out is None:
        return Decision(verdict=Verdict.UNSOLVED, reasons=why_not or (Code.NO_LUT.because(),))
    before, after = held_out.before.mean, held_out.after
    doubts = doubts_delivered(held_out, pairs, skin_error, options)
    reasons = tuple(doubts) or (Code.HOLDS.because(count=after.n, after=after.mean, before=before),)
    return Decision(verdict=_asked_for(reasons), reasons=reasons)


def is_better(other: Evidence, own: Evidence, options: ValidateOptions) -> bool:
    """Say whether a match with what was lent (``other``) is to be preferred to one without (``own``).

    It must do at least as well on samples that neither used: then it rarely does worse on colours that the samples
    do not show, where it is the better one (docs/day.md has the figures).
    """
    alone, with_loan = decide(own, options).verdict, decide(other, options).verdict
    if with_loan is Verdict.UNSOLVED or alone is Verdict.MATCHED:
        return False
    if alone is Verdict.UNSOLVED or isinstance(own.proven, NoFit) or isinstance(other.proven, NoFit):
        return True
    return other.proven.held_out.after.mean <= own.proven.held_out.after.mean


def _codes(reasons: Iterable[Reason]) -> set[str]:
    return {reason.code for reason in reasons}


def _is_thin(codes: set[str]) -> bool:
    """Say whether a match stands on little; one by areas that somebody named is not doubted."""
    return bool(codes & _THIN) and Code.BY_HAND not in codes


def _codes_against(known: Evidence, reasons: tuple[Reason, ...], options: ValidateOptions) -> set[str]:
    """Return the codes of what speaks against a match: beside marked areas, against that of found pairs alone.

    Such areas say what a match is to be, and not whether there is one.
    """
    if isinstance(known.proven, NoFit) or known.proven.alone is None:
        return _codes(reasons)
    return _codes(doubts_of(known.proven.alone, known.pairs, known.uncovered, options))


def _against_thin(known: Evidence, codes: set[str], options: ValidateOptions) -> tuple[Reason, ...]:
    """Return why a thin match is taken back, if it is (docs/maths.md, section 11).

    Views far apart share so little that a few wrong pairs can agree among themselves, and prove themselves on
    their like. What all of the angle shows and all of the hero shows knows nothing of pairs: a second witness.
    """
    if isinstance(known.proven, NoFit) or not _is_thin(codes):
        return ()
    found = known.proven.alone or known.proven
    fitted, proof = found.fit, found.held_out
    if codes >= _THIN or codes >= {Code.FEW_SURFACES, Code.SECOND_EXPOSURE}:
        return (Code.TOO_THIN.because(),)
    # That two cameras were balanced for different lamps takes more than a few surfaces to believe.
    if codes >= {Code.FEW_SURFACES, Code.WHITE_BALANCE}:
        return (Code.TOO_THIN.because("balance"),)
    if codes >= {Code.DIVIDED, Code.LOOSE, Code.UNEVEN_FLARE}:
        return (Code.TOO_THIN.because("flare"),)
    # A loose match may be further off than the camera as shot is; not one that changes nothing, or that is sure to
    # take away a good part of what was there.
    may_be_off = max(fitted.uncertainty.skin_error, fitted.uncertainty.neutral_error)
    unsure = not fitted.match.is_identity and proof.least_gain < options.sure_gain * proof.before.mean
    if Code.LOOSE in codes and unsure and may_be_off > proof.before.mean:
        error, shot = above(may_be_off, proof.before.mean)
        return (Code.TOO_THIN.because("may harm", error=error, shot=shot),)
    # Exposure only: balance from colours alone is not sure enough to speak against pairs.
    stops, allowed = fitted.match.exposure_stops, known.whole
    if allowed is None or allowed.low <= stops <= allowed.high:
        return ()
    low, high, said = (f"{value:+.2f}" for value in (allowed.low, allowed.high, stops))
    if said in {low, high}:
        said = f"just {'under' if stops < allowed.low else 'over'} {said}"
    return (Code.RULED_OUT.because(stops=said, low=low, high=high),)


def _no_gain(proven: Proven) -> tuple[Reason, ...]:
    fitted, held_out = proven.fit, proven.held_out
    before, after = held_out.before.mean, held_out.after.mean
    # Left out one at a time, a few areas prove little either way; somebody looked when they were marked.
    by_hand = Code.BY_HAND in _codes(fitted.doubts)
    if fitted.match.is_identity or by_hand or (after <= before and held_out.least_gain >= 0):
        return ()
    # Who leaves a camera as shot loses no more than was there; who matches it on a chance may lose that besides.
    return (Code.NO_GAIN.because("" if after > before else "unsure", after=after, before=before),)


def _agreement(proven: Proven) -> Reason:
    case, after = "as shot" if proven.fit.match.is_identity else "", proven.held_out.after
    return Code.PROVEN.because(case, count=after.n, after=after.mean)


def _what_was_lent(carried: Carried) -> Reason:
    """Say what leans on which earlier setups: of a white balance that was changed since, on fewer than the mix."""
    mix, balance = len(carried.mix), len(carried.balance)
    if not balance:
        kinds = "the channel mix leans"
    elif balance == mix:
        kinds = "white balance and channel mix lean"
    else:
        kinds = f"white balance leans on the last {balance} and the channel mix"
    return Code.CARRIED.because(kinds=kinds, setups=counted(mix, "earlier setup"), names=carried.named)


def _chained(known: Evidence, through: AngleResult, options: ValidateOptions) -> tuple[bool, Reason]:
    """Say whether a match through another angle is to be trusted, and how its errors add up."""
    name, before = through.angle.name, through.held_out
    if isinstance(known.proven, NoFit) or before is None or through.uncertainty is None:
        return False, Code.CHAINED.because("unproven", name=name)
    own = known.proven.held_out.upper
    both = added_errors(own, before.upper)
    trusted = both <= options.matched_mean and through.verdict is Verdict.MATCHED
    return trusted, Code.CHAINED.because(name=name, own=own, before=before.upper, both=both)
