"""A show's look on the pictures: the cube as other libraries read it, given what it is said to take."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from huemend.errors import EncodingError, LutError
from huemend.options import ReportOptions
from huemend.write.report.look import find_look

from .factory import gallery_of, make_result, render

pytestmark = pytest.mark.slow


def write_cube(path: Path, size: int = 9) -> Path:
    """Write a look that bends and mixes: red fastest (Cube LUT Specification 1.0, 2013)."""
    axis = np.linspace(0, 1, size)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
    nodes = np.stack([red**1.4, 0.8 * green + 0.2 * red, 1 - (1 - blue) ** 1.3], axis=-1).reshape(-1, 3)
    rows = "\n".join(" ".join(f"{value:.7f}" for value in node) for node in nodes)
    path.write_text(f'TITLE "a look"\nLUT_3D_SIZE {size}\n{rows}\n')
    return path


@pytest.fixture(scope="module")
def cube(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_cube(tmp_path_factory.mktemp("look") / "evening.cube")


@pytest.fixture(scope="module")
def result() -> Any:
    return make_result(width=480, samples=200)


@pytest.mark.parametrize("takes", ["hero", "ACEScct"])
def test_pictures_agree_with_colour_science(cube: Path, result: Any, takes: str) -> None:
    import colour

    look = find_look(cube, takes, result.setup)
    rgb = np.random.default_rng(3).uniform(0.001, 1.5, (20, 30, 3))
    if takes == "hero":
        # The hero of these results is C-Log3 in Cinema Gamut, at full range.
        camera = colour.RGB_to_RGB(rgb, "ACEScg", "Cinema Gamut", "CAT02")
        with np.errstate(invalid="ignore"):  # it computes the branches that it does not take, too
            codes = colour.models.log_encoding_CanonLog3(camera, out_normalised_code_value=True)
        assert look.takes == "C-Log3/Cinema Gamut, full range"
    else:
        codes = colour.models.log_encoding_ACEScct(rgb)
    read = colour.read_LUT(str(cube))
    wanted = read.apply(np.clip(codes, 0, 1), interpolator=colour.algebra.table_interpolation_tetrahedral)
    assert np.abs(look.picture(rgb).astype(float) - 255 * np.clip(wanted, 0, 1)).max() < 2.0


def test_every_picture_stands_under_the_look_and_plain(cube: Path, result: Any) -> None:
    gallery = gallery_of(result, look=find_look(cube, "ACEScct", result.setup))
    page = render(result, gallery=gallery)["report.html"].decode()
    images = set(re.findall(r'<image id="([^"]+)"', page))
    plain = {name for name in images if not name.endswith("-look")}
    assert {f"{name}-look" for name in plain} == images - plain
    uses = re.findall(r'<use href="#([^"]+)" class="(plain|look)"', page)
    assert {name for name, kind in uses if kind == "look"} <= images - plain
    assert "pictures under the look evening.cube (ACEScct, full range)" in page
    assert not np.array_equal(gallery.pixels["p-wide-0"], gallery.pixels["p-wide-0-look"])
    assert len(page) < 2.5e6
    without = render(result)["report.html"].decode()
    numbers = [re.findall(r"matched: ([^<]*)<", text) for text in (page, without)]
    assert numbers[0] == numbers[1] and numbers[0], "numbers stay plain"


def test_what_is_no_look_is_told(tmp_path: Path, cube: Path, result: Any) -> None:
    bad = tmp_path / "bad.cube"
    bad.write_text("LUT_3D_SIZE 2\n0 0 0\n")
    for path in (tmp_path / "none.cube", bad, Path(__file__)):
        with pytest.raises(LutError):
            find_look(path, "hero", result.setup)
    with pytest.raises(EncodingError):
        find_look(cube, "Y-Log", result.setup)


def test_the_record_names_the_look_and_not_its_folder(cube: Path, result: Any) -> None:
    from huemend.options import MatchOptions
    from huemend.write.record import make_record

    options = replace(MatchOptions(), report=ReportOptions(look=cube.resolve()))
    record = make_record(result, luts={}, cdls={}, options=options)
    assert record["options"]["report"]["look"] == "evening.cube"
    assert str(cube.parent) not in json.dumps(record)
