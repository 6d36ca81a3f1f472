"""Cameras followed over pictures that a test made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from huemend.model import LinearStill
from huemend.model.drift import Drift
from huemend.options import DriftOptions
from huemend.validate.drift import compare_cameras
from huemend.validate.track import follow


def measure_drift(
    stills: Mapping[str, Sequence[LinearStill]], times: Sequence[float], options: DriftOptions | None = None
) -> Drift:
    """Follow every camera, the hero's included, and name what moves."""
    options = options or DriftOptions()
    return compare_cameras({name: follow(series, options) for name, series in stills.items()}, times, options)
