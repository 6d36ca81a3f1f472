"""Exposure and balance over time: what moved, by how much, and who."""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from huemend.model import LinearStill
from huemend.options import DriftOptions
from huemend.validate.drift import drift_reasons, moments_apart, segments, with_segments
from huemend.validate.track import follow
from huemend.write.record import drift_record
from tests.validate.followed import measure_drift

SHAPE = (108, 192)


def series(
    stops: np.ndarray | list[float],
    *,
    seed: int = 0,
    red: np.ndarray | None = None,
    blue: np.ndarray | None = None,
    rows: np.ndarray | None = None,
) -> list[LinearStill]:
    """A camera on a room with texture, noise and a person who walks, whose light is given in stops."""
    rng = np.random.default_rng([3, seed])
    room = np.kron(rng.uniform(0.05, 0.6, (12, 16, 3)), np.ones((9, 12, 1)))
    out = []
    for index, stop in enumerate(stops):
        picture = room.copy()
        x = 10 + (11 * index) % 120
        picture[20:100, x : x + 45] = rng.uniform(0.05, 0.6, 3)
        picture *= 2.0**stop
        if red is not None:
            picture[..., 0] *= 2.0 ** red[index]
        if blue is not None:
            picture[..., 2] *= 2.0 ** blue[index]
        if rows is not None:
            picture *= 2.0 ** rows[index][:, None, None]
        picture *= 1 + rng.normal(0, 0.03, picture.shape)
        clipped = (picture > 6.0).any(axis=-1)
        out.append(
            LinearStill(
                rgb=picture.astype(np.float32),
                valid=~clipped,
                clipped=clipped,
                angle="x",
                moment=index,
                source="x",
                full_size=SHAPE,
            )
        )
    return out


STEADY = np.zeros(12)
RAMP = np.linspace(0.0, 0.5, 12)
TIMES = [float(index) for index in range(12)]


def test_a_ramp_of_twelve_frames_is_recovered() -> None:
    found = follow(series(RAMP), DriftOptions(first_share=0.05))
    assert np.abs(found.exposure - RAMP).max() < 0.05
    assert np.abs(found.stops[1:]).max() < 0.02


@pytest.mark.parametrize("seed", range(6))
def test_a_ramp_with_the_usual_options(seed: int) -> None:
    found = follow(series(RAMP, seed=seed), DriftOptions())
    # The first two pictures together are the start.
    assert np.abs(found.exposure - (RAMP - RAMP[:2].mean())).max() < 0.05


def test_nothing_that_moves_is_nothing() -> None:
    drift = measure_drift(
        {name: series(STEADY, seed=i) for i, name in enumerate(("wide", "left", "right"))}, TIMES
    )
    assert drift.changes == ()
    assert drift_reasons(drift, "left", "wide", DriftOptions()) == ()
    assert segments(drift, "left", "wide", DriftOptions()) == ((0.0, 11.0),)


@pytest.mark.parametrize("mover", ["left", "wide"])
def test_the_camera_that_ramps_is_named_be_it_the_hero(mover: str) -> None:
    stills = {
        name: series(RAMP if name == mover else STEADY, seed=i) for i, name in enumerate(("wide", "left", "right"))
    }
    drift = measure_drift(stills, TIMES)
    (change,) = drift.changes
    assert (change.camera, change.what, change.how) == (mover, "exposure", "ramp")
    assert change.stops == pytest.approx(0.48, abs=0.05)
    assert f"{mover}'s exposure ramps by +0." in change.text
    (reason,) = drift_reasons(drift, "left", "wide", DriftOptions())
    assert reason.code == "drift" and mover in reason.text and "00:11.00" in reason.text
    assert bool(drift_reasons(drift, "right", "wide", DriftOptions())) == (mover == "wide")


def test_two_cameras_are_enough_to_tell_who() -> None:
    drift = measure_drift({"wide": series(STEADY), "left": series(-RAMP, seed=1)}, TIMES)
    assert [(c.camera, c.how, c.stops < 0) for c in drift.changes] == [("left", "ramp", True)]


def test_a_cloud_is_the_light_and_needs_no_review() -> None:
    cloud = -0.8 * np.exp(-(((np.arange(12) - 7) / 2.5) ** 2))
    stills = {name: series(cloud, seed=i) for i, name in enumerate(("wide", "left", "right"))}
    drift = measure_drift(stills, TIMES)
    (change,) = drift.changes
    assert change.camera == "" and change.stops == pytest.approx(-0.8, abs=0.07) and "cloud" in change.text
    assert drift_reasons(drift, "left", "wide", DriftOptions()) == ()


def test_an_iris_step() -> None:
    step = np.where(np.arange(12) < 7, 0.0, -1 / 3)
    drift = measure_drift(
        {"wide": series(STEADY), "left": series(step, seed=1), "c": series(STEADY, seed=2)}, TIMES
    )
    (change,) = drift.changes
    assert (change.camera, change.how) == ("left", "step")
    assert (change.start, change.end) == (6.0, 7.0)
    assert change.stops == pytest.approx(-1 / 3, abs=0.04)
    assert segments(drift, "left", "wide", DriftOptions()) in (((0.0, 6.5), (6.5, 11.0)), ((0.0, 11.0),))
    tight = DriftOptions(exposure_limit=0.1)
    assert segments(drift, "left", "wide", tight) == ((0.0, 6.5), (6.5, 11.0))


@pytest.mark.parametrize(
    ("pulled", "ranges", "apart"), [(7, "00:07.00 to 00:11.00", {1, 2}), (4, "00:00.00 to 00:03.00", {0})]
)
def test_a_match_is_for_where_the_angle_is_longest_and_what_is_said_fits_it(
    pulled: int, ranges: str, apart: set[int]
) -> None:
    step = np.where(np.arange(12) < pulled, 0.0, -0.5)
    drift = measure_drift({"wide": series(STEADY), "left": series(step, seed=1)}, TIMES)
    (reason,) = drift_reasons(drift, "left", "wide", DriftOptions())
    assert f"does not fit {ranges}:" in reason.text
    moments = [Fraction(1), Fraction(8), Fraction(21, 2)]
    assert moments_apart(drift, "left", "wide", moments, DriftOptions()) == apart
    assert moments_apart(drift, "left", "nobody", moments, DriftOptions()) == frozenset()


def test_white_balance_that_sets_itself() -> None:
    red = np.linspace(0, 0.25, 12)
    stills = {"wide": series(STEADY), "left": series(STEADY, seed=1, red=red), "c": series(STEADY, seed=2)}
    drift = measure_drift(stills, TIMES)
    (change,) = drift.changes
    assert (change.camera, change.what) == ("left", "balance")
    assert change.stops == pytest.approx(0.24, abs=0.04) and "white balance" in change.text


def test_flicker() -> None:
    flicker = np.where(np.arange(12) % 2, 0.4, 0.0)
    drift = measure_drift({"a": series(STEADY), "b": series(flicker, seed=1), "c": series(STEADY, seed=2)}, TIMES)
    assert [(change.camera, change.how) for change in drift.changes] == [("b", "flicker")]


def test_bands_across_the_picture() -> None:
    y = np.arange(SHAPE[0])
    rows = np.stack([0.12 * np.sin(2 * np.pi * (y / 40 + 0.27 * index)) for index in range(12)])
    drift = measure_drift({"a": series(STEADY), "b": series(STEADY, seed=1, rows=rows)}, TIMES)
    assert ("b", "banding") in [(change.camera, change.what) for change in drift.changes]
    assert "a" not in [change.camera for change in drift.changes]
    assert any(reason.code == "banding" for reason in drift_reasons(drift, "b", "a", DriftOptions()))


def test_a_covered_lens_says_nothing_rather_than_something() -> None:
    stills = series(STEADY)
    dark = np.zeros((*SHAPE, 3), np.float32)
    stills[5] = LinearStill(
        rgb=dark, valid=np.zeros(SHAPE, bool), clipped=np.zeros(SHAPE, bool), angle="x", moment=5, source="x",
        full_size=SHAPE,
    )  # fmt: skip
    track = follow(stills, DriftOptions())
    assert np.isnan(track.exposure[5]) and np.isfinite(np.delete(track.exposure, 5)).all()
    drift = measure_drift({"a": stills, "b": series(STEADY, seed=1)}, TIMES)
    assert drift.changes == () and json.dumps(drift_record(drift))


def test_segments_follow_a_long_ramp() -> None:
    drift = measure_drift({"wide": series(STEADY), "left": series(np.linspace(0, 1, 12), seed=1)}, TIMES)
    cut = segments(drift, "left", "wide", DriftOptions())
    assert len(cut) in (3, 4)
    assert cut[0][0] == 0.0 and cut[-1][1] == 11.0
    assert all(one[1] == two[0] for one, two in pairwise(cut))


def test_the_record_holds_series_and_table() -> None:
    drift = measure_drift({"wide": series(STEADY), "left": series(RAMP, seed=1)}, TIMES)
    record = json.loads(json.dumps(drift_record(with_segments(drift, "wide", DriftOptions()))))
    assert len(record["cameras"]["left"]["exposure"]) == len(record["times"]) == 12
    assert record["changes"][0]["camera"] == "left"
    assert record["segments"]["left"][0][0] == 0.0


def test_what_is_too_short_stays_with_its_neighbour() -> None:
    step = np.where(np.arange(12) < 1, 0.0, 0.5)
    drift = measure_drift(
        {"wide": series(STEADY), "left": series(step, seed=1)}, TIMES, DriftOptions(first_share=0.05)
    )
    assert len(segments(drift, "left", "wide", DriftOptions())) == 2
    assert len(segments(drift, "left", "wide", DriftOptions(shortest_segment=1.0))) == 1
