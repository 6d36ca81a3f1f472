"""The parameters of a fit, where each stands in theta, and a match as them and back."""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Float, Float64, Int64
from huemend.model import Match, Rung
from huemend.solve.prior import matrix_to_theta, theta_to_matrix

#: The nine of ``huemend.solve.prior``, the flare of the three channels, the natural logarithm
#: of the contrast, and what each root term gives to red, to green and to blue, relative to that channel's gain.
PARAMETER_COUNT = 22
MATRIX = slice(0, 9)
FLARE = slice(9, 12)
CONTRAST = 12
ROOTS = slice(13, 22)

#: Which parameters a rung frees.
FREE: dict[Rung, Int64] = {
    Rung.NONE: np.arange(0),
    Rung.EXPOSURE: np.arange(1),
    Rung.BALANCE: np.arange(3),
    Rung.MATRIX: np.arange(MATRIX.stop),
    Rung.FLARE: np.arange(FLARE.stop),
    Rung.CONTRAST: np.r_[np.arange(MATRIX.stop), CONTRAST],
    Rung.ROOTS: np.r_[np.arange(MATRIX.stop), np.arange(ROOTS.start, ROOTS.stop)],
}


def roots_of(theta: Float) -> Float64:
    """Return the (3, 3) that multiplies root terms, exposure and balance in it."""
    gains: Float = theta_to_matrix(theta[MATRIX]).sum(1)
    return np.asarray(gains[:, None] * theta[ROOTS].reshape(3, 3), float)


def to_match(theta: Float, rung: Rung) -> Match:
    """Turn parameters into a match whose untaken rungs are exact identities."""
    if rung is Rung.NONE:
        return Match()
    matrix = theta_to_matrix(theta[MATRIX])
    if rung is Rung.EXPOSURE:
        return Match(exposure_stops=float(theta[0]))
    return Match.from_matrix(
        matrix,
        flare=theta[FLARE].copy() if rung is Rung.FLARE else None,
        contrast=float(np.exp(theta[CONTRAST])) if rung is Rung.CONTRAST else 1.0,
        roots=roots_of(theta) if rung is Rung.ROOTS else None,
    )


def to_theta(match: Match) -> Float64:
    """Return the parameters of a match: the inverse of ``to_match``, but for which rung it was."""
    theta = np.zeros(PARAMETER_COUNT)
    theta[MATRIX] = matrix_to_theta(match.combined)
    theta[FLARE] = match.flare
    theta[CONTRAST] = np.log(match.contrast)
    gains = theta_to_matrix(theta[MATRIX]).sum(1)
    theta[ROOTS] = (2.0**match.exposure_stops * match.roots / gains[:, None]).reshape(-1)
    return theta
