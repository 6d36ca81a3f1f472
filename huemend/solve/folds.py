"""Which pairs are held out together."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.cluster.vq import kmeans2

from huemend.model import PairedColours
from huemend.options import SolveOptions

__all__ = ["spatial_folds"]


def spatial_folds(pairs: PairedColours, options: SolveOptions) -> NDArray[np.int64]:
    """Deal pairs out to folds by regions of the reference picture.

    Neighbouring patches share surface, light and errors of place, so a proof on a neighbour is none: whole
    regions are held out (Roberts et al. 2017, "Cross-validation strategies for data with structure").

    Returns
    -------
    (n,) int64
        0 .. folds - 1; -1 for areas named by hand that say nothing of exposure, which would prove nothing.
    """
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
    out: NDArray[Any] = np.where(pairs.says_light | ~pairs.by_hand, fold[region][index], -1)
    return out
