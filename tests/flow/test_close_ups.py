"""Strips of large stills show what was recorded, not what was averaged."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from huemend.encodings.registry import find_encoding
from huemend.flow.close_ups import close_ups
from huemend.media.pictures import write_picture
from huemend.model import Angle, LinearStill, Setup, SetupResult
from huemend.options import MatchOptions
from huemend.write.report.alignment import UNMOVED, Alignment, cut_square
from huemend.write.report.crops import Side, crops_of
from huemend.write.report.pictures import Gallery
from huemend.write.report.surfaces import Kind, Surface
from tests.write.report.factory import make_result

GROWN = 2


@pytest.fixture
def recorded(tmp_path: Path) -> tuple[SetupResult, np.ndarray]:
    """A result whose wide was recorded twice as large, with lines that averaging takes out."""
    from dataclasses import replace

    result = make_result(width=480, samples=300)
    wide = result.stills["wide"][0]
    light = np.repeat(np.repeat(np.asarray(wide.rgb, float), GROWN, axis=0), GROWN, axis=1)
    light[:, ::2] *= 1.3
    light[:, 1::2] *= 0.7
    codes = find_encoding("ACEScct").encode(light)
    write_picture(tmp_path / "wide.png", codes.astype(np.float32), 16)
    size = codes.shape[:2]
    hero = Angle(name="wide", media=(tmp_path / "wide.png",), encoding="ACEScct")
    setup: Setup = replace(result.setup, angles=(hero, *result.setup.others))
    large: LinearStill = replace(wide, full_size=(size[0], size[1]))
    return replace(result, setup=setup, stills={**result.stills, "wide": (large,)}), light


def square(x: float, y: float, side: float) -> Surface:
    return Surface(
        kind=Kind.PLACE,
        name="",
        moment=0,
        centre=np.array([x, y]),
        side=side,
        alignment=Alignment(UNMOVED, affine=True),
    )


def test_the_hero_is_cut_from_what_was_recorded(recorded: tuple[SetupResult, np.ndarray]) -> None:
    result, light = recorded
    surfaces = {"left": [square(200.0, 150.0, 40.0)]}
    close = close_ups(result, surfaces, MatchOptions())
    assert set(close) == {("left", 0, Side.REFERENCE)}, "the angle was recorded as it was averaged"
    found = close["left", 0, Side.REFERENCE]
    # Averaged pixel (200, 150) covers the recorded pixels 400 and 401 across, 300 and 301 down.
    x, y = found.from_still @ np.array([200.0, 150.0, 1.0])
    left, top = 400.5 - x, 300.5 - y
    assert left == round(left) and top == round(top)
    height, width = found.rgb.shape[:2]
    wanted = light[int(top) : int(top) + height, int(left) : int(left) + width]
    np.testing.assert_allclose(found.rgb, wanted, rtol=2e-3, atol=1e-4)


def test_strips_show_the_lines(recorded: tuple[SetupResult, np.ndarray]) -> None:
    result, _ = recorded
    surfaces = {"left": [square(200.0, 150.0, 40.0)]}
    options = MatchOptions()
    plain = Gallery(result.setup, result.stills, options.report, surfaces=surfaces)
    near = Gallery(
        result.setup, result.stills, options.report, surfaces=surfaces, close=close_ups(result, surfaces, options)
    )
    waves = []
    for gallery in (plain, near):
        (crop,) = crops_of(result["left"], result, gallery)
        side = crop.picture.height
        hero = gallery.pixels[crop.picture.id][:, side : 2 * side].astype(float).mean(axis=2)
        waves.append(np.abs(np.diff(hero, axis=1)).mean())
    assert waves[1] > 3 * waves[0]


def test_a_still_that_is_gone_costs_sharpness_only(recorded: tuple[SetupResult, np.ndarray]) -> None:
    result, _ = recorded
    result.setup["wide"].media[0].unlink()
    assert close_ups(result, {"left": [square(200.0, 150.0, 40.0)]}, MatchOptions()) == {}


def test_a_cut_is_the_same_through_either(recorded: tuple[SetupResult, np.ndarray]) -> None:
    """Averaged back, what was read closer is what the match saw."""
    result, _ = recorded
    surface = square(200.0, 150.0, 40.0)
    close = close_ups(result, {"left": [surface]}, MatchOptions())["left", 0, Side.REFERENCE]
    there = cut_square(close.rgb, close.from_still, surface.centre, surface.side, 20)
    wide = result.stills["wide"][0].rgb
    off = [
        np.median(np.abs(there / cut_square(wide, UNMOVED, surface.centre + shift, surface.side, 20) - 1))
        for shift in (0.0, 0.5, -0.5)
    ]
    assert off[0] < 0.02
    assert off[0] < 0.5 * min(off[1:]), "not half a pixel beside it"
