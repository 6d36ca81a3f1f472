"""Whether the pairs can pin a match at all."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from huemend.base.arrays import Float
from huemend.base.text import counted
from huemend.model import PairedColours, Reason, Rung
from huemend.model.reasons import Code
from huemend.options import SolveOptions
from huemend.solve.parameters import MATRIX
from huemend.solve.prior import CAMERA_PAIR
from huemend.solve.robust import Estimate

#: What a match must add in red and blue over green, in stops, for each mired by which an angle's white balance was
#: set for warmer light than the hero's: the CIE's daylight locus and the blackbody below 4000 K, in ACEScg.
_STOPS_PER_MIRED = (0.0035, -0.0071)


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
        return (Code.NOTHING_SHARED.because("by hand", areas=counted(named, "area"), are=are, fewest=fewest),)
    places = counted(groups, "place")
    if groups >= options.fewest_groups:
        # Cut off, not rounded: what is too little must not print as enough.
        worth = np.floor(10 * worth) / 10
        return (
            Code.NOTHING_SHARED.because("unsure", places=places, worth=worth, fewest=options.fewest_effective),
        )
    return (Code.NOTHING_SHARED.because("little", places=places),)


def by_hand_alone(pairs: PairedColours, options: SolveOptions) -> tuple[Reason, ...]:
    """Return that a match rests on areas named by hand, where what was found without help would not carry it."""
    named = len(np.unique(pairs.group[pairs.says_light & pairs.by_hand]))
    if not named or not too_little(pairs.take(~pairs.by_hand), options):
        return ()
    return (Code.BY_HAND.because(areas=counted(named, "area")),)


def against(fitted: Estimate, weight: Float, distance: float, options: SolveOptions) -> tuple[Reason, ...]:
    """Return the reasons not to believe even an exposure and a balance, whose ``distance`` is `beyond_presets`."""
    reasons = []
    agreeing = float(np.average(fitted.agree > 0.5, weights=weight))
    if agreeing < options.least_agreeing:
        reasons.append(Code.CONTRADICTORY.because(share=agreeing))
    if distance > options.implausible_balance:
        reasons.append(Code.IMPLAUSIBLE.because())
    return tuple(reasons)


def beyond_presets(fitted: Estimate, options: SolveOptions) -> tuple[float, float]:
    """Return an estimate's squared distance from the prior, and the mired by which a preset is believed to be off.

    One of two cameras that was left on another lamp's white balance is the mistake of every day, and moves balance
    along the daylight locus alone. It is taken off first where the balance is further out than cameras that were
    set alike ever are; elsewhere it is 0.
    """
    theta = fitted.theta[MATRIX]
    balance = np.zeros_like(theta)
    balance[1:3] = theta[1:3]
    if float(CAMERA_PAIR.distance(balance)) <= options.implausible_balance:
        return float(CAMERA_PAIR.distance(theta)), 0.0
    along = np.zeros_like(theta)
    along[1:3] = _STOPS_PER_MIRED
    one = CAMERA_PAIR.whiten(along)[1:]
    mired = float(CAMERA_PAIR.whiten(balance)[1:] @ one / (one @ one))
    mired = float(np.clip(mired, -options.preset_mired, options.preset_mired))
    return float(CAMERA_PAIR.distance(theta - mired * along)), mired


def preset_doubt(mired: float) -> tuple[Reason, ...]:
    """Return the doubt that one of the two cameras was balanced for another lamp."""
    return (Code.WHITE_BALANCE.because("bluer" if mired > 0 else "redder", mired=abs(mired)),) if mired else ()


def is_strange(fitted: Estimate, options: SolveOptions) -> bool:
    """Say whether no two cameras under one light have such a channel mix between them."""
    return beyond_presets(fitted, options)[0] > options.implausible_mix


def strange_mix(strange: Collection[Rung], taken: Rung) -> tuple[Reason, ...]:
    """Return the reason to look at a match whose channel mix is strange, as of some rungs, or would have been."""
    if taken in strange:
        return (Code.STRANGE_MIX.because(),)
    if Rung.MATRIX in strange and not taken.mixes:
        matched = {Rung.NONE: "nothing was", Rung.EXPOSURE: "only exposure was"}
        kept = matched.get(taken, "only exposure and balance were")
        return (Code.STRANGE_MIX.because("not taken", matched=kept),)
    return ()
