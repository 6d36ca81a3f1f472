"""One set of places, looked at in every moment at which neither camera had moved.

Where surfaces lie is found once. At each moment both views are measured at the same places, and each patch is held
to its own cost there (docs/maths.md, equation 17), so that a person who walks in front of one camera drops out at
that moment only. What is steady is averaged: noise and passing shade go down, the places stay one witness each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from huemend.base.arrays import Bool, Float, Int64
from huemend.correspond.framing import Framing
from huemend.correspond.growth import Grown, cost_again
from huemend.correspond.patches import Patches, measure_patches
from huemend.correspond.raster import MatchPicture
from huemend.options import CorrespondOptions

#: A channel is held above this share of a patch's largest, so that ratios of channels stay finite.
_LEAST_CHANNEL = 0.02


@dataclass(frozen=True, kw_only=True, eq=False)
class Sighting:
    """The patches of one moment."""

    moment: int
    patches: Patches
    #: (n,) bool. Both views show the patch there, alike, and its colours can be used.
    usable: Bool


@dataclass(frozen=True, kw_only=True, eq=False)
class Steady:
    """The colours of patches over several moments."""

    #: (n, 3) float64, scene-linear ACEScg. Means over the moments at which a patch was shown and was as it is at
    #: most of them.
    reference_rgb: Float
    angle_rgb: Float
    #: (n, 2) float64. Relative standard deviation of those means.
    noise: Float
    #: (n,) int. How many moments they are; 0 for a patch that was shown at none.
    moments: Int64
    #: The first of those that were averaged.
    moment: int


def sight(
    ours: MatchPicture,
    theirs: MatchPicture,
    grown: Grown,
    framings: tuple[Framing, Framing],
    options: CorrespondOptions,
) -> Sighting:
    """Measure patches at another moment than the one that they were found at.

    ``framings`` say how each camera, reference and angle, is framed against the pictures that they were found on.
    """
    there = grown.carried(*framings)
    patches = measure_patches(ours, theirs, there, options)
    cost = cost_again(ours, theirs, there, options.mismatch)
    # Of many moments these are what memory grows by.
    small = {name: getattr(patches, name).astype(np.float32) for name in ("reference_rgb", "angle_rgb", "noise")}
    return Sighting(
        moment=ours.still.moment, patches=replace(patches, **small), usable=patches.usable & (cost < 1)
    )


def of_one_moment(sighting: Sighting) -> Steady:
    """Return the colours of one moment as they are."""
    patches = sighting.patches
    return Steady(
        reference_rgb=patches.reference_rgb,
        angle_rgb=patches.angle_rgb,
        noise=patches.noise,
        moments=sighting.usable.astype(np.int64),
        moment=sighting.moment,
    )


def steady_colours(sightings: Sequence[Sighting], taken: Sequence[int], tolerance: float) -> Steady:
    """Average some moments of the same patches, each over the moments at which it is as it is at most of all.

    Somebody in a plain shirt before a plain wall is explained as well as the wall is, but has another colour; an
    iris that was pulled, or a lamp that one view alone sees, changes the ratio of the two views. So the middle
    ratio over all moments decides, channel by channel: others may be off it by ``tolerance``, natural logarithm,
    beyond three standard deviations of noise. ``taken`` are the moments that are averaged.
    """
    usable = np.array([sighting.usable for sighting in sightings])
    ratio = np.array([_ratio(sighting.patches) for sighting in sightings])
    noise = np.array([sighting.patches.noise for sighting in sightings])
    middle = _middle(ratio, usable)
    slack = tolerance + 3 * np.sqrt(np.square(noise).sum(-1))
    alike = usable & (np.abs(ratio - middle).max(-1) <= slack)
    # Of two moments that disagree the middle is neither: then the first that is shown stands.
    none = usable.any(0) & ~alike.any(0)
    alike[usable.argmax(0)[none], np.flatnonzero(none)] = True
    use = alike[list(taken)]
    count = use.sum(0)
    share = use / np.maximum(count, 1)
    means = [
        np.einsum("mn,mnc->nc", share, np.array([getattr(sightings[at].patches, name) for at in taken]))
        for name in ("reference_rgb", "angle_rgb")
    ]
    averaged = np.sqrt(np.einsum("mn,mnv->nv", np.square(share), np.square(noise[list(taken)])))
    return Steady(
        reference_rgb=means[0],
        angle_rgb=means[1],
        noise=averaged,
        moments=count,
        moment=sightings[taken[0]].moment,
    )


def _ratio(patches: Patches) -> Float:
    """Return the natural logarithm of the reference over the angle, (n, 3)."""
    logs = []
    for rgb in (patches.reference_rgb, patches.angle_rgb):
        least = np.maximum(_LEAST_CHANNEL * rgb.max(1, keepdims=True), 1e-6)
        logs.append(np.log(np.maximum(rgb, least)))
    return np.asarray(logs[0] - logs[1], float)


def _middle(ratio: Float, usable: Bool) -> Float:
    """Return the median over the moments at which each patch is shown, (n, 3); the lower one of an even number.

    The lower one is a moment's own: between two states of a light there is nothing to be near to.
    """
    hidden = np.where(usable[..., None], ratio, np.inf)
    ordered = np.sort(hidden, axis=0)
    at = np.maximum(usable.sum(0) - 1, 0) // 2
    middle = np.take_along_axis(ordered, at[None, :, None], axis=0)[0]
    return np.where(np.isfinite(middle), middle, 0.0)
