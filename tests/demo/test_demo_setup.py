"""The demo setup and the cameras that made it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from demo.generator.camera import Camera, decode, develop, encode, png16, shoot, truth
from demo.generator.make import CAMERAS, HERO
from demo.generator.measure import best_matrix, colour_error
from demo.generator.sensors import input_transform, sensitivity, sensor_names, white_gains
from demo.generator.spectra import light, observer, reflectance

pytestmark = pytest.mark.slow

SETUP = Path(__file__).resolve().parents[2] / "demo" / "glaze-table"


# Codes of an 18 % grey on 10 bits: Technical Summary for S-Gamut3.Cine/S-Log3 (420), V-Log/V-Gamut Reference
# Manual 1.0 (433), LogC3 at EI 800 (0.391, from memory of its published table).
@pytest.mark.parametrize(
    ("encoding", "code"), [("S-Log3/S-Gamut3.Cine", 420), ("V-Log/V-Gamut", 433), ("LogC3/AWG3", 400)]
)
def test_grey_gets_the_published_code(encoding: str, code: int) -> None:
    assert np.rint(encode(np.full(3, 0.18), encoding) * 1023) == pytest.approx(np.full(3, code))


@pytest.mark.parametrize("sensor", sensor_names())
def test_a_grey_stays_grey_under_the_light_that_the_camera_is_balanced_to(sensor: str) -> None:
    raw = 0.4 * light("LED-B4") @ sensitivity(sensor) * white_gains(sensor, "LED-B4")
    assert input_transform(sensor, "D55") @ raw == pytest.approx(np.full(3, 0.4))


def test_the_bands_see_a_light_and_a_chart_as_the_full_spectrum_does() -> None:
    """Against colour-science's integration of the same spectra at 5 nm."""
    import colour

    white = light("D65") @ observer()
    xy = colour.XYZ_to_xy(white)
    assert xy == pytest.approx(colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"], abs=0.002)
    shape = colour.SpectralShape(360, 780, 5)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    lamp = colour.SDS_ILLUMINANTS["D65"].copy().align(shape)
    for patch in ("blue", "red", "foliage"):
        sd = colour.SDS_COLOURCHECKERS["BabelColor Average"][patch].copy().align(shape)
        want = colour.sd_to_XYZ(sd, cmfs, lamp, method="Integration") / 100
        got = (reflectance(f"paint {patch}") * light("D65")) @ observer() / white[1]
        lab = [colour.XYZ_to_Lab(value, xy) for value in (want, got)]
        assert colour.delta_E(*lab, method="CIE 2000") < 1.0


def test_one_stop_is_twice_the_light_and_the_hero_is_its_own_truth() -> None:
    bands = np.random.default_rng(1).uniform(0.05, 0.6, (4, 5, 18))
    hero = Camera(sensor="sensor a", encoding="V-Log/V-Gamut")
    up = Camera(sensor="sensor a", encoding="V-Log/V-Gamut", exposure_stops=1.0)
    assert develop(bands, up) == pytest.approx(2 * develop(bands, hero))
    assert np.array_equal(truth(bands, hero), develop(bands, hero))


def test_noise_is_right_in_the_mean_and_grows_as_photons_do() -> None:
    camera = Camera(sensor="sensor a", encoding="S-Log3/S-Gamut3.Cine", electrons=6000, read_electrons=0, bits=16)
    spread = []
    for level in (0.1, 0.4):
        bands = np.broadcast_to(light("D55") * level, (200, 200, 18))
        green = decode(shoot(bands, camera, seed=2) / 65535, camera.encoding)[..., 1]
        assert green.mean() == pytest.approx(develop(bands, camera)[0, 0, 1], rel=0.003)
        spread.append(green.std())
    # Photon noise: four times the light, twice the deviation.
    assert spread[1] / spread[0] == pytest.approx(2.0, rel=0.03)


@pytest.mark.parametrize("angle", [name for name in CAMERAS if name != HERO])
def test_the_stills_show_what_the_truth_says_was_shot(angle: str) -> None:
    import cv2

    codes = cv2.imread(str(SETUP / f"{angle}.png"), cv2.IMREAD_UNCHANGED)[..., ::-1]
    ten_bit = codes / 65535 * 1023
    assert np.abs(ten_bit - np.rint(ten_bit)).max() < 0.01
    assert np.array_equal(png16(np.rint(ten_bit).astype(int)), codes)
    linear = decode(codes / 65535, CAMERAS[angle].encoding)[::3, ::3]
    with np.load(SETUP / f"truth_{angle}.npz") as data:
        shot = data["shot"].astype(float)
        assert data["cls"].shape == shot.shape[:2] == (180, 320)
        # Noise leaves single pixels apart, but no block of them.
        blocks = ((linear - shot) / (shot.mean(2, keepdims=True) + 0.02)).reshape(18, 10, 32, 10, 3).mean((1, 3))
    assert np.abs(blocks).max() < 0.02


@pytest.mark.parametrize("angle", [name for name in CAMERAS if name != HERO])
def test_the_demo_needs_a_match_and_a_3x3_can_give_it(angle: str) -> None:
    with np.load(SETUP / f"truth_{angle}.npz") as data:
        shot, right = data["shot"].astype(float)[::2, ::2], data["truth"].astype(float)[::2, ::2]
    assert 5.0 < colour_error(shot, right).mean() < 9.0
    matrix = best_matrix(shot.reshape(-1, 3), right.reshape(-1, 3))
    assert colour_error(shot @ matrix.T, right).mean() < 1.0
