"""Light that falls off towards the corners of an angle: what a match of the whole frame cannot mend.

A lens at full aperture loses a stop and more from the middle of its picture to the corners. One match then fits a
ring between the two. Shared surfaces tell: what they are left off by grows with the distance from the middle.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from huemend.base.units import AP1_LUMINANCE
from huemend.model import Fit, LinearStill, Match, PairedColours, Reason
from huemend.model.reasons import Code
from huemend.options import ValidateOptions

#: Huber's bound in standard deviations: 95 % efficient where errors are normal (Huber 1981).
_HUBER = 1.345


def vignetting_doubts(
    angle: LinearStill, pairs: PairedColours, fitted: Fit, options: ValidateOptions
) -> tuple[Reason, ...]:
    """Return the doubt that an angle loses or gains light towards its corners, against the hero.

    Parameters
    ----------
    angle : LinearStill
        Any of the angle's pictures: only its size counts.
    """
    telling = np.asarray(fitted.used & (pairs.light_spread < options.slope_light) & ~pairs.by_hand)
    if telling.sum() < options.slope_pairs:
        return ()
    loss, error = corner_loss(pairs.take(telling), fitted.match, angle)
    if abs(loss) <= options.corner_loss + 2 * error:
        return ()
    return (Code.VIGNETTING.because("loses" if loss > 0 else "gains", stops=abs(loss)),)


def corner_loss(pairs: PairedColours, match: Match, angle: LinearStill) -> tuple[float, float]:
    """Return the stops that an angle loses on the way to its corners against the hero, and their standard error.

    A regression of what each place is left off by on its squared distance from the middle, which is the first term
    of any round fall-off, the cos^4 law's too; robust (Huber), and its error takes places, not pairs, as
    independent (docs/maths.md, equation 25c).
    """
    both = np.asarray(pairs.reference_rgb, float), np.asarray(match.apply(pairs.angle_rgb), float)
    wanted, got = (np.log2(np.maximum(rgb @ AP1_LUMINANCE, 1e-5)) for rgb in both)
    middle = angle.reduced * np.array(angle.rgb.shape[1::-1]) / 2
    away = np.square(pairs.angle_xy - middle).sum(-1) / np.square(middle).sum()
    group = np.unique(pairs.group, return_inverse=True)[1].reshape(-1)
    count = np.bincount(group, pairs.weight)
    off, away = (np.bincount(group, pairs.weight * value) / count for value in (wanted - got, away))
    # A place of hundreds of pairs knows its own light no better than one of a few: it is lit as it is.
    weight = np.minimum(count, np.quantile(count, 0.9))
    return _slope(away, off, weight)


def _slope(x: NDArray[np.float64], y: NDArray[np.float64], weight: NDArray[np.float64]) -> tuple[float, float]:
    """Return the robust slope of y over x and its standard error; no slope where x does not vary."""
    trust = weight
    for _ in range(10):
        dx, dy = x - np.average(x, weights=trust), y - np.average(y, weights=trust)
        spread = float(trust @ dx**2)
        if spread <= 1e-6 * trust.sum():
            return 0.0, np.inf
        slope = float(trust @ (dx * dy)) / spread
        rest = dy - slope * dx
        scale = 1.4826 * np.median(np.abs(rest)) + 1e-3
        trust = weight * np.minimum(1.0, _HUBER * scale / np.maximum(np.abs(rest), 1e-9))
    # White's heteroscedasticity-consistent error (1980), for two numbers fitted.
    error = float(np.sqrt(np.square(trust * dx * rest).sum() * len(x) / max(len(x) - 2, 1))) / spread
    return slope, error
