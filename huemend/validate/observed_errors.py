"""Errors of a match that its proof shows and its own fit does not know: added to what is told of it.

A covariance knows how pairs scatter about the match. What all of them share it cannot see: a veil or a curve under
which dark and light ask for different exposures, skin that a match leaves off wherever it is seen.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from huemend.base.units import NINETY
from huemend.model import HeldOut, Interval, Uncertainty
from huemend.model.people import is_skin


def with_observed_errors(
    predicted: Uncertainty, held_out: HeldOut | None, exposure_slack: float = 0.0
) -> Uncertainty:
    """Return an uncertainty that is no smaller than what the proof shows (docs/maths.md, section 6).

    ``exposure_slack`` are the stops by which exposures of light and dark surfaces differ, one standard
    deviation; 0 where luminance has a slope of 1. The exposure's interval is wider on either side alike;
    errors of skin are not under those of a face.
    """
    stops = predicted.exposure_stops
    if exposure_slack:
        stops = Interval.about(stops.middle, float(np.hypot(stops.half, NINETY * exposure_slack)))
    areas = {} if held_out is None else held_out.areas_off
    skin = [error for label, error in areas.items() if is_skin(label)]
    return replace(
        predicted,
        exposure_stops=stops,
        skin_error=max([predicted.skin_error, *skin]),
    )
