"""A match by colours alone: one-sided, never trusted, and refused where the colours do not fit."""

from __future__ import annotations

import numpy as np
import pytest

from huemend.model import NoFit
from huemend.model.fit import ColourFit
from huemend.model.stills import Regions
from huemend.options import ColourOptions, SolveOptions
from huemend.solve import colours
from huemend.solve.colours import allowed_exposure, fit_colours
from huemend.solve.prior import theta_to_matrix
from tests.solve.made_pairs import make_pairs, surfaces

pytestmark = pytest.mark.slow

#: Reflectances of a set: skin, wood, cloth, paint, leaf, greys. Invented.
SET = np.array(
    [
        [0.42, 0.30, 0.22], [0.20, 0.13, 0.09], [0.30, 0.20, 0.12], [0.55, 0.54, 0.52], [0.20, 0.20, 0.20],
        [0.06, 0.06, 0.06], [0.35, 0.10, 0.07], [0.10, 0.13, 0.28], [0.12, 0.22, 0.09], [0.60, 0.48, 0.15],
        [0.16, 0.30, 0.33], [0.40, 0.20, 0.30], [0.48, 0.42, 0.36], [0.09, 0.08, 0.07],
    ]
)  # fmt: skip
#: What the angle shows of it, and how much of its picture each fills.
SHOWN = [0, 2, 3, 4, 6, 7, 8, 12]
EXPOSURE, RED_GREEN, BLUE_GREEN = 0.7, 0.12, -0.22
MATCH = theta_to_matrix(np.array([EXPOSURE, RED_GREEN, BLUE_GREEN, 0, 0, 0, 0, 0, 0]))


def seen(surfaces: np.ndarray, name: str, seed: int, *, looks: int = 25) -> Regions:
    """Regions of surfaces, each seen ``looks`` times: shaded within about a stop, in slightly mixed light.

    A view from the side sees them as much darker as such views usually do.
    """
    rng = np.random.default_rng(seed)
    rgb = np.repeat(surfaces, looks, axis=0)
    lit = -ColourOptions().darker if name == "side" else 0.0
    rgb = rgb * np.exp2(lit + rng.normal(0, 0.4, (len(rgb), 1))) * np.exp2(rng.normal(0, 0.03, rgb.shape))
    return Regions(angle=name, rgb=rgb, area=rng.uniform(0.5, 1.5, len(rgb)) / len(rgb))


def recorded(regions: Regions, match: np.ndarray = MATCH) -> Regions:
    """What the angle's camera made of regions that ``match`` brings back."""
    return Regions(angle=regions.angle, rgb=regions.rgb @ np.linalg.inv(match).T, area=regions.area)


#: All the way to what the colours say.
WHOLE = ColourOptions(shrinkage=1.0)
HERO = seen(SET, "wide", 1)
ANGLE = recorded(seen(SET[SHOWN], "side", 2))


#: Of two sets that share no colour.
WARM = seen(np.array([[0.5, 0.12, 0.05], [0.4, 0.2, 0.06], [0.3, 0.05, 0.04], [0.6, 0.3, 0.1]]), "wide", 4)
COLD_SET = [[0.05, 0.1, 0.5], [0.06, 0.3, 0.3], [0.05, 0.4, 0.1], [0.1, 0.15, 0.45], [0.08, 0.3, 0.2]]
COLD = seen(np.array(COLD_SET), "side", 5)


def solved(hero: Regions = HERO, angle: Regions = ANGLE, options: ColourOptions = WHOLE) -> ColourFit:
    found = fit_colours(hero, angle, options, SolveOptions())
    assert isinstance(found, ColourFit), found
    return found


def refusal(hero: Regions, angle: Regions, code: str = "colours-apart") -> str:
    found = fit_colours(hero, angle, ColourOptions(), SolveOptions())
    assert isinstance(found, NoFit) and not found
    assert [reason.code for reason in found.reasons] == [code]
    return found.reasons[0].text


def test_exposure_and_balance_are_found_where_the_hero_shows_more() -> None:
    found = solved()
    assert found.match.exposure_stops == pytest.approx(EXPOSURE, abs=0.2)
    assert found.match.balance == pytest.approx((RED_GREEN, BLUE_GREEN), abs=0.05)
    assert found.found > 0.8
    told = found.uncertainty
    for value, interval in (
        (EXPOSURE, told.exposure_stops),
        (RED_GREEN, told.red_green_stops),
        (BLUE_GREEN, told.blue_green_stops),
    ):
        assert interval.low < value < interval.high
    # The light that a view far to the side sees may differ by a third of a stop, and nothing here can tell.
    assert told.exposure_stops.high - told.exposure_stops.low > 0.8


def test_what_only_the_hero_shows_hardly_counts() -> None:
    more = np.array([[0.5, 0.05, 0.04], [0.03, 0.06, 0.4], [0.05, 0.4, 0.06]])
    crowded = seen(np.concatenate([SET, more]), "wide", 1)
    one, other = solved().match, solved(crowded).match
    assert other.exposure_stops == pytest.approx(one.exposure_stops, abs=0.05)
    assert other.balance == pytest.approx(one.balance, abs=0.02)


def test_a_wall_that_the_hero_does_not_show_does_not_carry_the_match_away() -> None:
    wall = seen(np.array([[0.08, 0.3, 0.3]]), "side", 3, looks=80)
    shown = seen(SET[SHOWN], "side", 2)
    both = Regions(
        angle="side", rgb=np.concatenate([shown.rgb, wall.rgb]), area=np.concatenate([shown.area, wall.area])
    )
    found = solved(angle=recorded(both)).match
    assert found.exposure_stops == pytest.approx(EXPOSURE, abs=0.3)
    assert found.balance == pytest.approx((RED_GREEN, BLUE_GREEN), abs=0.08)


def test_twice_the_light_on_the_angle_is_about_one_stop_less() -> None:
    bright = Regions(angle="side", rgb=2 * ANGLE.rgb, area=ANGLE.area)
    found = solved().match.exposure_stops - solved(angle=bright).match.exposure_stops
    # The prior of one stop draws a little towards nothing.
    assert 0.8 < found < 1.02


def test_the_order_of_regions_does_not_count_and_the_same_input_gives_the_same_bits() -> None:
    one, again = solved().match, solved().match
    assert one.combined.tobytes() == again.combined.tobytes()
    turned = Regions(angle="side", rgb=ANGLE.rgb[::-1], area=ANGLE.area[::-1])
    np.testing.assert_allclose(solved(angle=turned).match.combined, one.combined, rtol=1e-5)


def test_colours_that_the_hero_does_not_show_are_refused() -> None:
    assert "of this angle's colours" in refusal(WARM, COLD)


def test_too_few_colours_are_refused() -> None:
    one = Regions(angle="side", rgb=np.full((40, 3), 0.2), area=np.full(40, 0.025))
    assert "too few colours" in refusal(HERO, one, "few-colours")
    nothing = Regions(angle="side", rgb=np.zeros((0, 3)), area=np.zeros(0))
    assert "nothing that can be measured" in refusal(HERO, nothing, "few-colours")
    assert "nothing that can be measured" in refusal(nothing, ANGLE, "few-colours")


def test_a_guess_stops_short_of_what_the_colours_say_and_the_interval_still_holds_that() -> None:
    whole, part = solved(), solved(options=ColourOptions())
    shrinkage = ColourOptions().shrinkage
    assert 0 < shrinkage < 1
    assert part.match.exposure_stops == pytest.approx(shrinkage * whole.match.exposure_stops)
    assert part.match.balance == pytest.approx(np.multiply(shrinkage, whole.match.balance))
    told = part.uncertainty.exposure_stops
    assert told.low < whole.match.exposure_stops < told.high
    assert told.high - told.low > whole.uncertainty.exposure_stops.high - whole.uncertainty.exposure_stops.low


def test_a_view_that_agrees_as_shot_is_moved_no_further_than_its_side_of_a_set_is_darker() -> None:
    found = solved(angle=HERO, options=ColourOptions())
    assert -0.15 - ColourOptions().darker < found.match.exposure_stops < 0.05
    assert found.match.balance == pytest.approx((0, 0), abs=0.02)


@pytest.mark.parametrize("stops", [0.13, 0.5])
def test_a_little_more_light_on_the_angle_moves_the_match_by_a_little(stops: float) -> None:
    """What counts as one colour knows no edges: a match must not hang on where a bin happens to begin."""
    brighter = Regions(angle="side", rgb=2**stops * ANGLE.rgb, area=ANGLE.area)
    moved = solved().match.exposure_stops - solved(angle=brighter).match.exposure_stops
    assert moved == pytest.approx(stops, abs=0.03 + 0.1 * stops)


def test_it_says_on_what_it_rests_and_why_it_is_refused() -> None:
    found = fit_colours(HERO, ANGLE, ColourOptions(), SolveOptions())
    assert isinstance(found, ColourFit) and "70% of the way" in found.explained
    refused = fit_colours(WARM, COLD, ColourOptions(), SolveOptions())
    assert isinstance(refused, NoFit) and [reason.code for reason in refused.reasons] == ["colours-apart"]
    assert "areas by hand" in refused.reasons[0].todo


def test_the_more_places_agree_the_wider_is_the_exposure_that_colours_allow() -> None:
    """A bracket of exposures shows thousands of places that agree, and whole pictures whose colours mislead."""
    found, pairs = solved(), make_pairs(surfaces(300), surfaces(300))
    said = found.uncertainty.exposure_stops
    for agreeing in (0, 12, 300):
        used = np.arange(300) < agreeing
        allowed = allowed_exposure(found, pairs, used, WHOLE)
        assert allowed is not None
        # Pairs of one group are one place. Twice as wide with so many places.
        places = len(np.unique(pairs.group[used]))
        wider = 1 + places / ColourOptions().thin_places
        assert allowed.high - allowed.low == pytest.approx(wider * (said.high - said.low))
    assert (
        allowed_exposure(
            fit_colours(WARM, COLD, ColourOptions(), SolveOptions()), pairs, np.ones(300, bool), WHOLE
        )
        is None
    )


def test_every_shift_is_weighed_by_all_looks_at_it() -> None:
    rng = np.random.default_rng(3)
    place, weight = rng.normal([-3, 0, 0], 0.2, (4, 3)), np.array([0.1, 0.2, 0.3, 0.4])
    score = rng.normal(size=colours._SIZE).astype(np.float32)
    axes, mean = colours._search(place, weight, score, ColourOptions())
    grid = colours._deposit(place, weight).astype(float)
    points = np.argwhere(grid)
    share = grid[tuple(points.T)]
    for at in ((0, 0, 0), (40, 11, 23), tuple(side - 1 for side in mean.shape)):
        shift = np.array(at) - np.array(mean.shape) // 2
        assert mean[at] == pytest.approx(share @ score[tuple((points + shift).T)], abs=1e-9)
    assert [len(axis) for axis in axes] == list(mean.shape)
