"""The best single gain and 3x3 there is: fitted on the truth itself.

No solver can know more than this one does, so it bounds what a matrix can reach on an angle. It minimises
the mean CIEDE2000 and not a sum of squares: least squares would follow the brightest pixels.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares, minimize

from tests.bench.accuracy.cases import Truth
from tests.bench.accuracy.score import differences, view_lab

#: Pixels the fit looks at; more change the result by less than 0.01.
_PIXELS = 6000


def best_matrix(truth: Truth, *, polish: bool = True) -> NDArray[np.float64]:
    """Return the (3, 3) matrix on column vectors of scene-linear ACEScg that comes closest to the truth.

    Starts from iteratively reweighted least squares in CIELAB scaled as CIEDE2000 scales it, then polishes
    the mean CIEDE2000 itself; without ``polish`` that last step, worth less than 0.01, is left out.
    """
    shot, want = truth.shot.reshape(-1, 3), truth.truth.reshape(-1, 3)
    if len(shot) > _PIXELS:
        keep = np.random.default_rng(1).choice(len(shot), _PIXELS, replace=False)
        shot, want = shot[keep], want[keep]
    want_lab = view_lab(want)
    scale = _scales(want_lab)

    def residual(flat: NDArray[np.float64], weight: NDArray[np.float64]) -> NDArray[np.float64]:
        off = view_lab(shot @ flat.reshape(3, 3).T) - want_lab
        return np.asarray((_to_lch(off, want_lab) * scale * weight[:, None]).ravel(), float)

    def cost(flat: NDArray[np.float64]) -> float:
        return float(differences(shot @ flat.reshape(3, 3).T, want).mean())

    starts = [np.eye(3), _least_squares(shot, want)]
    flat = min((start.ravel() for start in starts), key=cost)
    best, best_cost = flat, cost(flat)
    weight = np.ones(len(shot))
    for _ in range(12):
        # Weighting a squared residual by 1/|r| minimises the mean of |r|.
        flat = least_squares(residual, flat, args=(weight,), method="lm", max_nfev=60).x
        error = differences(shot @ flat.reshape(3, 3).T, want)
        weight = 1.0 / np.sqrt(np.maximum(error, 0.05))
        if error.mean() < best_cost:
            best, best_cost = flat, float(error.mean())
    if not polish:
        return np.asarray(best, float).reshape(3, 3)
    polished = minimize(cost, best, method="Powell", options={"maxiter": 4, "xtol": 1e-5, "ftol": 1e-6})
    return np.asarray(polished.x if polished.fun < best_cost else best, float).reshape(3, 3)


def _least_squares(shot: NDArray[np.float64], want: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.linalg.lstsq(shot, want, rcond=None)[0].T, float)


def _to_lch(off: NDArray[np.float64], lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """Turn differences in a and b into differences along chroma and along hue."""
    chroma = np.maximum(np.hypot(lab[:, 1], lab[:, 2]), 1e-6)
    c, s = lab[:, 1] / chroma, lab[:, 2] / chroma
    return np.stack([off[:, 0], c * off[:, 1] + s * off[:, 2], c * off[:, 2] - s * off[:, 1]], axis=-1)


def _scales(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """One over CIEDE2000's S_L, S_C and S_H (Sharma, Wu & Dalal 2005), without its hue terms."""
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    dark = (lab[:, 0] - 50.0) ** 2
    s_l = 1 + 0.015 * dark / np.sqrt(20 + dark)
    # CIEDE2000 stretches a near the neutral axis by up to one half.
    near = 1.5 - 0.5 * np.minimum(chroma / 25.0, 1.0)
    return np.stack([1 / s_l, near / (1 + 0.045 * chroma), near / (1 + 0.015 * chroma)], axis=-1)
