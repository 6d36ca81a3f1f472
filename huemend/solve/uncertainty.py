"""From the covariance of the parameters to numbers that a colorist can use."""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Float
from huemend.base.units import NINETY
from huemend.model import Interval, Uncertainty
from huemend.model.surfaces import NEUTRALS, SATURATED, patches
from huemend.options import SolveOptions
from huemend.solve.parameters import FLARE, MATRIX
from huemend.solve.prior import theta_to_matrix
from huemend.view import delta_e2000, measurement_lab, tinted

_DRAWS = 64
_TOLD = FLARE.stop

# Told under the hero's light.
_SKIN, _NEUTRAL, _SATURATED = patches("light skin", "dark skin"), patches(*NEUTRALS), patches(*SATURATED)


def spread(
    theta: Float,
    covariance: Float,
    options: SolveOptions,
    *,
    taken: Float | None = None,
    misfit_ratio: float = 0.0,
) -> Uncertainty:
    """Return 90 % intervals and predicted colour errors of a match (docs/maths.md, section 6).

    How sure a contrast is does not show in the numbers that are told. Where the match that was ``taken`` is a
    simpler one, intervals are drawn out until they hold it, and colour errors are its own. ``misfit_ratio`` is
    the chroma scatter of the pairs about the match, as `Estimate` has it: a kind of surface may lie off it so.
    """
    # Metamerism and gloss towards one camera are common to many pairs: their scatter does not show it.
    theta, covariance = theta[:_TOLD], np.array(covariance, float)[:_TOLD, :_TOLD]
    covariance[np.arange(3), np.arange(3)] += np.square(options.systematic)
    taken = theta if taken is None else taken[:_TOLD]
    sd = np.sqrt(np.maximum(np.diag(covariance), 0))
    interval = [
        Interval(
            low=float(min(theta[k] - NINETY * sd[k], taken[k])),
            high=float(max(theta[k] + NINETY * sd[k], taken[k])),
        )
        for k in range(3)
    ]
    rng = np.random.default_rng(options.seed)
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(values, 0))
    draws = theta + rng.normal(size=(_DRAWS, len(theta))) @ root.T
    best = theta_to_matrix(theta[MATRIX])
    errors = []
    # What no 3x3 explains of a kind of surface is the same wherever that kind is seen; more pairs don't tell it.
    # Greys reflect evenly and are spared.
    own = options.kind_share * misfit_ratio * options.misfit
    for surfaces, off in ((_SKIN, own), (_NEUTRAL, 0.0), (_SATURATED, own)):
        # The surfaces are as the hero sees them; what the angle recorded of them follows from the match.
        recorded = surfaces @ np.linalg.inv(best).T + theta[FLARE]
        matched = measurement_lab((recorded - taken[FLARE]) @ theta_to_matrix(taken[MATRIX]).T)
        drawn = np.stack([(recorded - draw[FLARE]) @ theta_to_matrix(draw[MATRIX]).T for draw in draws])
        drawn = tinted(drawn, off * rng.normal(size=(*drawn.shape[:2], 2)))
        errors.append(
            float(
                np.quantile(
                    delta_e2000(measurement_lab(drawn), np.broadcast_to(matched, drawn.shape)).mean(-1), 0.95
                )
            )
        )
    return Uncertainty(
        exposure_stops=interval[0],
        red_green_stops=interval[1],
        blue_green_stops=interval[2],
        skin_error=errors[0],
        neutral_error=errors[1],
        saturated_error=errors[2],
    )
