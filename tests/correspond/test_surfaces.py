"""Plain surfaces: found where noise explains every patch, and worth what their light can tell."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from huemend.correspond.raster import make_picture
from huemend.correspond.surfaces import find_plain, shared_light_spread
from huemend.model import LinearStill
from huemend.options import CorrespondOptions

OPTIONS = CorrespondOptions()
_Y, _X = np.mgrid[:180, :320].astype(float)


def _still(light: NDArray[np.float64]) -> LinearStill:
    """Photograph grey ``light`` with 2 % of noise."""
    noise = np.random.default_rng(1).normal(1, 0.02, light.shape)
    rgb = np.repeat((light * noise)[..., None], 3, -1).astype(np.float32)
    nothing = np.zeros(light.shape, bool)
    return LinearStill(
        rgb=rgb, valid=~nothing, clipped=nothing, angle="wide", moment=0, source="", full_size=light.shape
    )


def test_a_cove_is_one_surface_and_a_checkered_cloth_is_none() -> None:
    light = 0.3 * np.exp(0.003 * _X)
    light[60:120, 100:160] *= np.where((_X // 6 + _Y // 6)[60:120, 100:160] % 2 > 0, 0.5, 1.0)
    plain = find_plain(make_picture(_still(light), 960), OPTIONS)
    seen = plain.at(np.array([[20, 20], [300, 160], [130, 90]]), OPTIONS)
    assert seen[0] == seen[1] > 0
    assert seen[2] == 0


def test_the_rim_of_a_surface_belongs_to_it_and_what_lies_across_does_not() -> None:
    light = np.where(_X < 160, 0.3, 0.05)
    plain = find_plain(make_picture(_still(light), 960), OPTIONS)
    left, rim, across, right = plain.at(np.array([[80, 90], [158, 90], [162, 90], [240, 90]]), OPTIONS)
    assert left == rim > 0
    assert across == right > 0
    assert left != right


def test_how_light_runs_is_measured() -> None:
    """A quadratic in the logarithm of light, whose slope is known everywhere."""
    light = 0.2 * np.exp(0.002 * _X + 2e-5 * (_X - 100) * (_Y - 90))
    plain = find_plain(make_picture(_still(light), 960), OPTIONS)
    places = np.array([[60.0, 40.0], [250.0, 150.0]])
    run = plain.run(plain.at(places, OPTIONS), places)
    wanted = np.stack([0.002 + 2e-5 * (places[:, 1] - 90), 2e-5 * (places[:, 0] - 100)], 1)
    assert run == pytest.approx(wanted, abs=2e-4)


def _spread(run: NDArray[np.float64], extent: float = 100.0, weight: float = 1.0) -> float:
    """Spread of a surface's pairs, shared by all: over the root of their weight."""
    n = len(run)
    out = shared_light_spread(np.ones(n, int), run, np.full(n, extent), np.full(n, weight), OPTIONS)
    assert np.ptp(out) == 0
    return float(out[0] / np.sqrt(max(1.0, n * weight)))


def test_light_that_runs_evenly_cannot_be_told_from_a_shift() -> None:
    """All of the slope times the extent is unknown."""
    assert _spread(np.tile([0.003, 0.0], (400, 1))) == pytest.approx(0.3, rel=0.01)


def test_even_light_tells_all() -> None:
    assert _spread(np.zeros((50, 2))) == 0


def test_light_that_runs_both_ways_places_a_surface() -> None:
    """Round a shaded body light rises on one side and falls on the other: a shift is seen as one."""
    both = np.stack([np.linspace(-0.02, 0.02, 200), np.zeros(200)], 1)
    assert _spread(both) < 0.01


def test_pairs_with_a_place_of_their_own_keep_it() -> None:
    surface = np.array([0, 0, 3, 3])
    out = shared_light_spread(surface, np.full((4, 2), 0.01), np.full(4, 80.0), np.ones(4), OPTIONS)
    assert (out[:2] == 0).all()
    assert (out[2:] > 0.5).all()
