"""Cameras across a day: one that was set wrong once stands out, and a hero that was says so."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest

from huemend.model import Match
from huemend.write.report import DayRow, render_day_index
from huemend.write.report.cameras import cameras_of, cameras_section, stands_out
from huemend.write.report.day_rows import DayAngle


def angle(stops: float, red: float, blue: float) -> dict[str, Any]:
    match = Match.from_matrix(2**stops * np.diag([2**red, 1.0, 2**blue]))
    return {
        "verdict": "matched",
        "model": "matrix",
        "matrix": match.matrix.tolist(),
        "exposure_stops": match.exposure_stops,
        "held_out": None,
        "reasons": [],
    }


def day(*args: Any, **named: Any) -> list[tuple[str, list[DayAngle]]]:
    return [(name, [DayAngle.of(*item) for item in angles.items()]) for name, angles in records(*args, **named)]


def records(count: int = 8, wrong: dict[tuple[int, str], tuple[float, float, float]] | None = None) -> list[Any]:
    rng = np.random.default_rng(7)
    usual = {"left": (0.4, 0.1, -0.2), "right": (-0.3, -0.1, 0.1)}
    setups = []
    for n in range(count):
        angles = {}
        for name, stops in usual.items():
            more = (wrong or {}).get((n, name), (0.0, 0.0, 0.0))
            values = np.array(stops) + more + rng.normal(0, 0.02, 3)
            angles[name] = angle(*(float(v) for v in values))
        setups.append((f"setup-{n + 1}", angles))
    return setups


def test_a_camera_left_alone_does_not_stand_out() -> None:
    cameras = cameras_of(day())
    assert [camera.name for camera in cameras] == ["left", "right"]
    assert all(stands_out(camera) == [] for camera in cameras)
    # Of a diagonal mix the balance is what the diagonal says.
    assert np.median(cameras[0].stops, axis=0)[1:] == pytest.approx([0.1, -0.2], abs=0.03)


def test_one_wrong_setting_stands_out() -> None:
    left, right = cameras_of(day(wrong={(4, "left"): (0.0, -0.3, 0.25)}))
    assert {(left.setups[row], column) for row, column in stands_out(left)} == {("setup-5", 1), ("setup-5", 2)}
    assert stands_out(right) == []
    page = cameras_section(day(wrong={(4, "left"): (0.0, -0.3, 0.25)}))
    assert page is not None
    assert re.search(r"setup-5: red against green −0\.\d\d, usually \+0\.1", page)
    assert "look at the hero" not in page


def test_a_hero_set_wrong_moves_every_camera() -> None:
    page = cameras_section(day(wrong={(2, "left"): (0.8, 0, 0), (2, "right"): (0.8, 0, 0)}))
    assert page is not None and page.count("other cameras stand out in setup-3 too: look at the hero there") == 2


def test_every_setup_of_a_short_day_is_named_under_its_marks() -> None:
    page = str(cameras_section(day(4)))
    assert re.findall(r">(setup-\d)</text>", page) == 2 * ["setup-1", "setup-2", "setup-3", "setup-4"]
    assert re.findall(r">(set[^<]*)</text>", str(cameras_section(day(18))))[:2] == ["setu…", "setu…"]
    assert not re.findall(r">set[^<]*</text>", str(cameras_section(day(60))))


def test_the_index_has_a_row_a_camera_and_the_gravest_reason() -> None:
    setups = records(3)
    setups[1][1]["left"] |= {
        "verdict": "review",
        "reasons": [
            {"code": "uncertain", "text": "leaves room for error", "todo": ""},
            {"code": "divided", "text": "only half agrees", "todo": "look"},
        ],
    }
    rows = [DayRow.of(name, {"setup": name, "angles": angles}) for name, angles in setups]
    page = render_day_index(rows).decode()
    assert page.count('class="camera-row"') == 2
    assert "Only half agrees. Look." in page and "Leaves room for error" not in page
    assert cameras_section([(rows[0].name, rows[0].angles or ())]) is None
