"""Thin matches, held against the colours of the whole pictures (docs/maths.md, section 11).

Views far apart share so little that a few wrong pairs can agree among themselves, and prove themselves on their
like. What all of the angle shows and all of the hero shows knows nothing of pairs: a second witness.
"""

from __future__ import annotations

from dataclasses import replace

from huemend.model import AngleResult, NoFit, Reason, Verdict
from huemend.model_regions import Regions
from huemend.options import ColourOptions, SolveOptions
from huemend.solve.colours import fit_colours

__all__ = ["is_thin", "unless_ruled_out"]

#: What is said of a match whose pairs themselves are in doubt, and not only how well they agree.
_THIN = {"few-surfaces", "divided", "uncertain"}


def is_thin(result: AngleResult) -> bool:
    """Say whether a match stands on little; one by areas that somebody named is not doubted."""
    codes = {reason.code for reason in result.reasons}
    return result.match is not None and bool(codes & _THIN) and "by-hand" not in codes


def unless_ruled_out(
    result: AngleResult, hero: Regions, angle: Regions, options: ColourOptions, solve: SolveOptions
) -> AngleResult:
    """Take a thin match back where the colours of the whole pictures rule its exposure out.

    Parameters
    ----------
    result : AngleResult
        Thin (see `is_thin`).
    hero, angle : Regions
        Scene-linear ACEScg.
    options : ColourOptions
    solve : SolveOptions
        For how wide the intervals are.

    Returns
    -------
    AngleResult
        As it was, or ``unsolved`` with the match as its candidate. Pictures of too few colours rule nothing out.
    """
    match = result.match
    if match is None:
        return result
    # Where the views share little, the hero may well show less of the angle's colours than a guess would ask for.
    found = fit_colours(hero, angle, replace(options, way=1.0, least_found=0.0), solve)
    if isinstance(found, NoFit):
        return result
    # Exposure only: balance from colours alone is not sure enough to speak against pairs.
    stops, allowed = match.exposure_stops, found.uncertainty.exposure_stops
    if allowed.low <= stops <= allowed.high:
        return result
    reason = Reason(
        code="ruled-out",
        text=f"the surfaces that seem to be shared ask for {stops:+.2f} stop, and the colours of the whole "
        f"pictures allow only {allowed.low:+.2f} to {allowed.high:+.2f}",
        todo="make sure that both look at one set, choose another moment where they share more, or name pairs of "
        "areas by hand",
    )
    return replace(
        result,
        verdict=Verdict.UNSOLVED,
        reasons=(reason, *result.reasons),
        match=None,
        candidate=match,
        # What may be wrong teaches nothing of the cameras.
        learnt=None,
        carried=None,
    )
