"""Two angles in, paired colours out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from huemend.base.units import AP1_LUMINANCE
from huemend.correspond.clusters import believed
from huemend.correspond.detect import View, picture_id, squeezes
from huemend.correspond.features import Candidates, Features, find_candidates, join_features
from huemend.correspond.growth import grow
from huemend.correspond.raster import MatchPicture, make_picture, patch_means
from huemend.correspond.surfaces import find_plain, shared_light_spread
from huemend.model import LinearStill, PairedColours
from huemend.options import CorrespondOptions

__all__ = ["FeatureSource", "join_pairs"]

Float = NDArray[np.floating[Any]]


class _Seeds(NamedTuple):
    """Features of two pictures that are believed to be the same, and the number of the cluster that says so."""

    believed: Candidates
    cluster: NDArray[np.integer[Any]]
    rejected: dict[str, int]

    def turned(self) -> _Seeds:
        return self._replace(believed=self.believed.turned())


class FeatureSource:
    """Finds pairs from what the pictures show, without help: the `PairSource` that needs nothing.

    Parameters
    ----------
    options : CorrespondOptions
    features : mapping of View to Features
        What was found in each view of each picture.
    """

    name = "features"

    def __init__(self, options: CorrespondOptions, features: Mapping[View, Features]) -> None:
        self.options = options
        self._features = features

    def __call__(self, reference: tuple[LinearStill, ...], angle: tuple[LinearStill, ...]) -> PairedColours:
        """Return the pairs of all moments that both angles have.

        Parameters
        ----------
        reference, angle : tuple of LinearStill
            In matching order.
        """
        both = zip(reference, angle, strict=False)
        return join_pairs(
            [self._moment(ours, theirs, self._seeds(ours, theirs), self.options) for ours, theirs in both],
            reference=reference[0].angle,
            angle=angle[0].angle,
            options=self.options,
        )

    def between(self, one: tuple[LinearStill, ...], other: tuple[LinearStill, ...], step: int) -> PairedColours:
        """Return pairs of two tight angles, from features that were found anyway, on a grid of ``step`` pixels.

        The wider view becomes the reference, whichever it is: patches are as large as it shows them.
        """
        options = replace(self.options, step=step)
        seeds = [self._seeds(ours, theirs, tight=True) for ours, theirs in zip(one, other, strict=False)]
        scale = np.concatenate([found.believed.scale for found in seeds])
        if len(scale) and np.median(scale) < 0:
            one, other, seeds = other, one, [found.turned() for found in seeds]
        return join_pairs(
            [self._moment(*moment, options) for moment in zip(one, other, seeds, strict=False)],
            reference=one[0].angle,
            angle=other[0].angle,
            options=options,
        )

    def _seeds(self, reference: LinearStill, angle: LinearStill, *, tight: bool = False) -> _Seeds:
        ours = self._features[View(picture_id(reference), as_reference=not tight)]
        views = [View(picture_id(angle), squeeze) for squeeze in squeezes(self.options)]
        theirs = join_features([self._features[view] for view in views])
        candidates = find_candidates(ours, theirs, self.options)
        label, rejected = believed(candidates, self.options)
        return _Seeds(candidates.take(label >= 0), label[label >= 0], rejected)

    def _moment(
        self, reference: LinearStill, angle: LinearStill, seeds: _Seeds, options: CorrespondOptions
    ) -> PairedColours:
        names = reference.angle, angle.angle
        if not len(seeds.believed):
            return PairedColours.empty(*names, self.name, found=seeds.believed.found, rejected=seeds.rejected)
        ours, theirs = make_picture(reference, options.width), make_picture(angle, options.width)
        grown = grow(ours, theirs, seeds.believed, seeds.cluster, options)
        scale = np.sqrt(np.abs(np.linalg.det(grown.affine)))
        radius = np.stack(
            [np.full(len(scale), options.patch_radius), np.maximum(options.patch_radius * scale, 1.0)], 1
        )
        reference_rgb, reference_clean = patch_means(ours, grown.reference, radius[:, 0])
        angle_rgb, angle_clean = patch_means(theirs, grown.angle, radius[:, 1])
        clean = reference_clean & angle_clean
        lit = (reference_rgb @ AP1_LUMINANCE > options.darkest) & (angle_rgb @ AP1_LUMINANCE > options.darkest)
        keep = clean & lit
        rejected = seeds.rejected | {
            "differs": grown.tried - len(scale),
            "clipped": int((~clean).sum()),
            "dark": int((clean & ~lit).sum()),
        }
        # Stops to relative; a soft patch of radius r averages about 2 pi (r/2)**2 * 2 pixels.
        area = np.pi * radius**2
        noise = (
            np.log(2)
            * np.stack(
                [
                    ours.noise_at(np.log2(np.maximum(reference_rgb @ AP1_LUMINANCE, 1e-4))),
                    theirs.noise_at(np.log2(np.maximum(angle_rgb @ AP1_LUMINANCE, 1e-4))),
                ],
                1,
            )
            / np.sqrt(area)
        )
        n = int(keep.sum())
        group = _cells(grown.reference[keep], options.cell)
        places = grown.reference[keep], grown.angle[keep]
        weight = balance_weights(reference_rgb[keep], group, options.correlation)
        return PairedColours(
            reference=names[0],
            angle=names[1],
            source=self.name,
            reference_rgb=reference_rgb[keep],
            angle_rgb=angle_rgb[keep],
            weight=np.ones(n),
            reference_xy=ours.still_places(grown.reference[keep]),
            angle_xy=theirs.still_places(grown.angle[keep]),
            radius=radius[keep] * [ours.to_still, theirs.to_still],
            noise=noise[keep],
            moment=np.full(n, reference.moment),
            group=group,
            label=np.full(n, "", dtype="<U32"),
            light_spread=_light_spread((ours, theirs), places, weight, options),
            found=seeds.believed.found,
            matched=len(seeds.believed),
            rejected=rejected,
        )


def _cells(places: Float, side: float) -> NDArray[np.int64]:
    column, row = (np.asarray(places) // side).astype(np.int64).T
    out: NDArray[np.int64] = row * 10_000 + column
    return out


def _light_spread(
    pictures: tuple[MatchPicture, MatchPicture],
    places: tuple[Float, Float],
    weight: Float,
    options: CorrespondOptions,
) -> NDArray[np.float64]:
    """Return what pairs of plain surfaces can't know of light: what the view that shows it worse says."""
    out = np.zeros(len(weight))
    for picture, at in zip(pictures, places, strict=True):
        plain = find_plain(picture, options)
        surface = plain.at(at, options)
        run, extent = plain.run(surface, at), plain.extent[surface]
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
    group = np.unique(joined.group, return_inverse=True)[1].reshape(-1)
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
    bins = np.unique(np.rint(position).astype(int), axis=0, return_inverse=True)[1].reshape(-1)
    crowds = np.bincount(bins, weight)
    typical, crowd = float(np.median(crowds)), crowds[bins]
    return np.asarray(weight * np.minimum(1.0, np.sqrt(typical / crowd)), float)
