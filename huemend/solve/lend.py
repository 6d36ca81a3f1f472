"""What is learnt of two cameras in one setup, lent to the next (docs/day.md).

The nine parameters between two cameras scatter from setup to setup of a day, because the light changes what two
sensors make of the same surfaces. Over setups they are taken to be drawn about a mean of those two cameras, which
earlier setups narrow down: a random-effects model (Laird & Ware 1982), filtered in the order of the day, so that a
white balance or a lens that was changed is noticed where it happens.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from huemend.base.arrays import Float, Float64
from huemend.model import Fit, NoFit, PairedColours, Rung
from huemend.model.learnt import Carried, Learnt
from huemend.options import CarryOptions, SolveOptions
from huemend.solve.fit import fit
from huemend.solve.prior import CAMERA_PAIR
from huemend.solve.residuals import Samples
from huemend.solve.robust import estimate

#: A loan is of a 3x3. So few pairs choose no simpler rung in its place, and tell neither flare nor a contrast from
#: chance.
_LENT = (Rung.NONE, Rung.MATRIX)
_COLOUR = slice(1, 9)
_BALANCE, _MIX = slice(0, 2), slice(2, 8)


def pool(earlier: Sequence[tuple[str, Learnt]], options: CarryOptions | None = None) -> Carried | None:
    """Return what earlier setups of two cameras, in the order of the day, lend to the next one, if anything."""
    options = options or CarryOptions()
    general = np.asarray(CAMERA_PAIR.covariance, float)[_COLOUR, _COLOUR]
    scatter = np.diag(np.square(options.scatter))
    mean: Float = np.zeros(8)
    covariance: Float = general.copy()
    balance: list[str] = []
    mix: list[str] = []
    for name, learnt in earlier:
        changed_balance, changed_mix = _changes(learnt, mean, covariance + scatter, options)
        if changed_mix:
            mean, covariance = np.zeros(8), general.copy()
            balance, mix = [], []
        elif changed_balance:
            mean, covariance = _forget_balance(mean, covariance, general)
            balance = []
        information, pull = _own_information(learnt)
        # A setup tells of the mean only through its own draw about it.
        kept = np.eye(8) - information @ np.linalg.inv(information + np.linalg.inv(scatter))
        before = np.linalg.inv(covariance)
        covariance = _symmetric(np.linalg.inv(before + kept @ information))
        mean = covariance @ (before @ mean + kept @ pull)
        balance.append(name)
        mix.append(name)
    if not mix:
        return None
    return _carried(mean, covariance + scatter, tuple(balance), tuple(mix))


def still_true(
    pairs: PairedColours, carried: Carried, options: SolveOptions, carry: CarryOptions
) -> Carried | None:
    """Return what of the loan this setup's own pairs do not speak against; None where they speak against all.

    A loan is for angles whose pairs are thin: they are asked, however little they say. What is lent
    comes only from those that pin a match.
    """
    if not len(pairs):
        return carried
    samples = Samples.of(pairs, options)
    own = estimate(samples, Rung.MATRIX, CAMERA_PAIR, options)
    mean, covariance = carried.mean[_COLOUR], carried.covariance[_COLOUR, _COLOUR]
    changed_balance, changed_mix = _changes(own.learnt, mean, covariance, carry)
    if changed_mix:
        return None
    if not changed_balance:
        return carried
    general = np.asarray(CAMERA_PAIR.covariance, float)[_COLOUR, _COLOUR]
    return _carried(*_forget_balance(mean, covariance, general), (), carried.mix)


def fit_carried(
    pairs: PairedColours,
    lent: Carried,
    options: SolveOptions,
    carry: CarryOptions,
    *,
    view_stops: float,
) -> Fit | NoFit:
    """Fit a match with what earlier setups lend, as far as it is `still_true`; fewer pairs suffice for it."""
    relaxed = replace(options, fewest_groups=carry.fewest_groups, fewest_effective=carry.fewest_effective)
    prior = replace(CAMERA_PAIR, mean=lent.mean, covariance=lent.covariance)
    return fit(pairs, relaxed, prior=prior, ladder=_LENT, view_stops=view_stops)


def _changes(learnt: Learnt, mean: Float, covariance: Float, options: CarryOptions) -> tuple[bool, bool]:
    """Say whether white balance, and whether the channel mix, differ by more than chance and scatter explain."""
    off = learnt.theta[_COLOUR] - mean
    spread = learnt.covariance[_COLOUR, _COLOUR] + covariance
    distance = [float(off[part] @ np.linalg.solve(spread[part, part], off[part])) for part in (_BALANCE, _MIX)]
    return distance[0] > options.balance_change, distance[1] > options.mix_change


def _forget_balance(mean: Float, covariance: Float, general: Float) -> tuple[Float, Float]:
    mean, covariance = mean.copy(), covariance.copy()
    mean[_BALANCE] = 0.0
    covariance[_BALANCE, :] = covariance[:, _BALANCE] = 0.0
    covariance[_BALANCE, _BALANCE] = general[_BALANCE, _BALANCE]
    return mean, covariance


def _own_information(learnt: Learnt) -> tuple[Float, Float]:
    """Take the general prior out of an estimate: what is left is what the footage itself said.

    Of the colour parameters, exposure averaged over: (8, 8) information, and (8,) information times estimate.
    """
    precision = np.linalg.inv(learnt.covariance)
    whole = precision - np.linalg.inv(np.asarray(CAMERA_PAIR.covariance, float))
    values, vectors = np.linalg.eigh(_symmetric(whole))
    # An estimate may come out less certain than the prior alone in a direction; it then said nothing there.
    whole = (vectors * np.maximum(values, 0.0)) @ vectors.T
    pull = whole @ learnt.theta
    exposure = max(float(whole[0, 0]), 1e-9)
    across = whole[_COLOUR, 0]
    information = whole[_COLOUR, _COLOUR] - np.outer(across, across) / exposure
    return _symmetric(information), pull[_COLOUR] - across * pull[0] / exposure


def _carried(mean: Float, covariance: Float, balance: tuple[str, ...], mix: tuple[str, ...]) -> Carried:
    whole = np.array(CAMERA_PAIR.covariance, float)
    whole[_COLOUR, _COLOUR] = covariance
    return Carried(mean=np.concatenate([[0.0], mean]), covariance=whole, balance=balance, mix=mix)


def _symmetric(matrix: Float) -> Float64:
    return np.asarray((matrix + matrix.T) / 2, np.float64)
