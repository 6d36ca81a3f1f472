"""A colour chart through the command: a match from it alone, and a word where it is missed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from huemend.base.units import acescct_encode
from huemend.media.pictures import write_picture
from tests.correspond.made_charts import published, views

pytestmark = pytest.mark.slow

SHOT = 2**-0.8 * np.diag([1.1, 1.0, 0.85])


def found(
    run: Any, folder: Path, first: np.ndarray | None, second: np.ndarray | None
) -> tuple[int, dict[str, Any]]:
    for still in views(first, second, SHOT):
        write_picture(folder / f"{still.angle}.png", acescct_encode(still.rgb), 16)
    lines = "".join(f'[angle.{n}]\nmedia = ["{n}.png"]\nencoding = "ACEScct"\n' for n in ("wide", "close"))
    (folder / "setup.toml").write_text(f'[setup]\nname = "chart"\nhero = "wide"\nchart = true\n{lines}')
    code, _, _ = run(
        "match", folder / "setup.toml", "--marks-only", "--quiet", "--no-pictures", "--out", folder / "out"
    )
    return code, json.loads((folder / "out" / "report.json").read_text())["angles"]["close"]


def test_a_chart_in_both_views_is_enough(run: Any, tmp_path: Path) -> None:
    _, angle = found(run, tmp_path, published(), published())
    assert angle["samples"]["source"] == "chart" and angle["samples"]["pairs"] >= 23
    assert angle["verdict"] in ("matched", "review")
    assert angle["exposure_stops"] == pytest.approx(0.8, abs=0.05)
    assert angle["held_out"]["after"]["mean"] < 1 < angle["held_out"]["before"]["mean"]
    assert set(angle["held_out"]["areas"]) == {"chart"}
    assert "no-chart" not in [reason["code"] for reason in angle["reasons"]]


@pytest.mark.parametrize(("on", "said"), [("wide", "found on wide alone"), ("", "no colour chart was found")])
def test_a_chart_that_is_missed_is_told(run: Any, tmp_path: Path, on: str, said: str) -> None:
    code, angle = found(run, tmp_path, published() if on else None, None)
    assert code == 5 and angle["verdict"] == "unsolved"
    (note,) = [reason for reason in angle["reasons"] if reason["code"] == "no-chart"]
    assert said in note["text"]
