"""A chart in both views gives pairs; what has not the published colours gives none."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose
from skimage import data

from huemend.correspond.chart_finder import (
    find_chart,
    measure_chart,
    published_residual,
    settle,
)
from huemend.correspond.detect import detect_all
from huemend.errors import MissingLibraryError
from huemend.model import Angle, Fit, Marks, Match, Setup
from huemend.model.surfaces import PUBLISHED
from huemend.options import ChartOptions, CorrespondOptions, MatchOptions, SolveOptions
from huemend.solve.fit import fit
from tests.correspond.made_charts import hung, published, views
from tests.correspond.made_views import light, noisy, still_of
from tests.correspond.sources import all_sources, chart_source
from tests.solve.made_pairs import MIX

pytestmark = pytest.mark.slow

OPTIONS = ChartOptions()
ALL = np.ones(24, bool)
SQUARE = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)], float)
# What the second camera makes of the light: 0.8 stops less of it, a warmer balance, another sensor.
SHOT = 2**-0.8 * np.diag([1.1, 1.0, 0.85]) @ MIX


def test_the_published_values_are_those_that_colour_science_carries() -> None:
    assert_allclose(PUBLISHED, published(), atol=1e-8)
    # The maker names the neutral patches by their densities, 0.05 to 1.50; a density is -log10 of the reflectance.
    densities = np.array([0.05, 0.23, 0.44, 0.70, 1.05, 1.50])
    assert_allclose(PUBLISHED[18:], np.repeat(10 ** -densities[:, None], 3, axis=1), rtol=0.06)


def test_a_chart_in_two_views_gives_its_patches() -> None:
    wide, close = views(published(), published(), SHOT)
    found = chart_source(OPTIONS, wide, close)((wide,), (close,))
    assert found.source == "chart" and (found.matched, found.rejected) == (1, {})
    # Black may drown in the darker view; everything else is there, in the published order.
    assert found.group.tolist() == list(range(len(found))) and len(found) >= 23
    kept = published()[found.group]
    assert_allclose(found.reference_rgb, kept, rtol=0.03, atol=0.002)
    assert_allclose(found.angle_rgb, kept @ SHOT.T, rtol=0.03, atol=0.002)
    assert (found.label == "chart").all() and not found.by_hand.any() and found.says_light.all()
    # The first patch is the top left one in the wide view.
    assert np.hypot(*(found.reference_xy[0] - (435, 273))) < 6


def test_the_chart_alone_pins_the_match() -> None:
    both = views(published(), published(), SHOT)
    pairs = chart_source(OPTIONS, *both)(*((view,) for view in both))
    fitted = fit(pairs, SolveOptions(), view_stops=0.0)
    assert isinstance(fitted, Fit)
    truth = Match.from_matrix(np.linalg.inv(SHOT))
    assert fitted.match.exposure_stops == pytest.approx(truth.exposure_stops, abs=0.05)
    assert_allclose(fitted.match.balance, truth.balance, atol=0.05)


@pytest.mark.parametrize("stops", [-3.0, 2.0])
def test_exposure_and_a_strong_cast_do_not_hide_a_chart(stops: float) -> None:
    wide, _ = views(2.0**stops * published() * (1.5, 1.0, 0.5))
    chart = find_chart(wide, OPTIONS)
    assert chart is not None and chart.residual < 3


def test_a_chart_that_hangs_upside_down_is_read_the_right_way() -> None:
    wide, _ = views(published()[::-1])
    chart = find_chart(wide, OPTIONS)
    assert chart is not None
    assert_allclose(chart.rgb[chart.usable], published()[chart.usable], rtol=0.03, atol=0.003)


@pytest.mark.parametrize("turn", [0, 45, 90, 180])
def test_a_small_chart_is_measured_where_it_is(turn: float) -> None:
    """The detector lies half a patch off at a corner where patches are small; each patch must still be its own."""
    room = 0.5 * cv2.resize(light(data.coffee()), (960, 640), interpolation=cv2.INTER_CUBIC)
    across, down, angle = 110, 76, np.deg2rad(turn)
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    corners = np.array([(-1, -1), (1.05, -0.95), (1, 1), (-0.95, 1)]) * (across / 2, down / 2) @ spin.T + (
        480,
        300,
    )
    still = still_of(noisy(hung(room, corners.tolist(), published()), 0), "wide")
    chart = find_chart(still, OPTIONS)
    assert chart is not None and chart.usable.all() and chart.residual < 1
    assert_allclose(chart.rgb, published(), rtol=0.1, atol=0.003)


def test_a_patch_behind_a_hand_is_left_out() -> None:
    wide, _ = views(published())
    free = find_chart(wide, OPTIONS)
    assert free is not None
    rgb = wide.rgb.copy()
    x, y = np.rint(free.place[14]).astype(int)
    rgb[y - 9 : y + 9, x - 9 : x + 9] = (0.05, 0.28, 0.3)
    chart = measure_chart(replace(wide, rgb=rgb), free.place[:, None] + 5 * SQUARE, OPTIONS)
    assert chart is not None and not chart.usable[14] and chart.usable.sum() >= 22


@pytest.mark.parametrize(
    "photograph", ["astronaut", "coffee", "chelsea", "rocket", "colorwheel", "stereo_motorcycle"]
)
def test_photographs_hold_no_chart(photograph: str) -> None:
    picture = getattr(data, photograph)()
    picture = picture[0] if isinstance(picture, tuple) else picture
    assert find_chart(still_of(light(picture[..., :3]), "wide"), replace(OPTIONS, scales=(1, 2))) is None


def test_a_chart_read_from_its_last_patch_on_is_put_in_order() -> None:
    # A chart that hangs upside down: what finds it may begin with black.
    wide, _ = views(published())
    right = find_chart(wide, OPTIONS)
    assert right is not None
    chart = measure_chart(wide, right.place[::-1, None] + 4 * SQUARE, OPTIONS)
    assert chart is not None
    assert_allclose(chart.place, right.place)
    assert_allclose(chart.rgb, published(), rtol=0.1, atol=0.003)


@pytest.mark.slow
def test_a_board_of_other_colours_is_no_chart() -> None:
    order = np.random.default_rng(3).permutation(24)
    assert find_chart(views(published()[order])[0], replace(OPTIONS, scales=(1, 2))) is None
    # Even where the detector takes it for one: handed over with the right corners, it is refused.
    right = find_chart(views(published())[0], OPTIONS)
    assert right is not None
    corners = right.place[:, None] + 4 * SQUARE
    assert measure_chart(views(published())[0], corners, OPTIONS) is not None
    assert measure_chart(views(published()[order])[0], corners, OPTIONS) is None
    # Nor does settling on something make a chart of it.
    for still in (views(published()[order])[0], still_of(light(data.coffee()), "wide")):
        settled = settle(still, right.place - (0, 150))
        assert settled is None or measure_chart(still, settled, OPTIONS) is None


def test_the_limit_parts_charts_from_what_is_none() -> None:
    """The figures that the options give for the limit."""
    known = published()
    falloff = known * 2.0 ** np.tile(np.linspace(0, 1, 6), 4)[:, None]
    rng = np.random.default_rng(0)

    def off(rgb: np.ndarray, usable: np.ndarray = ALL) -> float:
        return published_residual(rgb, usable, OPTIONS)[0]

    wrong = [off(known[rng.permutation(24)]) for _ in range(200)]
    assert off(known @ SHOT.T) < 0.01
    assert off(known + 0.05) < 3
    assert off(falloff) < 5 < OPTIONS.largest_residual < 18 < min(wrong)
    assert off(known[::-1]) > 18
    assert off(np.full((24, 3), 0.2)) > 18
    assert off(known, ALL & (np.arange(24) < 11)) == np.inf


def test_a_chart_in_one_view_gives_nothing_and_is_told() -> None:
    wide, close = views(published(), None)
    found = chart_source(replace(OPTIONS, scales=(1,)), wide, close)((wide,), (close,))
    assert len(found) == 0 and found.rejected == {"chart on wide alone": 1}
    back = chart_source(replace(OPTIONS, scales=(1,)), close, close)((close,), (close,))
    assert len(back) == 0 and back.rejected == {"no chart": 1}


@pytest.mark.slow
def test_clipped_and_ignored_patches_are_left_out() -> None:
    wide, close = views(published(), published())
    spoilt = np.zeros(wide.clipped.shape, bool)
    spoilt[:, 520:] = True
    whole = chart_source(OPTIONS, wide, close)((wide,), (close,))
    for changed in (replace(wide, clipped=spoilt), replace(wide, ignored=spoilt)):
        found = chart_source(OPTIONS, changed, close)((changed,), (close,))
        assert 12 <= len(found) < len(whole)
        assert (found.reference_xy[:, 0] < 520).all()


def test_charts_are_looked_for_only_where_the_setup_file_asks() -> None:
    angles = tuple(Angle(name=name, media=(), encoding="ACEScct") for name in ("wide", "close"))
    setup = Setup(name="made", hero="wide", angles=angles, source=Path("setup.toml"), marks=Marks())
    flat = views(published(), published(), SHOT)
    stills = [(view,) for view in flat]
    blind = CorrespondOptions(features=False)
    assert len(all_sources(setup, blind, *flat)(*stills)) == 0
    assert len(all_sources(replace(setup, chart=True), blind, *flat)(*stills)) >= 23


def test_an_opencv_without_a_chart_finder_is_told_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    # The plain builds of OpenCV 4 have no `mcc`; it came into the main part with 5.
    monkeypatch.delattr(cv2, "mcc")
    setup = Setup(name="a", hero="wide", angles=(), source=Path("setup.toml"))
    with pytest.raises(MissingLibraryError, match=r"OpenCV \S+ cannot look for a colour chart.*>=5.*chart = true"):
        detect_all(replace(setup, chart=True), {}, MatchOptions(), people={})
    assert not detect_all(setup, {}, MatchOptions(), people={}).charts  # nobody asked for one
