"""A match that bends hues, as files: whole, in two LUTs, without it as a matrix, and in words."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from huemend.encodings.registry import find_encoding
from huemend.model import Match, Rung
from huemend.options import MatchOptions, WriteOptions
from huemend.view import delta_e2000, measurement_lab
from huemend.write.luts.cube import apply_cube
from huemend.write.luts.hues import apply_hues, beyond_matrix, nearest_matrix
from huemend.write.outputs import outputs_of
from huemend.write.record_reading import match_of
from tests.luts import read_cube
from tests.write.small_setup import ENCODINGS, MATCH, a_result
from tests.write.test_results import SCHEMA, write

BENT = replace(MATCH, roots=np.array([[0.12, 0.02, -0.05], [-0.05, 0.05, 0.0], [0.04, -0.07, 0.02]]))


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any], Any]:
    folder = tmp_path_factory.mktemp("hues")
    plain = a_result(folder)
    angles = tuple(
        replace(found, match=BENT, rung=Rung.ROOTS) if found.angle.name == "left" else found
        for found in plain.angles
    )
    result = replace(plain, angles=angles)
    write(folder, result, lut_size=65, hue_luts=True)
    return folder / "out", json.loads((folder / "out/report.json").read_text(encoding="utf-8")), result


def test_the_record_carries_it(written: tuple[Path, dict[str, Any], Any]) -> None:
    _, record, _ = written
    jsonschema.validate(record, SCHEMA, cls=jsonschema.Draft202012Validator)
    left, right = record["angles"]["left"], record["angles"]["right"]
    assert left["model"] == "roots"
    np.testing.assert_allclose(match_of(left).roots, BENT.roots, atol=1e-8)  # type: ignore[union-attr]
    assert set(left["beyond_matrix"]) == {"skin", "foliage", "blue", "red"}
    assert "roots" not in right and "beyond_matrix" not in right


def test_two_luts_are_the_whole_one(written: tuple[Path, dict[str, Any], Any]) -> None:
    out, record, result = written
    kinds = {lut["kind"]: lut["path"] for lut in record["angles"]["left"]["luts"]}
    assert {"match", "matrix", "hues", "clf"} <= set(kinds)
    assert "hues" not in {lut["kind"] for lut in record["angles"]["right"]["luts"]}
    # What stands in the way of a file is looked for before the work: under every name that it may get.
    names = outputs_of(result.setup, MatchOptions(write=WriteOptions(hue_luts=True)))
    assert {lut["path"] for lut in record["angles"]["left"]["luts"]} <= set(names)
    shot = find_encoding(ENCODINGS["left"])
    light = result.stills["left"][0].rgb.reshape(-1, 3)[::7].astype(float)
    codes = shot.encode(light, range="full")
    whole, first, second = (read_cube(out / kinds[kind]) for kind in ("match", "matrix", "hues"))
    together = apply_cube(second, apply_cube(first, codes))
    # Each is its own interpolation away from the exact match, in 10-bit codes.
    exact = shot.encode(BENT.apply(light), range="full")
    inside = (exact > 0).all(1) & (exact < 1).all(1)
    assert np.quantile(np.abs(apply_cube(whole, codes) - exact)[inside], 0.99) * 1023 < 2
    assert np.quantile(np.abs(together - exact)[inside], 0.99) * 1023 < 5
    assert "REVIEW" not in second.title and "after the matrix LUT" in second.title


def test_the_clf_holds_the_nearest_matrix_and_says_what_it_misses(
    written: tuple[Path, dict[str, Any], Any],
) -> None:
    _, record, _ = written
    clf = next(lut for lut in record["angles"]["left"]["luts"] if lut["kind"] == "clf")
    assert "misses the .cube by" in clf["note"]
    other = next(lut for lut in record["angles"]["right"]["luts"] if lut["kind"] == "clf")
    assert "misses" not in other["note"]


def test_the_nearest_matrix_is_nearer_than_the_bare_one() -> None:
    random = np.random.default_rng(0)
    # Warm colours, skin to red: where one term stands on one side only, a matrix can follow it.
    colours = 0.18 * np.exp(random.normal([0.5, 0, -0.5], 0.3, (500, 3)))

    def off(match: Match) -> float:
        return float(
            delta_e2000(measurement_lab(match.apply(colours)), measurement_lab(BENT.apply(colours))).mean()
        )

    nearest = nearest_matrix(BENT, colours)
    assert not nearest.roots.any()
    assert off(nearest) < 0.8 * off(BENT.without_roots)
    grey = np.full((1, 3), 0.18)
    np.testing.assert_allclose(nearest.apply(grey), BENT.apply(grey), rtol=1e-12)
    assert nearest_matrix(MATCH, colours) is MATCH


def test_words_and_the_rest_agree_with_the_match() -> None:
    random = np.random.default_rng(1)
    light = 0.18 * np.exp(random.normal(0, 0.8, (200, 3)))
    through = apply_hues(BENT, BENT.without_roots.apply(light))
    np.testing.assert_allclose(through, BENT.apply(light), rtol=1e-9)
    assert beyond_matrix(MATCH) == {}
    assert all(moved > 0 for moved in beyond_matrix(BENT).values())
