"""docs/encodings.md keeps up with the code."""

from __future__ import annotations

import re
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest

from huemend.encodings.curves import CURVES
from huemend.encodings.custom import FORMS
from huemend.encodings.gamuts import GAMUTS
from huemend.encodings.registry import Encoding, all_encodings, find_encoding
from huemend.model import EncodingSpec
from huemend.sample.encoding_table import parse_encoding_spec
from tests.luts import is_exact

TEXT = (Path(__file__).parents[2] / "docs" / "encodings.md").read_text(encoding="utf-8")
ROWS = [line for line in TEXT.splitlines() if line.startswith("|")]


@pytest.mark.parametrize("encoding", all_encodings(), ids=lambda encoding: encoding.name)
def test_lists_every_encoding_with_its_figures(encoding: Encoding) -> None:
    if encoding.name.startswith("Linear/"):
        return
    row = next(row for row in ROWS if re.search(rf"(^\| |, ){re.escape(encoding.name)}( |,|$)", row))
    cells = [cell.strip() for cell in row.strip("|").split("|")]
    assert cells[1] == ("linear" if encoding.is_linear else f"{encoding.mid_grey_code:.0f}")
    if not encoding.is_linear:
        assert float(cells[2]) == float(f"{encoding.largest_linear:.3g}")
    if encoding.gamut.white == GAMUTS["BT.709"].white:
        assert cells[3].split()[0].lower() == encoding.gamut.adaptation


def test_explains_every_key_and_every_number() -> None:
    # Where a table was read from is no key of its own: `table` names the file.
    keys = {item.name for item in fields(EncodingSpec)} - {"name", "parameters", "file"}
    for key in keys:
        assert any(row.startswith(f"| `{key}` |") for row in ROWS), key
    for word, form in FORMS.items():
        row = next(row for row in ROWS if row.startswith(f"| `{word}` |"))
        for item in fields(form):
            assert re.search(rf"\b{item.name.rstrip('_')}\b", row), (word, item.name)


def test_examples_work(tmp_path: Path) -> None:
    (tmp_path / "old_camera.txt").write_text("0.0\n0.2\n1.0\n")
    blocks = re.findall(r"```toml\n(.*?)```", TEXT, flags=re.DOTALL)
    assert len(blocks) == 3
    for block in blocks:
        for name, table in tomllib.loads(block)["encoding"].items():
            spec = parse_encoding_spec(name, table, tmp_path / "setup.toml")
            assert find_encoding(name, custom=[spec]).name == name


def test_names_the_curves_that_become_tables() -> None:
    sentence = next(line for line in TEXT.split("\n- ") if line.startswith("In a CLF")).replace("\n ", "")
    for encoding in all_encodings():
        named = re.search(rf" {re.escape(encoding.curve.name)}(,| and| have)", sentence) is not None
        assert named != is_exact(encoding), encoding.name
    assert len(CURVES) > 20
