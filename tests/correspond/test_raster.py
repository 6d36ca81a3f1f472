"""Pictures as the matcher sees them: places, pyramids, noise and patch means."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.ndimage import gaussian_filter

from huemend.correspond.raster import Pyramid, feature_picture, log_luminance, make_picture, patch_means
from tests.correspond.made_views import still_of


def ramp(height: int = 60, width: int = 80) -> np.ndarray:
    return np.broadcast_to(
        np.linspace(0.1, 0.5, width, dtype=np.float32)[None, :, None], (height, width, 3)
    ).copy()


def test_a_small_picture_is_not_enlarged() -> None:
    picture = make_picture(still_of(ramp(), "wide"), 960)
    assert picture.rgb.shape == (60, 80, 3)
    assert picture.to_still == 1
    assert_allclose(picture.still_places(np.array([[3.0, 4.0]])), [[3.0, 4.0]])


def test_places_of_a_smaller_picture_are_centres_of_its_pixels() -> None:
    picture = make_picture(still_of(ramp(), "wide"), 40)
    assert picture.rgb.shape == (30, 40, 3)
    # The first pixel covers the still's first two, whose middle is 0.5.
    assert_allclose(picture.still_places(np.array([[0.0, 0.0]])), [[0.5, 0.5]])
    assert_allclose(picture.rgb[:, 0, 0], ramp()[0, :2, 0].mean(), rtol=1e-5)


def test_twice_the_light_is_one_up_in_log_luminance() -> None:
    # But for the toe, which keeps black from becoming structure.
    rgb = np.full((1, 1, 3), 0.5, np.float32)
    assert log_luminance(2 * rgb) - log_luminance(rgb) == pytest.approx(1, abs=0.01)
    assert np.isfinite(log_luminance(np.full((1, 1, 3), -1, np.float32)))


def test_a_pyramid_gives_values_between_pixels_and_none_outside() -> None:
    plane = ramp()[..., 0]
    pyramid = Pyramid(plane, 5)
    values = pyramid.sample(np.array([[10.25, -3.0, 200.0]]), np.array([[20.0, 5.0, 5.0]]), np.ones(1))[0]
    # Exact but for the 1/32 pixel steps of the resampling.
    assert values[0] == pytest.approx(0.1 + 10.25 * 0.4 / 79, abs=2e-4)
    assert np.isnan(values[1:]).all()


@pytest.mark.parametrize("scale", [1.0, 2.0, 4.0])
def test_every_level_keeps_places(scale: float) -> None:
    pyramid = Pyramid(ramp(200, 320)[..., 0], 7)
    values = pyramid.sample(np.array([[160.0]]), np.array([[100.0]]), np.array([scale]))
    assert values[0, 0] == pytest.approx(0.1 + 160 * 0.4 / 319, abs=0.001)


def test_coarser_levels_average_noise_away() -> None:
    plane = np.random.default_rng(0).normal(size=(256, 256)).astype(np.float32)
    x, y = (part.reshape(1, -1) for part in np.meshgrid(np.arange(32.0, 220, 8), np.arange(32.0, 220, 8)))
    spread = [float(Pyramid(plane, 7).sample(x, y, np.array([scale])).std()) for scale in (1.0, 2.0, 4.0)]
    assert spread[0] > 1.5 * spread[1] > 2.5 * spread[2]


def test_noise_is_found_on_flat_patches() -> None:
    rng = np.random.default_rng(1)
    rgb = np.tile(ramp(240, 320), (1, 1, 1)) * (1 + 0.03 * rng.normal(size=(240, 320, 1)))
    picture = make_picture(still_of(rgb, "wide"), 960)
    # 3 % of light in stops, but taken from the quieter patches.
    assert picture.noise_at(np.array(-2.0)) == pytest.approx(0.03 / np.log(2), rel=0.35)


def test_a_patch_mean_is_linear_light() -> None:
    rgb = np.zeros((40, 40, 3), np.float32)
    rgb[:, 20:] = 0.8
    picture = make_picture(still_of(rgb, "wide"), 960)
    colour, clean = patch_means(picture, np.array([[19.5, 20.0], [8.0, 20.0]]), np.array([4.0, 4.0]))
    # Half black, half 0.8: 0.4 in light, whatever its logarithm.
    assert_allclose(colour[0], 0.4, atol=0.01)
    assert_allclose(colour[1], 0.0, atol=1e-4)
    assert clean.all()


def test_one_clipped_pixel_spoils_the_patches_that_reach_it() -> None:
    clipped = np.zeros((60, 80), bool)
    clipped[30, 40] = True
    picture = make_picture(still_of(ramp(), "wide", clipped=clipped), 960)
    places = np.array([[40.0, 30.0], [43.0, 30.0], [50.0, 30.0]])
    assert patch_means(picture, places, np.full(3, 4.0))[1].tolist() == [False, False, True]
    assert patch_means(picture, places, np.full(3, 12.0))[1].tolist() == [False, False, False]


def test_numbers_that_are_none_spoil_their_patches_only() -> None:
    rgb = ramp()
    rgb[10, 10] = np.nan
    picture = make_picture(still_of(rgb, "wide"), 960)
    colour, clean = patch_means(picture, np.array([[10.0, 10.0], [60.0, 40.0]]), np.array([2.0, 2.0]))
    assert np.isfinite(colour).all()
    assert clean.tolist() == [False, True]


def test_a_patch_near_the_edge_keeps_its_colour() -> None:
    # A flat picture is flat up to its edge: nothing from outside may darken it.
    picture = make_picture(still_of(np.full((40, 40, 3), 0.3, np.float32), "wide"), 960)
    colour, _ = patch_means(picture, np.array([[1.0, 1.0], [39.0, 39.0]]), np.array([6.0, 6.0]))
    assert_allclose(colour, 0.3, rtol=1e-4)


def test_dim_texture_shows_like_bright_texture() -> None:
    rng = np.random.default_rng(2)
    texture = np.exp(0.5 * rng.normal(size=(128, 256)))
    texture[:, 128:] /= 64
    shown = feature_picture(np.log2(texture).astype(np.float32)).astype(float)
    bright, dim = shown[:, :96].std(), shown[:, 160:].std()
    assert dim == pytest.approx(bright, rel=0.15)


@pytest.mark.parametrize("radius", [8.0, 16.0, 64.0])
def test_a_wide_patch_is_the_gaussian_that_it_would_be_on_every_pixel(radius: float) -> None:
    # A wide Gaussian is taken on fewer pixels; scipy's on all of them is the outside check.
    rgb = ramp(360, 481) + np.random.default_rng(3).random((360, 481, 1)).astype(np.float32)
    places = np.stack(np.meshgrid(np.linspace(20, 460, 9), np.linspace(20, 340, 7)), -1).reshape(-1, 2)
    colour, _ = patch_means(make_picture(still_of(rgb, "wide"), 960), places, np.full(len(places), radius))
    every = np.stack([gaussian_filter(rgb[..., k], radius / 2, mode="mirror") for k in range(3)], -1)
    at = np.rint(places).astype(int)
    near = every[at[:, 1], at[:, 0]]
    assert_allclose(colour, near, rtol=0.02)
