"""A match that is moved for a wish stays a match, however far off the camera was shot."""

from __future__ import annotations

import numpy as np
import pytest

from huemend.base.units import AP1_LUMINANCE
from huemend.model import Fit
from huemend.options import SolveOptions
from huemend.solve.fit import fit
from huemend.solve.nearest import Wish, nearest
from tests.solve.made_pairs import make_pairs, surfaces


@pytest.mark.parametrize("stops", [-2.0, -3.0])
def test_a_camera_shot_for_night_can_be_asked_to_stay_as_shot(stops: float) -> None:
    reference = surfaces(120)
    pale = 0.6 * reference + 0.4 * (reference @ AP1_LUMINANCE)[:, None]
    shot = pale * np.array([0.5, 0.85, 1.5]) * 2.0**stops
    pairs = make_pairs(reference, shot * np.exp(0.05 * np.random.default_rng(0).normal(size=(120, 1))))
    fitted = fit(pairs, view_stops=0.0)
    assert isinstance(fitted, Fit)
    wish = Wish(inside=np.arange(120) < 8, target_rgb=pairs.angle_rgb, light=True)
    kept = nearest(pairs, fitted, wish, 2.0**14, SolveOptions())
    there = np.asarray(pairs.angle_rgb)[:8]
    off, before = (
        np.abs(np.log2((match.apply(there) @ AP1_LUMINANCE) / (there @ AP1_LUMINANCE))).mean()
        for match in (kept.match, fitted.match)
    )
    assert off < before / 2
