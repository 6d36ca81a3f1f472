"""The views against colour-science, OpenColorIO and published tables."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from huemend import view
from huemend.model import LinearStill

SHARMA = Path(__file__).parent / "data" / "ciede2000_sharma_wu_dalal_2005.csv"


def colours(count: int = 2000, top: float = 1.5) -> np.ndarray:
    """Random ACEScg colours, from black to past display white."""
    return np.random.default_rng(11).random((count, 3)) ** 2 * top


def derived(name: str) -> Any:
    import colour

    space = colour.RGB_COLOURSPACES[name].copy()
    space.use_derived_transformation_matrices(True)
    return space


def test_the_matrix_to_the_display_agrees_with_colour_science() -> None:
    import colour

    to_709 = colour.matrix_RGB_to_RGB(derived("ACEScg"), derived("ITU-R BT.709"), "CAT02")
    np.testing.assert_allclose(view._ACESCG_TO_709, to_709, atol=1e-12)


def test_lab_agrees_with_colour_science() -> None:
    """A plain BT.709 view: matrix by CAT02, clip, XYZ, CIELAB of D65 and 2 degrees; colour-science 0.4.7."""
    import colour

    rgb = colours()
    bt709, acescg = derived("ITU-R BT.709"), derived("ACEScg")
    display = np.clip(rgb @ colour.matrix_RGB_to_RGB(acescg, bt709, "CAT02").T * 2**-0.5, 0, 1)
    d65 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    want = colour.XYZ_to_Lab(display @ bt709.matrix_RGB_to_XYZ.T, d65)
    np.testing.assert_allclose(view.measurement_lab(rgb, -0.5), want, atol=1e-9)
    np.testing.assert_allclose(view.measurement_lab(rgb.astype(np.float32), -0.5), want, atol=2e-3)
    assert view.measurement_lab(rgb.astype(np.float32)).dtype == np.float32


def test_lab_of_greys() -> None:
    """CIE 15:2018: Y = 0.184187 has L* 50, white 100; a neutral has no chroma."""
    lab = view.measurement_lab(np.array([0.0, 0.184186518, 1.0])[:, None] * np.ones(3))
    np.testing.assert_allclose(lab, [[0, 0, 0], [50, 0, 0], [100, 0, 0]], atol=1e-5)


def test_ciede2000_agrees_with_the_published_table() -> None:
    """Sharma, Wu and Dalal 2005, table 1."""
    lines = [line for line in SHARMA.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = np.array([list(map(float, row.values())) for row in csv.DictReader(lines)])
    assert len(rows) == 34
    np.testing.assert_allclose(view.delta_e2000(rows[:, 1:4], rows[:, 4:7]), rows[:, 7], atol=5.1e-5)
    np.testing.assert_allclose(view.delta_e2000(rows[:, 4:7], rows[:, 1:4]), rows[:, 7], atol=5.1e-5)


def test_ciede2000_of_pictures_keeps_their_shape() -> None:
    lab = view.measurement_lab(colours(600).reshape(20, 30, 3))
    assert view.delta_e2000(lab, lab).shape == (20, 30)
    assert view.delta_e2000(lab, lab).max() == 0.0


def test_measurement_signal_is_bt1886() -> None:
    """ITU-R BT.1886 with black at zero: light is the signal to the power of 2.4."""
    import colour

    rgb = colours()
    light = np.clip(rgb @ view._ACESCG_TO_709.T, 0, 1)
    signal = view.measurement_signal(rgb)
    np.testing.assert_allclose(colour.eotf(signal, function="ITU-R BT.1886"), light, atol=1e-9)
    np.testing.assert_array_equal(view.measurement_picture(rgb), np.round(signal * 255).astype(np.uint8))


def test_clipping_is_what_exceeds_display_white() -> None:
    rgb = np.array([[0.5, 0.5, 0.5], [1.01, 1.01, 1.01], [1.2, 0.1, 0.1]])
    assert view.clips(rgb).tolist() == [False, True, True]
    assert view.clips(rgb, -2.0).tolist() == [False, False, False]


def test_luminance_is_y() -> None:

    rgb = colours()
    np.testing.assert_allclose(view.luminance(rgb), (rgb @ derived("ACEScg").matrix_RGB_to_XYZ.T)[:, 1], atol=1e-9)


# ------------------------------------------------------------------------------------------ picture view


def by_opencolorio(rgb: np.ndarray, output: str, display: str) -> np.ndarray:
    import PyOpenColorIO as ocio

    styles = ("ACEScg_to_ACES2065-1", "ACES-LMT - ACES 1.3 Reference Gamut Compression", output, display)
    out = np.array(rgb, np.float32, order="C")
    for style in styles:
        processor = ocio.Config.CreateRaw().getProcessor(ocio.BuiltinTransform(style))
        processor.getDefaultCPUProcessor().applyRGB(out)
    return np.clip(out, 0, 1)


@pytest.mark.parametrize("hdr", [False, True])
def test_rendering_is_opencolorios(hdr: bool) -> None:
    """The builtins of OpenColorIO 2.6, one after another."""
    output, display = view._HDR if hdr else view._SDR
    render = view.rendered_hdr_signal if hdr else view.rendered_signal
    rgb = colours(3000, 3.0)
    want = by_opencolorio(rgb, output, display)
    # As display light: next to black, the root of a signal blows single precision up.
    power = 1.0 if hdr else 2.4
    np.testing.assert_allclose(render(rgb) ** power, want**power, atol=2e-5)
    if not hdr:
        # Pictures go through a cube, and are rounded to codes of 8 bits.
        error = np.abs(view.rendered_picture(rgb) - want * 255)
        assert np.percentile(error, 99) < 2.5
        assert error.max() < 12.5


def test_rendering_of_greys() -> None:
    """ACES 2.0 shows an 18 % grey at 10 cd/m2 of 100 (A2.0 output transform, mid-grey of the tone scale)."""
    grey = view.rendered_signal(np.full((1, 3), 0.18))
    np.testing.assert_allclose(grey**2.4 * 100, 10.0, atol=0.15)
    np.testing.assert_array_equal(view.rendered_picture(np.zeros((1, 3))), 0)
    ramp = view.rendered_picture(np.geomspace(1e-3, 60, 200)[:, None] * np.ones(3)).astype(int)
    assert (np.diff(ramp, axis=0) >= 0).all()
    assert ramp.max() >= 253
    # Neutral within two codes.
    assert (ramp.max(axis=1) - ramp.min(axis=1)).max() <= 2


def test_rendering_takes_any_light() -> None:
    rgb = np.array([[-5.0, 0.1, 0.1], [1e4, 1e4, 1e4], [0.0, 0.0, 60_000.0], [-1.0, -1.0, -1.0]])
    for signal in (view.rendered_signal(rgb), view.rendered_hdr_signal(rgb)):
        assert np.isfinite(signal).all()
        assert signal.min() >= 0 and signal.max() <= 1


def test_one_gain_moves_the_view() -> None:
    rgb = colours(200)
    np.testing.assert_allclose(view.measurement_lab(rgb, -1.0), view.measurement_lab(rgb / 2), atol=1e-9)


# -------------------------------------------------------------------------------------- the view's gain


def hero(rgb: np.ndarray, valid: np.ndarray | None = None) -> LinearStill:
    valid = np.ones(rgb.shape[:2], bool) if valid is None else valid
    return LinearStill(
        rgb=rgb.astype(np.float32),
        valid=valid,
        clipped=~valid,
        angle="wide",
        moment=0,
        source="wide.png",
        full_size=(rgb.shape[0], rgb.shape[1]),
    )


def test_view_gain_is_zero_where_nothing_needs_it() -> None:
    assert view.view_stops_of(hero(np.full((270, 480, 3), 0.9))) == 0.0
    assert view.view_stops_of(hero(np.full((270, 480, 3), 1.0))) == 0.0


def test_view_gain_brings_bright_areas_under_white() -> None:
    rgb = np.full((270, 480, 3), 0.3)
    rgb[50:120, 100:200] = 3.1
    stops = view.view_stops_of(hero(rgb))
    assert stops == pytest.approx(-1.7)
    assert not view.clips(rgb, stops).any()
    assert view.clips(rgb, stops + 0.1).any()


def test_view_gain_ignores_specular_points_and_clipped_areas() -> None:
    rng = np.random.default_rng(5)
    rgb = np.full((270, 480, 3), 0.3)
    points = rng.integers(0, (270, 480), (900, 2))
    rgb[points[:, 0], points[:, 1]] = 40.0
    assert view.view_stops_of(hero(rgb)) == 0.0
    valid = np.ones((270, 480), bool)
    rgb[50:120, 100:200] = 30.0
    valid[50:120, 100:200] = False
    assert view.view_stops_of(hero(rgb, valid)) == 0.0


def test_view_gain_ignores_a_lamp_in_shot() -> None:
    rgb = np.full((270, 480, 3), 0.3)
    rgb[50:90, 100:150] = 2.2
    assert view.view_stops_of(hero(rgb)) == 0.0


def test_view_gain_does_not_darken_a_room_for_its_window() -> None:
    rgb = np.full((270, 480, 3), 0.08)
    rgb[50:120, 100:200] = 3.1
    assert view.view_stops_of(hero(rgb)) == 0.0


def test_view_gain_of_a_tiny_or_useless_picture_is_zero() -> None:
    assert view.view_stops_of(hero(np.full((2, 2, 3), 9.0), np.zeros((2, 2), bool))) == 0.0
    assert view.view_stops_of(hero(np.full((1, 1, 3), 9.0))) == 0.0


def test_a_stop_more_on_the_hero_is_a_stop_less_in_the_view() -> None:
    """Exposure is one gain in scene-linear light (common practice, no source)."""
    rgb = np.full((270, 480, 3), 2.0)
    assert view.view_stops_of(hero(rgb * 2)) == view.view_stops_of(hero(rgb)) - 1
