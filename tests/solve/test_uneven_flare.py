"""Flare from one side is told, whichever it is; even flare, wrong pairs and shading are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.model import LinearStill, PairedColours, Reason
from huemend.options import SolveOptions
from huemend.solve.uneven_flare import uneven_flare
from tests.solve.made_pairs import MIX, make_pairs, surfaces

HEIGHT, WIDTH, COUNT = 54, 96, 500
LIGHT = np.array([0.3, 0.25, 0.2], np.float32)


def still() -> LinearStill:
    rgb = np.broadcast_to(LIGHT, (HEIGHT, WIDTH, 3)).copy()
    blank = np.zeros(rgb.shape[:2], bool)
    return LinearStill(
        rgb=rgb, valid=~blank, clipped=blank, angle="left", moment=0, source="", full_size=(HEIGHT, WIDTH)
    )


def veiled(veil: np.ndarray, *, shading: float = 0.12, wrong: float = 0.1) -> PairedColours:
    """Pairs all over an angle under a veil of so much of its mean light at each place (100 by 100 of them)."""
    rng = np.random.default_rng(3)
    place = rng.uniform(0, 1, (COUNT, 2))
    hero = surfaces(COUNT, 3)
    shot = hero @ np.linalg.inv(1.3 * MIX).T * np.exp(shading * rng.normal(size=(COUNT, 1)))
    row, column = (100 * place[:, ::-1]).astype(int).T
    shot = shot + veil[row, column][:, None] * LIGHT
    shot[: round(wrong * COUNT)] *= np.exp(rng.normal(size=(round(wrong * COUNT), 1)))
    pairs = make_pairs(hero, shot, group=np.arange(COUNT))
    return replace(pairs, angle_xy=place * [WIDTH, HEIGHT])


def told(pairs: PairedColours) -> tuple[Reason, ...]:
    return uneven_flare(pairs, still(), SolveOptions())


FROM_LEFT = np.broadcast_to(np.exp(-np.linspace(0, 3, 100)), (100, 100))
FROM_MIDDLE = np.exp(-4 * np.square(np.hypot(*np.meshgrid(*2 * [np.linspace(-1, 1, 100)]))))


@pytest.mark.parametrize(
    ("side", "veil"),
    [
        ("left", FROM_LEFT),
        ("right", FROM_LEFT[:, ::-1]),
        ("top", FROM_LEFT.T),
        ("bottom", FROM_LEFT.T[::-1]),
        ("middle", FROM_MIDDLE),
    ],
)
def test_a_third_of_the_light_from_one_side_is_told_with_its_side(side: str, veil: np.ndarray) -> None:
    (reason,) = told(veiled(0.35 * veil))
    assert reason.code == "uneven-flare" and f"from the {side} of" in reason.text


@pytest.mark.parametrize("share", [0.0, 0.1, 0.4])
def test_even_flare_is_no_flare_from_a_side(share: float) -> None:
    assert told(veiled(np.full((100, 100), share))) == ()


def test_light_that_fades_to_one_side_is_no_flare() -> None:
    pairs = veiled(np.zeros((100, 100)))
    fades = np.exp2(-0.5 * pairs.angle_xy[:, :1] / WIDTH)
    assert told(replace(pairs, angle_rgb=pairs.angle_rgb * fades)) == ()


def test_few_pairs_and_marked_areas_are_not_asked() -> None:
    pairs = veiled(0.35 * FROM_LEFT)
    assert told(pairs.take(np.arange(50))) == ()
    assert told(replace(pairs, by_hand=np.ones(COUNT, bool))) == ()
