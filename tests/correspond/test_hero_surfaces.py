"""Greys and skin of the hero: marked, on a chart, found, on faces."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from skimage import data

from huemend.correspond.detect import detect_all
from huemend.correspond.grey_pixels import grey_pixels
from huemend.correspond.hero_surfaces import hero_surfaces
from huemend.model import Angle, Area, LinearStill, MarkedArea, Marks, NamedPair, Setup
from huemend.model.hero import HeroSurface
from huemend.options import CorrespondOptions, HeroOptions, MatchOptions
from tests.correspond.made_charts import published, views
from tests.correspond.made_views import light, still_of, wide_and_close

HERO = HeroOptions(moments=1)
NAMED = CorrespondOptions(features=False)
ANGLES = tuple(Angle(name=name, media=(), encoding="ACEScct") for name in ("wide", "close"))
SETUP = Setup(name="made", hero="wide", angles=ANGLES, source=Path("setup.toml"))
ALL = Area(points=((0, 0), (1, 0), (1, 1), (0, 1)))


def surfaces_of(setup: Setup, options: CorrespondOptions, still: LinearStill) -> tuple[HeroSurface, ...]:
    """Return what is found on the hero as a run would find it."""
    stills = {angle.name: (still,) * (angle.name == setup.hero) for angle in setup.angles}
    wanted = MatchOptions(correspond=options, hero=replace(HERO, balance=True))
    detected = detect_all(setup, stills, wanted, people={})
    return hero_surfaces((still,), setup, options, HERO, detected=detected)


def rough(rgb: tuple[float, float, float], seed: int = 0) -> np.ndarray:
    """A surface of one colour with the texture of a photograph: brick, seen with a little noise."""
    texture = light(data.brick()[..., None].repeat(3, -1))
    noise = 1 + 0.005 * np.random.default_rng(seed).normal(size=texture.shape).astype(np.float32)
    return (texture / texture.mean()) * np.array(rgb, np.float32) * noise


def test_marked_greys_of_the_hero_with_their_reflectance() -> None:
    marks = Marks(
        neutral=(
            MarkedArea(angle="wide", area=ALL, reflectance=0.18),
            MarkedArea(angle="close", area=ALL),
        )
    )
    still = still_of(np.full((60, 90, 3), (0.3, 0.2, 0.1)), "wide")
    (found,) = surfaces_of(replace(SETUP, marks=marks), NAMED, still)
    assert (found.kind, found.reflectance) == ("area", 0.18)
    assert_allclose(found.rgb, (0.3, 0.2, 0.1), rtol=1e-3)


def test_areas_named_skin_are_skin() -> None:
    areas = {"wide": ALL, "close": ALL}
    marks = Marks(pairs=(NamedPair(name="Skin of Ann", areas=areas), NamedPair(name="apron", areas=areas)))
    still = still_of(np.full((60, 90, 3), (0.4, 0.3, 0.2)), "wide")
    (found,) = surfaces_of(replace(SETUP, marks=marks), NAMED, still)
    assert found.kind == "skin" and "Skin of Ann" in found.where


def test_the_grey_patches_of_a_chart_that_the_hero_alone_shows() -> None:
    cast = np.array([1.2, 1.0, 0.7])
    still, _ = views(published() * cast)
    found = surfaces_of(replace(SETUP, chart=True), NAMED, still)
    assert [each.kind for each in found] == ["chart"] * 4
    ratios = np.array([each.rgb / each.rgb[1] for each in found])
    assert_allclose(ratios, np.broadcast_to(cast, ratios.shape), rtol=0.02)
    # Reflectances from the densities by which the maker names these patches.
    assert_allclose([each.reflectance for each in found], 10.0 ** -np.array([0.23, 0.44, 0.70, 1.05]), rtol=0.05)


@pytest.mark.parametrize("cast", [(1.0, 1.0, 1.0), (1.3, 1.0, 0.7)])
def test_greys_are_found_among_colours(cast: tuple[float, float, float]) -> None:
    red, grey, green = rough((0.3, 0.1, 0.05)), rough((0.2, 0.2, 0.2)), rough((0.08, 0.2, 0.05))
    # Painted surfaces: their colour changes with their texture, that of grey ones does not.
    for painted in (red, green):
        painted *= 1 + 0.4 * np.sin(np.arange(512) / 3)[None, :, None] * (1.0, 0.2, -0.5)
    # Greys of three brightnesses, in three places.
    picture = np.concatenate([0.5 * grey, red, grey, green, 0.25 * grey], axis=1)
    still = still_of(picture * np.array(cast, np.float32), "wide")
    found = grey_pixels(still, HERO)
    assert found is not None
    assert_allclose(np.log2(found[0] / found[0][1]), np.log2(cast), atol=2 * HERO.pixel_error)


def test_no_grey_is_found_where_nothing_is_grey_or_greys_disagree() -> None:
    rng = np.random.default_rng(2)
    assert grey_pixels(still_of(rng.uniform(0.1, 0.5, (300, 500, 3)), "wide"), HERO) is None
    two = np.concatenate([rough((0.26, 0.2, 0.15)), rough((0.16, 0.2, 0.25), 1)], axis=1)
    assert grey_pixels(still_of(two, "wide"), HERO) is None
    # One coloured wall with shading upon it looks as grey as grey does: far from grey, it is not believed.
    assert grey_pixels(still_of(rough((0.4, 0.2, 0.1)), "wide"), HERO) is None
    assert grey_pixels(still_of(np.full((200, 300, 3), 0.2), "wide"), HERO) is None


def test_faces_are_skin() -> None:
    wide, _ = wide_and_close()
    found = surfaces_of(SETUP, CorrespondOptions(), wide)
    (skin,) = [each for each in found if each.kind == "skin"]
    assert skin.rgb[0] > skin.rgb[1] > skin.rgb[2]


def test_with_features_off_nothing_is_found_that_nobody_named() -> None:
    still: LinearStill = still_of(rough((0.2, 0.2, 0.2)), "wide")
    assert surfaces_of(SETUP, NAMED, still) == ()
