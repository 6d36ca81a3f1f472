"""How much an area that somebody marked counts beside what was found without help."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import numbered
from huemend.model import PairedColours
from huemend.options import CorrespondOptions


def weighed(pairs: PairedColours, options: CorrespondOptions) -> PairedColours:
    """Hold the stated weight of marked areas to what one place can be worth (docs/maths.md, section 2).

    What two areas drawn by hand differ by is common to all of an area, however much it is trusted; other surfaces,
    which pin the balance and the mix that one cannot, must be heard beside it. The same weight enters the fit, its
    folds and the proof.

    Returns
    -------
    PairedColours
        ``pairs`` itself where no area is marked, or where areas are all there is.
    """
    marked = np.asarray(pairs.by_hand, bool)
    if not marked.any() or float(pairs.weight[~marked].sum()) < options.area_least_found:
        return pairs
    row = numbered(pairs.group[marked])
    stated = np.bincount(row, pairs.weight[marked])
    weight: NDArray[Any] = np.array(pairs.weight, float)
    weight[marked] *= (options.area_most / (options.area_most + stated))[row]
    return replace(pairs, weight=weight)
