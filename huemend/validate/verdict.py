"""From the proof to a verdict, with reasons in a colorist's words."""

from __future__ import annotations

import numpy as np

from huemend.model import Fit, HeldOut, PairedColours, Reason, Uncertainty, Verdict
from huemend.options import ValidateOptions

__all__ = ["judge", "with_doubts"]

_LOOK = "compare it with the hero on a calibrated display"


def judge(
    pairs: PairedColours, fitted: Fit, held_out: HeldOut, options: ValidateOptions, *, uncovered: float = 0.0
) -> tuple[Verdict, tuple[Reason, ...]]:
    """Say whether a match may be trusted.

    Parameters
    ----------
    uncovered : float
        Share of the angle's picture whose colours no pair covers.

    Returns
    -------
    Verdict, tuple of Reason
        `Verdict.UNSOLVED` where the match does no good on samples that it did not use; `Verdict.REVIEW` with
        every reason for doubt; `Verdict.MATCHED` with what speaks for it.
    """
    before, after = held_out.before.mean, held_out.after.mean
    # Left out one at a time, a few areas prove little either way; somebody looked when they were marked.
    by_hand = any(doubt.code == "by-hand" for doubt in fitted.doubts)
    if not fitted.match.is_identity and after > before - options.unchanged_gain and not by_hand:
        return Verdict.UNSOLVED, (
            Reason(
                code="no-gain",
                text=f"the best match does no better than the camera as shot ({after:.1f} against {before:.1f}) "
                "on samples that it did not use",
                todo="leave this angle as it is, or name pairs of areas by hand",
            ),
        )
    doubts = _doubts(pairs, fitted, held_out, options, uncovered)
    if doubts:
        return Verdict.REVIEW, tuple(doubts)
    text = f"{held_out.after.n} colours that the match did not use agree to {after:.1f} CIEDE2000"
    if fitted.match.is_identity:
        text = f"the camera as shot already agrees with the hero to {after:.1f} CIEDE2000"
    return Verdict.MATCHED, (Reason(code="proven", text=text, todo=_LOOK),)


def with_doubts(
    verdict: Verdict, reasons: tuple[Reason, ...], doubts: tuple[Reason, ...]
) -> tuple[Verdict, tuple[Reason, ...]]:
    """Add what was found against an angle beside the proof; a trusted match becomes one to look at."""
    if not doubts:
        return verdict, reasons
    if verdict is Verdict.MATCHED:
        return Verdict.REVIEW, doubts
    return verdict, (*reasons, *doubts)


def _doubts(
    pairs: PairedColours, fitted: Fit, held_out: HeldOut, options: ValidateOptions, uncovered: float
) -> list[Reason]:
    doubts = list(fitted.doubts)
    after = held_out.after
    if after.n < options.fewest_surfaces and all(doubt.code != "by-hand" for doubt in doubts):
        doubts.append(
            Reason(
                code="few-surfaces",
                text=f"the match rests on only {after.n} colours that both views show",
                todo=f"{_LOOK}, or add a moment where they share more",
            )
        )
    worst = max(after.mean, held_out.upper)
    if worst > options.matched_mean:
        doubts.append(
            Reason(
                code="loose",
                text=f"colours that the match did not use still differ by {after.mean:.1f} CIEDE2000 "
                f"(up to {held_out.upper:.1f}), more than the {options.matched_mean:.1f} that we let pass "
                "(a judgement)",
                todo=_LOOK,
            )
        )
    for label, (_, area) in held_out.areas.items():
        if area.mean > options.matched_area:
            doubts.append(
                Reason(
                    code="area",
                    text=f"{label} still differs by {area.mean:.1f} CIEDE2000 after the match, more than the "
                    f"{options.matched_area:.1f} that we let pass on an area (a judgement)",
                    todo=f"look at {label} first when you compare it on a calibrated display",
                )
            )
    agreeing = float(np.average(fitted.used, weights=pairs.weight))
    if agreeing < options.least_agreeing:
        doubts.append(
            Reason(
                code="divided",
                text=f"only {agreeing:.0%} of what the two views seem to share agrees with the match",
                todo=f"{_LOOK}; look for coloured light that reaches one view only",
            )
        )
    if uncovered > options.most_uncovered:
        doubts.append(
            Reason(
                code="uncovered",
                text=f"{uncovered:.0%} of this angle shows colours that it does not share with the hero "
                "(coloured light, or surfaces that only it sees); there the match is a guess",
                todo=f"{_LOOK}; begin with what only this angle shows",
            )
        )
    doubts += _uncertain(fitted.uncertainty, options)
    return doubts


def _uncertain(uncertainty: Uncertainty, options: ValidateOptions) -> list[Reason]:
    kinds = (
        ("skin", uncertainty.skin_error, options.matched_area),
        ("neutrals", uncertainty.neutral_error, options.matched_neutral),
        ("saturated colours", uncertainty.saturated_error, 2 * options.matched_area),
    )
    unsure = [f"{name} by {error:.1f}" for name, error, limit in kinds if error > limit]
    if not unsure:
        return []
    return [
        Reason(
            code="uncertain",
            text=f"what the views share leaves room for error: {', '.join(unsure)} CIEDE2000",
            todo=f"{_LOOK}, or name pairs of areas that show those colours",
        )
    ]
