"""Whether the pairs can pin a match at all."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.model import PairedColours, Reason, Rung
from huemend.model.reasons import Code
from huemend.options import SolveOptions
from huemend.solve.prior import CameraPairPrior
from huemend.solve.residuals import MATRIX
from huemend.solve.robust import Estimate


def too_little(pairs: PairedColours, options: SolveOptions) -> tuple[Reason, ...]:
    """Return the reason if there are too few pairs to say anything, else nothing."""
    groups = len(np.unique(pairs.group[pairs.says_light]))
    worth = float(pairs.weight.sum())
    if groups >= options.fewest_groups and worth >= options.fewest_effective:
        return ()
    named = len(np.unique(pairs.group[pairs.says_light & pairs.by_hand]))
    if named >= options.fewest_named:
        return ()
    if not len(pairs):
        return (Code.NOTHING_SHARED.because("nothing"),)
    if named == groups and named:
        are, fewest = "is" if named == 1 else "are", options.fewest_named
        return (Code.NOTHING_SHARED.because("by hand", areas=_areas(named), are=are, fewest=fewest),)
    places = f"{groups} place{'s' * (groups != 1)}"
    if groups >= options.fewest_groups:
        # Cut off, not rounded: what is too little must not print as enough.
        worth = np.floor(10 * worth) / 10
        return (
            Code.NOTHING_SHARED.because("unsure", places=places, worth=worth, fewest=options.fewest_effective),
        )
    return (Code.NOTHING_SHARED.because("little", places=places),)


def by_hand_alone(pairs: PairedColours, options: SolveOptions) -> tuple[Reason, ...]:
    """Return that a match rests on areas named by hand, where what was found without help would not carry it."""
    named = np.unique(pairs.group[pairs.says_light & pairs.by_hand])
    if not len(named) or pairs.places_found >= options.fewest_groups:
        return ()
    return (Code.BY_HAND.because(areas=_areas(len(named))),)


def _areas(count: int) -> str:
    return f"{count} area{'s' * (count != 1)}"


def against(
    fitted: Estimate, weight: NDArray[np.floating[Any]], prior: CameraPairPrior, options: SolveOptions
) -> tuple[Reason, ...]:
    """Return the reasons not to believe even an exposure and a balance."""
    reasons = []
    agreeing = float(np.average(fitted.agree > 0.5, weights=weight))
    if agreeing < options.least_agreeing:
        reasons.append(Code.CONTRADICTORY.because(share=agreeing))
    if float(prior.distance(fitted.theta[MATRIX])) > options.implausible_balance:
        reasons.append(Code.IMPLAUSIBLE.because())
    return tuple(reasons)


def is_strange(fitted: Estimate, prior: CameraPairPrior, options: SolveOptions) -> bool:
    """Say whether no two cameras under one light have such a channel mix between them."""
    return float(prior.distance(fitted.theta[MATRIX])) > options.implausible_mix


def strange_mix(strange: Collection[Rung], taken: Rung) -> tuple[Reason, ...]:
    """Return the reason to look at a match whose channel mix is strange, or would have been.

    Parameters
    ----------
    strange : collection of Rung
        Those with such a mix.
    """
    if taken in strange:
        return (Code.STRANGE_MIX.because(),)
    if Rung.MATRIX in strange and taken in (Rung.NONE, Rung.EXPOSURE, Rung.BALANCE):
        matched = {Rung.NONE: "nothing was", Rung.EXPOSURE: "only exposure was"}
        kept = matched.get(taken, "only exposure and balance were")
        return (Code.STRANGE_MIX.because("not taken", matched=kept),)
    return ()
