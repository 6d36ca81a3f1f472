"""Pairs of the patches of a colour chart that two views show: the same paint, patch against patch."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from huemend.base.arrays import picked
from huemend.correspond.chart_finder import Chart
from huemend.correspond.stances import PictureId, picture_id
from huemend.model import LinearStill, PairedColours
from huemend.model.pairs import NO_CHART, chart_alone
from huemend.options import ChartOptions

_CHART = "chart"


class ChartSource:
    """Pairs of chart patches: one for each patch and moment at which both angles show the chart.

    The published values say whether a chart is one; they are not what an angle is matched to. That is the chart
    on the hero, under the light of the set.

    Parameters
    ----------
    charts : mapping of PictureId to Chart or None
        The chart that each picture shows.
    """

    name = _CHART

    def __init__(self, options: ChartOptions, charts: Mapping[PictureId, Chart | None]) -> None:
        self.options = options
        self._charts = charts

    def __call__(self, reference: tuple[LinearStill, ...], angle: tuple[LinearStill, ...]) -> PairedColours:
        """Return the pairs of some of the moments that both angles have.

        ``rejected`` counts, by moment, charts that one view alone shows, and moments at which neither does.
        """
        both = picked(list(zip(reference, angle, strict=False)), self.options.moments)
        found: list[tuple[Chart, Chart, int]] = []
        rejected: dict[str, int] = {}
        for ours, theirs in both:
            here, there = self._charts[picture_id(ours)], self._charts[picture_id(theirs)]
            if here is not None and there is not None:
                found.append((here, there, ours.moment))
                continue
            alone = ours.angle if here is not None else theirs.angle if there is not None else ""
            rule = chart_alone(alone) if alone else NO_CHART
            rejected[rule] = rejected.get(rule, 0) + 1
        return self._paired(found, reference[0].angle, angle[0].angle, len(both), rejected)

    def _paired(
        self,
        found: list[tuple[Chart, Chart, int]],
        reference: str,
        angle: str,
        looked: int,
        rejected: dict[str, int],
    ) -> PairedColours:
        if not found:
            return PairedColours.empty(reference, angle, self.name, found=looked, rejected=rejected)
        options = self.options
        both = [here.usable & there.usable for here, there, _ in found]
        patch = np.concatenate([np.nonzero(use)[0] for use in both])
        count = [int(use.sum()) for use in both]

        def of(name: str, view: int) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
            return np.concatenate([getattr(pair[view], name)[use] for pair, use in zip(found, both, strict=True)])

        radius = np.array([[here.radius, there.radius] for here, there, _ in found])
        return PairedColours(
            reference=reference,
            angle=angle,
            source=self.name,
            reference_rgb=of("rgb", 0),
            angle_rgb=of("rgb", 1),
            weight=np.full(len(patch), options.weight / len(found)),
            reference_xy=of("place", 0),
            angle_xy=of("place", 1),
            radius=radius.repeat(count, axis=0),
            noise=np.stack([of("noise", 0), of("noise", 1)], axis=1),
            moment=np.array([moment for *_, moment in found]).repeat(count),
            # Each patch is a surface of its own: it is held out whole, at all moments.
            group=patch,
            label=np.full(len(patch), _CHART, dtype="<U32"),
            found=looked,
            matched=len(found),
            rejected=rejected,
            # Flat and matt as it is, a chart that is turned to one camera shines a little for the other.
            light_spread=np.full(len(patch), options.light_spread),
        )
