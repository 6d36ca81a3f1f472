"""A still to linear light: averaged in light, masked, refused where nothing can be measured."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest

from huemend.encodings.registry import Encoding, find_encoding
from huemend.errors import MediaError
from huemend.linearise.decode import clip_levels, linearise, shrunk, working_size
from huemend.linearise.noise import noise_at_mid_grey
from huemend.model import LinearStill, Still
from huemend.options import LineariseOptions

S_LOG3 = find_encoding("S-Log3/S-Gamut3.Cine")
OPTIONS = LineariseOptions()


def still(codes: np.ndarray, **changes: Any) -> Still:
    facts: dict[str, Any] = {"angle": "wide", "moment": 0, "source": "wide.png", "bit_depth": 16}
    return Still(codes=codes.astype(np.float32), **{**facts, **changes})


def linear(picture: Still, encoding: Encoding = S_LOG3, **changes: Any) -> LinearStill:
    facts: dict[str, Any] = {"range": "full", "pixel_aspect": 1.0, "options": OPTIONS}
    return linearise(picture, encoding, **{**facts, **changes})


def scene(height: int = 96, width: int = 128, seed: int = 1) -> np.ndarray:
    """A soft gradient with a little noise, scene-linear ACEScg from 0.05 to 0.9."""
    rng = np.random.default_rng(seed)
    ramp = np.geomspace(0.05, 0.9, width)[None, :, None] * np.linspace(0.8, 1.2, height)[:, None, None]
    return ramp * rng.normal(1.0, 0.005, (height, width, 3))


def test_decodes_and_keeps_what_is_known_of_the_still() -> None:
    light = scene()
    result = linear(still(S_LOG3.encode(light), moment=3))
    np.testing.assert_allclose(result.rgb, light, rtol=1e-5)
    assert result.rgb.dtype == np.float32
    assert (result.angle, result.moment, result.source, result.full_size) == ("wide", 3, "wide.png", (96, 128))
    assert result.valid.all()
    assert not result.clipped.any()


@pytest.mark.parametrize("width", [64, 50, 37, 127])
def test_averages_light_and_not_codes(width: int) -> None:
    """The mean over an area is that of the light (optics; a defocused lens does the same)."""
    light = scene()
    options = replace(OPTIONS, working_width=width)
    result = linear(still(S_LOG3.encode(light)), options=options)
    assert result.rgb.shape[1] == width
    np.testing.assert_allclose(result.rgb.mean(axis=(0, 1)), light.mean(axis=(0, 1)), rtol=1e-4)
    if width == 64:
        blocks = light.reshape(48, 2, 64, 2, 3).mean(axis=(1, 3))
        np.testing.assert_allclose(result.rgb, blocks, rtol=1e-5)


def test_legal_range() -> None:
    light = scene()
    legal = S_LOG3.encode(light, "legal")
    np.testing.assert_allclose(linear(still(legal), range="legal").rgb, light, rtol=1e-4)


def test_square_pixels() -> None:
    assert working_size((2160, 2880), 2.0, 1920) == (720, 1920)
    assert working_size((100, 200), 1.0, 1920) == (100, 200)
    assert working_size((100, 200), 2.0, 1920) == (50, 200)
    assert working_size((100, 200), 0.5, 1920) == (100, 100)
    light = scene()
    result = linear(still(S_LOG3.encode(light)), pixel_aspect=2.0)
    assert result.rgb.shape == (48, 128, 3)
    np.testing.assert_allclose(result.rgb, light.reshape(48, 2, 128, 3).mean(axis=1), rtol=1e-5)


def test_largest_code_is_clipped_and_its_neighbours_are_not_trusted() -> None:
    codes = S_LOG3.encode(scene())
    codes[10:12, 20:22] = 1.0
    result = linear(still(codes))
    assert result.clipped.sum() == 4
    assert (~result.valid).sum() == 16
    halved = linear(still(codes), options=replace(OPTIONS, working_width=64))
    assert halved.clipped[5, 10] and halved.clipped.sum() == 1


def test_one_clipped_pixel_of_many_spoils_the_mean() -> None:
    codes = S_LOG3.encode(scene())
    codes[50, 70] = 1.0
    result = linear(still(codes), options=replace(OPTIONS, working_width=16))
    assert result.clipped.sum() == 1


def test_a_sensor_that_clips_below_the_largest_code_is_found_out() -> None:
    """A log curve leaves room above the sensor's saturation (common practice, no source)."""
    light = scene(300, 400)
    light[:60, :80] = 5.7 * np.random.default_rng(2).uniform(1.0, 3.0, (60, 80, 1))
    recorded = np.minimum(S_LOG3.encode(light), 0.76)
    result = linear(still(np.round(recorded * 1023) / 1023, bit_depth=10))
    want = (S_LOG3.encode(light) > 0.7605).any(axis=-1)
    assert want.sum() > 1000
    assert (result.clipped == want).mean() > 0.999
    # Whoever rolls highlights off needs to know where they end, in light of the camera's own gamut.
    assert result.clip_light is not None
    np.testing.assert_allclose(S_LOG3.curve.form.encode(np.array(result.clip_light)), 0.76, atol=1.5 / 1023)


def test_a_bright_noisy_wall_is_not_taken_for_clipped() -> None:
    light = scene(300, 400)
    rng = np.random.default_rng(3)
    light[:150] = 4.0 * rng.normal(1.0, 0.02, (150, 400, 3))
    assert not linear(still(S_LOG3.encode(light))).clipped.any()


def test_white_paper_at_nominal_exposure_is_not_taken_for_clipped() -> None:
    light = scene(300, 400)
    light[:150] = 0.95
    assert not linear(still(S_LOG3.encode(light))).clipped.any()


def test_paper_in_plain_video_is_not_taken_for_clipped_but_white_is() -> None:
    bt709 = find_encoding("BT.709 camera")
    light = 0.7 * scene(300, 400)
    light[:150] = 0.9
    codes = np.minimum(bt709.encode(light), 1.0)
    assert not linear(still(codes, bit_depth=8), bt709).clipped.any()
    codes[:20, :20] = 1.0
    assert linear(still(codes, bit_depth=8), bt709).clipped.sum() == 400


def test_highlights_that_roll_off_are_not_taken_for_clipped() -> None:
    light = scene(300, 400)
    light[:100] = np.geomspace(1, 30, 400)[None, :, None]
    assert not linear(still(S_LOG3.encode(light))).clipped.any()


def test_float_files_have_no_largest_code() -> None:
    acescg = find_encoding("ACEScg")
    light = scene(300, 400) * 3
    picture = still(light, floating=True, bit_depth=32)
    assert np.isinf(clip_levels(picture, acescg, range="full", options=OPTIONS)).all()
    assert linear(picture, acescg).clip_light == (np.inf,) * 3
    assert not linear(picture, acescg).clipped.any()
    light[:50, :50] = 12.0
    clipped = linear(still(light, floating=True, bit_depth=32), acescg).clipped
    assert clipped[:50, :50].all() and clipped.sum() == 2500


def test_super_whites_of_a_clip_are_kept() -> None:
    bt709 = find_encoding("BT.709 camera")
    codes = np.clip(bt709.encode(scene(200, 300)), 0, 1)
    codes[:50] *= np.linspace(1.0, 1.08, 300)[None, :, None] / codes[:50].max()
    codes[0, 0] = 1.05
    assert not linear(still(codes, bit_depth=10), bt709, range="legal").clipped.any()


def test_dark_channels_are_not_trusted() -> None:
    light = scene()
    light[:10] = 0.18 * 2.0**-9
    light[20:30, :, 2] = 1e-5
    valid = linear(still(S_LOG3.encode(light))).valid
    # Within two pixels of a brighter area, the mean over a small neighbourhood decides.
    assert not valid[:8].any()
    assert not valid[22:28].any()
    assert valid[40:].all()


def test_noise_does_not_choose_which_dark_pixels_stay() -> None:
    """The mean of what stays of a dark area is the area's (selection by value would raise it)."""
    rng = np.random.default_rng(6)
    light = scene(200, 300)
    level = 0.18 * 2.0**-7.5
    light[:100] = level * (1 + 0.4 * rng.normal(size=(100, 300, 3)))
    result = linear(still(S_LOG3.encode(light)))
    kept = result.rgb[:96][result.valid[:96]]
    assert len(kept) > 5000
    np.testing.assert_allclose(kept.mean(axis=0), level, rtol=0.05)


@pytest.mark.parametrize("noise", [0.04, 0.1])
def test_the_dark_ends_where_noise_is_half_of_the_light(noise: float) -> None:
    """Photon noise falls with the root of the light (Poisson): it is half of it at 0.18 (noise / 0.5)²."""
    ends = 0.18 * (noise / OPTIONS.floor_noise) ** 2
    assert ends > 0.18 * 2.0**OPTIONS.floor_stops
    rng = np.random.default_rng(7)
    ramp = np.geomspace(0.05, 0.7, 320)[None, :, None] * np.ones((240, 1, 3))
    ramp[:40], ramp[40:80] = ends / 2, ends * 2
    light = ramp + rng.normal(size=ramp.shape) * noise * np.sqrt(0.18 * ramp)
    valid = linear(still(S_LOG3.encode(np.maximum(light, 1e-6)))).valid
    assert valid[5:35].mean() < 0.02
    assert valid[45:].mean() > 0.98


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_a_pixel_without_a_number_is_refused(value: float) -> None:
    light = scene()
    light[7, 11, 2] = value
    picture = still(light, floating=True, source="wide.exr")
    with pytest.raises(MediaError, match=r"wide: wide\.exr: 1 pixels hold no number .* first at 11, 7; export"):
        linear(picture, find_encoding("ACEScg"))


def test_all_black_is_refused() -> None:
    with pytest.raises(MediaError, match=r"wide\.png: is black all over.*check its encoding and range"):
        linear(still(np.full((64, 64, 3), 95 / 1023)))


def test_all_clipped_is_refused() -> None:
    with pytest.raises(MediaError, match=r"wide\.png: is clipped all over"):
        linear(still(np.ones((64, 64, 3))))
    with pytest.raises(MediaError, match="is clipped all over"):
        linear(still(np.full((64, 64, 3), 0.76)))


@pytest.mark.parametrize("noise", [0.005, 0.03, 0.1])
def test_noise_is_measured_where_the_picture_is_flat(noise: float) -> None:
    """Photon noise: its standard deviation goes with the square root of the light (Poisson)."""
    rng = np.random.default_rng(4)
    ramp = np.geomspace(0.03, 0.7, 480)[None, :, None] * np.ones((270, 1, 3))
    # A third of the picture is rough, as cloth and leaves are.
    ramp[:90] *= rng.uniform(0.5, 1.5, (90, 480, 1))
    light = ramp + rng.normal(size=ramp.shape) * noise * np.sqrt(0.18 * ramp)
    assert noise_at_mid_grey(light, np.ones(light.shape[:2], bool)) == pytest.approx(noise, rel=0.08)


def test_what_is_clipped_tells_no_noise() -> None:
    """A backdrop that was clipped before it was written as log fills most of many a picture."""
    rng = np.random.default_rng(4)
    ramp = np.geomspace(0.03, 0.39, 480)[None, :, None] * np.ones((270, 1, 3))
    light = ramp + rng.normal(size=ramp.shape) * 0.03 * np.sqrt(0.18 * ramp)
    light[:, 160:] = 0.4 + 1e-5 * rng.random((270, 320, 3))
    assert noise_at_mid_grey(light, np.ones(light.shape[:2], bool)) == pytest.approx(0.03, rel=0.1)


def test_noise_of_a_picture_without_flat_places_is_unknown() -> None:
    assert noise_at_mid_grey(np.zeros((64, 64, 3)), np.ones((64, 64), bool)) == 0.0
    assert noise_at_mid_grey(np.ones((8, 8, 3)), np.ones((8, 8), bool)) == 0.0


def test_same_still_same_numbers() -> None:
    picture = still(S_LOG3.encode(scene()))
    first, second = linear(picture), linear(picture)
    np.testing.assert_array_equal(first.rgb, second.rgb)
    assert first.noise == second.noise


@pytest.mark.parametrize("size", [(48, 64), (43, 57)])
def test_a_picture_is_made_smaller_at_once_as_it_is_afterwards(size: tuple[int, int]) -> None:
    codes = S_LOG3.encode(scene())
    codes[10, 20, 1] = 1.0
    at_once, whole = linear(still(codes), size=size), linear(still(codes))

    def mean(picture: np.ndarray) -> np.ndarray:
        return cv2.resize(picture.astype(np.float32), size[::-1], interpolation=cv2.INTER_AREA)

    np.testing.assert_allclose(at_once.rgb, mean(whole.rgb), rtol=1e-4)
    assert at_once.reduced == pytest.approx(128 / size[1])
    np.testing.assert_array_equal(at_once.clipped, mean(whole.clipped) > 0)
    assert at_once.full_size == (96, 128)


def test_a_small_picture_has_the_mean_light_and_changes_it_by_less_than_noise_does() -> None:
    """Eleven significant bits (IEEE 754-2019, binary16); what is brighter than it holds becomes its largest."""
    whole = linear(still(S_LOG3.encode(scene())))
    height, width = whole.rgb.shape[0] // 4, whole.rgb.shape[1] // 4
    small = shrunk(whole, (height, width))
    mean = whole.rgb.reshape(height, 4, width, 4, 3).mean(axis=(1, 3))
    np.testing.assert_allclose(small.rgb, mean, rtol=2**-10)
    assert small.reduced == 4 and small.rgb.dtype == np.float16
    bright = replace(whole, rgb=np.full_like(whole.rgb, 1e6))
    assert (shrunk(bright, (height, width)).rgb == 65504).all()
    spoilt = replace(whole, clipped=np.arange(whole.clipped.size).reshape(whole.clipped.shape) == 0)
    assert shrunk(spoilt, (height, width)).clipped.sum() == 1
