"""Root terms: what a match may do beyond its matrix."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from huemend.model import Match
from huemend.model.roots import root_slopes, root_terms

RANDOM = np.random.default_rng(3)
#: Colours of the gamut and around it, from near black to far above white.
COLOURS = RANDOM.normal(0.3, 0.4, (400, 3)) * np.exp2(RANDOM.uniform(-8, 6, (400, 1)))
HUES = Match(exposure_stops=0.4, roots=RANDOM.normal(0, 0.05, (3, 3)))


def test_twice_the_light_gives_twice_the_light() -> None:
    """A root-polynomial keeps exposure invariance (Finlayson, Mackiewicz & Hurlbert, IEEE TIP 24(5), 2015)."""
    for gain in (2.0, 1 / 3, 1e-4):
        np.testing.assert_allclose(HUES.apply(gain * COLOURS), gain * HUES.apply(COLOURS), rtol=1e-12, atol=1e-12)


def test_greys_are_left_to_exposure_and_balance() -> None:
    greys = np.outer(np.geomspace(1e-6, 50, 30), np.ones(3))
    assert not root_terms(greys).any()
    np.testing.assert_array_equal(HUES.apply(greys), HUES.without_roots.apply(greys))
    # Nor does the slope change there, so that a tint next to grey is the matrix's business.
    np.testing.assert_allclose(root_slopes(greys), 0.0, atol=1e-12)


def test_slopes_are_those_of_the_terms() -> None:
    step = 1e-6 * np.linalg.norm(COLOURS, axis=1)[:, None]
    numeric = np.stack(
        [
            (root_terms(COLOURS + step * axis) - root_terms(COLOURS - step * axis)) / (2 * step)
            for axis in np.eye(3)
        ],
        axis=-1,
    )
    np.testing.assert_allclose(root_slopes(COLOURS), numeric, atol=1e-6)
    assert np.abs(root_slopes(COLOURS)).max() < 1.7


def test_black_is_black_and_all_is_finite() -> None:
    extreme = np.array([[0, 0, 0], [1e-30, 0, 0], [-1e-8, 1e-8, 0], [1, -0.4, -0.1], [0, 0, 2e4]])
    assert np.isfinite(root_terms(extreme)).all()
    assert (root_terms(extreme) >= 0).all()
    assert not root_terms(extreme[0]).any()


def test_fits_what_the_published_expansion_fits() -> None:
    """Against colour-science's expansion of degree two (Finlayson et al. 2015): the same functions, but for the
    straightened root, which matters only where a channel is nearly empty.
    """
    patches = np.array(list(colour.CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"].data.values()))
    rgb = colour.XYZ_to_RGB(colour.xyY_to_XYZ(patches), colour.RGB_COLOURSPACES["ACEScg"])
    published = colour.characterisation.polynomial_expansion_Finlayson2015(rgb, 2, True)
    ours = np.concatenate([rgb, root_terms(rgb)], axis=1)
    for wanted in np.tanh(RANDOM.normal(size=(4, published.shape[1])) * 0.3) @ published.T:
        fit = np.linalg.lstsq(ours, wanted, rcond=None)[0]
        left = np.sqrt(np.mean((ours @ fit - wanted) ** 2)) / np.sqrt(np.mean(wanted**2))
        plain = rgb @ np.linalg.lstsq(rgb, wanted, rcond=None)[0]
        linear = np.sqrt(np.mean((plain - wanted) ** 2)) / np.sqrt(np.mean(wanted**2))
        assert left < 0.01
        assert left < 0.2 * linear


def test_no_roots_is_exactly_the_matrix() -> None:
    matrix = np.array([[1.1, -0.05, 0.02], [0.01, 0.96, 0.0], [0.0, -0.1, 1.2]])
    plain = Match.from_matrix(matrix)
    np.testing.assert_array_equal(
        plain.apply(COLOURS), Match.from_matrix(matrix, roots=np.zeros((3, 3))).apply(COLOURS)
    )
    assert not plain.roots.any()


def test_roots_are_checked() -> None:
    with pytest.raises(ValueError, match="roots"):
        Match(roots=np.zeros(3))
    with pytest.raises(ValueError, match="finite"):
        Match(roots=np.full((3, 3), np.nan))
