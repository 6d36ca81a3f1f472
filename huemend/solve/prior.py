"""What is known of the 3x3 between two cameras before any footage is seen.

Two cameras that look at one scene under one light, both decoded to scene-linear ACEScg, differ by their
sensitivities, by how their white balance was set and by how their input transforms were made. Simulating that over
measured spectra gives a distribution of 3x3s far narrower than "any nine numbers", and this module holds the few
numbers that describe it. ``tests/bench/derive_prior.py`` derives them and docs/prior.md tells how, from

* 52 measured camera sensitivities (rawtoaces-data, Academy Software Foundation),
* 170 object reflectances (Vrhel, Gershon & Iwan, Color Research & Application 19(1), 1994) and the 190 ACES
  training reflectances,
* CIE illuminants: daylight D50 to D75, A, LED and fluorescent,

and from judgement where nothing is measured: how far crews and makers are off in white balance and transforms.

The parameters
--------------
A combined matrix (exposure in it, as ``huemend.model.Match.combined``) is written as nine numbers theta::

    combined = 2**e * diag(b) @ (I + K)

K has rows that sum to zero, so a neutral sees only the gains b, and b has an AP1 luminance of 1 (the gauge of
``huemend.model.Match``). ``red_green`` is log2(b_r / b_g) and ``blue_green`` is log2(b_b / b_g), both in stops;
``k_rg`` is how much of green goes into red, and so on; the diagonal of K is what makes its rows sum to zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from huemend.base.arrays import Float, Float64
from huemend.base.units import AP1_LUMINANCE

#: Names of the nine parameters, in their order.
PARAMETERS: tuple[str, ...] = (
    "exposure",
    "red_green",
    "blue_green",
    "k_rg",
    "k_rb",
    "k_gr",
    "k_gb",
    "k_br",
    "k_bg",
)

_LN2 = float(np.log(2.0))
# Where the six free numbers stand in K.
_ROW = np.array([0, 0, 1, 1, 2, 2])
_COLUMN = np.array([1, 2, 0, 2, 0, 1])
_DIAGONAL = np.arange(3)


def theta_to_matrix(theta: Float) -> Float64:
    """Return the combined matrix of nine ``PARAMETERS``, (..., 9) to (..., 3, 3), which acts on column vectors.

    >>> bool((theta_to_matrix(np.zeros(9)) == np.eye(3)).all())
    True
    """
    theta = np.asarray(theta, np.float64)
    out: Float64 = _gains(theta)[..., None] * _mix(theta)
    return out


def matrix_to_theta(matrix: Float) -> Float64:
    """Return the nine parameters of a combined matrix; the inverse of ``theta_to_matrix``.

    Raises ValueError if the matrix takes the light of any channel of a neutral away: no gains can say that.
    """
    matrix = np.asarray(matrix, np.float64)
    gains = matrix.sum(-1)
    if not (gains > 0).all():
        raise ValueError("a match must leave a neutral with light in every channel")
    mix = matrix / gains[..., None]
    stops = np.log2(gains)
    balance = np.stack(
        [np.log2(gains @ AP1_LUMINANCE), stops[..., 0] - stops[..., 1], stops[..., 2] - stops[..., 1]], axis=-1
    )
    return np.concatenate([balance, mix[..., _ROW, _COLUMN]], axis=-1)


def theta_jacobian(theta: Float) -> Float64:
    """Return the derivative of the combined matrix by the parameters, (9,) to (9, 3, 3)."""
    theta = np.asarray(theta, np.float64)
    gains, mix = _gains(theta), _mix(theta)
    out = np.zeros((9, 3, 3))
    out[0] = _LN2 * gains[:, None] * mix
    # The gauge ties the gains: raising red against green lowers green and blue by red's share of the luminance.
    share = AP1_LUMINANCE * gains / (AP1_LUMINANCE @ gains)
    for parameter, channel in ((1, 0), (2, 2)):
        out[parameter] = -share[channel] * out[0]
        out[parameter, channel] += out[0, channel]
    free = np.arange(3, 9)
    out[free, _ROW, _COLUMN] = gains[_ROW]
    out[free, _ROW, _ROW] = -gains[_ROW]
    return out


def _gains(theta: Float) -> Float64:
    """Return 2**e * b, (..., 3)."""
    gains = np.ones((*theta.shape[:-1], 3))
    gains[..., 0], gains[..., 2] = np.exp2(theta[..., 1]), np.exp2(theta[..., 2])
    out: Float64 = gains * np.exp2(theta[..., 0, None]) / (gains @ AP1_LUMINANCE)[..., None]
    return out


def _mix(theta: Float) -> Float64:
    """Return I + K, (..., 3, 3)."""
    mix = np.zeros((*theta.shape[:-1], 3, 3))
    mix[..., _ROW, _COLUMN] = theta[..., 3:]
    mix[..., _DIAGONAL, _DIAGONAL] = 1.0 - mix.sum(-1)
    return mix


@dataclass(frozen=True, kw_only=True, eq=False)
class CameraPairPrior:
    """Distribution of the nine parameters between two cameras.

    Exposure is independent of the rest and normal; the eight colour parameters are jointly Student-t.
    """

    #: (9,) float64. Zero: which of two cameras is the hero is no property of the cameras.
    mean: Float
    #: (9, 9) float64.
    covariance: Float
    #: Degrees of freedom of the tails of the eight colour parameters (2 would mean no variance at all).
    dof: float
    #: Standard deviation of the difference in veiling glare, as a fraction of the mean light of the picture.
    flare_sd: float
    #: (9, 9) float64. Of what each root term gives to red, green and blue, relative to that channel's gain;
    #: independent of the rest, of mean zero and Student-t.
    roots_covariance: Float
    roots_dof: float

    def whiten(self, theta: Float) -> Float64:
        """Return nine numbers of mean 0 and identity covariance, (..., 9); the first is exposure's alone."""
        out: Float64 = (np.asarray(theta, np.float64) - np.asarray(self.mean, np.float64)) @ self.whitener.T
        return out

    @cached_property
    def whitener(self) -> Float64:
        """The (9, 9) lower triangular W with ``W @ covariance @ W.T = I``."""
        return np.linalg.inv(np.linalg.cholesky(self.covariance)).astype(np.float64)

    def distance(self, theta: Float) -> Float64:
        """Return the squared Mahalanobis distance of the eight colour parameters (exposure left out)."""
        out: Float64 = (self.whiten(theta)[..., 1:] ** 2).sum(-1)
        return out

    def weight(self, theta: Float) -> Float64:
        """Return how much the tails loosen the prior there: multiply the colour precision by it and solve again.

        Reweighting of a Student-t prior, written for its covariance rather than its scale matrix.
        """
        out: Float64 = (self.dof + 8.0) / (self.dof - 2.0 + self.distance(theta))
        return out

    def roots_weight(self, roots: Float) -> float:
        """Return the same for the root terms' coefficients, (9,)."""
        distance = float(roots @ np.linalg.solve(self.roots_covariance, roots))
        return (self.roots_dof + 9.0) / (self.roots_dof - 2.0 + distance)


def _frozen(values: Any) -> Float64:
    out = np.array(values, float)
    out.setflags(write=False)
    return out


def _covariance(deviation: tuple[float, ...], below: tuple[tuple[float, ...], ...]) -> Float64:
    """Build a covariance from standard deviations and the rows of correlations below the diagonal."""
    correlation = np.eye(len(deviation))
    for row, values in enumerate(below, start=1):
        correlation[row, :row] = correlation[:row, row] = values
    return _frozen(correlation * np.outer(deviation, deviation))


def _colour(deviation: tuple[float, ...], below: tuple[tuple[float, ...], ...]) -> Float64:
    """Put an independent exposure of one stop before the eight colour parameters."""
    out = np.zeros((9, 9))
    # Judgement: crews expose to taste and to the lens; two stops apart happens, four is a mistake.
    out[0, 0] = 1.0
    out[1:, 1:] = _covariance(deviation, below)
    return _frozen(out)


# Judgement: lenses have a veiling glare index (ISO 9358:1994) of about 1 to 5 % (common practice, no source); the
# difference of two drawn evenly from that range has a standard deviation of 4 % / sqrt(6).
_FLARE_SD = 0.016

#: What the best root terms between two cameras scatter by, row by row (docs/prior.md).
ROOTS_COVARIANCE = _covariance(
    (0.1345, 0.0595, 0.0389, 0.0547, 0.0690, 0.0287, 0.0433, 0.0579, 0.0252),
    (
        (0.20,),
        (-0.57, -0.90),
        (-0.30, 0.05, 0.08),
        (0.20, -0.52, 0.33, 0.05),
        (-0.15, 0.46, -0.32, -0.32, -0.94),
        (0.31, 0.04, -0.17, -0.77, -0.14, 0.33),
        (-0.15, 0.37, -0.25, 0.00, -0.59, 0.61, 0.13),
        (-0.03, -0.30, 0.27, 0.35, 0.50, -0.63, -0.51, -0.90),
    ),
)

#: Two cameras of different models on one set, white balance and input transforms as found in practice.
CAMERA_PAIR = CameraPairPrior(
    mean=_frozen(np.zeros(9)),
    covariance=_colour(
        (0.122, 0.213, 0.0444, 0.0288, 0.0312, 0.0526, 0.0207, 0.0567),
        (
            (0.09,),
            (0.15, -0.07),
            (0.19, -0.15, -0.28),
            (-0.04, 0.00, 0.25, -0.30),
            (-0.07, -0.46, -0.31, 0.58, -0.58),
            (0.20, -0.25, -0.06, 0.08, 0.26, 0.18),
            (0.02, 0.39, 0.05, -0.16, 0.36, -0.51, -0.42),
        ),
    ),
    dof=4.5,
    flare_sd=_FLARE_SD,
    roots_covariance=ROOTS_COVARIANCE,
    roots_dof=4.0,
)
