"""Patterns that repeat, and what their patches can know of light.

A patch of a tiled wall would be accepted on other tiles as well, and so would its neighbours: what features
placed there is right up to the pattern, and may be any number of tiles off. Where light runs over the wall, that
looks like another exposure. Patches that move together are one piece, and its place is known only up to the
shifts under which the reference shows most of them again (docs/maths.md, section 9, "What repeats").
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from huemend.base.arrays import Bool, Float, Float64, Int, Int64
from huemend.base.cv import import_cv2
from huemend.correspond.growth import HALF_WINDOW, WINDOW_SIGMA, Grown, allowed_difference
from huemend.correspond.raster import MatchPicture
from huemend.options import CorrespondOptions


def find_pieces(grown: Grown, options: CorrespondOptions) -> Int64:
    """Return the number of the piece of each patch, (n,): neighbours whose maps continue one another."""
    n = len(grown.cost)
    column, row = np.rint((grown.reference - grown.reference.min(axis=0)) / options.step).astype(int).T
    at = np.full((row.max() + 1, column.max() + 1), -1)
    at[row, column] = np.arange(n)
    scale = np.sqrt(np.abs(np.linalg.det(grown.affine)))
    edges = []
    for one, other in ((at[:, :-1], at[:, 1:]), (at[:-1], at[1:])):
        both = (one >= 0) & (other >= 0)
        i, j = one[both], other[both]
        step = np.einsum("nij,nj->ni", grown.affine[i], grown.reference[j] - grown.reference[i])
        together = np.hypot(*(grown.angle[j] - grown.angle[i] - step).T) < options.piece_slack * scale[i]
        edges.append(np.stack([i[together], j[together]]))
    i, j = np.concatenate(edges, axis=1)
    graph = coo_matrix((np.ones(len(i), bool), (i, j)), shape=(n, n))
    out: Int64 = connected_components(graph, directed=False)[1].astype(np.int64)
    return out


def repeated_light_spread(
    picture: MatchPicture, grown: Grown, weight: Float, options: CorrespondOptions
) -> Float64:
    """Return the light spread, (n,), of patches whose piece the reference, ``picture``, shows elsewhere as well.

    A standard deviation of the natural logarithm of luminance; 0 for those that are shown in one place only.
    """
    if not len(weight):
        return np.zeros(0)
    piece = find_pieces(grown, options)
    count = int(piece.max()) + 1
    speaking = _speakers(picture, grown, piece, options)
    places, of = np.rint(grown.reference[speaking]).astype(int), piece[speaking]
    repeats = np.zeros(count, bool)
    square, shifts = np.zeros(count), np.zeros(count)
    for reach, turned in ((options.repeat_reach, False), (options.repeat_reach // 2, True)):
        accepted, inside, change = _elsewhere(picture, places, reach, turned, options)
        votes, asked, moved = (np.zeros((count, 2 * reach + 1)) for _ in range(3))
        np.add.at(votes, of, accepted)
        np.add.at(asked, of, inside)
        np.add.at(moved, of, accepted * change)
        possible = votes >= np.maximum(options.piece_share * asked, options.piece_fewest)
        square += (possible * (moved / np.maximum(votes, 1)) ** 2).sum(axis=1)
        shifts += possible.sum(axis=1)
        repeats |= possible[:, np.abs(np.arange(-reach, reach + 1)) > options.cell].any(axis=1)
    shared = (repeats * square / np.maximum(shifts, 1))[piece]
    total = float(weight[repeats[piece]].sum())
    # Twice: a pair that is off by far less than it may be counts (nu + 3) / nu times in a fit with nu = 1.
    return np.asarray(2 * np.sqrt(shared * max(total, 1.0)), float)


def _speakers(picture: MatchPicture, grown: Grown, piece: Int, options: CorrespondOptions) -> Int:
    """Return some patches of each piece, evenly picked: of those with structure, where they are enough."""
    x, y = np.rint(grown.reference).astype(int).T
    structured = np.flatnonzero(grown.structure**2 > options.plain * picture.noise_at(picture.log[y, x]) ** 2)
    order = structured[np.argsort(piece[structured], kind="stable")]
    count = np.bincount(piece[order])
    rank = np.arange(len(order)) - np.repeat(np.cumsum(count) - count, count)
    own = count[piece[order]]
    spoken: Int = order[(own >= options.piece_fewest) & (rank % -(-own // options.piece_patches) == 0)]
    return spoken


def _elsewhere(
    picture: MatchPicture, places: Int, reach: int, turned: bool, options: CorrespondOptions
) -> tuple[Bool, Bool, Float]:
    """Return where on a line through places (n, 2) their patches would be accepted, by equation 17.

    The line is level, or upright if ``turned``. All three are (n, 2 reach + 1): accepted, inside the picture, and
    by how much the natural logarithm of light differs there.
    """
    cv2 = import_cv2()
    log = np.ascontiguousarray(picture.log.T) if turned else picture.log
    x, y = places[:, ::-1].T if turned else places.T
    size = 2 * HALF_WINDOW + 1
    mean = cv2.GaussianBlur(log, (size, size), WINDOW_SIGMA)
    variance = np.maximum(cv2.GaussianBlur(log * log, (size, size), WINDOW_SIGMA) - mean * mean, 0)
    column = x[:, None] + np.arange(-reach, reach + 1)
    inside = (column >= HALF_WINDOW) & (column < log.shape[1] - HALF_WINDOW)
    column = np.clip(column, 0, log.shape[1] - 1)
    wide = x[:, None] + np.arange(-reach - HALF_WINDOW, reach + HALF_WINDOW + 1)
    strip = log[
        (y[:, None] + np.arange(-HALF_WINDOW, HALF_WINDOW + 1))[:, :, None],
        np.clip(wide, 0, log.shape[1] - 1)[:, None],
    ]
    bell = cv2.getGaussianKernel(size, WINDOW_SIGMA).astype(np.float32)
    patch = (strip[:, :, reach : reach + size] - mean[y, x][:, None, None]) * (bell * bell.T)
    common = np.zeros(column.shape, np.float32)
    for row, right in np.ndindex(size, size):
        common += strip[:, row, right : right + column.shape[1]] * patch[:, row, right, None]
    light, there = mean[y[:, None], column], variance[y[:, None], column]
    here = variance[y, x][:, None]
    noise = picture.noise_at(mean[y, x])[:, None] ** 2 + picture.noise_at(light) ** 2
    allowed = allowed_difference(noise, np.sqrt(here * there), options.mismatch)
    accepted = inside & (here + there - 2 * common < allowed)
    return accepted, inside, (light - mean[y, x][:, None]) * np.log(2)
