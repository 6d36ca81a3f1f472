"""`huemend match --balance-hero`: a suggestion beside the match, which changes no LUT."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from huemend import record_schema
from huemend.media.pictures import write_picture
from tests.cli.conftest import picture

pytestmark = pytest.mark.slow

SCHEMA = record_schema()
GREY = '[[neutral]]\nangle = "wide"\narea = [0.02, 0.02, 0.18, 0.2]\nreflectance = 0.36\n'


def files(folder: Path) -> dict[str, bytes]:
    found = {path.name: path.read_bytes() for path in (folder / "luts").iterdir()}
    return found | {path.name: path.read_bytes() for path in folder.glob("*.ccc")}


def test_it_suggests_and_changes_no_lut(run: Any, setup_file: Path) -> None:
    codes = picture(1)
    codes[:40, :64] = 0.4136  # ACEScct of 0.18 (S-2016-001): a card that is said to reflect twice as much
    write_picture(setup_file.parent / "wide.png", codes, 16)
    setup_file.write_text(setup_file.read_text() + GREY)
    plain, asked = setup_file.parent / "plain", setup_file.parent / "asked"
    code, shown, _ = run("match", setup_file, "--out", plain, "--quiet", "--no-pictures", "--fail-on", "never")
    assert code == 0 and "Hero itself" not in shown
    code, shown, _ = run(
        "match", setup_file, "--out", asked, "--quiet", "--no-pictures", "--fail-on", "never", "--balance-hero"
    )
    assert code == 0
    assert files(plain) and files(plain) == files(asked)
    records = [json.loads((folder / "report.json").read_text()) for folder in (plain, asked)]
    assert records[0]["hero_balance"] is None and records[0]["angles"] == records[1]["angles"]
    for record in records:
        jsonschema.validate(record, SCHEMA, cls=jsonschema.Draft202012Validator)
    found = records[1]["hero_balance"]
    assert found["exposure"]["stops"] == pytest.approx(1.0, abs=0.05)
    assert found["exposure"]["low"] < 1 < found["exposure"]["high"]
    assert np.allclose([found["red_green"]["stops"], found["blue_green"]["stops"]], 0, atol=0.05)
    assert "Hero itself, a suggestion that no LUT here uses: exposure +1.0" in shown
    assert "a grey area that the setup file marks" in " ".join(shown.split())
    assert max(map(len, shown.splitlines())) <= 80 + len(str(asked))
    page = (asked / "report.html").read_text(encoding="utf-8")
    assert "The hero itself" in page and "the reflectance that the setup file states" in page.lower()
    assert "The hero itself" not in (plain / "report.html").read_text(encoding="utf-8")


def test_without_a_neutral_and_without_skin_it_says_so(run: Any, setup_file: Path) -> None:
    out = setup_file.parent / "out"
    code, shown, _ = run(
        "match", setup_file, "--out", out, "--quiet", "--no-pictures", "--fail-on", "never", "--balance-hero"
    )
    found = json.loads((out / "report.json").read_text())["hero_balance"]
    assert code == 0
    assert found["exposure"] is found["red_green"] is found["blue_green"] is None
    assert "none. There is neither a neutral nor skin in the hero" in " ".join(shown.split())
    assert "neither a neutral nor skin" in (out / "report.html").read_text(encoding="utf-8")


def test_a_reflectance_that_makes_no_sense_gets_its_line(run: Any, setup_file: Path) -> None:
    setup_file.write_text(setup_file.read_text() + GREY.replace("0.36", "18"))
    code, _, said = run("match", setup_file, "--quiet", "--no-pictures")
    assert code == 3 and said.count("\n") == 1 and "neutral[1].reflectance: cannot be 18" in said
