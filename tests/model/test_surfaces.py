"""The patches that errors are told on, against the published averages of the chart."""

from __future__ import annotations

import numpy as np
import pytest

from huemend.model.surfaces import NEUTRALS, PATCHES, SATURATED, patches

colour = pytest.importorskip("colour")


def test_patches_are_the_published_averages() -> None:
    """BabelColor Average as colour-science carries it (CCS_COLOURCHECKERS), to ACEScg with CAT02."""
    chart = colour.CCS_COLOURCHECKERS["BabelColor Average"]
    for name, ours in PATCHES.items():
        known = next(label for label in chart.data if label.split(" (")[0] == name)
        rgb = colour.XYZ_to_RGB(
            colour.xyY_to_XYZ(chart.data[known]),
            "ACEScg",
            chart.illuminant,
            chromatic_adaptation_transform="CAT02",
        )
        np.testing.assert_allclose(ours, rgb, rtol=0, atol=0.004 if name in NEUTRALS else 0.0006, err_msg=name)


def test_groups_are_of_the_chart() -> None:
    assert patches(*NEUTRALS).shape == (4, 3) and (np.ptp(patches(*NEUTRALS), axis=1) == 0).all()
    assert patches(*SATURATED).shape == (6, 3)
