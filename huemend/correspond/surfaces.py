"""Plain surfaces, and what their patches can know of light.

A patch that noise alone explains has no place of its own: it would look the same anywhere on its surface. Where
light runs over that surface, a shift of all its patches together (a backdrop behind an outline that features
placed) looks like another exposure. How much of an exposure such a surface can still tell follows from how its
light runs (docs/maths.md, section 9, "Light of plain surfaces").
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float, Float64, Int, Int64
from huemend.base.cv import import_cv2
from huemend.correspond.raster import MatchPicture
from huemend.options import CorrespondOptions

_AROUND = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, -1), (1, -1), (-1, 1))
# Every so many pixels say how light runs over a surface; the smallest surface is five wide.
_EVERY = 2


@dataclass(frozen=True, kw_only=True, eq=False)
class PlainSurfaces:
    """The plain surfaces of a picture."""

    #: (height, width) int32. Number of the surface that each pixel belongs to; 0 where there is structure.
    label: NDArray[np.int32]
    #: (height, width) float32. log2 of luminance, averaged over 3x3 pixels.
    log: Float
    #: (labels, 2) float64. Mean place of a surface's pixels.
    middle: Float
    #: (labels,) float64. Root mean square distance of its pixels from there.
    extent: Float
    #: (labels, 2), bend : (labels, 2, 2) float64. Natural logarithm of light: by a pixel to the right and one down
    #: at the middle, and how that changes.
    slope: Float
    bend: Float

    def at(self, places: Float, options: CorrespondOptions) -> Int64:
        """Return which surface (0: none) patches at ``places`` (n, 2) belong to.

        A window at the rim of a surface holds its outline and is not plain; a patch there that is as bright as the
        surface beside it belongs to it all the same.
        """
        height, width = self.label.shape
        x, y = np.rint(np.asarray(places, float)).astype(int).T
        x, y = np.clip(x, 0, width - 1), np.clip(y, 0, height - 1)
        own: Int64 = self.label[y, x].astype(np.int64)
        for reach in range(1, options.plain_rim + 1):
            for right, down in _AROUND:
                there = np.clip(y + down * reach, 0, height - 1), np.clip(x + right * reach, 0, width - 1)
                alike = np.abs(self.log[there] - self.log[y, x]) < options.plain_alike
                taken = (own == 0) & alike
                own[taken] = self.label[there][taken]
        return own

    def run(self, surface: Int, places: Float) -> Float64:
        """Return how light runs at places (n, 2) of surfaces (n,): its natural logarithm, by pixel, (n, 2)."""
        out: Float64 = self.slope[surface] + np.einsum(
            "nij,nj->ni", self.bend[surface], places - self.middle[surface]
        )
        return out


def find_plain(picture: MatchPicture, options: CorrespondOptions) -> PlainSurfaces:
    """Find the surfaces of a picture on which noise explains every patch."""
    cv2 = import_cv2()
    log = picture.log
    mean = cv2.blur(log, (5, 5))
    variance = np.maximum(cv2.blur(log * log, (5, 5)) - mean * mean, 0)
    plain = (variance < options.plain * picture.noise_at(mean) ** 2).astype(np.uint8)
    # Surfaces that touch by a thread of pixels are two.
    plain = cv2.morphologyEx(plain, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    count, label = cv2.connectedComponents(plain, connectivity=4)
    middle, extent, slope, bend = _light(label, mean, count)
    return PlainSurfaces(
        label=label.astype(np.int32),
        log=cv2.blur(log, (3, 3)),
        middle=middle,
        extent=extent,
        slope=slope,
        bend=bend,
    )


def _light(label: Int, log: Float, count: int) -> tuple[Float, Float, Float, Float]:
    """Fit a quadratic to the logarithm of light over every surface: middle, extent, slope and bend of each."""
    few = label[_EVERY // 2 :: _EVERY, _EVERY // 2 :: _EVERY]
    y, x = np.nonzero(few)
    number = few[y, x]
    places = np.stack([x, y], 1) * float(_EVERY) + _EVERY // 2
    value = log[places[:, 1].astype(int), places[:, 0].astype(int)] * np.log(2)

    def total(of: Float) -> Float64:
        out: Float64 = np.bincount(number, of, count).astype(float)
        return out

    area = np.maximum(total(np.ones(len(number))), 1)
    middle = np.stack([total(axis) / area for axis in places.T], 1)
    off = places - middle[number]
    extent = np.sqrt(total((off**2).sum(1)) / area)
    unit = np.maximum(extent, 1.0)
    u, v = (off / unit[number, None]).T
    terms = [np.ones(len(u)), u, v, u * u, u * v, v * v]
    normal, right = np.empty((count, 6, 6)), np.empty((count, 6))
    for i, term in enumerate(terms):
        right[:, i] = total(term * value)
        for j in range(i, 6):
            normal[:, i, j] = normal[:, j, i] = total(term * terms[j])
    # A surface of few pixels, or a narrow one, does not tell how its light bends.
    normal += np.diag([1e-6, 0.1, 0.1, 1.0, 1.0, 1.0])
    fit = np.linalg.solve(normal, right[..., None])[..., 0]
    slope = fit[:, 1:3] / unit[:, None]
    bend = np.stack([2 * fit[:, 3], fit[:, 4], fit[:, 4], 2 * fit[:, 5]], 1).reshape(-1, 2, 2)
    return middle, extent, slope, bend / unit[:, None, None] ** 2


def shared_light_spread(
    surface: Int, run: Float, extent: Float, weight: Float, options: CorrespondOptions
) -> Float64:
    """Return the light spread, (n,), of pairs whose places on their surface are off together by an unknown way.

    The residual of a surface's pairs is the exposure and ``run @ shift``, with one shift for all of them,
    which is normal with the surface's extent as its standard deviation. What is left of the exposure's
    precision with the shift unknown says how well the surface's light is known. Since that error is shared,
    each pair is given its variance times the weight of all: together they weigh what the surface is worth.

    ``surface`` is 0 for pairs that have a place of their own, and so is their spread; ``run``, (n, 2), is the
    slope of the natural logarithm of light by pixel, and ``extent`` that of each pair's surface in pixels.
    """
    out = np.zeros(len(surface))
    for number in np.unique(surface[surface > 0]):
        at = surface == number
        precision = weight[at] / options.plain_shading**2
        alone = float(precision.sum())
        moved = run[at].T @ precision
        shift = (run[at].T * precision) @ run[at] + np.eye(2) / max(float(extent[at][0]), 1.0) ** 2
        left = alone - float(moved @ np.linalg.solve(shift, moved))
        shared = 1 / max(left, 1e-9) - 1 / alone
        out[at] = np.sqrt(max(shared, 0.0) * max(1.0, float(weight[at].sum())))
    return out
