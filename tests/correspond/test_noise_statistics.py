"""What noise may excuse: in a closer view, where it is averaged, and in the dark, where it stays as it is."""

from __future__ import annotations

import numpy as np
import pytest

from huemend.base.units import AP1_LUMINANCE
from huemend.correspond.features import Candidates
from huemend.correspond.growth import grow
from huemend.correspond.raster import MatchPicture, log_luminance, make_picture, patch_means
from huemend.options import SolveOptions
from huemend.solve.residuals import Samples
from tests.correspond.made_views import QUICK, noisy, still_of, wide_and_close, wide_and_close_pairs
from tests.solve.made_pairs import make_pairs


def plain_wall(height: int, width: int, seed: int) -> MatchPicture:
    """Nothing but 3 % of noise that is independent from pixel to pixel."""
    rng = np.random.default_rng(seed)
    rgb = 0.2 * np.exp(0.03 * rng.normal(size=(height, width, 1))) * np.ones(3)
    return make_picture(still_of(rgb, "wall"), 4000)


def typical_cost(scale: int) -> float:
    """Cost of patches of two plain walls, the second seen ``scale`` times as large."""
    place = np.random.default_rng(0).uniform(15, [145, 105], (30, 2))
    seeds = Candidates(
        reference=place,
        angle=place * scale,
        scale=np.full(30, np.log2(scale)),
        tint=np.zeros((30, 2)),
        distinct=np.ones(30),
        found=30,
    )
    walls = plain_wall(120, 160, 1), plain_wall(120 * scale, 160 * scale, 2)
    return float(np.median(grow(*walls, seeds, np.zeros(30, int), QUICK).cost))


@pytest.mark.parametrize("scale", [2, 3, 4])
def test_noise_of_a_closer_view_is_averaged_and_excuses_no_more_than_it_makes(scale: int) -> None:
    # Independent noise falls with the number of pixels that one of the wide view covers; were the noise of its
    # own pixels granted, a difference between the walls would look better explained the closer the camera is.
    assert typical_cost(scale) > 1.1 * typical_cost(1)


@pytest.mark.parametrize("light", [0.004, 0.02, 0.2])
def test_read_noise_is_expected_as_it_is_at_every_brightness(light: float) -> None:
    # Noise that does not fall with the light, as the reading of a sensor adds it: the residuals of pairs that
    # have nothing else must have the variance that the fit expects of them (a chi-squared of one per pair).
    options = SolveOptions()
    rng = np.random.default_rng(3)
    n = 4000
    clean = np.full((n, 3), light)
    reference, angle = (clean + options.read_noise * rng.normal(size=(n, 1)) for _ in range(2))
    pairs = make_pairs(np.maximum(reference, 1e-4), np.maximum(angle, 1e-4))
    # Noise that falls with the light is taken out of the question.
    exact = Samples.of(pairs, options)
    grain = float((pairs.noise[0] ** 2).sum())
    left = exact.residual(np.zeros(13))[:, 0]
    expected = exact.luminance_noise - grain
    # Logarithms of values near their own noise are skewed, so that the darkest is held to its order alone.
    assert np.median(left**2 / expected) == pytest.approx(0.455, rel=0.1 if light > 0.01 else 0.35)


def test_noise_of_black_is_no_structure() -> None:
    # A lens cap: values scatter about nothing by the read noise of the options. Seen as log luminance they must
    # scatter less than the detail by which a patch is told from another, a tenth of a stop and more at mid-grey.
    rng = np.random.default_rng(4)
    black = np.maximum(SolveOptions().read_noise / 5 * rng.normal(size=(64, 64, 3)), 0).astype(np.float32)
    grey = 0.18 * np.exp2(0.1 * rng.normal(size=(64, 64, 1))).astype(np.float32) * np.ones(3, np.float32)
    assert log_luminance(black).std() < log_luminance(grey).std()


def test_a_patch_says_of_itself_how_noisy_its_mean_is() -> None:
    # The same view twice, each time with noise of its own: means over a patch scatter by what a pair is told,
    # within a factor of two (noise is taken from flat places, and is not the same at every brightness).
    pairs, (wide, _) = wide_and_close_pairs(), wide_and_close()
    again = noisy(np.asarray(wide.rgb), 99)
    places, radius = np.asarray(pairs.reference_xy), np.asarray(pairs.radius)[:, 0]
    means = [patch_means(make_picture(still_of(rgb, "wide"), 960), places, radius)[0] @ AP1_LUMINANCE
             for rgb in (np.asarray(wide.rgb), again)]  # fmt: skip
    scatter = 1.4826 * np.median(np.abs(np.log(means[1] / means[0] / np.median(means[1] / means[0]))))
    told = float(np.median(pairs.noise[:, 0]))
    assert 0.5 < told / scatter < 2
