"""The bench's own tools do what they say: ``python -m pytest -o addopts= tests/bench``."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from demo.generator.scene import View
from tests.bench.accuracy import baselines, codes
from tests.bench.accuracy.best import best_matrix
from tests.bench.accuracy.cases import Truth
from tests.bench.accuracy.geometry import Pinhole, shared_surfaces
from tests.bench.accuracy.pairs import invent
from tests.bench.accuracy.score import as_shot, by_matrix, score, view_lab
from tests.bench.accuracy.table import Row, flags


@pytest.fixture
def frames() -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(5)
    hero = random.gamma(2.0, 0.1, (60, 80, 3)) + 0.02
    return hero, np.exp(random.normal(-1.5, 0.5, (60, 80, 1)) + random.normal(0, 0.2, (60, 80, 3)))


def _truth(shot: np.ndarray, want: np.ndarray) -> Truth:
    blank = np.zeros(shot.shape[:2], np.uint8)
    return Truth(shot=shot, truth=want, cls=blank, person=blank)


def test_the_view_knows_white_grey_and_clips_light() -> None:
    # A perfect diffuser fills the display; 18 % grey has a lightness of 49.5 (CIE 15, L* = 116 Y^(1/3) - 16).
    lab = view_lab(np.array([[1.0, 1.0, 1.0], [0.18, 0.18, 0.18], [4.0, 4.0, 4.0], [0.0, 0.0, 0.0]]))
    np.testing.assert_allclose(lab[:, 0], [100.0, 116 * 0.18 ** (1 / 3) - 16, 100.0, 0.0], atol=1e-3)
    # ACES white is not D65: chromatic adaptation has to make it neutral.
    np.testing.assert_allclose(lab[:, 1:], 0.0, atol=0.02)


def test_the_best_matrix_undoes_a_known_one(frames: tuple[np.ndarray, np.ndarray]) -> None:
    shot = frames[1]
    matrix = 1.3 * np.array([[0.95, 0.04, 0.02], [0.01, 1.0, -0.02], [0.0, 0.05, 1.1]])
    truth = _truth(shot, shot @ matrix.T)
    np.testing.assert_allclose(best_matrix(truth), matrix, atol=2e-3)
    assert score(truth, as_shot).mean > 3
    assert score(truth, by_matrix(best_matrix(truth))).mean < 0.02


def test_no_outlier_pulls_the_best_matrix(frames: tuple[np.ndarray, np.ndarray]) -> None:
    shot = frames[1]
    want = 0.8 * shot
    want[:6] = [0.9, 0.1, 0.1]
    np.testing.assert_allclose(best_matrix(_truth(shot, want)), 0.8 * np.eye(3), atol=0.02)


def test_reinhard_moves_means_and_deviations(frames: tuple[np.ndarray, np.ndarray]) -> None:
    hero, angle = frames
    got = baselines._lab(baselines.reinhard(hero, angle)(angle)).reshape(-1, 3)
    want = baselines._lab(hero).reshape(-1, 3)
    np.testing.assert_allclose(got.mean(axis=0), want.mean(axis=0), atol=0.01)
    np.testing.assert_allclose(got.std(axis=0), want.std(axis=0), rtol=0.02)


def test_monge_kantorovich_moves_the_covariance(frames: tuple[np.ndarray, np.ndarray]) -> None:
    hero, angle = frames
    got = baselines._display(baselines.monge_kantorovich(hero, angle)(angle)).reshape(-1, 3)
    want = baselines._display(hero).reshape(-1, 3)
    np.testing.assert_allclose(got.mean(axis=0), want.mean(axis=0), atol=1e-6)
    np.testing.assert_allclose(np.cov(got.T), np.cov(want.T), atol=1e-6)


@pytest.mark.parametrize(
    "encoding", ["S-Log3/S-Gamut3.Cine", "V-Log/V-Gamut", "C-Log3/Cinema Gamut", "LogC3/AWG3"]
)
@pytest.mark.parametrize("legal", [False, True])
def test_codes_go_there_and_back(encoding: str, legal: bool) -> None:
    random = np.random.default_rng(2)
    rgb = random.uniform(0.02, 4.0, (50, 1)) * random.uniform(0.7, 1.3, (50, 3))
    back = codes.decode(codes.encode(rgb, encoding, legal=legal), encoding, legal=legal)
    np.testing.assert_allclose(back, rgb, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize(
    ("encoding", "code"),
    [("S-Log3/S-Gamut3.Cine", 420), ("V-Log/V-Gamut", 433), ("LogC3/AWG3", 400)],
)
def test_mid_grey_sits_where_the_makers_say(encoding: str, code: int) -> None:
    # Ten-bit codes of 18 % reflectance: Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3;
    # V-Log/V-Gamut Reference Manual 1.0; ALEXA LogC Curve in VFX (EI 800). Two of them round to whole codes.
    for value, legal in ((code / 1023, False), ((code - 64) / 876, True)):
        grey = codes.decode(np.full(3, value), encoding, legal=legal)
        np.testing.assert_allclose(grey, 0.18, rtol=0.006)


def test_trials_are_seeded_and_worth_solving() -> None:
    one, two = invent(3), invent(3)
    np.testing.assert_array_equal(one.pairs.angle_rgb, two.pairs.angle_rgb)
    for seed in range(8):
        trial = invent(seed)
        assert score(trial.clean, by_matrix(best_matrix(trial.clean, polish=False))).mean < 1.0
        assert np.isfinite(trial.pairs.angle_rgb).all()
        assert len(np.unique(trial.pairs.group)) >= 6


def test_shared_surfaces_are_the_same_points_and_not_hidden_ones() -> None:
    # A wall at y = 4, and for the hero alone a post at y = 2 that hides the wall's middle.
    size = (96, 54)
    hero = Pinhole.of(View(position=(0, 0, 1), target=(0, 4, 1), fov=60), size)
    angle = Pinhole.of(View(position=(1, 0, 1), target=(0, 4, 1), fov=50), size)
    y, x = (grid.ravel().astype(float) for grid in np.mgrid[: size[1], : size[0]])
    pixels = np.column_stack([x, y])

    def wall(camera: Pinhole) -> np.ndarray:
        rays = camera.points(pixels, np.ones(len(pixels))) - camera.origin
        return np.asarray((4.0 - camera.origin[1]) / rays[:, 1]).reshape(size[1], size[0])

    hidden = wall(hero)
    hidden[:, 40:56] = 2.0
    hero_xy, angle_xy, scale = shared_surfaces(hero, hidden, angle, wall(angle))
    assert len(hero_xy) > 100
    points = hero.points(hero_xy.astype(float), wall(hero)[hero_xy[:, 1], hero_xy[:, 0]])
    twins = angle.points(angle_xy.astype(float), wall(angle)[angle_xy[:, 1], angle_xy[:, 0]])
    # Rounding to the hero's pixels is all that parts them: half a pixel is 2.4 cm there.
    assert np.abs(points - twins).max() < 0.04
    assert not ((hero_xy[:, 0] >= 40) & (hero_xy[:, 0] < 56)).any()
    assert 1.1 < scale < 1.4


def test_flags_name_false_confidence_and_harm(frames: tuple[np.ndarray, np.ndarray]) -> None:
    shot = frames[1]
    truth = _truth(shot, 0.8 * shot)
    before, best = score(truth, as_shot), score(truth, by_matrix(0.8 * np.eye(3)))
    worse = score(truth, by_matrix(1.5 * np.eye(3)))
    base: dict[str, Any] = dict(case="set", angle="left", as_shot=before, best=best)
    assert flags([Row(**base, kind="solvable", huemend=best, verdict="matched")]) == []
    text = " ".join(flags([Row(**base, kind="solvable", huemend=worse, verdict="matched")]))
    assert "worse than as shot" in text and "false confidence" in text
    assert "shares nothing" in flags([Row(**base, kind="blind", huemend=best, verdict="review")])[0]
    assert flags([Row(**base, kind="blind", huemend=before, verdict="unsolved")]) == []
