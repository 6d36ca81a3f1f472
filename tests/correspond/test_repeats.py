"""Walls that repeat: a piece's place is known up to its pattern, and its light as well as that allows."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from huemend.correspond.growth import Grown
from huemend.correspond.raster import MatchPicture, make_picture
from huemend.correspond.repeats import find_pieces, repeated_light_spread
from huemend.model import LinearStill
from huemend.options import CorrespondOptions

OPTIONS = CorrespondOptions()
_Y, _X = np.mgrid[:180, :480].astype(float)
#: Tiles of 40 by 30 pixels, with joints; a printed cloth hangs before them.
_TILES = np.where((_X % 40 < 4) | (_Y % 30 < 4), 0.5, 1.0)
_CLOTH = (slice(60, 120), slice(200, 280))


@cache
def _picture(slope: float) -> MatchPicture:
    """A wall whose light rises to the right by ``slope`` (natural logarithm by pixel), and the cloth."""
    light = 0.2 * np.exp(slope * (_X - 240)) * _TILES
    blots = np.random.default_rng(3).uniform(0.1, 0.6, (10, 14))
    light[_CLOTH] = np.kron(blots, np.ones((6, 6)))[:60, :80]
    noise = np.random.default_rng(1).normal(1, 0.02, light.shape)
    rgb = np.repeat((light * noise)[..., None], 3, -1).astype(np.float32)
    nothing = np.zeros(light.shape, bool)
    still = LinearStill(
        rgb=rgb, valid=~nothing, clipped=nothing, angle="wide", moment=0, source="", full_size=light.shape
    )
    return make_picture(still, 480)


def _grown(picture: MatchPicture, shift: float = 40.0) -> tuple[Grown, NDArray[np.bool_]]:
    """A grid of patches: the cloth's stay where they are, the wall's are one tile off; True on the cloth."""
    y, x = (axis.ravel() for axis in np.mgrid[12:168:4, 12:468:4])
    cloth = (x >= 206) & (x < 274) & (y >= 66) & (y < 114)
    places = np.stack([x, y], 1).astype(float)
    around = np.stack([picture.log[y + down, x + right] for down in range(-4, 5) for right in range(-4, 5)])
    grown = Grown(
        reference=places,
        angle=places + np.where(cloth[:, None], 0.0, [shift, 0.0]),
        affine=np.broadcast_to(np.eye(2), (len(x), 2, 2)).copy(),
        cost=np.zeros(len(x)),
        structure=around.std(axis=0),
        cluster=np.zeros(len(x), int),
        tried=len(x),
    )
    return grown, cloth


def _spread(slope: float) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    picture = _picture(slope)
    grown, cloth = _grown(picture)
    return repeated_light_spread(picture, grown, np.full(len(cloth), 1 / len(cloth)), OPTIONS), cloth


def test_what_moves_together_is_one_piece() -> None:
    grown, cloth = _grown(_picture(0.0))
    piece = find_pieces(grown, OPTIONS)
    assert len(np.unique(piece)) == 2
    assert (np.ptp(piece[cloth]), np.ptp(piece[~cloth])) == (0, 0)


def test_a_wall_under_light_that_runs_does_not_know_its_exposure_and_the_cloth_before_it_does() -> None:
    spread, cloth = _spread(0.004)
    assert (spread[cloth] == 0).all()
    # Shifts by whole tiles within 200 pixels would be 0, 40, ... 200; where the cloth or the rim is met, fewer.
    most = 2 * np.sqrt(np.mean((0.004 * np.arange(-200, 201, 40)) ** 2))
    assert 2 * OPTIONS.plain_shading < spread[~cloth].min() <= spread[~cloth].max() < most


def test_an_evenly_lit_wall_says_all_that_it_has_to_say() -> None:
    spread, _ = _spread(0.0)
    # A patch is as good a few pixels on, with a little more of a joint in it: within the usual shading of 0.12.
    assert spread.max() < OPTIONS.plain_shading


def test_pieces_that_repeat_share_one_error() -> None:
    """However many pairs: together they say as much of light as one shift leaves."""
    picture = _picture(0.004)
    grown, cloth = _grown(picture)
    light, heavy = (
        repeated_light_spread(picture, grown, np.full(len(cloth), w / (~cloth).sum()), OPTIONS) for w in (1, 25)
    )
    assert heavy == pytest.approx(5 * light)


def test_no_pairs_have_no_spread() -> None:
    picture = _picture(0.0)
    grown, cloth = _grown(picture)
    assert len(repeated_light_spread(picture, grown.take(cloth & ~cloth), np.zeros(0), OPTIONS)) == 0
