"""The ladder takes the simplest rung that suffices, and untaken rungs are exact identities."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from huemend.model import Rung, pivot_contrast
from huemend.options import SolveOptions
from huemend.solve.ladder import LADDER, WITH_CONTRAST, Climb, climb
from huemend.solve.parameters import FREE, PARAMETER_COUNT, to_match
from tests.solve.made_pairs import MIX, make_pairs, shaken, surfaces, trials_of

RGB = surfaces(160)


def climbed(
    reference: np.ndarray,
    angle: np.ndarray,
    rungs: tuple[Rung, ...] = LADDER,
    strange: frozenset[Rung] = frozenset(),
    **said: float,
) -> Climb:
    options = SolveOptions(**said)  # type: ignore[arg-type]
    pairs = make_pairs(reference, angle)
    return climb(trials_of(pairs, options), rungs, strange)


@pytest.mark.parametrize(
    ("reference", "rung"),
    [
        (RGB, Rung.NONE),
        (RGB * 1.5, Rung.EXPOSURE),
        (RGB * [1.5, 1.2, 1.0], Rung.BALANCE),
        (RGB @ (1.5 * MIX).T, Rung.MATRIX),
        (1.5 * (RGB - 0.025), Rung.FLARE),
    ],
)
def test_each_difference_takes_its_own_rung(reference: np.ndarray, rung: Rung) -> None:
    keep = reference.min(1) > 0.004
    assert climbed(reference[keep], RGB[keep]).rung is rung


@pytest.mark.parametrize("contrast", [0.85, 1.2])
def test_a_contrast_takes_its_rung_where_it_is_offered(contrast: float) -> None:
    reference = pivot_contrast(RGB @ (1.5 * MIX).T, contrast)
    assert climbed(reference, RGB, WITH_CONTRAST).rung is Rung.CONTRAST
    assert climbed(reference, RGB).rung is not Rung.CONTRAST


def test_a_contrast_of_one_is_not_taken() -> None:
    assert climbed(RGB @ (1.5 * MIX).T, RGB, WITH_CONTRAST).rung is Rung.MATRIX


def test_shading_does_not_climb() -> None:
    pairs, _ = shaken(RGB, RGB, seed=3, shading=0.2, noise=0.01, wrong=0.2)
    assert climbed(np.asarray(pairs.reference_rgb), np.asarray(pairs.angle_rgb)).rung is Rung.NONE


def test_a_higher_price_keeps_to_the_simpler_rung() -> None:
    assert climbed(RGB * 1.5, RGB, gain_exposure=1000.0).rung is not Rung.EXPOSURE
    mixed = RGB @ (1.5 * MIX).T
    assert climbed(mixed, RGB, gain_matrix=1000.0, gain_flare=1000.0).rung in (Rung.EXPOSURE, Rung.BALANCE)


def test_only_the_rungs_that_are_offered_are_climbed() -> None:
    found = climbed(RGB @ (1.5 * MIX).T, RGB, rungs=LADDER[:2])
    assert found.rung is Rung.EXPOSURE
    assert set(found.error) == set(found.folds) == {Rung.NONE, Rung.EXPOSURE}


def test_it_says_why() -> None:
    found = climbed(RGB * 1.5, RGB)
    assert "exposure lowers the held-out error by" in found.explained
    assert found.error[Rung.NONE] > 3 > found.error[Rung.EXPOSURE]
    assert all(len(folds) == SolveOptions().folds for folds in found.folds.values())


def test_a_fold_is_judged_by_a_fit_that_did_not_see_it() -> None:
    # One region lies two stops off: fits that hold it out cannot know, fits that see it are robust against it.
    reference = RGB.copy()
    reference[:32] *= 4
    honest = climbed(reference, RGB)
    assert honest.error[honest.rung] > 0.1 * honest.error[Rung.NONE]
    assert honest.error[Rung.EXPOSURE] > 1.5


def test_rungs_free_ever_more_parameters() -> None:
    assert [len(FREE[rung]) for rung in LADDER] == [0, 1, 3, 9, 12]


def test_what_a_rung_does_not_take_is_exactly_nothing() -> None:
    theta = np.random.default_rng(2).normal(0, 0.05, PARAMETER_COUNT)
    assert to_match(theta, Rung.NONE).is_identity
    exposure = to_match(theta, Rung.EXPOSURE)
    assert exposure.exposure_stops == theta[0]
    assert_array_equal(exposure.matrix, np.eye(3))
    assert not to_match(theta, Rung.MATRIX).flare.any()
    flare = to_match(theta, Rung.FLARE)
    assert_allclose(flare.flare, theta[9:12])
    assert flare.contrast == 1.0
    bent = to_match(theta, Rung.CONTRAST)
    assert bent.contrast == np.exp(theta[12]) and not bent.flare.any()
    assert_allclose(flare.balance, theta[1:3], atol=1e-12)


def test_of_two_rungs_that_explain_as_much_the_one_without_a_strange_mix_is_taken() -> None:
    veiled = 1.5 * (RGB - 0.008)
    keep = veiled.min(1) > 0.004
    pairs = shaken(veiled[keep], RGB[keep], seed=5, shading=0.05, noise=0.01, wrong=0.1)[0]
    views = np.asarray(pairs.reference_rgb), np.asarray(pairs.angle_rgb)
    # A little veil, and flare that must prove more than there is to gain: as things are, it is not taken.
    assert climbed(*views, gain_flare=1000.0).rung is not Rung.FLARE
    strange = {"gain_flare": 1000.0, "gain_strange": 0.0}
    assert climbed(*views, **strange, strange=frozenset({Rung.MATRIX, Rung.FLARE})).rung is Rung.MATRIX
    assert climbed(*views, **strange, strange=frozenset({Rung.MATRIX})).rung is Rung.FLARE
