"""Hues beyond the matrix: taken where they are proven, never so far that colours fold."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from huemend.encodings.registry import all_encodings, find_encoding
from huemend.model import Fit, Match, PairedColours, Rung
from huemend.model.roots import root_slopes
from huemend.options import SolveOptions
from huemend.solve.fit import fit
from huemend.solve.hues import unfolded
from huemend.solve.parameters import PARAMETER_COUNT, ROOTS, to_match
from huemend.solve.prior import ROOTS_COVARIANCE

BENT = np.array([[0.16, 0.02, -0.06], [-0.05, 0.05, 0.0], [0.04, -0.07, 0.02]])
MATRIX = np.array([[1.2, -0.04, 0.02], [0.01, 1.24, -0.03], [0.02, -0.05, 1.3]])
#: The same cameras without bent hues, and with.
PLAIN, BENT_TOO = (Match.from_matrix(MATRIX, roots=np.diag(MATRIX.sum(1)) @ (k * BENT)) for k in (0, 1))


def pairs_of(truth: Match, *, count: int = 900, seed: int = 0, noise: float = 0.004) -> PairedColours:
    """Pairs of many saturated colours, in 60 places, of cameras that differ by ``truth``."""
    random = np.random.default_rng(seed)
    surfaces = 0.18 * np.exp(random.normal(0, 0.5, (60, 1)) + random.normal(0, 0.6, (60, 3)))
    group = random.integers(0, 60, count)
    angle = surfaces[group] * np.exp(random.normal(0, 0.05, (count, 1)))
    hero = truth.apply(angle)
    shading = np.exp(random.normal(0, 0.03, (count, 1)))
    spots = random.uniform((50, 50), (910, 490), (60, 2))
    xy = spots[group] + random.normal(0, 4, (count, 2))
    return PairedColours(
        reference="wide",
        angle="left",
        source="features",
        reference_rgb=hero * shading * (1 + noise * random.standard_normal((count, 3))),
        angle_rgb=angle * (1 + noise * random.standard_normal((count, 3))),
        weight=np.full(count, 0.2),
        reference_xy=xy,
        angle_xy=xy,
        radius=np.full((count, 2), 4.0),
        noise=np.full((count, 2), noise),
        moment=np.zeros(count, int),
        group=group,
        label=np.full(count, "", dtype="U8"),
        found=count,
        matched=count,
    )


def test_hues_that_two_sensors_see_apart_are_found() -> None:
    pairs = pairs_of(BENT_TOO)
    found, plain = fit(pairs, view_stops=0.0), fit(pairs, replace(SolveOptions(), roots=False), view_stops=0.0)
    assert isinstance(found, Fit) and isinstance(plain, Fit)
    assert found.rung is Rung.ROOTS and plain.rung is Rung.MATRIX
    clean = pairs_of(BENT_TOO, seed=9, noise=0.0).angle_rgb
    off = [np.abs(np.log(each.match.apply(clean) / BENT_TOO.apply(clean))).mean() for each in (found, plain)]
    assert off[0] < 0.5 * off[1]


def test_a_matrix_that_explains_all_stays_the_same_to_the_bit() -> None:
    pairs = pairs_of(PLAIN)
    found, plain = fit(pairs, view_stops=0.0), fit(pairs, replace(SolveOptions(), roots=False), view_stops=0.0)
    assert isinstance(found, Fit) and isinstance(plain, Fit)
    assert found.rung is Rung.MATRIX
    assert found.match.exposure_stops == plain.match.exposure_stops
    np.testing.assert_array_equal(found.match.matrix, plain.match.matrix)
    assert not found.match.roots.any()


def test_few_hues_are_no_reason_to_bend_them() -> None:
    pairs = pairs_of(Match(roots=BENT))
    # Everything but skin and greys taken away.
    red = np.log2(pairs.angle_rgb[:, 0] / pairs.angle_rgb[:, 1])
    blue = np.log2(pairs.angle_rgb[:, 2] / pairs.angle_rgb[:, 1])
    few = pairs.take(np.flatnonzero((np.abs(red) < 0.4) & (np.abs(blue) < 0.4)))
    found = fit(few, view_stops=0.0)
    assert not isinstance(found, Fit) or not found.match.roots.any()


def _theta(random: np.random.Generator, size: float) -> np.ndarray:
    theta = np.zeros(PARAMETER_COUNT)
    theta[3:9] = random.normal(0, 0.04, 6)
    theta[ROOTS] = size * random.multivariate_normal(np.zeros(9), ROOTS_COVARIANCE)
    return theta


@pytest.mark.parametrize("name", sorted(encoding.name for encoding in all_encodings()))
def test_no_code_of_an_encoding_folds(name: str) -> None:
    """Over a grid of all codes, those of no real colour too: neighbours stay apart and on their side."""
    encoding = find_encoding(name)
    grid = np.linspace(0, 1, 17)
    codes = np.stack(np.meshgrid(grid, grid, grid, indexing="ij"), axis=-1).reshape(-1, 3)
    light = encoding.decode(codes, range="full")
    light = light[np.linalg.norm(light, axis=1) > 1e-9]
    random = np.random.default_rng(5)
    for _ in range(5):
        # Three times as wide as measured cameras scatter: what a fit of few colours may come up with.
        match = to_match(unfolded(_theta(random, 3.0)), Rung.ROOTS)
        slopes = match.matrix + match.roots @ root_slopes(light)
        assert (np.linalg.det(slopes) > 0.2 * np.linalg.det(match.matrix)).all()
        assert (np.diagonal(slopes, axis1=1, axis2=2) > 0).all()


def test_the_edge_of_the_gamut_keeps_its_order() -> None:
    """Along the edge of AP1, red over yellow, green, cyan, blue and magenta, hue never turns back."""
    corners = np.array([[1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 1, 1], [0, 0, 1], [1, 0, 1], [1, 0, 0]], float)
    edge = np.concatenate(
        [a + np.linspace(0, 1, 50, endpoint=False)[:, None] * (b - a) for a, b in pairwise(corners)]
    )
    random = np.random.default_rng(6)
    for _ in range(20):
        out = to_match(unfolded(_theta(random, 3.0)), Rung.ROOTS).apply(edge)
        plane = out @ np.array([[2, -1, -1], [0, np.sqrt(3), -np.sqrt(3)]]).T
        turn = np.unwrap(np.arctan2(plane[:, 1], plane[:, 0]))
        assert (np.diff(turn) > 0).all()


def test_what_folds_is_taken_back_and_no_more() -> None:
    theta = np.zeros(PARAMETER_COUNT)
    theta[ROOTS] = 0.02
    np.testing.assert_array_equal(unfolded(theta), theta)
    theta[ROOTS] = 2.0
    held = unfolded(theta)[ROOTS]
    assert 0 < held.max() < 1.0
    np.testing.assert_allclose(held, held[0])


def test_hues_are_not_bent_where_skin_would_pay_for_it_whatever_its_case() -> None:
    # Two surfaces follow the matrix alone: bent hues take them 1.5 CIEDE2000 away from the hero.
    pairs, straight = pairs_of(BENT_TOO), pairs_of(PLAIN)
    person = np.isin(pairs.group, (0, 34))
    pairs = replace(pairs, reference_rgb=np.where(person[:, None], straight.reference_rgb, pairs.reference_rgb))
    for name, rung in {"": Rung.ROOTS, "Skin": Rung.MATRIX, "Anna's skin": Rung.MATRIX}.items():
        found = fit(replace(pairs, label=np.where(person, name, "")), view_stops=0.0)
        assert isinstance(found, Fit) and found.rung is rung, name
