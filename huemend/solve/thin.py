"""Thin matches, held against the colours of the whole pictures (docs/maths.md, section 11).

Views far apart share so little that a few wrong pairs can agree among themselves, and prove themselves on their
like. What all of the angle shows and all of the hero shows knows nothing of pairs: a second witness.
"""

from __future__ import annotations

from dataclasses import replace

from huemend.model import AngleResult, Interval, NoFit, Reason, Verdict
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
    """Take a thin match back where the colours of the whole pictures rule it out.

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
    found = fit_colours(hero, angle, replace(options, way=1.0), solve)
    if isinstance(found, NoFit):
        if all(reason.code != "colours-apart" for reason in found.reasons):
            return result
        against = found.reasons[0].text.partition(": ")[2]
    else:
        told, (red, blue) = found.uncertainty, match.balance
        apart = (
            _outside(match.exposure_stops, told.exposure_stops, "of exposure"),
            _outside(red, told.red_green_stops, "of red against green"),
            _outside(blue, told.blue_green_stops, "of blue against green"),
        )
        against = "; ".join(filter(None, apart))
    if not against:
        return result
    reason = Reason(
        code="ruled-out",
        text=f"few surfaces agree on this match, and the colours of the whole pictures rule it out: {against}",
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


def _outside(value: float, interval: Interval, what: str) -> str:
    if interval.low <= value <= interval.high:
        return ""
    return f"it takes {value:+.2f} stop {what}, they allow {interval.low:+.2f} to {interval.high:+.2f}"
