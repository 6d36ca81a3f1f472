"""Colours that a match must hardly move, because somebody said so."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.model import KNOWN_SURFACES, Fit, Marks, Match, PairedColours, Reason, Rung
from huemend.options import SolveOptions
from huemend.solve.ladder import FREE, to_match
from huemend.solve.prior import CAMERA_PAIR, CameraPairPrior, theta_to_matrix
from huemend.solve.residuals import Samples
from huemend.solve.robust import estimate
from huemend.view import delta_e2000, measurement_lab

__all__ = ["protect"]

Float = NDArray[np.floating[Any]]

# A pull of that many units of the prior moves nothing that it holds; below the least it holds nothing.
_WEAKEST, _STRONGEST = 1e-3, 1e7
_HALVINGS = 14
_STEP = 1e-4


def protect(
    pairs: PairedColours,
    fitted: Fit,
    marks: Marks,
    options: SolveOptions,
    *,
    prior: CameraPairPrior = CAMERA_PAIR,
    view_exposure_stops: float = 0.0,
) -> Fit:
    """Hold a match so that protected colours move by no more than the limit, and say what that cost.

    The movement of a name is the mean CIEDE2000, in the measurement view, between the angle as shot and matched,
    over all pairs that bear the name. Where it is too large, the match is fitted again while those colours are
    drawn to where they were, just strongly enough (docs/areas.md); the rest agrees as well as that allows.

    Parameters
    ----------
    pairs : PairedColours
    fitted : Fit
        Of the same pairs.
    marks : Marks
        ``protect`` and ``protect_limit``.
    options : SolveOptions
    prior : CameraPairPrior, optional
    view_exposure_stops : float

    Returns
    -------
    Fit
        ``fitted`` itself where nothing moves too far.
    """
    limit = options.protect_limit if marks.protect_limit is None else marks.protect_limit
    doubts: list[Reason] = []
    held: dict[str, tuple[Float, Float]] = {}
    for name in marks.protect:
        inside = np.asarray(pairs.label == name)
        if not inside.any():
            # A pair that marks other angles only has nothing to say here; skin and greys are everywhere.
            if name not in {pair.name for pair in marks.pairs} - KNOWN_SURFACES:
                doubts.append(_missing(name))
            continue
        rgb, weight = np.asarray(pairs.angle_rgb, float)[inside], np.asarray(pairs.weight, float)[inside]
        moved = _movement(fitted.match, rgb, weight, view_exposure_stops)
        if moved > limit:
            held[name] = rgb, weight
            doubts.append(_held_back(name, moved, limit))
    if held:
        fitted = _held(pairs, fitted, list(held.values()), limit, prior, options, view_exposure_stops)
    return replace(fitted, doubts=(*fitted.doubts, *doubts)) if doubts else fitted


def _missing(name: str) -> Reason:
    return Reason(
        code="unprotected",
        text=f"{name} is to be protected, and this angle shows none that is known",
        todo=f"mark it: a [[pair]] named {name!r} with an area on this angle",
    )


def _held_back(name: str, moved: float, limit: float) -> Reason:
    return Reason(
        code="protected",
        text=f"the match would move {name} by {moved:.1f} CIEDE2000 and was held back to the {limit:.1f} that the "
        "setup file allows",
        todo=f"raise protect_limit, or leave {name} out of protect, if the hero is to win",
    )


def _movement(match: Match, rgb: Float, weight: Float, view_exposure_stops: float) -> float:
    labs = (measurement_lab(value, view_exposure_stops) for value in (rgb, match.apply(rgb)))
    return float(np.average(delta_e2000(*labs), weights=weight))


def _held(
    pairs: PairedColours,
    fitted: Fit,
    held: list[tuple[Float, Float]],
    limit: float,
    prior: CameraPairPrior,
    options: SolveOptions,
    view_exposure_stops: float,
) -> Fit:
    # Flare and contrast move single colours in ways that the pull does not know of.
    rung = Rung.MATRIX if fitted.rung in (Rung.FLARE, Rung.CONTRAST) else fitted.rung
    samples = Samples.of(pairs, options)
    unit = sum(_pull(rgb, weight, view_exposure_stops) for rgb, weight in held)

    def solved(which: NDArray[Any], strength: float) -> Match:
        found = estimate(samples.take(which), FREE[rung], prior, options, pull=strength * np.asarray(unit))
        return to_match(found.theta, rung)

    def too_far(match: Match) -> bool:
        return any(_movement(match, rgb, weight, view_exposure_stops) > limit for rgb, weight in held)

    some = np.unique(np.linspace(0, len(samples) - 1, min(len(samples), options.fold_pairs)).astype(int))
    low, high = _WEAKEST, _STRONGEST
    for _ in range(_HALVINGS):
        middle = float(np.sqrt(low * high))
        low, high = (middle, high) if too_far(solved(some, middle)) else (low, middle)
    everything = np.arange(len(samples))
    match = solved(everything, high)
    while too_far(match) and high < _STRONGEST:
        high *= 2
        match = solved(everything, high)
    folds = tuple(solved(np.nonzero(fitted.fold != number)[0], high) for number in range(len(fitted.fold_matches)))
    return replace(
        fitted,
        match=match,
        rung=rung,
        fold_matches=folds,
        explained=f"{fitted.explained}; held back for what the setup file protects",
    )


def _pull(rgb: Float, weight: Float, view_exposure_stops: float) -> NDArray[np.float64]:
    """Return the (9, 9) matrix whose quadratic form is the mean squared movement in CIELAB near the identity."""
    start = measurement_lab(rgb, view_exposure_stops)
    slopes = []
    for parameter in range(9):
        theta = np.zeros(9)
        theta[parameter] = _STEP
        moved = measurement_lab(rgb @ theta_to_matrix(theta).T, view_exposure_stops)
        slopes.append((moved - start) / _STEP)
    slope = np.stack(slopes, axis=-1)
    share = weight / weight.sum()
    out: NDArray[np.float64] = np.einsum("n,nik,nil->kl", share, slope, slope)
    return out
