"""Pictures of a camera that moved, laid over its first one."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose
from skimage import data

from huemend.correspond.stabilised import stabilised
from huemend.model import LinearStill
from huemend.options import FramingOptions
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


def test_a_picture_that_shows_nothing_of_the_first_comes_as_it_is() -> None:
    dark = replace(shot(1), rgb=np.zeros((SIZE[1], SIZE[0], 3), np.float32))
    pictures = [shot(0), dark, shot(2)]
    for before, after in zip(pictures, stabilised(pictures, OPTIONS), strict=True):
        assert after is before
