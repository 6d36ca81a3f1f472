"""Spoilt cases hold what they say, and the truth is spoilt like the picture."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.bench.accuracy import codes
from tests.bench.accuracy.cases import Case
from tests.bench.accuracy.spoilt import FAULTS, spoil

ENCODING = "S-Log3/S-Gamut3.Cine"


@pytest.fixture
def case(tmp_path: Path) -> Case:
    folder = tmp_path / "tiny"
    folder.mkdir()
    light = np.random.default_rng(0).uniform(0.05, 0.5, (48, 64, 3))
    picture = np.rint(65535 * codes.encode(light, ENCODING)).astype(np.uint16)
    for name in ("wide", "left"):
        cv2.imwrite(str(folder / f"{name}.png"), picture[..., ::-1])
    spec = {"hero": "wide", "encoding": {"wide": ENCODING, "left": ENCODING}}
    (folder / "case.json").write_text(json.dumps(spec), "utf-8")
    np.savez(folder / "truth_left.npz", shot=light, truth=light, cls=np.zeros(light.shape[:2], np.uint8))
    return Case.read(folder)


@pytest.mark.parametrize("name", FAULTS)
def test_what_a_pixel_shows_is_spoilt_as_the_truth_says(name: str, case: Case, tmp_path: Path) -> None:
    fault = FAULTS[name]
    spoil(case, fault, tmp_path / name)
    spoilt = Case.read(tmp_path / name)
    light, shot = spoilt["left"].linear(), spoilt.truth("left").shot
    same_hero = np.array_equal(spoilt["wide"].linear(), case["wide"].linear())
    assert same_hero == np.array_equal(spoilt.truth("left").truth, case.truth("left").truth) == (not fault.hero)
    of_the_picture = fault.grid or fault.code
    if fault.light or fault.encoding or fault.range:
        assert not np.allclose(shot, case.truth("left").shot)
    else:
        np.testing.assert_array_equal(shot, case.truth("left").shot.astype(np.float32))
    if not of_the_picture:
        # The picture holds 16 bits of log between 0 and 1.
        np.testing.assert_allclose(light, shot, rtol=2e-3, atol=2e-3)
