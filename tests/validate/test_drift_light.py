"""Whose move it was, and how large, against changes of light that are known by computation."""

from __future__ import annotations

from dataclasses import replace

import colour
import numpy as np
import pytest

from huemend.options import DriftOptions
from huemend.validate.drift import drift_reasons
from huemend.validate.track import follow
from tests.validate.followed import measure_drift
from tests.validate.test_drift import STEADY, TIMES, series


def test_a_cloud_over_two_cameras_is_the_light() -> None:
    # There is no third to ask: what both do alike is the light, and only what is left is a camera's own.
    cloud = -0.8 * np.exp(-(((np.arange(12) - 7) / 2.5) ** 2))
    drift = measure_drift({"wide": series(cloud), "left": series(cloud, seed=1)}, TIMES)
    (change,) = drift.changes
    assert change.camera == "" and change.stops == pytest.approx(-0.8, abs=0.07)
    assert drift.common.exposure == pytest.approx(cloud, abs=0.07)
    assert drift_reasons(drift, "left", "wide", DriftOptions()) == ()


def test_stills_beside_clips_are_not_followed_with_them() -> None:
    drift = measure_drift({"wide": series(STEADY), "left": series(STEADY, seed=1)}, TIMES)
    assert drift.follows("left", "wide") and not drift.follows("stills", "wide")
    assert drift_reasons(drift, "stills", "wide", DriftOptions()) == ()


def test_of_two_cameras_under_a_cloud_the_one_that_follows_it_is_named() -> None:
    cloud = np.linspace(0.0, -0.6, 12)
    drift = measure_drift({"wide": series(cloud), "left": series(0.4 * cloud, seed=1)}, TIMES)
    light = next(change for change in drift.changes if change.camera == "")
    assert light.stops == pytest.approx(-0.24, abs=0.06)
    assert {change.camera for change in drift.changes} == {"", "wide"}
    assert drift_reasons(drift, "left", "wide", DriftOptions())


def test_two_cameras_that_move_apart_share_no_light() -> None:
    ramp = np.linspace(0.0, 0.4, 12)
    drift = measure_drift({"wide": series(ramp), "left": series(-ramp, seed=1)}, TIMES)
    assert not drift.common.exposure.any()
    assert {change.camera for change in drift.changes} == {"wide", "left"}


def setting_sun() -> tuple[np.ndarray, np.ndarray]:
    """Daylight from 6500 K to 5000 K in twelve steps: (12,) stops of red and of blue against green, in ACEScg.

    Chromaticities of the CIE daylight locus (CIE 15:2018, section 4.1.2) as colour-science computes them.
    """
    to_ap1 = colour.RGB_COLOURSPACES["ACEScg"].matrix_XYZ_to_RGB
    whites = []
    for kelvin in np.linspace(6500, 5000, 12):
        xy = colour.temperature.CCT_to_xy_CIE_D(kelvin)
        whites.append(to_ap1 @ colour.xyY_to_XYZ(np.array([*xy, 1.0])))
    stops = np.log2(np.array(whites) / whites[0])
    return stops[:, 0] - stops[:, 1], stops[:, 2] - stops[:, 1]


def test_a_setting_sun_is_followed_as_computed() -> None:
    red, blue = setting_sun()
    assert red[-1] > 0.1 and blue[-1] < -0.2
    stills = {name: series(STEADY, seed=i, red=red, blue=blue) for i, name in enumerate(("wide", "left", "right"))}
    drift = measure_drift(stills, TIMES)
    # Against the first two pictures together, which is where the following starts.
    for found, known in zip(drift.common.stops[1:], (red, blue), strict=True):
        assert found == pytest.approx(known - known[:2].mean(), abs=0.03)
    assert {change.camera for change in drift.changes} == {""}
    assert drift_reasons(drift, "left", "wide", DriftOptions()) == ()


def test_leaves_that_move_everywhere_are_no_bands() -> None:
    # Every area changes by itself, from row to row as from column to column: a shutter makes rows alone differ.
    rng = np.random.default_rng(5)
    stills = series(STEADY)
    moved = [np.kron(np.exp2(0.2 * rng.normal(size=(18, 32))), np.ones((6, 6)))[..., None] for _ in stills]
    stills = [replace(still, rgb=still.rgb * gain) for still, gain in zip(stills, moved, strict=True)]
    assert np.nanmax(follow(stills, DriftOptions()).banding) < 0.06


def test_a_camera_that_shows_something_else_is_said_to_be_unknown_and_not_to_drift() -> None:
    # Another room for the last four pictures: no area tells anything of light, and they tell different things.
    stills = series(STEADY)
    other = np.kron(np.random.default_rng(9).uniform(-3, 3, (12, 16, 1)), np.ones((9, 12, 1)))
    stills[8:] = [replace(still, rgb=(still.rgb * np.exp2(other)).astype(np.float32)) for still in stills[8:]]
    drift = measure_drift({"wide": series(STEADY, seed=1), "left": stills}, TIMES)
    assert np.isnan(drift.tracks["left"].exposure[8:]).all() and not drift.changes
    (reason,) = drift_reasons(drift, "left", "wide", DriftOptions())
    assert reason.code == "not-followed" and "left" in reason.text and "00:08.00 to 00:11.00" in reason.text


def test_an_exposure_that_overshoots_and_settles_wanders() -> None:
    there = np.r_[np.linspace(0.0, 0.6, 7), np.linspace(0.6, 0.25, 6)[1:]]
    drift = measure_drift(
        {"wide": series(STEADY), "left": series(there, seed=1), "c": series(STEADY, seed=2)}, TIMES
    )
    (change,) = drift.changes
    assert (change.camera, change.how) == ("left", "wander")
