"""The ladder of models: nothing, exposure, balance, 3x3, 3x3 with flare; the simplest sufficient one wins."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.model import Match, Rung
from huemend.options import SolveOptions
from huemend.solve.prior import CameraPairPrior, theta_to_matrix
from huemend.solve.residuals import FLARE, Samples
from huemend.solve.robust import Estimate, estimate
from huemend.view import delta_e2000, measurement_lab

__all__ = ["FREE", "LADDER", "Climb", "climb", "to_match"]

Float = NDArray[np.floating[Any]]

#: From nothing to the richest.
LADDER = (Rung.NONE, Rung.EXPOSURE, Rung.BALANCE, Rung.MATRIX, Rung.FLARE)

#: Which parameters a rung frees.
FREE: dict[Rung, NDArray[np.int64]] = {
    Rung.NONE: np.arange(0),
    Rung.EXPOSURE: np.arange(1),
    Rung.BALANCE: np.arange(3),
    Rung.MATRIX: np.arange(9),
    Rung.FLARE: np.arange(12),
}

# A pair that is off by more than this is a wrong pair on every rung; it must not decide between rungs.
_CAP = 10.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Climb:
    """What the folds say of every rung.

    Attributes
    ----------
    rung : Rung
        The chosen one.
    error : mapping of rung to held-out mean CIEDE2000, wrong pairs capped
    folds : mapping of rung to the estimates of its folds
    explained : str
    """

    rung: Rung
    error: dict[Rung, float]
    folds: dict[Rung, tuple[Estimate, ...]]
    explained: str


def to_match(theta: Float, rung: Rung) -> Match:
    """Turn parameters into a match whose untaken rungs are exact identities."""
    if rung is Rung.NONE:
        return Match()
    matrix = theta_to_matrix(theta[:9])
    if rung is Rung.EXPOSURE:
        return Match(exposure_stops=float(theta[0]))
    return Match.from_matrix(matrix, flare=theta[FLARE].copy() if rung is Rung.FLARE else None)


def climb(
    samples: Samples,
    reference_rgb: Float,
    fold: NDArray[np.integer[Any]],
    prior: CameraPairPrior,
    options: SolveOptions,
    *,
    rungs: tuple[Rung, ...] = LADDER,
    view_exposure_stops: float,
    flare_unit: float,
) -> Climb:
    """Fit every rung without each fold, judge it on that fold, and choose (docs/maths.md, section 5)."""
    target = measurement_lab(reference_rgb, view_exposure_stops)
    numbers = np.unique(fold)
    per_rung: dict[Rung, tuple[Estimate, ...]] = {}
    errors: dict[Rung, Float] = {}
    for rung in rungs:
        held = np.zeros(len(samples))
        estimates = []
        for number in numbers:
            out = fold == number
            fitted = estimate(samples.take(~out), FREE[rung], prior, options, flare_unit=flare_unit)
            part = samples.take(out)
            shown = measurement_lab(part.predict(fitted.theta), view_exposure_stops)
            held[out] = np.minimum(delta_e2000(shown, target[out]), _CAP)
            estimates.append(fitted)
        per_rung[rung] = tuple(estimates)
        errors[rung] = held
    mean = {rung: float(np.average(value, weights=samples.weight)) for rung, value in errors.items()}
    best = min(rungs, key=lambda rung: mean[rung])
    for rung in rungs:
        loss, spread = _paired(errors[rung] - errors[best], samples)
        if rung is best or loss <= max(options.rung_slack * spread, options.rung_gain):
            explained = (
                f"held-out error {mean[rung]:.2f}; the best rung ({best}) has {mean[best]:.2f}"
                if rung is not best
                else f"held-out error {mean[rung]:.2f}, the lowest of all rungs beyond what chance gives"
            )
            return Climb(rung=rung, error=mean, folds=per_rung, explained=explained)
    raise AssertionError("unreachable: the best rung always qualifies")


def _paired(difference: Float, samples: Samples) -> tuple[float, float]:
    """Return the weighted mean of a difference and its standard error over groups."""
    groups = np.unique(samples.group, return_inverse=True)[1].reshape(-1)
    weight = np.bincount(groups, samples.weight)
    value = np.bincount(groups, samples.weight * difference) / weight
    share = weight / weight.sum()
    mean = float(share @ value)
    # Variance of a weighted mean of independent groups, with the small-sample factor.
    count = len(value)
    variance = float((share**2 @ (value - mean) ** 2) * count / max(count - 1, 1))
    return mean, variance**0.5
