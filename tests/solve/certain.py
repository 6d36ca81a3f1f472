"""A match that nothing is left to know of."""

from __future__ import annotations

from huemend.model import Interval, Uncertainty

NO_UNCERTAINTY = Uncertainty(
    exposure_stops=Interval(low=0.0, high=0.0),
    red_green_stops=Interval(low=0.0, high=0.0),
    blue_green_stops=Interval(low=0.0, high=0.0),
    skin_error=0.0,
    neutral_error=0.0,
    saturated_error=0.0,
)
