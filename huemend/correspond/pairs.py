"""Two angles in, paired colours out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float, numbered
from huemend.base.units import AP1_LUMINANCE
from huemend.correspond.clusters import believed
from huemend.correspond.detect import View, squeezes
from huemend.correspond.features import Candidates, Features, find_candidates, join_features
from huemend.correspond.growth import Grown, grow
from huemend.correspond.patches import measure_patches, patch_radius
from huemend.correspond.raster import MatchPicture, make_picture
from huemend.correspond.repeats import repeated_light_spread
from huemend.correspond.stances import Moment, PictureId, Stance, first_of, moments_by_stance
from huemend.correspond.steady_colours import Sighting, Steady, of_one_moment, sight, steady_colours
from huemend.correspond.surfaces import PlainSurfaces, find_plain, shared_light_spread
from huemend.model import LinearStill, PairedColours
from huemend.options import CorrespondOptions


class _Seeds(NamedTuple):
    """Features of two pictures that are believed to be the same, and the number of the cluster that says so."""

    believed: Candidates
    cluster: NDArray[np.integer[Any]]
    rejected: dict[str, int]


class FeatureSource:
    """Finds pairs from what the pictures show, without help: the `PairSource` that needs nothing.

    Parameters
    ----------
    features : mapping of View to Features
        What was found in each view of each stance's first picture.
    stances : mapping of PictureId to Stance, optional
        Since when each camera has stood as it does in a picture; without, every picture is looked at by itself.
    """

    name = "features"

    def __init__(
        self,
        options: CorrespondOptions,
        features: Mapping[View, Features],
        stances: Mapping[PictureId, Stance] | None = None,
    ) -> None:
        self.options = options
        self._features = features
        self._stances = stances or {}

    def __call__(self, reference: tuple[LinearStill, ...], angle: tuple[LinearStill, ...]) -> PairedColours:
        """Return the pairs of all moments that both angles have.

        Parameters
        ----------
        reference, angle : tuple of LinearStill
            In matching order.
        """
        parts = []
        for moments in moments_by_stance(reference, angle, self._stances):
            parts += self._measure(moments, self._seeds(moments[0]))
        return join_pairs(parts, reference=reference[0].angle, angle=angle[0].angle, options=self.options)

    def _seeds(self, moment: Moment) -> _Seeds:
        here, there = (first_of(still, self._stances) for still in (moment.ours, moment.theirs))
        ours = self._features[View(here.first, as_reference=True)]
        views = [View(there.first, squeeze) for squeeze in squeezes(self.options)]
        theirs = join_features([self._features[view] for view in views])
        candidates = find_candidates(ours, theirs, self.options)
        label, rejected = believed(candidates, self.options)
        kept = candidates.take(label >= 0).carried(here.framing, there.framing)
        return _Seeds(kept, label[label >= 0], rejected)

    def _measure(self, moments: Sequence[Moment], seeds: _Seeds) -> list[PairedColours]:
        """Return the pairs of moments between which neither camera moved: places of the first, colours of all.

        Those of the earlier and of the later moments come apart, so that a proof can hold out moments, too.
        """
        options, names = self.options, (moments[0].ours.angle, moments[0].theirs.angle)
        if not len(seeds.believed):
            nothing = PairedColours.empty(*names, self.name, found=seeds.believed.found, rejected=seeds.rejected)
            return [nothing]
        ours, theirs = (make_picture(still, options.width) for still in moments[0][:2])
        grown = grow(ours, theirs, seeds.believed, seeds.cluster, options)
        seen = measure_patches(ours, theirs, grown, options)
        rejected = seeds.rejected | {
            "differs": grown.tried - len(grown.cost),
            "clipped": int((~seen.clean).sum()),
            "dark": int((seen.clean & ~seen.lit).sum()),
        }
        counts = {"found": seeds.believed.found, "matched": len(seeds.believed), "rejected": rejected}
        sightings = [Sighting(moment=ours.still.moment, patches=seen, usable=seen.usable)]
        plain = find_plain(ours, options), find_plain(theirs, options)
        if len(moments) == 1:
            return [_paired((ours, theirs), plain, grown, of_one_moment(sightings[0]), options, counts)]
        for later in moments[1:]:
            here, there = (make_picture(still, options.width) for still in later[:2])
            sightings.append(sight(here, there, grown, later.framings, options))
        parts: list[PairedColours] = []
        half = len(sightings) // 2
        for taken in (range(half), range(half, len(sightings))):
            steady = steady_colours(sightings, taken, options.steady)
            # They were looked for once.
            parts.append(_paired((ours, theirs), plain, grown, steady, options, {} if parts else counts))
        return parts


def _paired(
    pictures: tuple[MatchPicture, MatchPicture],
    plain: tuple[PlainSurfaces, PlainSurfaces],
    grown: Grown,
    steady: Steady,
    options: CorrespondOptions,
    counts: Mapping[str, Any],
) -> PairedColours:
    """Return patches as pairs: those that were shown at some moment."""
    ours, theirs = pictures
    keep = steady.moments > 0
    n = int(keep.sum())
    group = _cells(grown.reference[keep], options.cell)
    places = grown.reference[keep], grown.angle[keep]
    weight = balance_weights(steady.reference_rgb[keep], group, options.correlation)
    radius = patch_radius(grown, options)
    return PairedColours(
        reference=ours.still.angle,
        angle=theirs.still.angle,
        source=FeatureSource.name,
        reference_rgb=steady.reference_rgb[keep],
        angle_rgb=steady.angle_rgb[keep],
        weight=np.ones(n),
        reference_xy=ours.still_places(grown.reference[keep]),
        angle_xy=theirs.still_places(grown.angle[keep]),
        radius=radius[keep] * [ours.to_still, theirs.to_still],
        noise=steady.noise[keep],
        moment=np.full(n, steady.moment),
        group=group,
        label=np.full(n, "", dtype="<U32"),
        light_spread=np.maximum(
            _light_spread(plain, places, weight, options),
            repeated_light_spread(ours, grown.take(keep), weight, options),
        ),
        **counts,
    )


def _cells(places: Float, side: float) -> NDArray[np.int64]:
    column, row = (np.asarray(places) // side).astype(np.int64).T
    out: NDArray[np.int64] = row * 10_000 + column
    return out


def _light_spread(
    plain: tuple[PlainSurfaces, PlainSurfaces],
    places: tuple[Float, Float],
    weight: Float,
    options: CorrespondOptions,
) -> NDArray[np.float64]:
    """Return what pairs of plain surfaces can't know of light: what the view that shows it worse says."""
    out = np.zeros(len(weight))
    for surfaces, at in zip(plain, places, strict=True):
        surface = surfaces.at(at, options)
        run, extent = surfaces.run(surface, at), surfaces.extent[surface]
        out = np.maximum(out, shared_light_spread(surface, run, extent, weight, options))
    return out


def join_pairs(
    parts: list[PairedColours], *, reference: str, angle: str, options: CorrespondOptions
) -> PairedColours:
    """Pool pairs of several moments, thin them evenly to the bound, and weigh them anew.

    The same part of the picture is one group at every moment.
    """
    if not parts:
        return PairedColours.empty(reference, angle, FeatureSource.name)
    joined = PairedColours.concat(parts)
    if len(joined) > options.most_pairs:
        # Every k-th pair of each cell's run: the grid's order keeps the thinning even over the frame.
        pick = np.linspace(0, len(joined) - 1, options.most_pairs).astype(int)
        left_out = {"thinned": len(joined) - len(pick)}
        joined = replace(joined.take(pick), rejected={**joined.rejected, **left_out})
    group = numbered(joined.group)
    weight = joined.weight * balance_weights(joined.reference_rgb, group, options.correlation)
    return replace(joined, reference=reference, angle=angle, group=group, weight=weight)


def balance_weights(rgb: Float, group: NDArray[np.integer[Any]], correlation: float) -> NDArray[np.float64]:
    """Weigh pairs so that neither a crowded cell nor a large surface of one colour outvotes the rest.

    Within a cell errors go together, so n pairs count as n / (1 + (n - 1) * correlation) (the design effect of
    cluster sampling, Kish 1965). Over the colours, the weight falls with the square root of how many cells show
    the same colour. The sum is the effective number of independent pairs.
    """
    if not len(group):
        return np.zeros(0)
    count = np.bincount(group)[group]
    weight = 1 / (1 + (count - 1) * correlation)
    luminance = np.maximum(rgb @ AP1_LUMINANCE, 1e-4)
    # Bins of one stop in luminance and about a third of a stop in each chroma direction.
    position = np.stack(
        [
            np.log2(luminance),
            3 * np.log2(np.maximum(rgb[:, 0], 1e-4) / luminance),
            3 * np.log2(np.maximum(rgb[:, 2], 1e-4) / luminance),
        ],
        1,
    )
    bins = numbered(np.rint(position).astype(int), axis=0)
    crowds = np.bincount(bins, weight)
    typical, crowd = float(np.median(crowds)), crowds[bins]
    return np.asarray(weight * np.minimum(1.0, np.sqrt(typical / crowd)), float)
