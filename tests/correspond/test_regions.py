"""Regions: what a view shows, away from what must not be measured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from huemend.correspond.regions import find_regions
from huemend.model import LinearStill
from huemend.options import ColourOptions
from tests.correspond.made_views import still_of

OPTIONS = ColourOptions(regions=60)
COLOURS = np.array(
    [[0.4, 0.1, 0.05], [0.1, 0.3, 0.1], [0.05, 0.1, 0.4], [0.5, 0.5, 0.5], [0.02, 0.02, 0.02], [0.6, 0.5, 0.1]]
)


def patchwork(seed: int = 1, *, moment: int = 0) -> LinearStill:
    """Six patches side by side and over one another, each darker towards the bottom by a stop."""
    rgb = np.kron(COLOURS.reshape(2, 3, 3), np.ones((60, 80, 1)))
    rgb = rgb * np.tile(np.linspace(1.0, 0.5, 60), 2)[:, None, None]
    rng = np.random.default_rng(seed)
    return still_of(rgb * (1 + 0.01 * rng.normal(size=rgb.shape)), "side", moment=moment)


def ratios(rgb: np.ndarray) -> np.ndarray:
    return np.log2(rgb[:, [0, 2]] / rgb[:, [1]])


def test_each_region_is_of_one_colour() -> None:
    found = find_regions((patchwork(),), OPTIONS)
    assert len(found) > 30
    assert found.area.sum() == pytest.approx(1.0, abs=0.02)
    away = np.abs(ratios(found.rgb)[:, None] - ratios(COLOURS)).max(-1)
    assert np.quantile(away.min(1), 0.9) < 0.05
    # Every patch has about its sixth of the picture.
    shares = np.bincount(away.argmin(1), found.area, len(COLOURS))
    # Two of the patches are greys, and the ratios cannot tell them apart.
    grey = shares[3] + shares[4]
    assert [*shares[[0, 1, 2, 5]], grey / 2] == pytest.approx([1 / 6] * 5, abs=0.04)


@pytest.mark.parametrize("kind", ["clipped", "ignored"])
def test_what_must_not_be_measured_is_left_out(kind: str) -> None:
    still = patchwork()
    mask = np.zeros(still.rgb.shape[:2], bool)
    mask[:, :80] = True
    found = find_regions((replace(still, **{kind: mask}),), OPTIONS)
    assert found.area.sum() == pytest.approx(2 / 3, abs=0.03)
    # Red and grey stood there; the other grey is dark.
    assert np.abs(ratios(found.rgb) - ratios(COLOURS[:1])).max(-1).min() > 0.5


def test_a_view_without_light_has_no_regions() -> None:
    still = patchwork()
    assert len(find_regions((replace(still, rgb=still.rgb * 1e-4),), OPTIONS)) == 0
    everything = np.ones(still.rgb.shape[:2], bool)
    assert len(find_regions((replace(still, clipped=everything),), OPTIONS)) == 0


def test_moments_are_pooled_and_bounded() -> None:
    stills = tuple(patchwork(seed, moment=seed) for seed in range(6))
    few = find_regions(stills, replace(OPTIONS, moments=2))
    ends = find_regions((stills[0], stills[5]), OPTIONS)
    assert few.rgb.tobytes() == ends.rgb.tobytes()
    assert few.area.sum() == pytest.approx(1.0, abs=0.02)
    assert not few.rgb.flags.writeable
