"""A match that somebody's wish moves: as near to the best one as can be, and no farther off than wished.

A wish names colours and what they are to come out as: the hero's, so that they match best, or the angle's own, so
that they stay as shot. Between the best match and the wish stands what the pairs and the camera-pair prior say of
the nine parameters: a direction that they leave open costs nothing, one that they pin costs much. So a wish moves
other colours only as far as it has to (docs/maths.md, section 8).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from huemend.base.arrays import Bool, Float, Float64, weighted_median
from huemend.base.units import AP1_LUMINANCE
from huemend.model import Fit, Interval, Match, PairedColours, Rung, Uncertainty
from huemend.options import SolveOptions
from huemend.solve.hues import unfolded
from huemend.solve.parameters import MATRIX, to_match, to_theta
from huemend.solve.prior import CAMERA_PAIR, matrix_to_theta, theta_to_matrix
from huemend.solve.residuals import Samples, opponent
from huemend.solve.robust import scales, t_weights, variances

_MIX = np.arange(MATRIX.stop)
_ROUNDS = 4
#: How often a step that leads farther off is halved.
_HALVINGS = 10
_SCALE_ROUNDS = 12


@dataclass(frozen=True, kw_only=True, eq=False)
class Wish:
    """Colours of the angle, and what they are to come out as."""

    #: (n,) bool. Which pairs show them.
    inside: Bool
    #: (n, 3) array, scene-linear ACEScg. What each of these is to come out as; the others are not looked at.
    target_rgb: Float
    #: The target's light is known as well as its colour: nothing is forgiven for shading or for areas apart.
    light: bool = False


def nearest(pairs: PairedColours, fitted: Fit, wish: Wish, strength: float, options: SolveOptions) -> Fit:
    """Return a fit of the same pairs moved towards a wish, the matches of its folds too, each by what it may see.

    ``strength`` is how often a pair of the wish counts in the wish's favour what it counts in the fit.
    ``uncertainty`` still tells of the best match; its intervals are drawn out until they hold this one.
    """
    samples = Samples.of(pairs, options)
    rung = fitted.rung if fitted.rung.mixes else Rung.MATRIX

    def moved(match: Match, seen: Bool) -> Match:
        if not (wish.inside & seen).any():
            return match
        own = replace(wish, inside=wish.inside[seen], target_rgb=wish.target_rgb[seen])
        theta = _moved(samples.take(seen), to_theta(match), own, strength, options)
        return to_match(unfolded(theta), rung)

    everything = np.ones(len(pairs), bool)
    match = moved(fitted.match, everything)
    return replace(
        fitted,
        match=match,
        rung=rung,
        uncertainty=_holding(fitted.uncertainty, match),
        fold_matches=tuple(
            moved(each, ~hidden) for each, hidden in zip(fitted.fold_matches, fitted.hidden, strict=True)
        ),
    )


def faded(fitted: Fit, share: float) -> Fit:
    """Return a fit whose matches go part of the way: 0 leaves the angle as shot, 1 is the fit itself.

    Exposure and balance fade in stops, so that half of two stops is one.
    """
    match = _faded(fitted.match, share)
    return replace(
        fitted,
        match=match,
        uncertainty=_holding(fitted.uncertainty, match),
        fold_matches=tuple(_faded(each, share) for each in fitted.fold_matches),
    )


def alike(pairs: PairedColours, match: Match, some: Bool, options: SolveOptions) -> Bool:
    """Return those of some pairs that agree with the middle one of their name on what a match leaves, (n,).

    A wrong pair on a face does not; one that is as far off the match as the whole face is, does.
    """
    samples = Samples.of(pairs, options)
    residual = samples.residual(to_theta(match))
    shading, misfit_ratio, _ = _scales(samples, residual, options)
    variance = variances(samples, shading, misfit_ratio, options)
    out = np.zeros(len(pairs), bool)
    for name in np.unique(pairs.label[some]):
        own = some & (pairs.label == name)
        middle = [weighted_median(part, samples.weight[own]) for part in residual[own].T]
        square = np.square(residual[own] - middle) / variance[own]
        out[own] = square.sum(1) < options.agreeing
    return out


def is_believable(match: Match, options: SolveOptions) -> bool:
    """Say whether two cameras under one light may have such a match between them."""
    lit = bool((match.combined.sum(1) > 0).all())
    return lit and float(CAMERA_PAIR.distance(matrix_to_theta(match.combined))) <= options.implausible_mix


def _moved(samples: Samples, start: Float, wish: Wish, strength: float, options: SolveOptions) -> Float64:
    """Minimise what leaving the best match costs and ``strength`` times what the wish is still short of."""
    residual = samples.residual(start)
    shading, misfit_ratio, part = _scales(samples, residual, options)
    variance = variances(samples, shading, misfit_ratio, options)
    worth = part[:, None] / variance
    cost = _curvature(samples.jacobian(start, _MIX), worth) + _prior(start)
    own = samples.take(wish.inside)
    target = opponent(wish.target_rgb[wish.inside])
    if wish.light:
        # What a colour is to come out as is known exactly: shading and noise between the views are not in it.
        unsure = np.array([shading, misfit_ratio * options.misfit, misfit_ratio * options.misfit]) ** 2.0
    else:
        unsure = variance[wish.inside]
    pull = strength * own.weight[:, None] / unsure
    if not wish.light:
        # Light that may differ between the views differs for all of an area alike: no strength makes it known.
        most = own.weight / own.weight.sum() / np.maximum(np.square(own.light_spread), 1e-9)
        pull[:, 0] = np.minimum(pull[:, 0], most)

    def lacks(tried: Float) -> float:
        rgb, gone = own.predict(tried), tried[MATRIX] - start[MATRIX]
        # A match that leaves no light is none, however near it comes.
        dark = (rgb @ AP1_LUMINANCE <= 0).any() or (theta_to_matrix(tried[MATRIX]).sum(1) <= 0).any()
        return np.inf if dark else float(gone @ cost @ gone + (pull * np.square(target - opponent(rgb))).sum())

    theta = np.array(start, float)
    for _ in range(_ROUNDS):
        short = target - opponent(own.predict(theta))
        slope = own.jacobian(theta, _MIX)
        gradient = np.einsum("fcn,nc->f", slope, pull * short) - cost @ (theta[MATRIX] - start[MATRIX])
        step = np.linalg.solve(_curvature(slope, pull) + cost, gradient)
        # A camera that was shot far off is a long way from what the slopes at the match say: go less far.
        for part in 2.0 ** -np.arange(_HALVINGS):
            tried = theta.copy()
            tried[MATRIX] += part * step
            if lacks(tried) <= lacks(theta) * (1 + 1e-9):
                theta = tried
                break
    return theta


def _curvature(slope: Float, worth: Float) -> Float64:
    """Return JᵀWJ of slopes (parameters, 3, n) and weights (n, 3)."""
    rows = (slope * worth.T).reshape(len(slope), -1)
    return np.asarray(rows @ slope.reshape(len(slope), -1).T, float)


def _prior(theta: Float) -> Float64:
    precision = np.linalg.inv(np.asarray(CAMERA_PAIR.covariance, float))
    precision[1:, 1:] *= CAMERA_PAIR.weight(theta[MATRIX])
    return precision


def _scales(samples: Samples, residual: Float, options: SolveOptions) -> tuple[float, float, Float64]:
    """Return shading, misfit, and what each sample counts, as the fit learns them, where it has come to rest."""
    shading, misfit_ratio, places = options.shading_start, 1.0, len(np.unique(samples.group))
    for _ in range(_SCALE_ROUNDS):
        *_, part = t_weights(samples, residual, shading, misfit_ratio, options)
        shading, misfit_ratio = scales(samples, residual, part, (shading, misfit_ratio), places, options)
    return shading, misfit_ratio, part


def _holding(uncertainty: Uncertainty, match: Match) -> Uncertainty:
    """Draw intervals out until they hold a match that was moved off what the pairs alone ask for."""
    red, blue = match.balance

    def drawn(interval: Interval, value: float) -> Interval:
        return Interval(low=min(interval.low, value), high=max(interval.high, value))

    return replace(
        uncertainty,
        exposure_stops=drawn(uncertainty.exposure_stops, match.exposure_stops),
        red_green_stops=drawn(uncertainty.red_green_stops, red),
        blue_green_stops=drawn(uncertainty.blue_green_stops, blue),
    )


def _faded(match: Match, share: float) -> Match:
    flare, contrast = share * match.flare, match.contrast**share
    if (match.matrix == np.eye(3)).all():
        return Match(exposure_stops=share * match.exposure_stops, flare=flare, contrast=contrast)
    mixed = theta_to_matrix(share * matrix_to_theta(match.combined))
    roots = share * mixed.sum(1)[:, None] * (match.roots / match.matrix.sum(1)[:, None])
    return Match.from_matrix(mixed, flare=flare, contrast=contrast, roots=roots)
