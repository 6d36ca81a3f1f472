"""Figures as the report writes them everywhere: stops with a sign and two decimals, intervals as two of those."""

from __future__ import annotations

import math

from huemend.model import AngleResult, Interval


def signed(value: float, digits: int = 2) -> str:
    """Write a signed number with a true minus, and no sign on a zero.

    >>> signed(0.434), signed(-1.2), signed(-0.001)
    ('+0.43', '−1.20', '0.00')
    """
    return plain_signed(value, digits).replace("-", "−")


def plain_signed(value: float, digits: int = 2) -> str:
    """Write a signed number in ASCII, for terminals and logs.

    >>> plain_signed(0.434), plain_signed(-1.2), plain_signed(-0.001)
    ('+0.43', '-1.20', '0.00')
    """
    if not math.isfinite(value):
        return "unknown"
    if round(value, digits) == 0:
        return f"{0:.{digits}f}"
    return f"{value:+.{digits}f}"


def stop_text(value: float) -> str:
    """Write stops with their unit.

    >>> stop_text(-0.5)
    '−0.50 stop'
    """
    return f"{signed(value)} stop"


def interval_text(interval: Interval | None) -> str:
    """Write a 90 % interval, or an empty string where there is none.

    >>> interval_text(Interval(low=-0.05, high=0.1))
    '−0.05 to +0.10'
    """
    return "" if interval is None else f"{signed(interval.low)} to {signed(interval.high)}"


def stops_of(found: AngleResult) -> list[tuple[str, float, Interval | None]]:
    """Return by how many stops an angle is moved, and what the truth lies within; nothing without a match."""
    match, held = found.match, found.uncertainty
    if match is None:
        return []
    within = (None,) * 3 if held is None else (held.exposure_stops, held.red_green_stops, held.blue_green_stops)
    names = ("exposure", "red against green", "blue against green")
    return list(zip(names, (match.exposure_stops, *match.balance), within, strict=True))
