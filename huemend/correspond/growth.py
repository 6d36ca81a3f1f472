"""From some dozens of features to a grid of patches: local affine growth with a check of every patch.

Around a feature that is believed the angle is an affine map of the reference. Grid points of the reference
try the maps of the nearest features, keep the one under which the two patches look most alike, refine it a
little, and offer it to their neighbours (the propagation of PatchMatch, Barnes et al. 2009, on affine maps).
Flat surfaces get in this way what features alone never give: skin, walls, shirts, where a small error of
place costs no error of colour.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.spatial import cKDTree

from huemend.base.arrays import Float, Float32, Float64, Int, Rows
from huemend.correspond.features import Candidates
from huemend.correspond.framing import SAME, Framing
from huemend.correspond.raster import MatchPicture, Pyramid
from huemend.options import CorrespondOptions

_LEVELS = 7
#: Patches are compared over a square that reaches so far from its middle, under a Gaussian; reference's pixels.
HALF_WINDOW, WINDOW_SIGMA = 4, 3.0
_SIDE = np.arange(-HALF_WINDOW, HALF_WINDOW + 1)
_WINDOW = np.stack(np.meshgrid(_SIDE, _SIDE), -1).reshape(-1, 2).astype(np.float32)
_WEIGHT = np.exp(-(_WINDOW**2).sum(1) / (2 * WINDOW_SIGMA**2)).astype(np.float32)
_WEIGHT /= _WEIGHT.sum()
_STEPS = ((0, 1), (1, 0), (0, -1), (-1, 0))


@dataclass(frozen=True, kw_only=True, eq=False)
class Grown(Rows):
    """Patches of the reference with their counterparts in the angle."""

    #: (n, 2) float64. Patch centres in the matching pictures.
    reference: Float
    angle: Float
    #: (n, 2, 2) float64. Maps a small step in the reference to one in the angle: ``step_angle = affine @
    #: step_reference``.
    affine: Float
    #: (n,) float64. Unexplained difference over what noise and the patch's own structure allow; below 1 is
    #: accepted.
    cost: Float
    #: (n,) float64. Standard deviation of log luminance in the reference patch, stops.
    structure: Float
    #: (n,) int. The cluster of features that the map came from.
    cluster: Int
    #: Grid points that a feature could reach.
    tried: int

    def carried(self, reference: Framing, angle: Framing) -> Grown:
        """Return the same patches where both cameras' later pictures show them; costs stay those of the first."""
        if reference is SAME and angle is SAME:
            return self
        return replace(
            self,
            reference=reference.places(self.reference),
            angle=angle.places(self.angle),
            affine=angle.linear @ self.affine @ np.linalg.inv(reference.linear),
        )


def grow(
    reference: MatchPicture, angle: MatchPicture, seeds: Candidates, cluster: Int, options: CorrespondOptions
) -> Grown:
    """Grow a grid of patch pairs from believed features, of which ``cluster`` gives the numbers, (n,)."""
    search = _Search(reference, angle, options)
    affine = _local_affines(seeds)
    near = (
        cKDTree(seeds.reference)
        .query(search.grid, k=min(6, len(seeds)), distance_upper_bound=options.reach)[1]
        .reshape(len(search.grid), -1)
    )
    for column in near.T:
        at = np.nonzero(column < len(seeds))[0]
        seed = column[at]
        step = search.grid[at] - seeds.reference[seed]
        search.offer(at, seeds.angle[seed] + _turn(affine[seed], step), affine[seed], cluster[seed])
    tried = int((near[:, 0] < len(seeds)).sum())
    # A fixed seed: the same pictures give the same pairs.
    rng = np.random.default_rng(0)
    for _ in range(3):
        for reach in (1.5, 0.75, 0.4):
            search.jitter(rng, reach)
        search.propagate()
    return search.accepted(tried)


class _Template(NamedTuple):
    """What the reference shows at n places: log luminance less its mean, its variance, and that of noise."""

    centred: Float
    variance: Float
    noise: Float


def _template(patches: Float, reference: MatchPicture) -> _Template:
    mean = patches @ _WEIGHT
    centred = patches - mean[:, None]
    return _Template(centred, np.square(centred) @ _WEIGHT, reference.noise_at(mean) ** 2)


def _window(pyramid: Pyramid, place: Float, affine: Float, scale: Float) -> Float32:
    x, y = (place[:, row, None] + affine[:, row] @ _WINDOW.T for row in (0, 1))
    return pyramid.sample(x, y, scale)


def _unexplained(
    template: _Template, values: Float32, angle: MatchPicture, scale: Float, mismatch: float
) -> Float:
    """Return the cost of equation 17 for patches of the angle, infinite outside of its picture."""
    mean = values @ _WEIGHT
    inside = np.isfinite(mean)
    values[~inside] = mean[~inside] = 0
    values -= mean[:, None]
    structure = np.sqrt(template.variance * (np.square(values) @ _WEIGHT))
    # The angle is blurred to the reference's pixels, which averages its own noise away with the scale.
    noise = template.noise + angle.noise_at(mean) ** 2 / np.maximum(scale, 1) ** 2
    difference = np.square(values - template.centred) @ _WEIGHT
    cost: Float = np.where(inside, difference / allowed_difference(noise, structure, mismatch), np.inf)
    return cost


def allowed_difference(noise: Float, structure: Float, mismatch: float) -> Float:
    """Return by how much, squared, two patches that show one place may differ (docs/maths.md, equation 17)."""
    return 1.6 * noise + mismatch * structure


def cost_again(reference: MatchPicture, angle: MatchPicture, grown: Grown, mismatch: float) -> Float:
    """Return what the same patches cost on other pictures, (n,): of another moment, say.

    Nothing is searched. Where somebody stands in front of one of the two cameras, the cost is high there.
    """
    ours = _window(
        Pyramid(reference.log, 1),
        grown.reference,
        np.broadcast_to(np.eye(2), grown.affine.shape),
        np.ones(len(grown.cost)),
    )
    # A patch that reaches over the edge of the reference is none.
    outside = ~np.isfinite(ours).all(1)
    ours[outside] = 0
    scale = np.sqrt(np.abs(np.linalg.det(grown.affine)))
    theirs = _window(Pyramid(angle.log, _LEVELS), grown.angle, grown.affine, scale)
    cost = _unexplained(_template(ours, reference), theirs, angle, scale, mismatch)
    return np.where(outside, np.inf, cost)


def _turn(affine: Float, step: Float) -> Float:
    out: Float = np.einsum("nij,nj->ni", affine, step)
    return out


def _local_affines(seeds: Candidates) -> Float64:
    """Fit the affine map around each seed to its neighbours, drawn towards a plain change of scale."""
    n = len(seeds)
    near = cKDTree(seeds.reference).query(seeds.reference, k=min(25, n))[1].reshape(n, -1)[:, 1:]
    in_reference = seeds.reference[near] - seeds.reference[:, None]
    in_angle = seeds.angle[near] - seeds.angle[:, None]
    length = np.hypot(in_reference[..., 0], in_reference[..., 1])
    scale = 2.0 ** ((seeds.scale[near] + seeds.scale[:, None]) / 2)
    off = in_angle - scale[..., None] * in_reference
    agree = (np.hypot(off[..., 0], off[..., 1]) < 0.35 * length * scale + 2 * scale) & (length > 1)
    own = np.concatenate([seeds.scale[:, None], np.where(agree, seeds.scale[near], np.nan)], 1)
    plain = 2.0 ** np.nanmedian(own, axis=1)
    weight = np.where(agree, 1 / (1 + (length / 25) ** 2), 0)
    # Ridge in squared pixels: about what three neighbours at five pixels would weigh.
    ridge = 80.0
    left = np.einsum("nk,nki,nkj->nij", weight, in_reference, in_reference) + ridge * np.eye(2)
    right = np.einsum("nk,nki,nkj->nij", weight, in_angle, in_reference)
    right += (ridge * plain)[:, None, None] * np.eye(2)
    out: Float64 = right @ np.linalg.inv(left)
    return out


class _Search:
    """The best map found so far of every grid point; `offer` is the only thing that changes it."""

    def __init__(self, reference: MatchPicture, angle: MatchPicture, options: CorrespondOptions) -> None:
        height, width = reference.log.shape
        edge, step = options.step + 4, options.step
        y, x = np.mgrid[edge : height - edge : step, edge : width - edge : step]
        self.shape = x.shape
        self.grid = np.stack([x, y], -1).reshape(-1, 2).astype(float)
        n = len(self.grid)
        self.patches = reference.log[
            (self.grid[:, 1:].astype(int) + _WINDOW[:, 1].astype(int)),
            (self.grid[:, :1].astype(int) + _WINDOW[:, 0].astype(int)),
        ]
        self.centred, self.variance, self.noise = _template(self.patches, reference)
        self.mismatch = options.mismatch
        self.angle = angle
        self.pyramid = Pyramid(angle.log, _LEVELS)
        self.cost = np.full(n, np.inf)
        self.place = np.full((n, 2), np.nan)
        self.affine = np.zeros((n, 2, 2))
        self.cluster = np.full(n, -1)

    def offer(self, at: Int, place: Float, affine: Float, cluster: Int) -> None:
        """Take over a map at grid points where it explains the patch better than what is there."""
        if not len(at):
            return
        scale = np.sqrt(np.abs(np.linalg.det(affine)))
        values = _window(self.pyramid, place, affine, scale)
        template = _Template(self.centred[at], self.variance[at], self.noise[at])
        cost = _unexplained(template, values, self.angle, scale, self.mismatch)
        better = cost < self.cost[at]
        won = at[better]
        self.cost[won], self.place[won] = cost[better], place[better]
        self.affine[won], self.cluster[won] = affine[better], cluster[better]

    def jitter(self, rng: np.random.Generator, reach: float) -> None:
        """Try a random small change of each promising map."""
        at = np.nonzero(self.cost < 4)[0]
        scale = np.sqrt(np.abs(np.linalg.det(self.affine[at])))
        place = self.place[at] + rng.normal(size=(len(at), 2)) * reach * scale[:, None]
        varied = self.affine[at] @ (np.eye(2) + 0.06 * rng.normal(size=(len(at), 2, 2)))
        self.offer(at, place, varied, self.cluster[at])

    def propagate(self) -> None:
        """Offer every accepted map to the four neighbours."""
        index = np.arange(len(self.grid)).reshape(self.shape)
        for down, right in _STEPS:
            rows, columns = self.shape
            to = index[max(down, 0) : rows + min(down, 0), max(right, 0) : columns + min(right, 0)].ravel()
            source = index[max(-down, 0) : rows + min(-down, 0), max(-right, 0) : columns + min(-right, 0)].ravel()
            good = self.cost[source] < 1
            to, source = to[good], source[good]
            step = self.grid[to] - self.grid[source]
            self.offer(
                to,
                self.place[source] + _turn(self.affine[source], step),
                self.affine[source].copy(),
                self.cluster[source].copy(),
            )

    def accepted(self, tried: int) -> Grown:
        at = self.cost < 1
        return Grown(
            reference=self.grid[at],
            angle=self.place[at],
            affine=self.affine[at],
            cost=self.cost[at],
            structure=np.sqrt(self.variance[at]),
            cluster=self.cluster[at],
            tried=tried,
        )
