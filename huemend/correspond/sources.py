"""Every source of pairs that a setup has, pooled: features first, then what people named and faces showed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import numbered
from huemend.correspond.areas import AreaSource, NeutralSource, with_labels
from huemend.correspond.charts import ChartSource
from huemend.correspond.detect import Detected
from huemend.correspond.faces import FaceSource
from huemend.correspond.pairs import FeatureSource
from huemend.model import LinearStill, PairedColours, PairSource, Setup
from huemend.options import CorrespondOptions, FaceOptions


class Sources:
    """All sources of a setup as one `PairSource`.

    Parameters
    ----------
    detected : Detected
        What its pictures show by themselves.
    features : FeatureSource, optional
        That has seen them; without, no shared surfaces are looked for.
    faces : FaceOptions, optional
        Without, no faces are looked for.
    """

    def __init__(
        self,
        setup: Setup,
        detected: Detected,
        options: CorrespondOptions,
        features: FeatureSource | None = None,
        faces: FaceOptions | None = None,
    ) -> None:
        self.setup = setup
        self.options = options
        self._features = features
        self._faces = FaceSource(faces, detected.people) if faces is not None else None
        self._sources: list[PairSource] = []
        if setup.marks.pairs:
            self._sources.append(AreaSource(setup, options))
        if setup.marks.neutral:
            self._sources.append(NeutralSource(setup, options))
        if setup.chart:
            self._sources.append(ChartSource(options.chart, detected.charts))

    def __call__(self, reference: tuple[LinearStill, ...], angle: tuple[LinearStill, ...]) -> PairedColours:
        """Return the pairs that all sources find between two angles; raises MediaError of a marked area."""
        parts = [] if self._features is None else [self._features(reference, angle)]
        if self._faces is not None:
            parts.append(self._faces(reference, angle, parts[0] if parts else None))
        parts += [source(reference, angle) for source in self._sources]
        if not parts:
            return PairedColours.empty(reference[0].angle, angle[0].angle, "none")
        pooled = PairedColours.concat(parts, apart=True)
        return with_labels(weighed(pooled, self.options), self.setup, reference, angle)


def weighed(pairs: PairedColours, options: CorrespondOptions) -> PairedColours:
    """Hold the stated weight of marked areas to what one place can be worth (docs/maths.md, section 2).

    What two areas drawn by hand differ by is common to all of an area, however much it is trusted; other
    surfaces, which pin the balance and the mix that one cannot, must be heard beside it. The same weight
    enters the fit, its folds and the proof. Where areas are all there is, they keep theirs.
    """
    marked = np.asarray(pairs.by_hand, bool)
    if not marked.any() or float(pairs.weight[~marked].sum()) < options.area_least_found:
        return pairs
    row = numbered(pairs.group[marked])
    stated = np.bincount(row, pairs.weight[marked])
    weight: NDArray[Any] = np.array(pairs.weight, float)
    weight[marked] *= (options.area_most / (options.area_most + stated))[row]
    return replace(pairs, weight=weight)
