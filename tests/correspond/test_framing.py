"""Whether a camera stood still, against moves that are known because the test makes them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from skimage import data

from huemend.correspond.framing import SAME, Framing, find_corners, follow_framing, held
from huemend.correspond.raster import MatchPicture, make_picture
from huemend.options import FramingOptions
from tests.correspond.made_views import light, noisy, still_of

OPTIONS = FramingOptions()
HEIGHT, WIDTH = 512, 512
CENTRE = (WIDTH / 2, HEIGHT / 2)


def shot(
    matrix: np.ndarray | None = None, *, gain: float = 1.0, seed: int = 0, person: int | None = None
) -> MatchPicture:
    """Show a photograph as a camera does that was moved by a known map, with noise of its own."""
    rgb = light(data.astronaut())
    if person is not None:
        # Somebody who covers a third of the picture, and stands elsewhere each time.
        rgb = rgb.copy()
        rgb[150:, person : person + 200] = light(data.chelsea())[:150, :200].repeat(3, 0)[: HEIGHT - 150]
    if matrix is not None:
        rgb = cv2.warpAffine(rgb, matrix, (WIDTH, HEIGHT), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    return make_picture(still_of(noisy(gain * np.maximum(rgb, 0), seed), "wide"), 960)


def followed(first: MatchPicture, later: MatchPicture) -> Framing | None:
    return follow_framing(find_corners(first.log, first.bad == 0, OPTIONS), later.log, OPTIONS)


def similarity(*, scale: float = 1.0, turn: float = 0.0, shift: tuple[float, float] = (0.0, 0.0)) -> np.ndarray:
    matrix = cv2.getRotationMatrix2D(CENTRE, turn, scale)
    matrix[:, 2] += shift
    return matrix


def corner_shift(matrix: np.ndarray) -> float:
    corners = np.array([[0, 0], [WIDTH, 0], [0, HEIGHT], [WIDTH, HEIGHT]], float)
    return float(np.hypot(*(corners @ matrix[:, :2].T + matrix[:, 2] - corners).T).max())


def test_a_camera_that_stood_still_did_not_move_at_all() -> None:
    # Noise differs, nothing else: places stay where they were to the last bit.
    assert followed(shot(seed=1), shot(seed=2)) is SAME


@pytest.mark.parametrize("gain", [0.35, 2.0])
def test_more_or_less_light_is_no_move(gain: float) -> None:
    assert followed(shot(seed=1), shot(seed=2, gain=gain)) is SAME


@pytest.mark.parametrize(
    "moved",
    [
        pytest.param({"scale": 1.006}, id="breathing"),
        pytest.param({"scale": 1.05}, id="zoom"),
        pytest.param({"shift": (6.0, -3.0)}, id="bump"),
        pytest.param({"shift": (25.0, 0.0)}, id="pan"),
        pytest.param({"turn": 1.5}, id="roll"),
        pytest.param({"scale": 0.985, "turn": -0.4, "shift": (-4.0, 9.0)}, id="all of it"),
    ],
)
def test_moves_are_measured(moved: dict) -> None:
    matrix = similarity(**moved)
    found = followed(shot(seed=1), shot(matrix, seed=2))
    assert found is not None
    assert found.shift == pytest.approx(corner_shift(matrix), abs=0.4)
    assert found.scale == pytest.approx(moved.get("scale", 1.0), abs=2e-3)
    places = np.random.default_rng(0).uniform(0, WIDTH, (50, 2))
    assert np.hypot(*(found.places(places) - (places @ matrix[:, :2].T + matrix[:, 2])).T).max() < 0.4


def test_small_moves_are_followed_and_large_ones_are_not() -> None:
    breathing = followed(shot(seed=1), shot(similarity(scale=1.006), seed=2))
    bump = followed(shot(seed=1), shot(similarity(shift=(9.0, 4.0)), seed=2))
    assert held(breathing, OPTIONS) and not held(bump, OPTIONS) and not held(None, OPTIONS)


@pytest.mark.parametrize("scale", [1.0, 1.05])
def test_people_who_move_are_outvoted(scale: float) -> None:
    matrix = similarity(scale=scale)
    found = followed(shot(seed=1, person=40), shot(matrix, seed=2, person=260))
    assert found is not None and found.scale == pytest.approx(scale, abs=2e-3)
    assert found.shift == pytest.approx(corner_shift(matrix), abs=0.5)


def test_another_picture_says_nothing() -> None:
    other = np.ascontiguousarray(light(data.coffee())[:400, :400].repeat(2, 0).repeat(2, 1)[:HEIGHT, :WIDTH])
    assert not held(followed(shot(), make_picture(still_of(other, "wide"), 960)), OPTIONS)


def test_a_bare_wall_and_another_size_say_nothing() -> None:
    wall = make_picture(still_of(noisy(np.full((HEIGHT, WIDTH, 3), 0.18, np.float32), 3), "wide"), 960)
    small = make_picture(still_of(light(data.astronaut())[:400], "wide"), 960)
    assert followed(wall, wall) is None or held(followed(wall, wall), OPTIONS)
    assert followed(shot(), small) is None


def test_the_same_pictures_give_the_same_answer() -> None:
    first, later = shot(seed=1), shot(similarity(scale=1.02), seed=2)
    assert followed(first, later) == followed(first, later)


def test_a_framing_maps_column_vectors() -> None:
    framing = Framing(matrix=((0.0, -2.0, 5.0), (2.0, 0.0, 7.0)), shift=1.0, agreeing=20)
    np.testing.assert_allclose(framing.places(np.array([[1.0, 0.0], [0.0, 1.0]])), [[5, 9], [3, 7]])
    assert framing.scale == 2.0
