"""Gamuts and chromatic adaptation against colour-science and OpenColorIO's published transforms."""

from __future__ import annotations

import numpy as np
import pytest

from huemend.base.units import AP1_LUMINANCE
from huemend.encodings.gamuts import GAMUTS, Gamut, matrix_to_acescg, rgb_to_xyz
from huemend.errors import EncodingError

COLOUR_NAMES = {
    "AP1": "ACEScg",
    "AP0": "ACES2065-1",
    "AWG3": "ARRI Wide Gamut 3",
    "AWG4": "ARRI Wide Gamut 4",
    "D-Gamut": "DJI D-Gamut",
    "BT.2020": "ITU-R BT.2020",
    "BT.709": "ITU-R BT.709",
}


@pytest.mark.parametrize("name", [name for name in GAMUTS if name != "Apple Wide Gamut"])
def test_matrix_agrees_with_colour_science(name: str) -> None:
    """colour-science 0.4.7, matrices derived from the primaries; its list lacks one gamut of 2025."""
    import colour

    space = colour.RGB_COLOURSPACES[COLOUR_NAMES.get(name, name)].copy()
    acescg = colour.RGB_COLOURSPACES["ACEScg"].copy()
    space.use_derived_transformation_matrices(True)
    acescg.use_derived_transformation_matrices(True)
    method = {"cat02": "CAT02", "bradford": "Bradford"}[GAMUTS[name].adaptation]
    want = colour.matrix_RGB_to_RGB(space, acescg, method)
    np.testing.assert_allclose(matrix_to_acescg(GAMUTS[name]), want, atol=1e-9)


@pytest.mark.parametrize("name", list(GAMUTS))
def test_white_stays_white(name: str) -> None:
    np.testing.assert_allclose(matrix_to_acescg(GAMUTS[name]) @ np.ones(3), np.ones(3), atol=1e-12)


def test_primaries_and_white_are_where_they_were_published() -> None:
    """SMPTE RP 177: each column has a primary's chromaticity, their sum has the white's."""
    for gamut in GAMUTS.values():
        matrix = rgb_to_xyz(gamut)
        for column, xy in zip(matrix.T, (gamut.red, gamut.green, gamut.blue), strict=True):
            np.testing.assert_allclose(column[:2] / column.sum(), xy, atol=1e-12)
        white = matrix.sum(axis=1)
        np.testing.assert_allclose(white[:2] / white.sum(), gamut.white, atol=1e-12)


def test_ap1_luminance_is_the_published_row() -> None:
    """S-2014-004 prints ten decimals."""
    np.testing.assert_allclose(rgb_to_xyz(GAMUTS["AP1"])[1], AP1_LUMINANCE, atol=5e-11)


def test_bt709_luminance_is_the_published_row() -> None:
    """ITU-R BT.709-6, item 3.2, prints four decimals."""
    np.testing.assert_allclose(rgb_to_xyz(GAMUTS["BT.709"])[1], [0.2126, 0.7152, 0.0722], atol=5e-5)


def test_primaries_on_one_line_are_refused() -> None:
    with pytest.raises(EncodingError, match=r"flat.*on one line"):
        rgb_to_xyz(Gamut(name="flat", red=(0.1, 0.1), green=(0.2, 0.2), blue=(0.3, 0.3)))
