"""Several stills of an angle: whether one match fits them all, as the pairs of each moment say."""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Float, Int64
from huemend.base.units import AP1_LUMINANCE, FROM_MAD, OF_MEDIAN
from huemend.model import Match, PairedColours, Reason
from huemend.model.reasons import Code
from huemend.options import DriftOptions

#: A moment of fewer places says nothing of its own.
_FEWEST_PLACES = 6
_SURE = 2.0


def left_by_moment(pairs: PairedColours, match: Match) -> tuple[Int64, Float, Float]:
    """Return what a match leaves against the reference at each moment: exposure, red and blue against green.

    Returned are the moments, (m,), that enough places tell of; medians over their pairs, (m, 3) stops,
    positive where the angle still shows less than the reference; and their standard errors, one place counting
    once.
    """
    wanted = np.maximum(np.asarray(pairs.reference_rgb, float), 1e-4)
    matched = np.maximum(match.apply(np.asarray(pairs.angle_rgb, float)), 1e-4)
    change = np.log2(wanted / matched)
    light = np.log2((wanted @ AP1_LUMINANCE) / (matched @ AP1_LUMINANCE))
    off = np.stack([light, change[:, 0] - change[:, 1], change[:, 2] - change[:, 1]], axis=1)
    moments, left, error = [], [], []
    for moment in np.unique(pairs.moment).tolist():
        own = pairs.moment == moment
        places = len(np.unique(pairs.group[own]))
        if places < _FEWEST_PLACES:
            continue
        middle = np.median(off[own], axis=0)
        moments.append(moment)
        left.append(middle)
        error.append(OF_MEDIAN * FROM_MAD * np.median(np.abs(off[own] - middle), axis=0) / np.sqrt(places))
    return np.array(moments, int), np.array(left).reshape(-1, 3), np.array(error).reshape(-1, 3)


def moment_reasons(pairs: PairedColours, match: Match, options: DriftOptions) -> tuple[Reason, ...]:
    """Say why one match may not fit all of an angle's stills: which, and by how much; empty if it does.

    Stills are numbered from 1, as a folder shows them. What angle and hero do together leaves nothing here.
    """
    moments, left, error = left_by_moment(pairs, match)
    if len(moments) < 2:
        return ()
    limit = np.array([options.exposure_limit, options.balance_limit, options.balance_limit])
    from_middle = left - np.median(left, axis=0)
    off = np.abs(from_middle) > limit + _SURE * error
    said = []
    for column, name in enumerate(("exposure", "red against green", "blue against green")):
        if off[:, column].any():
            low, high = (int(find(left[:, column])) for find in (np.argmin, np.argmax))
            said.append(
                f"{name} {left[low, column]:+.2f} stop in still {moments[low] + 1}, "
                f"{left[high, column]:+.2f} in still {moments[high] + 1}"
            )
    if not said:
        return ()
    numbers = ", ".join(str(moments[row] + 1) for row in np.flatnonzero(off.any(axis=1)))
    which = f"still{'s' * (numbers.count(',') > 0)} {numbers}"
    # Of two stills neither is the one that differs.
    case = "all stills" if off.any(axis=1).all() else "stills"
    return (
        Code.DRIFT.because(case, which=which, angle=pairs.angle, reference=pairs.reference, what="; ".join(said)),
    )
