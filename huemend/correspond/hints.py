"""How much an area that somebody marked counts beside what was found without help."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.model import PairedColours
from huemend.options import CorrespondOptions


def weighed(pairs: PairedColours, options: CorrespondOptions) -> PairedColours:
    """Hold the weight of marked areas to what one place can be worth (docs/maths.md, section 2).

    An area counts as many found pairs as it is stated to be worth, and ever less of what goes beyond: two areas
    drawn by hand never show quite the same piece of a surface in the same light, and that error is common to all
    of an area, however much it is trusted. Other surfaces must be heard beside it: they pin the balance and
    the mix that one surface cannot. The same weight enters the fit, its folds and the proof.

    Parameters
    ----------
    pairs : PairedColours
        Of all sources; marked areas bear the weight that was stated.

    Returns
    -------
    PairedColours
        ``pairs`` itself where no area is marked, or where areas are all there is.
    """
    marked = np.asarray(pairs.by_hand, bool)
    if not marked.any() or float(pairs.weight[~marked].sum()) < options.area_least_found:
        return pairs
    row = np.unique(pairs.group[marked], return_inverse=True)[1].reshape(-1)
    stated = np.bincount(row, pairs.weight[marked])
    weight: NDArray[Any] = np.array(pairs.weight, float)
    weight[marked] *= (options.area_most / (options.area_most + stated))[row]
    return replace(pairs, weight=weight)
