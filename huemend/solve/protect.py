"""Colours that a match must hardly move, because somebody said so."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from huemend.base.arrays import Float
from huemend.model import KNOWN_SURFACES, Fit, Marks, Match, PairedColours, Reason
from huemend.model.reasons import Code
from huemend.options import SolveOptions
from huemend.solve.prior import matrix_to_theta, theta_to_matrix
from huemend.view import delta_e2000, measurement_lab

__all__ = ["faded", "protect"]


_HALVINGS = 24


def protect(
    pairs: PairedColours,
    fitted: Fit,
    marks: Marks,
    options: SolveOptions,
    *,
    view_exposure_stops: float = 0.0,
) -> Fit:
    """Fade a match until protected colours move by no more than the limit, and say what that cost.

    The movement of a name is the mean CIEDE2000, in the measurement view, between the angle as shot and matched,
    over all pairs that bear the name. Holding one colour and freeing the rest would take a channel mix that no two
    cameras have between them: it tears colours apart that nobody looked at. The whole match is faded instead.

    Parameters
    ----------
    pairs : PairedColours
    fitted : Fit
        Of the same pairs.
    marks : Marks
        ``protect`` and ``protect_limit``.
    options : SolveOptions
    view_exposure_stops : float

    Returns
    -------
    Fit
        ``fitted`` itself where nothing moves too far.
    """
    limit = options.protect_limit if marks.protect_limit is None else marks.protect_limit
    doubts: list[Reason] = []
    share = 1.0
    for name in marks.protect:
        # Where there are several people, their skin is named "skin of person 1" and so on.
        inside = np.array(
            [label == name or label.startswith(f"{name} of ") for label in pairs.label.tolist()], bool
        )
        if not inside.any():
            # A pair that marks other angles only has nothing to say here; skin and greys are everywhere.
            if name not in {pair.name for pair in marks.pairs} - KNOWN_SURFACES:
                doubts.append(_missing(name))
            continue
        rgb, weight = np.asarray(pairs.angle_rgb, float)[inside], np.asarray(pairs.weight, float)[inside]
        moved = _movement(fitted.match, rgb, weight, view_exposure_stops)
        if moved > limit:
            share = min(share, _largest_share(fitted.match, rgb, weight, limit, view_exposure_stops))
            doubts.append(_held_back(name, moved, limit))
    if share < 1:
        fitted = replace(
            fitted,
            match=faded(fitted.match, share),
            fold_matches=tuple(faded(match, share) for match in fitted.fold_matches),
            explained=f"{fitted.explained}; {share:.0%} of it, for what the setup file keeps as shot",
        )
    return replace(fitted, doubts=(*fitted.doubts, *doubts)) if doubts else fitted


def faded(match: Match, share: float) -> Match:
    """Return a match that goes part of the way: 0 leaves the angle as shot, 1 is the match itself.

    Exposure and balance fade in stops, so that half of two stops is one.
    """
    flare, contrast = share * match.flare, match.contrast**share
    if (match.matrix == np.eye(3)).all():
        return Match(exposure_stops=share * match.exposure_stops, flare=flare, contrast=contrast)
    mixed = theta_to_matrix(share * matrix_to_theta(match.combined))
    roots = share * mixed.sum(1)[:, None] * (match.roots / match.matrix.sum(1)[:, None])
    return Match.from_matrix(mixed, flare=flare, contrast=contrast, roots=roots)


def _largest_share(match: Match, rgb: Float, weight: Float, limit: float, view_exposure_stops: float) -> float:
    """Return how far a match may go before the colours move by more than the limit."""
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if _movement(faded(match, middle), rgb, weight, view_exposure_stops) > limit:
            high = middle
        else:
            low = middle
    return low


def _movement(match: Match, rgb: Float, weight: Float, view_exposure_stops: float) -> float:
    labs = (measurement_lab(value, view_exposure_stops) for value in (rgb, match.apply(rgb)))
    return float(np.average(delta_e2000(*labs), weights=weight))


def _missing(name: str) -> Reason:
    return Code.UNPROTECTED.because(name=name)


def _held_back(name: str, moved: float, limit: float) -> Reason:
    return Code.PROTECTED.because(name=name, moved=moved, limit=limit)
