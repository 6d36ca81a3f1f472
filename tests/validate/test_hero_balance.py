"""What is suggested for the hero itself: right where a grey or a skin is known, and nothing where neither is."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from huemend.base.units import AP1_LUMINANCE
from huemend.model.hero import HeroSurface
from huemend.options import HeroOptions
from huemend.validate.hero_balance import SKIN_PATCHES, suggest_balance
from tests.correspond.made_charts import published

OPTIONS = HeroOptions()
# The hero was exposed 0.7 stops too low, and is warm: +0.3 stop of red, -0.4 of blue.
CAST = 2**-0.7 * np.exp2([0.3, 0.0, -0.4])


def surface(
    kind: str, rgb: np.ndarray | tuple[float, ...], *, reflectance: float | None = None, spread: float = 0.01
) -> HeroSurface:
    return HeroSurface(
        kind=kind, where=f"a {kind}", rgb=np.array(rgb) * CAST, spread=spread, reflectance=reflectance
    )


def test_the_skin_patches_are_the_published_ones() -> None:
    assert_allclose(SKIN_PATCHES, published()[:2], atol=1e-7)


def test_a_grey_card_gives_balance_and_exposure() -> None:
    found = suggest_balance([surface("area", (0.18, 0.18, 0.18), reflectance=0.18)], OPTIONS)
    assert found.red_green is not None and found.blue_green is not None and found.exposure is not None
    assert found.red_green.stops == pytest.approx(-0.3)
    assert found.blue_green.stops == pytest.approx(0.4)
    for said in (found.red_green, found.blue_green, found.exposure):
        assert said.low < said.stops < said.high and said.is_clear
    # Both together bring the card to where it belongs.
    gain = np.exp2([found.red_green.stops, 0.0, found.blue_green.stops])
    gain = 2**found.exposure.stops * gain / (gain @ AP1_LUMINANCE / AP1_LUMINANCE.sum())
    assert_allclose(0.18 * CAST * gain, 0.18)


def test_a_grey_without_reflectance_says_nothing_of_exposure() -> None:
    found = suggest_balance([surface("area", (0.3, 0.3, 0.3))], OPTIONS)
    assert found.red_green is not None and found.exposure is None
    assert "say nothing of exposure" in found.exposure_basis and found.exposure_source == ""


def test_marked_greys_come_before_those_of_a_chart_and_these_before_found_ones_and_skin() -> None:
    wrong = (0.2, 0.3, 0.2)
    kinds = ["skin", "pixels", "chart", "area"]
    for first in range(4):
        surfaces = [surface(kind, wrong) for kind in kinds[:first]]
        right = SKIN_PATCHES.mean(0) if kinds[first] == "skin" else (0.2, 0.2, 0.2)
        found = suggest_balance([*surfaces, surface(kinds[first], right)], OPTIONS)
        assert found.red_green is not None
        assert found.red_green.stops == pytest.approx(-0.3, abs=0.05)
        assert f"a {kinds[first]} (1 sample)" in found.balance_basis


def test_skin_alone_gives_a_wide_balance_and_a_range_of_exposure() -> None:
    skin = suggest_balance([surface("skin", SKIN_PATCHES[1])], OPTIONS)
    grey = suggest_balance([surface("area", (0.2, 0.2, 0.2))], OPTIONS)
    assert skin.red_green is not None and grey.red_green is not None and skin.exposure is not None
    assert skin.red_green.high - skin.red_green.low > 3 * (grey.red_green.high - grey.red_green.low)
    assert "common practice, no source" in skin.balance_source and "common practice" in skin.exposure_source
    # Light skin that is 0.7 stops under may be darker skin as it should be: no change is needed.
    assert skin.exposure.stops == 0 and skin.exposure.low < 0 < skin.exposure.high
    dim = suggest_balance([surface("skin", SKIN_PATCHES[0] / 4)], OPTIONS)
    assert dim.exposure is not None and 2 < dim.exposure.stops == pytest.approx(dim.exposure.low)


def test_what_balance_does_to_skin_is_said() -> None:
    found = suggest_balance([surface("area", (0.2, 0.2, 0.2)), surface("skin", SKIN_PATCHES[1])], OPTIONS)
    assert "to 43 (CIELAB" in found.skin
    assert suggest_balance([surface("skin", SKIN_PATCHES[1])], OPTIONS).skin == ""


def test_a_balance_that_is_right_is_left_alone() -> None:
    right = [surface("pixels", 0.2 / CAST, spread=0.1)]
    found = suggest_balance(right, OPTIONS)
    assert (
        found.red_green is not None and found.red_green.stops == pytest.approx(0) and not found.red_green.is_clear
    )


def test_more_greys_say_more() -> None:
    def width(count: int) -> float:
        found = suggest_balance([surface("area", (0.2, 0.2, 0.2), spread=0.2)] * count, OPTIONS)
        assert found.red_green is not None
        return found.red_green.high - found.red_green.low

    assert width(1) > 1.5 * width(6) > 2 * 1.645 * OPTIONS.area_error


def test_without_a_neutral_and_without_skin_it_says_so() -> None:
    found = suggest_balance([], OPTIONS)
    assert found.exposure is found.red_green is found.blue_green is None
    assert "neither a neutral nor skin" in found.balance_basis and found.balance_source == ""
