"""Whether the pairs can pin a match at all."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.model import PairedColours, Reason, Rung
from huemend.options import SolveOptions
from huemend.solve.prior import CameraPairPrior
from huemend.solve.robust import Estimate

__all__ = ["against", "by_hand_alone", "is_strange", "strange_mix", "too_little"]


def too_little(pairs: PairedColours, options: SolveOptions) -> tuple[Reason, ...]:
    """Return the reason if there are too few pairs to say anything, else nothing."""
    groups = len(np.unique(pairs.group[pairs.says_light]))
    if groups >= options.fewest_groups and pairs.weight.sum() >= options.fewest_effective:
        return ()
    named = len(np.unique(pairs.group[pairs.says_light & pairs.by_hand]))
    if named >= options.fewest_named:
        return ()
    if not len(pairs):
        text = "no surface was found that this angle and the hero both show"
    elif named == groups and named:
        return (
            Reason(
                code="nothing-shared",
                text=f"{_areas(named)} named by hand {'is' if named == 1 else 'are'} too few to pin a match",
                todo=f"name {options.fewest_named} or more, of different colours",
            ),
        )
    else:
        text = f"this angle and the hero share only {groups} place{'s' * (groups != 1)}, too few to pin a match"
    return (
        Reason(
            code="nothing-shared",
            text=text,
            todo="choose another moment where both see the same things, name a pair of areas by hand, or ask for "
            "a guess by colours alone (--by-colours)",
        ),
    )


def by_hand_alone(pairs: PairedColours, options: SolveOptions) -> tuple[Reason, ...]:
    """Return that a match rests on areas named by hand, where what was found without help would not carry it."""
    telling = pairs.says_light
    named = np.unique(pairs.group[telling & pairs.by_hand])
    found = np.unique(pairs.group[telling & ~pairs.by_hand])
    if not len(named) or len(found) >= options.fewest_groups:
        return ()
    return (
        Reason(
            code="by-hand",
            text=f"the match rests on {_areas(len(named))} named by hand",
            todo="compare it with the hero on a calibrated display; every further area of another colour helps",
        ),
    )


def _areas(count: int) -> str:
    return f"{count} area{'s' * (count != 1)}"


def against(
    fitted: Estimate, weight: NDArray[np.floating[Any]], prior: CameraPairPrior, options: SolveOptions
) -> tuple[Reason, ...]:
    """Return the reasons not to believe even an exposure and a balance."""
    reasons = []
    agreeing = float(np.average(fitted.agree > 0.5, weights=weight))
    if agreeing < options.least_agreeing:
        reasons.append(
            Reason(
                code="contradictory",
                text=f"only {agreeing:.0%} of what the two views seem to share agrees on one match",
                todo="check that hero and angle show the same moment and the same set",
            )
        )
    if float(prior.distance(fitted.theta[:9])) > options.implausible_balance:
        reasons.append(
            Reason(
                code="implausible",
                text="the match would need a balance that no two cameras under one light have between them",
                todo="check the encoding, the range and the white balance of this angle and of the hero",
            )
        )
    return tuple(reasons)


def is_strange(fitted: Estimate, prior: CameraPairPrior, options: SolveOptions) -> bool:
    """Say whether no two cameras under one light have such a channel mix between them."""
    return float(prior.distance(fitted.theta[:9])) > options.implausible_mix


def strange_mix(strange: Collection[Rung], taken: Rung) -> tuple[Reason, ...]:
    """Return the reason to look at a match whose channel mix is strange, or would have been.

    Parameters
    ----------
    strange : collection of Rung
        Those with such a mix.
    taken : Rung
    """
    if taken in strange:
        text = "the shared surfaces ask for a channel mix that no two cameras have between them, and prove it"
    elif Rung.MATRIX in strange and taken in (Rung.NONE, Rung.EXPOSURE, Rung.BALANCE):
        text = (
            "the shared surfaces ask for a channel mix that no two cameras have between them, and hardly prove it,"
            " so that only exposure and balance were matched"
        )
    else:
        return ()
    todo = "check the encoding and the range, and whether one camera recorded with a look"
    return (Reason(code="strange-mix", text=text, todo=todo),)
