"""The angle whose picture holds the others, on real photographs cut as cameras would cut them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import skimage.data

from huemend.sample.hero import propose_hero

pytestmark = pytest.mark.slow


def cut(photo: np.ndarray, left: float, top: float, share: float, *, turn: float = 0.0) -> np.ndarray:
    """A closer view of a photograph: another framing, exposure and noise."""
    height, width = photo.shape
    rows, columns = round(height * share), round(width * share)
    y, x = round(top * height), round(left * width)
    part = cv2.resize(photo[y : y + rows, x : x + columns], (width, height), interpolation=cv2.INTER_CUBIC)
    if turn:
        spin = cv2.getRotationMatrix2D((width / 2, height / 2), turn, 1.0)
        part = cv2.warpAffine(part, spin, (width, height), borderMode=cv2.BORDER_REFLECT)
    noise = np.random.default_rng(1).normal(0, 0.01, part.shape)
    return (0.1 + 0.6 * part + noise).astype(np.float32)


@pytest.fixture(scope="module")
def photo() -> np.ndarray:
    # scikit-image's photograph of a coffee table and of a person, both in its wheel.
    return cv2.cvtColor(skimage.data.astronaut(), cv2.COLOR_RGB2GRAY).astype(np.float32) / 255


def test_the_wide_view_is_proposed_whatever_its_name(photo: np.ndarray) -> None:
    views = {
        "a": cut(photo, 0.1, 0.0, 0.5),
        "z": cut(photo, 0.0, 0.0, 1.0),
        "m": cut(photo, 0.25, 0.1, 0.4, turn=-4),
    }
    found = propose_hero(views)
    assert found.name == "z"
    assert found.why.startswith(
        "it shows what 2 of 2 others show, and smaller than they do: a 2.0 times, m 2.5 times"
    )


def test_an_angle_that_cannot_be_compared_is_told(photo: np.ndarray) -> None:
    views = {"a": cut(photo, 0.1, 0.0, 0.5), "z": photo, "b": skimage.data.brick().astype(np.float32) / 255}
    found = propose_hero(views)
    assert found.name == "z" and "1 of 2 others" in found.why and "b shares too little to tell" in found.why


def test_views_of_one_scale_propose_nobody(photo: np.ndarray) -> None:
    views = {"a": cut(photo, 0.0, 0.0, 0.7), "b": cut(photo, 0.25, 0.1, 0.7)}
    found = propose_hero(views)
    assert found.name is None and "all are of about one scale" in found.why


def test_pictures_that_share_nothing_propose_nobody(photo: np.ndarray) -> None:
    other = skimage.data.brick().astype(np.float32) / 255
    rng = np.random.default_rng(2)
    found = propose_hero({"a": photo, "b": other, "c": rng.uniform(0, 1, (300, 400))})
    assert found.name is None and "share too little" in found.why


def test_empty_pictures_are_no_evidence() -> None:
    assert propose_hero({"a": np.zeros((90, 160)), "b": np.ones((90, 160))}).name is None
