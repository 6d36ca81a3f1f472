"""``huemend encodings``."""

from __future__ import annotations

import json

from click.testing import CliRunner

from huemend.cli import huemend
from huemend.encodings.registry import all_encodings, find_encoding


def test_lists_every_encoding_with_its_mid_grey_code() -> None:
    result = CliRunner().invoke(huemend, ["encodings"], obj={}, standalone_mode=False)
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert len(lines) == len(all_encodings()) + 1
    row = next(line for line in lines if line.startswith("V-Log/V-Gamut"))
    # V-Log/V-Gamut Reference Manual Rev. 1.0.
    assert row.split()[1] == "433"
    assert "Reference Manual" in row


def test_json_names_can_be_used_as_they_stand() -> None:
    record = json.loads(CliRunner().invoke(huemend, ["encodings", "--json"], obj={}, standalone_mode=False).stdout)
    assert record["schema"] == "huemend-encodings/1"
    for row in record["encodings"]:
        encoding = find_encoding(row["name"])
        assert encoding.name == row["name"]
        assert row["mid_grey_code"] == encoding.mid_grey_code
        assert row["source"] and row["gamut"]
