"""A small move must be worth it: where the views differ by more than it moves, an angle stays as shot."""

from __future__ import annotations

import numpy as np

from huemend.model import Fit, Match, Rung
from huemend.options import SolveOptions
from huemend.solve.fit import fit
from tests.solve.made_pairs import make_pairs, surfaces


def fitted(stops: float, scatter: float) -> Fit:
    """Fit an angle that is that many stops bright, under light that differs from place to place by ``scatter``."""
    seen = surfaces(400)
    random = np.random.default_rng(4)
    light = np.repeat(np.exp(random.normal(0, scatter, (100, 1)) + random.normal(0, scatter, (100, 3)) / 3), 4, 0)
    found = fit(make_pairs(seen * light, Match(exposure_stops=stops).apply(seen)), view_stops=0.0)
    assert isinstance(found, Fit)
    return found


def test_a_small_move_is_kept_where_the_views_agree_after_it() -> None:
    found = fitted(0.07, 0.01)
    assert found.rung is not Rung.NONE
    assert abs(found.match.exposure_stops + 0.07) < 0.02


def test_it_is_left_where_they_differ_by_more_anyway() -> None:
    found = fitted(0.07, 0.1)
    assert found.rung is Rung.NONE and found.match.is_identity


def test_a_large_move_is_never_asked() -> None:
    found = fitted(0.6, 0.2)
    assert found.rung is not Rung.NONE
    assert SolveOptions().barely_seen < 2
