"""Pictures of a camera that moved, laid over its first one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose
from skimage import data

from huemend.correspond.stabilised import stabilised
from huemend.model import LinearStill
from huemend.options import DriftOptions, FramingOptions
from huemend.validate.track import follow
from tests.correspond.made_views import light, noisy, still_of

OPTIONS = FramingOptions()
#: Exposure and balance are followed on pictures of about this size.
SIZE = 192, 108


def shot(
    number: int, shift: tuple[float, float] = (0.0, 0.0), scale: float = 1.0, gain: float = 1.0
) -> LinearStill:
    """Show a photograph as a camera does that moved by so many pixels, with noise of its own."""
    move = np.array([[scale, 0.0, shift[0]], [0.0, scale, shift[1]]])
    rgb = cv2.resize(light(data.astronaut())[:288], SIZE, interpolation=cv2.INTER_AREA)
    rgb = cv2.warpAffine(rgb, move, SIZE, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    return still_of(noisy(gain * np.maximum(rgb, 0), number), "left", moment=number)


@pytest.mark.parametrize(
    "moves",
    [
        pytest.param([((0.0, 0.0), 1.0)] * 3, id="locked off"),
        pytest.param([((0.0, 0.0), 1.0), ((3.8, 1.3), 1.0), ((3.8, 1.3), 1.0)], id="bump"),
        pytest.param([((4.0 * n, 0.0), 1.0) for n in range(9)], id="pan"),
        pytest.param([((0.0, 0.0), 1.0 + 0.05 * n) for n in range(7)], id="zoom"),
    ],
)
def test_the_set_stays_where_the_first_picture_shows_it(moves: list) -> None:
    first, *later = stabilised((shot(n, *move) for n, move in enumerate(moves)), OPTIONS)
    for still in later:
        both = first.valid & still.valid
        assert both.mean() > 0.4
        off = np.log2((still.rgb[both] + 0.02) / (first.rgb[both] + 0.02))
        assert np.median(np.abs(off)) < 0.06
        assert abs(np.median(off)) < 0.01


def test_light_that_changes_is_left_as_it_is() -> None:
    first, later = stabilised([shot(0), shot(1, (4.0, 0.0), gain=0.5)], OPTIONS)
    both = first.valid & later.valid
    assert_allclose(np.median(later.rgb[both] / np.maximum(first.rgb[both], 1e-3)), 0.5, rtol=0.03)


@cache
def room_and_clothes() -> tuple[np.ndarray, ...]:
    """Return the photograph's light at four times the size, and what two people wear."""
    room = cv2.resize(light(data.astronaut())[:288], (4 * SIZE[0], 4 * SIZE[1]), interpolation=cv2.INTER_CUBIC)
    worn = (0.1 + 0.3 * light(photo[:190, :150]).repeat(2, 0) for photo in (data.chelsea(), data.coffee()))
    return room, *worn


def past_people(at: float, number: int, zoom: float, pan: float, gain: float = 1.0) -> LinearStill:
    """Show the photograph as a zoom and a pan do, two people walking who cover a third of the picture or more."""
    room, *clothes = room_and_clothes()
    rgb = room.copy()
    for worn, left in zip(clothes, (60 + 500 * at, 580 - 420 * np.sin(3 * at)), strict=True):
        rgb[90:, int(left) : int(left) + 150] = worn[: len(rgb) - 90]
    scale, across = 1 + zoom * at, pan * at * 4 * SIZE[0]
    move = np.array([[scale, 0.0, (1 - scale) * 2 * SIZE[0] + across], [0.0, scale, (1 - scale) * 2 * SIZE[1]]])
    rgb = cv2.warpAffine(rgb, move, (4 * SIZE[0], 4 * SIZE[1]), flags=cv2.INTER_CUBIC)
    rgb = cv2.resize(gain * np.maximum(rgb, 0), SIZE, interpolation=cv2.INTER_AREA)
    return still_of(noisy(rgb, number), "left", moment=number)


@pytest.mark.parametrize(("zoom", "pan", "pull"), [(0.3, 0.0, 0.0), (0.3, 0.0, -0.5), (0.0, -0.12, 0.0)])
def test_a_move_past_people_is_no_drift_and_hides_none(zoom: float, pan: float, pull: float) -> None:
    gains = np.where(np.arange(24) < 15, 1.0, 2.0**pull)
    pictures = (past_people(number / 23, number, zoom, pan, gain) for number, gain in enumerate(gains))
    track = follow(stabilised(pictures, OPTIONS), DriftOptions())
    assert np.abs(track.exposure - np.log2(gains)).max() < 0.05
    assert np.abs(track.stops[1:]).max() < 0.05
    assert track.banding.max() < 0.03


def test_a_picture_that_shows_nothing_of_the_first_comes_as_it_is() -> None:
    dark = replace(shot(1), rgb=np.zeros((SIZE[1], SIZE[0], 3), np.float32))
    pictures = [shot(0), dark, shot(2)]
    for before, after in zip(pictures, stabilised(pictures, OPTIONS), strict=True):
        assert after is before
