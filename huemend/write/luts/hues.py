"""What a match does beyond its matrix: in a colorist's words, as a LUT of its own, and without it as a matrix.

A CLF and a CDL hold no root terms; the nearest 3x3 stands in, and what it misses is said beside it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from huemend.base.arrays import Float, Float64
from huemend.model import Match
from huemend.model.surfaces import patches
from huemend.view import delta_e2000, measurement_lab

#: What a colorist asks after, and the patches of a chart that stand for it.
SURFACES: dict[str, tuple[str, ...]] = {
    "skin": ("light skin", "dark skin"),
    "foliage": ("foliage", "green"),
    "blue": ("blue", "cyan"),
    "red": ("red", "magenta"),
}


def beyond_matrix(match: Match) -> dict[str, float]:
    """Return by how much a match moves typical surfaces beyond what its matrix does.

    Mean CIEDE2000 by surface; empty where the match has no root terms.
    """
    if not match.roots.any():
        return {}
    # Moved by the match they would stand at another exposure; the matrix taken back, they stay typical.
    moved = {}
    for name, known in SURFACES.items():
        recorded = np.linalg.solve(match.combined, patches(*known).T).T
        labs = (measurement_lab(each.apply(recorded)) for each in (match.without_roots, match))
        moved[name] = float(np.mean(delta_e2000(*labs)))
    return moved


def apply_hues(match: Match, light: Float) -> Float64:
    """Apply what a match does beyond its matrix to light, (..., 3) ACEScg, as ``match.without_roots`` left it."""
    recorded = np.asarray(light, float) @ np.linalg.inv(match.combined).T + match.flare
    return np.asarray(match.apply(recorded), float)


def nearest_matrix(match: Match, colours: Float) -> Match:
    """Return the match without root terms that comes nearest to one with them over colours as recorded, ACEScg.

    Least squares, each channel relative to the luminance, so that highlights do not outvote faces; the light of a
    neutral stays as it is.
    """
    if not match.roots.any():
        return match
    gains = match.combined.sum(1)
    rgb = np.asarray(colours, float)
    rgb = rgb[(rgb > 1e-4).all(1)]
    if len(rgb) < 3:
        return match.without_roots
    wanted = match.apply(rgb)
    per_light = 1 / rgb.mean(1)
    # Rows that keep a neutral: what is fitted is how much red and blue, against green, add to each channel.
    features = (rgb[:, ::2] - rgb[:, 1:2]) * per_light[:, None]
    left = (wanted - gains * rgb[:, 1:2]) * per_light[:, None]
    slope = np.linalg.lstsq(features, left, rcond=None)[0].T
    matrix = np.column_stack([slope[:, 0], gains - slope.sum(1), slope[:, 1]])
    return replace(Match.from_matrix(matrix), flare=match.flare, contrast=match.contrast)
