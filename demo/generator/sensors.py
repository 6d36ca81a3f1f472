"""Measured camera sensors, and the input transform that a camera maker would ship with each.

A sensor is three sensitivities in the bands. Its input transform takes white-balanced sensor RGB to ACEScg; it
is fitted on training surfaces under a nominal light, and greys stay grey. On set the light is never the nominal
one: that, and three different sensors, is why two correctly set up cameras still disagree.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from .spectra import average_over_bands, light, observer, read_table, training_surfaces

__all__ = ["input_transform", "sensitivity", "sensor_names", "white_gains"]

Array = NDArray[np.float64]


@cache
def _sensors() -> dict[str, Array]:
    wavelengths, columns = read_table("sensors.csv")
    names = sorted({label[:-2] for label in columns})
    return {
        name: average_over_bands(wavelengths, np.stack([columns[f"{name} {c}"] for c in "rgb"], axis=1))
        for name in names
    }


def sensor_names() -> list[str]:
    """Names of the measured sensors, in the order of the data file."""
    return list(_sensors())


def sensitivity(sensor: str) -> Array:
    """Sensitivity of a sensor in the bands, (18, 3), scaled so that green answers 1 to unit power."""
    table = _sensors()[sensor]
    return table / table[:, 1].sum()


def white_gains(sensor: str, white: str) -> Array:
    """Gains (3,) that make a perfect diffuser under the light ``white`` read 1 in each channel."""
    gains: Array = 1.0 / (light(white) @ sensitivity(sensor))
    return gains


@cache
def input_transform(sensor: str, nominal: str) -> Array:
    """3x3 from white-balanced sensor RGB (column vector) to linear ACEScg.

    Fitted by least squares on the training surfaces under the light ``nominal``; the target is what the CIE 1931
    observer sees, adapted from that light to the ACES white by CAT02. Each surface weighs by its luminance to the
    power -2/3, about as lightness does, and white maps to white exactly.
    """
    import colour

    source = light(nominal)
    surfaces = training_surfaces()
    camera = (surfaces * source) @ sensitivity(sensor) * white_gains(sensor, nominal)
    seen = (surfaces * source) @ observer()
    white = source @ observer()
    seen, white = seen / white[1], white / white[1]
    space = colour.RGB_COLOURSPACES["ACEScg"]
    target_white = colour.xy_to_XYZ(space.whitepoint)
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, target_white, transform="CAT02")
    target = seen @ adapt.T @ space.matrix_XYZ_to_RGB.T
    weight = np.maximum(target @ [0.2722, 0.6741, 0.0537], 1e-3) ** (-2 / 3)
    # Rows that sum to one: write the last column as one minus the others and fit those.
    features = (camera[:, :2] - camera[:, 2:]) * weight[:, None]
    rows = [np.linalg.lstsq(features, (target[:, i] - camera[:, 2]) * weight, rcond=None)[0] for i in range(3)]
    left = np.array(rows)
    matrix: Array = np.column_stack([left, 1.0 - left.sum(1)])
    matrix.setflags(write=False)
    return matrix
