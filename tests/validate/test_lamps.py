"""Coloured lamps are told, painted surfaces are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import PyOpenColorIO as ocio
import pytest
from colour import CCS_COLOURCHECKERS, RGB_COLOURSPACES, XYZ_to_RGB, xyY_to_XYZ

from huemend.model import LinearStill, Match, PairedColours, Reason
from huemend.options import ValidateOptions
from huemend.validate.lamps import lamp_notes

from .made_fits import a_fit

OPTIONS = ValidateOptions()
MIX = Match.from_matrix(np.array([[1.06, -0.05, -0.01], [0.01, 1.01, -0.02], [-0.01, -0.04, 1.05]]))


def chart() -> np.ndarray:
    """The 24-patch chart in ACEScg, (24, 3): the manufacturer's figures, as colour-science ships them."""
    published = CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"]
    xyz = xyY_to_XYZ(np.array(list(published.data.values())))
    return np.asarray(XYZ_to_RGB(xyz, RGB_COLOURSPACES["ACEScg"], published.illuminant, "CAT02"))


def set_of_patches(gain: float = 1.0) -> np.ndarray:
    """A picture of the chart, 24 patches on a grid, as shot with a little noise."""
    tiles = chart().reshape(4, 6, 3)
    picture = np.repeat(np.repeat(tiles, 60, axis=0), 80, axis=1) * gain
    return picture * np.random.default_rng(0).normal(1.0, 0.01, picture.shape)


def still(rgb: np.ndarray, moment: int = 0) -> LinearStill:
    flat = np.zeros(rgb.shape[:2], bool)
    return LinearStill(
        rgb=rgb.astype(np.float32),
        valid=~flat,
        clipped=flat,
        angle="left",
        moment=moment,
        source="left.png",
        full_size=rgb.shape[:2],
    )


def pairs_of(rgb: np.ndarray) -> PairedColours:
    n = len(rgb)
    return PairedColours(
        reference="wide",
        angle="left",
        source="features",
        reference_rgb=rgb,
        angle_rgb=rgb,
        weight=np.ones(n),
        reference_xy=np.zeros((n, 2)),
        angle_xy=np.zeros((n, 2)),
        radius=np.ones((n, 2)),
        noise=np.zeros((n, 2)),
        moment=np.zeros(n, int),
        group=np.arange(n),
        label=np.full(n, ""),
    )


GREYS = pairs_of(np.geomspace(0.05, 0.8, 20)[:, None] * np.ones(3))


def notes(
    picture: LinearStill | list[LinearStill], pairs: PairedColours = GREYS, view_stops: float = 0.0
) -> tuple[Reason, ...]:
    stills = picture if isinstance(picture, list) else [picture]
    return lamp_notes(stills, pairs, a_fit(len(pairs), MIX), OPTIONS, view_stops=view_stops)


def lit(colour: list[float], rows: slice, columns: slice) -> np.ndarray:
    picture = set_of_patches()
    picture[rows, columns] = colour
    return picture


TUBE = (slice(40, 200), slice(100, 112))


def test_the_thresholds_are_those_of_the_reference_gamut_compression() -> None:
    transform = ocio.BuiltinTransform("ACES-LMT - ACES 1.3 Reference Gamut Compression")
    group = ocio.Config.CreateRaw().getProcessor(transform).createGroupTransform()
    (compress,) = [each for each in group if isinstance(each, ocio.FixedFunctionTransform)]
    assert tuple(compress.getParams()[3:6]) == OPTIONS.lamp_reach


@pytest.mark.parametrize("gain", [1.0, 2.0, 4.0])
def test_a_chart_is_no_lamp_however_bright(gain: float) -> None:
    assert notes(still(set_of_patches(gain)), view_stops=-np.log2(gain)) == ()


@pytest.mark.parametrize(
    ("colour", "hue"),
    [
        ([4.0, 0.02, 0.03], "red"),
        ([0.02, 0.05, 3.0], "blue"),
        ([0.05, 2.5, 0.1], "green"),
        ([3.0, 0.1, 2.9], "magenta"),
    ],
)
def test_neon_is_told_with_its_place(colour: list[float], hue: str) -> None:
    (note,) = notes(still(lit(colour, *TUBE)))
    assert note.code == "saturated-light" and f" {hue} light" in note.text and note.todo
    assert note.place is not None
    assert note.place.x == pytest.approx(106 / 480, abs=0.01)
    assert 40 / 240 < note.place.y < 200 / 240


def test_light_that_falls_below_zero_is_out_of_gamut_even_where_pairs_vouch_for_it() -> None:
    # The mix takes five hundredths of the green away from red, and four from blue.
    green = [0.05, 3.0, 0.02]
    vouched = pairs_of(np.array([green] * 6))
    for pairs in (GREYS, vouched):
        (note,) = notes(still(lit(green, *TUBE)), pairs)
        assert "100% of it lies outside ACEScg" in note.text


def test_light_inside_the_gamut_is_told_where_no_pair_vouches_for_it() -> None:
    red = [4.0, 0.5, 0.5]
    (alone,) = notes(still(lit(red, *TUBE)))
    assert "vouches" in alone.text
    assert notes(still(lit(red, *TUBE)), pairs_of(np.array([red] * 6))) == ()


def test_dim_small_or_ignored_light_is_not_told() -> None:
    assert notes(still(lit([0.2, 0.001, 0.001], *TUBE))) == ()
    assert notes(still(lit([4.0, 0.02, 0.03], slice(40, 46), slice(100, 106)))) == ()
    left_out = np.zeros((240, 480), bool)
    left_out[TUBE] = True
    assert notes(replace(still(lit([4.0, 0.02, 0.03], *TUBE)), ignored=left_out)) == ()
    # A set exposed bright: its view gain counts in.
    assert notes(still(lit([0.02, 0.05, 1.0], *TUBE)), view_stops=-2.0) == ()
    assert notes(still(lit([0.02, 0.05, 1.0], *TUBE))) != ()


def test_the_moment_that_shows_most_of_it_counts() -> None:
    small, large = (slice(40, 80), slice(100, 112)), (slice(40, 200), slice(300, 330))
    (note,) = notes([still(lit([4, 0.02, 0.03], *small), 0), still(lit([4, 0.02, 0.03], *large), 1)])
    assert note.place is not None and note.place.moment == 1
    assert note.place.x == pytest.approx(315 / 480, abs=0.02)
