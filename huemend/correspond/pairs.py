"""Pairs of surfaces that two angles share, by their features; `huemend.correspond.sources` pools all kinds."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from huemend.base.arrays import Float, Float64, Int, Int64, numbered
from huemend.base.tasks import over
from huemend.base.units import AP1_LUMINANCE
from huemend.correspond.burn_ins import without_burn_ins
from huemend.correspond.clusters import believed
from huemend.correspond.detect import Pairing, View, detect_view, squeezes, views_of
from huemend.correspond.features import Features, find_candidates, join_features
from huemend.correspond.growth import grow
from huemend.correspond.patches import measure_patches, patch_radius
from huemend.correspond.raster import MatchPicture, make_picture
from huemend.correspond.repeats import repeated_light_spread
from huemend.correspond.screens import without_screens
from huemend.correspond.stances import MOST_STANCES, PictureId, Stance, first_of, picture_id
from huemend.correspond.steady_colours import Sighting, Steady, of_one_moment, sight, steady_colours
from huemend.correspond.surfaces import PlainSurfaces, find_plain, shared_light_spread
from huemend.model import LinearStill, PairedColours
from huemend.model.pairs import BURNT_IN, ON_SCREEN
from huemend.options import CorrespondOptions


class _Surfaces:
    """Patches that two cameras share while both stand still: where they lie, and what each moment shows."""

    def __init__(
        self,
        pictures: tuple[MatchPicture, MatchPicture],
        plain: tuple[PlainSurfaces, PlainSurfaces],
        stances: tuple[Stance, Stance],
        features: Mapping[View, Features],
        options: CorrespondOptions,
    ) -> None:
        ours, theirs = pictures
        here, there = stances
        self.firsts = here.first, there.first
        self._began = here.framing, there.framing
        self._options = options
        self._names = ours.still.angle, theirs.still.angle
        self._reference = ours
        both = (
            features[View(here.first, as_reference=True)],
            join_features([features[View(there.first, squeeze)] for squeeze in squeezes(options)]),
        )
        candidates, on_screen = without_screens(find_candidates(*both, options), both, pictures, options)
        candidates, burnt_in = without_burn_ins(candidates, (ours.rgb.shape[1], theirs.rgb.shape[1]), options)
        label, self._rejected = believed(candidates, options)
        left_out = {BURNT_IN: burnt_in, ON_SCREEN: on_screen}
        self._rejected |= {rule: count for rule, count in left_out.items() if count}
        self._seeds = candidates.take(label >= 0).carried(here.framing, there.framing)
        self._sightings: list[Sighting] = []
        if not len(self._seeds):
            return
        self._grown = grown = grow(ours, theirs, self._seeds, label[label >= 0], options)
        seen = measure_patches(ours, theirs, grown, options)
        self._sightings.append(Sighting(moment=ours.still.moment, patches=seen, usable=seen.usable))
        self._rejected |= {
            "differs": grown.tried - len(grown.cost),
            "clipped": int((~seen.clean).sum()),
            "dark": int((seen.clean & ~seen.lit).sum()),
        }
        self._plain = plain
        self._angle_xy = theirs.still_places(grown.angle)
        self._radius = patch_radius(grown, options) * [ours.to_still, theirs.to_still]

    def see(self, ours: MatchPicture, theirs: MatchPicture, stances: tuple[Stance, Stance]) -> None:
        """Measure the same patches at a later moment."""
        if self._sightings:
            here, there = (stance.framing.since(began) for stance, began in zip(stances, self._began, strict=True))
            self._sightings.append(sight(ours, theirs, self._grown, (here, there), self._options))

    def pairs(self, moments: Collection[int]) -> list[PairedColours]:
        """Return the pairs of some moments: places of the first that was seen, colours of all.

        Those of the earlier and of the later moments come apart, so that a proof can hold out moments, too.
        """
        found = self._seeds.found
        if not self._sightings:
            return [PairedColours.empty(*self._names, FeatureSource.name, found=found, rejected=self._rejected)]
        counts = {"found": found, "matched": len(self._seeds), "rejected": self._rejected}
        sightings = [sighting for sighting in self._sightings if sighting.moment in moments]
        if len(sightings) < 2:
            return [self._paired(of_one_moment(sighting), counts) for sighting in sightings]
        parts: list[PairedColours] = []
        half = len(sightings) // 2
        for taken in (range(half), range(half, len(sightings))):
            steady = steady_colours(sightings, taken, self._options.steady)
            # They were looked for once.
            parts.append(self._paired(steady, {} if parts else counts))
        return parts

    def _paired(self, steady: Steady, counts: Mapping[str, Any]) -> PairedColours:
        """Return patches as pairs: those that were shown at some moment."""
        options, ours, keep = self._options, self._reference, steady.moments > 0
        grown = self._grown.take(keep)
        group = _cells(grown.reference, options.cell)
        weight = balance_weights(steady.reference_rgb[keep], group, options.correlation)
        n = len(weight)
        return PairedColours(
            reference=self._names[0],
            angle=self._names[1],
            source=FeatureSource.name,
            reference_rgb=steady.reference_rgb[keep],
            angle_rgb=steady.angle_rgb[keep],
            weight=np.ones(n),
            reference_xy=ours.still_places(grown.reference),
            angle_xy=self._angle_xy[keep],
            radius=self._radius[keep],
            noise=steady.noise[keep],
            moment=np.full(n, steady.moment),
            group=group,
            label=np.full(n, "", dtype="<U32"),
            light_spread=np.maximum(
                _light_spread(self._plain, (grown.reference, grown.angle), weight, options),
                repeated_light_spread(ours, grown, weight, options),
            ),
            **counts,
        )


class FeatureSource:
    """Finds pairs from what the pictures show, without help: the `PairSource` that needs nothing.

    It is shown the pictures moment by moment, and keeps of each what it measured. Where both cameras stand still,
    surfaces are looked for once.
    """

    name = "features"

    def __init__(self, pairings: Sequence[Pairing], options: CorrespondOptions) -> None:
        self.options = options
        self._pairings = pairings
        self._features: dict[View, Features] = {}
        self._surfaces: dict[Pairing, list[_Surfaces]] = {pairing: [] for pairing in pairings}

    def see(self, stills: Mapping[str, LinearStill], stances: Mapping[PictureId, Stance]) -> None:
        """Look at the pictures of one moment, by angle; the moments come in matching order."""
        options = self.options
        own = {name: first_of(still, stances) for name, still in stills.items()}
        firsts = {name: stance.first for name, stance in own.items()}

        def seen_before(pairing: Pairing) -> bool:
            known = self._surfaces[pairing]
            return bool(known) and known[-1].firsts == (firsts[pairing.reference], firsts[pairing.angle])

        both = [two for two in self._pairings if all(name in own for name in two)]
        both = [two for two in both if seen_before(two) or len(self._surfaces[two]) < MOST_STANCES]
        views = views_of(both, firsts, options)
        fresh = [view for view in views if view not in self._features]
        pictures = {name: make_picture(still, options.width) for name, still in stills.items()}
        by_id = {picture_id(picture.still): picture for picture in pictures.values()}
        # Looking for features takes much memory itself: beside what is held of clips, one picture has to do.
        together = all(still.frame is None for still in stills.values())
        found = over(fresh, lambda view: detect_view(view, by_id[view.picture], options), together=together)
        self._features |= dict(zip(fresh, found, strict=True))
        self._features = {view: self._features[view] for view in views}

        # Those of the hero are found once for all angles.
        named = dict.fromkeys(name for two in both if not seen_before(two) for name in two)
        plain = dict(zip(named, over(named, lambda name: find_plain(pictures[name], options)), strict=True))

        def look(pairing: Pairing) -> list[_Surfaces]:
            ours, theirs = (pictures[name] for name in pairing)
            known, stances = self._surfaces[pairing], (own[pairing.reference], own[pairing.angle])
            if not seen_before(pairing):
                surfaces = plain[pairing.reference], plain[pairing.angle]
                return [*known, _Surfaces((ours, theirs), surfaces, stances, self._features, options)]
            known[-1].see(ours, theirs, stances)
            return known

        self._surfaces |= dict(zip(both, over(both, look), strict=True))

    def __call__(self, reference: tuple[LinearStill, ...], angle: tuple[LinearStill, ...]) -> PairedColours:
        """Return the pairs of all moments that both angles have, of those that were seen."""
        names = Pairing(reference[0].angle, angle[0].angle)
        moments = {ours.moment for ours, _ in zip(reference, angle, strict=False)}
        parts = [part for surfaces in self._surfaces[names] for part in surfaces.pairs(moments)]
        return join_pairs(parts, reference=names.reference, angle=names.angle, options=self.options)


def _cells(places: Float, side: float) -> Int64:
    column, row = (np.asarray(places) // side).astype(np.int64).T
    out: Int64 = row * 10_000 + column
    return out


def _light_spread(
    plain: tuple[PlainSurfaces, PlainSurfaces],
    places: tuple[Float, Float],
    weight: Float,
    options: CorrespondOptions,
) -> Float64:
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


def balance_weights(rgb: Float, group: Int, correlation: float) -> Float64:
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
