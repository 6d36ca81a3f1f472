"""Which candidates agree with their neighbours, and which groups of them are to be believed.

Counting epipolar inliers proves nothing on sets full of bricks and book spines (a wrong shift of a repeated
texture agrees with itself), so evidence is the sum of distinctiveness within a cluster that agrees on scale
and place, and a cluster that contradicts a better one about the same part of a picture is dropped.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from huemend.base.arrays import Float, Int
from huemend.base.units import FROM_MAD
from huemend.correspond.features import Candidates
from huemend.options import CorrespondOptions
from huemend.options.correspond import MATCHING_WIDTH

_NEIGHBOURS = 40
# The scatter of fewer says nothing.
_FEWEST_ECHOES = 5

# In pixels of a picture `MATCHING_WIDTH` wide: how near two clusters must come to be about the same part of the
# picture, and how far depth alone may shift one against the other there.
_TOUCHING = 30.0
_PARALLAX = 40.0


def agreement(candidates: Candidates) -> csr_matrix:
    """Return the graph of candidates that agree with one another.

    Two candidates agree if their feature scales are alike and if the step from one to the other in the
    reference predicts the step in the angle: up and down by the scale alone, sideways within what cameras that
    stand apart around a scene make of an upright surface.
    """
    n = len(candidates)
    root = 2.0 ** (candidates.scale / 2)
    rows, columns = [], []
    for places in (candidates.reference, candidates.angle):
        near = cKDTree(places).query(places, k=min(_NEIGHBOURS + 1, n))[1].reshape(n, -1)[:, 1:]
        # Most differ in scale, and nothing else need be known of those.
        i, k = np.nonzero(np.abs(candidates.scale[near] - candidates.scale[:, None]) < 0.5)
        j = near[i, k]
        scale = root[i] * root[j]
        # The step in the reference as the angle should show it, and as it does.
        x, y = scale * (candidates.reference[j] - candidates.reference[i]).T
        seen_x, seen_y = (candidates.angle[j] - candidates.angle[i]).T
        length = np.hypot(x, y)
        slack = 1.5 * scale
        agree = (
            (((seen_x * x > 0.6 * x * x) & (seen_x * x < 1.65 * x * x)) | (np.abs(seen_x - x) < slack))
            & (np.abs(seen_y - y) < 0.25 * length + slack)
            # Twin features of one corner are one witness, not two.
            & (length > scale)
            & (np.hypot(seen_x, seen_y) > 1)
        )
        rows.append(i[agree])
        columns.append(j[agree])
    i, j = np.concatenate(rows), np.concatenate(columns)
    graph = coo_matrix((np.ones(len(i), bool), (i, j)), shape=(n, n)).tocsr()
    return (graph + graph.T).astype(bool)


def believed(candidates: Candidates, options: CorrespondOptions) -> tuple[Int, dict[str, int]]:
    """Return the cluster number of each candidate, -1 for those not believed, and how many fell to which rule.

    Clusters are numbered best first: by their evidence, which counts for less the more their colours differ
    between the views (docs/maths.md, equation 16). A repeated texture that was matched to where a coloured lamp
    lights it agrees with itself as well as the right one does, but no two cameras could make such a colour of it.
    Once some are believed, less evidence will do for one whose colours differ between the views as theirs do.
    """
    label = np.full(len(candidates), -1)
    rejected = {"alone": 0, "weak": 0, "contradicted": 0}
    if len(candidates) < options.support + 1:
        rejected["alone"] = len(candidates)
        return label, rejected
    graph = agreement(candidates)
    supported = np.asarray(graph.sum(1)).ravel() >= options.support
    rejected["alone"] = int((~supported).sum())
    index = np.nonzero(supported)[0]
    if not len(index):
        return label, rejected
    count, part = connected_components(graph[index][:, index], directed=False)
    evidence = np.bincount(part, candidates.distinct[index], minlength=count)
    # Most clusters are a few candidates that fall short even of an echo.
    worth = np.flatnonzero(evidence >= min(options.cluster_evidence, options.echo_evidence))
    clusters = [index[part == cluster] for cluster in worth]
    tint = np.array([np.median(candidates.tint[members], axis=0) for members in clusters]).reshape(-1, 2)
    order = np.argsort(-evidence[worth] / (1 + np.square(tint / options.tint).sum(1)), kind="stable")
    ranked = [(clusters[place], evidence[worth[place]]) for place in order]
    tried = [members for members, weight in ranked if weight >= options.cluster_evidence]
    unit = options.width / MATCHING_WIDTH
    kept = _free_of_contradiction(candidates, tried, [], unit)
    if kept:
        shared = np.median(candidates.tint[np.concatenate(kept)], axis=0)
        weaker = [members for members, weight in ranked if weight < options.cluster_evidence]
        echoes = [members for members in weaker if _echoes(candidates.tint[members], shared, options)]
        tried += echoes
        kept = _free_of_contradiction(candidates, echoes, kept, unit)
    for place, members in enumerate(kept):
        label[members] = place
    rejected["weak"] = len(index) - sum(map(len, tried))
    rejected["contradicted"] = sum(map(len, tried)) - sum(map(len, kept))
    return label, rejected


def _free_of_contradiction(
    candidates: Candidates, clusters: list[Int], better: list[Int], unit: float
) -> list[Int]:
    """Return the better clusters, and after them those that contradict none before them."""
    kept = list(better)
    for members in clusters:
        if not any(_contradicts(candidates, members, other, unit) for other in kept):
            kept.append(members)
    return kept


def _echoes(tint: Float, shared: Float, options: CorrespondOptions) -> bool:
    """Say whether a cluster's colours differ between the views as the believed ones do, all of them alike."""
    middle = np.median(tint, axis=0)
    scatter = FROM_MAD * np.median(np.abs(tint - middle), axis=0)  # a standard deviation, were they normal
    off = np.stack([middle - shared, scatter]) / options.echo_tint
    return len(tint) >= _FEWEST_ECHOES and bool((np.square(off).sum(axis=1) < 1).all())


def _contradicts(candidates: Candidates, members: Int, better: Int, unit: float) -> bool:
    """Say whether a cluster sends the same part of one picture somewhere quite different in the other.

    Layers at different depths shift against each other by a fraction of the frame; a repeated texture that
    was matched one period off, or to another wall, is off by more than parallax can be.
    """
    scale = 2.0 ** np.median(candidates.scale[better])
    # All lengths in pixels of the reference, so that one limit serves both directions.
    reference, angle = candidates.reference, candidates.angle / scale
    for here, there in ((reference, angle), (angle, reference)):
        distance, near = cKDTree(here[better]).query(here[members])
        close = distance < _TOUCHING * unit
        if close.sum() < max(3, 0.3 * len(members)):
            continue
        step = here[members] - here[better][near]
        off = np.hypot(*(there[members] - there[better][near] - step).T)
        if np.median(off[close]) > _PARALLAX * unit:
            return True
    return False
