"""Which pairs are held out together, and from which others they are held out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.cluster.vq import kmeans2

from huemend.base.arrays import Bool, Int64, numbered
from huemend.model import PairedColours
from huemend.options import SolveOptions


@dataclass(frozen=True, kw_only=True, eq=False)
class Folds:
    """How pairs are held out."""

    #: (n,) int64. The fold that each pair is judged in, 0 .. folds - 1; -1 for those that prove nothing.
    judged: Int64
    #: (folds, n) bool. The pairs that the fit of each fold does not see.
    hidden: Bool

    def take(self, which: NDArray[Any]) -> Folds:
        """Return how some of the pairs are held out."""
        return Folds(judged=self.judged[which], hidden=self.hidden[:, which])


def deal_out(pairs: PairedColours, options: SolveOptions) -> Folds:
    """Deal pairs out to folds by regions of the reference picture and, where there are several, by moments.

    A fold is judged by a match that saw neither its region nor, of places that were seen early and late, the
    half of the moments that it is judged at: odd folds are judged late, even ones early.
    """
    region, late = spatial_folds(pairs, options), _is_late(pairs)
    number = np.arange(options.folds)[:, None]
    hidden = (region == number) | (late == number % 2)
    judged = np.where((late < 0) | (late == region % 2), region, -1)
    return Folds(judged=judged, hidden=hidden)


def _is_late(pairs: PairedColours) -> Int64:
    """Return 1 for pairs of the later half of the moments, 0 for those of the earlier, (n,).

    It is -1 where a place was seen in one half only: there is nothing to hold against it.
    """
    moments = np.unique(pairs.moment)
    late = (pairs.moment >= moments[len(moments) // 2]).astype(np.int64)
    place = numbered(pairs.group)
    count = np.maximum(np.bincount(place), 1)
    both = (np.bincount(place, late) / count)[place] % 1 > 0
    return np.where(both & ~pairs.by_hand, late, -1)


def spatial_folds(pairs: PairedColours, options: SolveOptions) -> Int64:
    """Deal pairs out to folds by regions of the reference picture: (n,), from 0 on.

    Neighbouring patches share surface, light and errors of place, so a proof on a neighbour is none: whole
    regions are held out (Roberts et al. 2017, "Cross-validation strategies for data with structure"). It is -1
    for areas named by hand that say nothing of exposure, which would prove nothing.
    """
    found = ~pairs.marked_beside
    if not found.all():
        # Areas drawn by hand join the region that they lie in: what was found is dealt out as without them.
        out = np.full(len(pairs), -1)
        out[found] = spatial_folds(pairs.take(found), options)
        for row in np.flatnonzero(~found & pairs.says_light):
            away = np.square(pairs.reference_xy[found] - pairs.reference_xy[row]).sum(1)
            out[row] = out[found][np.argmin(away)]
        return out
    groups, index = np.unique(pairs.group, return_inverse=True)
    index = index.reshape(-1)
    count = np.bincount(index)
    centre = np.stack([np.bincount(index, pairs.reference_xy[:, k]) / count for k in (0, 1)], axis=1)
    regions = min(3 * options.folds, len(groups))
    if regions == len(groups):
        region = np.arange(regions)
    else:
        rng = np.random.default_rng(options.seed)
        region = kmeans2(centre, regions, minit="++", seed=rng)[1]
    weight = np.bincount(region, np.bincount(index, pairs.weight), minlength=regions)
    load = np.zeros(options.folds)
    fold = np.zeros(regions, np.int64)
    # The heaviest region first, each to the lightest fold.
    for item in np.argsort(-weight, kind="stable"):
        fold[item] = np.argmin(load)
        load[fold[item]] += weight[item]
    dealt: NDArray[Any] = np.where(pairs.says_light | ~pairs.by_hand, fold[region][index], -1)
    return dealt
