"""In motion: the report shows the same moments of hero and angle, whatever the clips' rates and starts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from huemend.encodings.registry import find_encoding
from huemend.flow.motion import motion_of
from huemend.model import Angle, AngleResult, PairedColours, Setup, SetupResult
from huemend.options import MatchOptions, ReportOptions
from huemend.sample.clip_plan import plan_clips
from tests.clipmaker import write_clip
from tests.write.report.factory import still

pytestmark = pytest.mark.slow

LOG = find_encoding("S-Log3/S-Gamut3.Cine")
SIZE = (36, 64)
ASKED = MatchOptions(report=ReportOptions(motion=True, motion_seconds=1.0, motion_pixels=500))


def dimmed(start: float, rate: int):  # type: ignore[no-untyped-def]
    """Grey frames whose code rises by 100 a second of the common clock."""

    def planes(index: int) -> list[np.ndarray]:
        texture = np.random.default_rng(index).integers(-2, 3, SIZE)
        luma = round(300 + 100 * (start + index / rate)) + texture
        return [luma, np.full(SIZE, 512), np.full(SIZE, 512)]

    return planes


def make(folder: Path, name: str, start: float, rate: int, timecode: str, **said: str) -> Angle:
    path = write_clip(
        folder / f"{name}.mkv",
        dimmed(start, rate),
        frames=3 * rate,
        size=SIZE,
        pix_fmt="yuv444p10le",
        rate=rate,
        timecode=timecode,
    )
    return Angle(name=name, media=(path,), encoding=LOG.name, **said)


@pytest.fixture
def result(tmp_path: Path) -> SetupResult:
    angles = (
        make(tmp_path, "wide", 0.0, 25, "10:00:00:00"),
        make(tmp_path, "left", 0.4, 50, "10:00:00:20", flip="horizontal"),
    )
    setup = Setup(name="walk", hero="wide", angles=angles, source=tmp_path / "setup.toml")
    plan = plan_clips(setup)
    assert plan is not None
    hero = {"wide": (still("wide", np.full((*SIZE, 3), 0.18, np.float32)),)}
    found = AngleResult.without_match(angles[1], PairedColours.empty("wide", "left", "features"), ())
    return SetupResult(setup=setup, view_stops=0.0, angles=(found,), stills=hero, clips=plan.sampled)


def test_both_views_show_the_same_moments(result: SetupResult) -> None:
    motion = motion_of(result, ASKED)
    assert motion is not None
    assert len(motion.said) == 8 and motion.said[0].startswith("10:00:0")
    # The codes say when each picture was taken: 100 a second.
    grey = {
        name: np.array([float(1023 * LOG.encode(light).mean()) for light in lights])
        for name, lights in motion.light.items()
    }
    # Half a frame at 25 a second is two codes.
    assert np.abs(grey["wide"] - grey["left"]).max() < 2.5
    assert np.diff(grey["wide"]) == pytest.approx(100 / 8, abs=4.5)
    frames = [25 * int(said[6:8]) + int(said[9:11]) for said in motion.said]
    assert grey["wide"] == pytest.approx([300 + 4 * frame for frame in frames], abs=2)
    assert {light.shape for lights in motion.light.values() for light in lights} == {(16, 28, 3)}


def test_nothing_is_read_unless_somebody_asks(result: SetupResult) -> None:
    assert motion_of(result, MatchOptions()) is None


def test_a_clip_that_is_gone_costs_the_report_its_motion_only(result: SetupResult) -> None:
    result.setup["left"].media[0].unlink()
    assert motion_of(result, ASKED) is None
