"""The statistics behind the solve: chance, wrong pairs, few places, and what is too strange to be two cameras.

Monte Carlo where there is no closed form, with enough draws that a wrong factor shows; closed forms by scipy.
"""

from __future__ import annotations

import re
from dataclasses import replace

import colour
import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from huemend.model import Fit, NoFit, PairedColours, Rung
from huemend.options import SolveOptions
from huemend.solve.fit import fit
from huemend.solve.ladder import LADDER, Climb, climb, paired
from huemend.solve.prior import CAMERA_PAIR
from huemend.solve.residuals import Samples
from huemend.solve.robust import estimate
from tests.solve.made_pairs import make_pairs, shaken, surfaces, trials_of

pytestmark = pytest.mark.slow


def climbed(pairs: PairedColours, rungs: tuple[Rung, ...] = LADDER) -> Climb:
    options = SolveOptions()
    return climb(trials_of(pairs, options), rungs)


def patchy_light(groups: int, seed: int) -> PairedColours:
    """Two cameras that agree, in a room where every place differs a little between the views."""
    rng = np.random.default_rng(seed)
    group = np.arange(6 * groups) // 6
    rgb = surfaces(len(group), seed)
    lit = np.exp(0.2 * rng.normal(size=groups))[group][:, None]
    return make_pairs(rgb * lit, rgb * (1 + 0.01 * rng.normal(size=rgb.shape)), group=group)


def test_what_chance_gives_is_no_exposure() -> None:
    # Under the one-standard-error rule (Breiman et al. 1984, section 3.4.3) a difference that is not there is
    # taken for one in at most 16 % of draws, the share of a normal distribution beyond one standard error.
    taken = sum(
        climbed(patchy_light(groups, seed), LADDER[:2]).rung is not Rung.NONE
        for groups in (8, 12)
        for seed in range(60)
    )
    assert taken <= 0.1 * 120


def test_how_wrong_a_wrong_pair_is_does_not_decide_between_rungs() -> None:
    # Three pairs of 120 show two different things, a little or wholly unlike: either way they are wrong.
    rgb = surfaces(120, 5)
    errors = []
    for unlike in ([0.3, 1.0, 3.0], [0.02, 1.0, 60.0]):
        shot = rgb / 1.5
        shot[[7, 50, 93]] *= unlike
        found = climbed(make_pairs(rgb, shot))
        assert found.rung is Rung.EXPOSURE
        errors.append([found.error[Rung.NONE], found.error[Rung.EXPOSURE]])
    assert_allclose(errors[0], errors[1], rtol=0.02)
    # What the right pairs leave is nothing, so that 3 wrong ones of 120 can count for 10 CIEDE2000 each at most.
    assert errors[1][1] <= 10 * 3 / 120 * 1.5


def white_balance(kelvin: float, recorded: float) -> np.ndarray:
    """Gains of ACEScg by which a camera balanced for one colour temperature is off under another.

    Chromaticities of the CIE daylight locus and of Planckian radiators by colour-science.
    """

    def white(temperature: float) -> np.ndarray:
        xy = (
            colour.temperature.CCT_to_xy_CIE_D(temperature)
            if temperature >= 4000
            else colour.UCS_uv_to_xy(colour.temperature.CCT_to_uv_Planck1900(temperature))
        )
        return colour.xyY_to_XYZ(np.array([*xy, 1.0])) @ colour.RGB_COLOURSPACES["ACEScg"].matrix_XYZ_to_RGB.T

    return white(kelvin) / white(recorded)


@pytest.mark.parametrize(
    ("gains", "believed"),
    [
        (white_balance(5600, 4300), True),
        (white_balance(5600, 3800), True),
        # Left on the preset of the other kind of lamp: matched, for review, in both directions.
        (white_balance(5600, 3200), True),
        (white_balance(2800, 5600), True),
        # No lamp of a set is as red as a candle.
        (white_balance(9000, 1900), False),
        # Half a stop of magenta is no lamp's colour and no camera's setting.
        (np.array([1.6, 1.0, 1.6]), False),
    ],
)
def test_a_balance_is_believed_as_far_as_a_camera_can_be_set_wrong(gains: np.ndarray, believed: bool) -> None:
    rgb = surfaces(160, 2)
    pairs, _ = shaken(rgb * gains, rgb, seed=1, wrong=0.0)
    found = fit(pairs, view_stops=0.0)
    assert bool(found) is believed
    if isinstance(found, NoFit):
        assert [reason.code for reason in found.reasons] == ["implausible"]


@pytest.mark.parametrize(("hero", "angle"), [(5600, 3200), (3200, 5600), (6000, 2800), (2900, 6500)])
def test_a_preset_of_the_other_kind_of_lamp_is_named_by_its_mired(hero: float, angle: float) -> None:
    """Whites of those kelvin under one balance; mired is a million over kelvin (CIE e-ILV, from memory)."""
    rgb = surfaces(160, 2)
    pairs, _ = shaken(rgb * white_balance(hero, angle), rgb, seed=1, wrong=0.0)
    found = fit(pairs, view_stops=0.0)
    assert isinstance(found, Fit)
    (doubt,) = (each for each in found.doubts if each.code == "white-balance")
    said = int(re.findall(r"(\d+) mired (?:bluer|redder) than the hero", doubt.text)[0])
    assert said == pytest.approx(abs(1e6 / hero - 1e6 / angle), abs=12)
    assert ("redder" in doubt.text) == (hero > angle)


def group_errors(groups: int, per: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    group = np.repeat(np.arange(groups), per)
    return group, rng.normal(size=groups)[group] + 0.3 * rng.normal(size=len(group))


# One grey surface, told apart in light alone: the fit is a mean of ln luminance, of which scipy knows the error.
MEAN_ONLY = SolveOptions(
    tails=1e9, read_noise=0.0, shading_start=0.02, shading_bounds=(0.02, 0.02), most_effective=1e9
)
NO_PRIOR = replace(CAMERA_PAIR, covariance=1e9 * np.eye(9))


@pytest.mark.parametrize("groups", [3, 6, 20])
def test_the_error_of_an_exposure_is_that_of_the_mean_over_places(groups: int) -> None:
    # scipy.stats.sem over places: the standard error of a mean of independent values, with n - 1.
    group, off = group_errors(groups, 8, groups)
    off = 0.2 * (off - off.mean())
    grey = np.full((len(off), 3), 0.18)
    pairs = make_pairs(grey * np.exp(off)[:, None], grey, group=group, weight=np.ones(len(off)))
    pairs = replace(pairs, noise=np.full((len(off), 2), 1e-6))
    # Equal brightness for the weights, as a mean of equal terms has them.
    samples = replace(Samples.of(pairs, MEAN_ONLY), weight=np.ones(len(off)))
    found = estimate(samples, Rung.EXPOSURE, NO_PRIOR, MEAN_ONLY)
    by_place = np.array([off[group == number].mean() for number in range(groups)])
    assert found.theta[0] * np.log(2) == pytest.approx(off.mean(), abs=1e-3)
    assert np.sqrt(found.covariance[0, 0]) * np.log(2) == pytest.approx(stats.sem(by_place), rel=1e-3)


@pytest.mark.parametrize("groups", [2, 3, 10])
def test_chance_between_rungs_is_the_standard_error_over_places(groups: int) -> None:
    # scipy.stats.sem over places of equal weight, pairs of one place standing for one value.
    group, gain = group_errors(groups, 8, groups)
    rgb = surfaces(len(group))
    samples = Samples.of(make_pairs(rgb, rgb, group=group), SolveOptions())
    mean, chance = paired(gain, replace(samples, weight=np.ones(len(group))))
    by_place = np.array([gain[group == number].mean() for number in range(groups)])
    assert_allclose((mean, chance), (by_place.mean(), stats.sem(by_place)), rtol=1e-12)


def test_light_counts_as_it_shows() -> None:
    # Lightness goes with the cube root of the light (CIE 15:2018, L*): a pair of an eighth of it counts half.
    light = np.array([0.02, 0.16])
    rgb = light[:, None] * np.ones(3)
    weight = Samples.of(make_pairs(rgb, rgb), SolveOptions()).weight
    assert weight[1] / weight[0] == pytest.approx(2, rel=1e-6)


def test_a_far_balance_is_drawn_back_less_than_a_near_one() -> None:
    # The prior's tails are those of Student's t: what evidence there is wins where it is far from what is usual. A
    # normal prior would draw every balance back by the same share of it.
    def drawn_back(stops: float) -> float:
        grey = np.full((8, 3), 0.18)
        pairs = make_pairs(grey * [2.0**stops, 1, 1], grey, group=np.arange(8), weight=np.ones(8))
        options = SolveOptions(misfit=0.1, tails=1e9)
        found = estimate(Samples.of(pairs, options), Rung.BALANCE, CAMERA_PAIR, options)
        return 1 - float(found.theta[1]) / stops

    near, far = drawn_back(0.1), drawn_back(0.8)
    assert 0 < far < 0.5 * near


def test_pairs_in_doubt_of_their_light_do_not_teach_how_much_light_differs() -> None:
    # Half of the pairs say themselves that their light may be another one, a lamp's that one view gets, and it is.
    # They may widen what is learnt a little, since the estimate is not exact; they must not make it theirs.
    rng = np.random.default_rng(8)
    rgb = surfaces(120, 8)
    lit = np.exp(np.where(np.arange(120) < 60, 0.03, 1.5) * rng.normal(size=120))[:, None]
    doubt = np.where(np.arange(120) < 60, 0.0, 3.0)
    options = SolveOptions()
    alone = make_pairs(rgb[:60] * lit[:60], rgb[:60])
    both = make_pairs(rgb * lit, rgb, light_spread=doubt)
    shading = [
        estimate(Samples.of(pairs, options), Rung.BALANCE, CAMERA_PAIR, options).shading for pairs in (alone, both)
    ]
    assert shading[1] < 2 * shading[0]
