"""Thin matches, held against the colours of the whole pictures (docs/maths.md, section 11).

Views far apart share so little that a few wrong pairs can agree among themselves, and prove themselves on their
like. What all of the angle shows and all of the hero shows knows nothing of pairs: a second witness.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from huemend.model import AngleResult, Interval, NoFit, Reason, Verdict
from huemend.model.regions import Regions
from huemend.options import ColourOptions, SolveOptions
from huemend.solve.colours import fit_colours, without_proof

__all__ = ["is_thin", "unless_ruled_out"]

#: What is said of a match whose pairs themselves are in doubt, and not only how well they agree.
_THIN = {"few-surfaces", "divided", "uncertain"}
#: What is said of a match and of nothing else: once it is taken back, nobody wants to know.
_OF_THE_MATCH = {"loose", "area", "uncovered", "saturated-light"}

_TODO = "choose another moment where both see the same things, or name pairs of areas by hand"


def is_thin(result: AngleResult) -> bool:
    """Say whether a match stands on little; one by areas that somebody named is not doubted."""
    codes = {reason.code for reason in result.reasons}
    return result.match is not None and bool(codes & _THIN) and "by-hand" not in codes


def unless_ruled_out(
    result: AngleResult, shown: Callable[[], tuple[Regions, Regions]], options: ColourOptions, solve: SolveOptions
) -> AngleResult:
    """Take a thin match back if its pairs could be chance, or the whole pictures' colours rule its exposure out.

    Parameters
    ----------
    result : AngleResult
    shown : callable
        Returns the regions of the hero and of the angle, scene-linear ACEScg; not called unless they are asked.
    options : ColourOptions
    solve : SolveOptions
        For how wide the intervals are.

    Returns
    -------
    AngleResult
        As it was, or ``unsolved`` with the match as its candidate. Pictures of too few colours rule nothing out.
    """
    match = result.match
    if match is None or not is_thin(result):
        return result
    if {reason.code for reason in result.reasons} >= _THIN or _worth_nothing(result):
        text = "what seems to be shared is little, at odds with itself, and leaves room for error"
        return _taken_back(result, Reason(code="too-thin", text=text, todo=_TODO))
    # Where the views share little, the hero may well show less of the angle's colours than a guess would ask for.
    found = fit_colours(*shown(), replace(options, way=1.0, least_found=0.0), solve)
    if isinstance(found, NoFit):
        return result
    # Exposure only: balance from colours alone is not sure enough to speak against pairs.
    stops, allowed = match.exposure_stops, _allowed(result, found.uncertainty.exposure_stops, options)
    if allowed.low <= stops <= allowed.high:
        return result
    text = (
        f"the surfaces that seem to be shared ask for {stops:+.2f} stop, and the colours of the whole pictures "
        f"allow only {allowed.low:+.2f} to {allowed.high:+.2f}"
    )
    todo = f"make sure that both look at one set; {_TODO}"
    return _taken_back(result, Reason(code="ruled-out", text=text, todo=todo))


def _worth_nothing(result: AngleResult) -> bool:
    """Say whether a loose match may be further off than the camera as shot is."""
    sure, proof = result.uncertainty, result.held_out
    if sure is None or proof is None or "loose" not in {reason.code for reason in result.reasons}:
        return False
    return min(sure.skin_error, sure.neutral_error) > proof.before.mean


def _allowed(result: AngleResult, said: Interval, options: ColourOptions) -> Interval:
    """Widen what colours say of exposure by the places that agree with the match.

    A few wrong pairs agree by chance, hundreds of places do not; the colours of two pictures are no such thing as
    sure either, where one of them clips, or shows another person.
    """
    places = len(np.unique(result.pairs.group[result.used & result.pairs.says_light]))
    middle, half = (said.low + said.high) / 2, (said.high - said.low) / 2
    half *= 1 + places / options.thin_places
    return Interval(low=middle - half, high=middle + half)


def _taken_back(result: AngleResult, why: Reason) -> AngleResult:
    kept = (reason for reason in result.reasons if reason.code not in _THIN | _OF_THE_MATCH)
    return replace(
        without_proof(result),
        verdict=Verdict.UNSOLVED,
        reasons=(why, *kept),
        match=None,
        candidate=result.match,
    )
