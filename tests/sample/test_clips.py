"""Clips of a setup: one clock, frames of the same moment, what the record says, and drift end to end."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from huemend.encodings.registry import find_encoding
from huemend.errors import MediaError
from huemend.linearise.decode import linearise
from huemend.media.clips import Clip
from huemend.media.pictures import write_picture
from huemend.model import Angle, Setup
from huemend.options import ClipOptions, DriftOptions, LineariseOptions, SampleOptions
from huemend.sample.clip_plan import plan_clips
from huemend.sample.clips import clip_stills, drift_stills
from huemend.sample.footage import is_clip
from huemend.sample.setupfile import load_setup
from huemend.sample.stills import sample_angle
from huemend.validate.track import follow
from huemend.write.record import clips_record
from tests.clipmaker import write_clip

pytestmark = pytest.mark.slow

SIZE = (90, 160)
LOG = find_encoding("S-Log3/S-Gamut3.Cine")


def room(seed: int = 0) -> np.ndarray:
    """Scene-linear camera RGB of a room with texture."""
    rng = np.random.default_rng([8, seed])
    return np.kron(rng.uniform(0.03, 0.5, (10, 16, 1)), np.ones((9, 10, 1))).repeat(3, axis=2)


def log_planes(linear: np.ndarray) -> list[np.ndarray]:
    """Legal 10-bit Y'CbCr of a grey S-Log3 picture, by the published curve alone (grey has no chroma)."""
    codes = np.rint(1023 * np.asarray(LOG.curve.form.encode(linear[..., 0]))).astype(int)
    return [codes, np.full(SIZE, 512), np.full(SIZE, 512)]


def counting(start: float, fps: float, seed: int = 0):  # type: ignore[no-untyped-def]
    """Frames with a bright bar that walks 40 columns a second of the common clock."""

    def planes(index: int) -> list[np.ndarray]:
        picture = room(seed).copy()
        rng = np.random.default_rng([seed, index])
        x = round(10 + 40 * (start + index / fps)) % 140
        picture[20:70, x : x + 8] = 0.9
        picture = picture * (1 + 0.02 * rng.standard_normal((*SIZE, 1)))
        return log_planes(picture)

    return planes


def make(folder: Path, name: str, start: float, rate: int, timecode: str | None, frames: int) -> Angle:
    path = write_clip(
        folder / f"{name}.mkv", counting(start, rate), frames=frames, size=SIZE, pix_fmt="yuv444p10le", rate=rate,
        timecode=timecode,
    )  # fmt: skip
    return Angle(name=name, media=(path,), encoding=LOG.name)


def bar(codes: np.ndarray) -> float:
    """Column where the bar begins."""
    return float(np.argmax(np.median(codes[25:65, :, 1], axis=0) > 0.55))


@pytest.fixture
def setup(tmp_path: Path) -> Setup:
    angles = (
        make(tmp_path, "wide", 0.0, 25, "10:00:00:00", 75),
        make(tmp_path, "left", 0.4, 50, "10:00:00:20", 120),
        make(tmp_path, "right", -0.5, 24, "09:59:59:12", 72),
    )
    return Setup(name="show", hero="wide", angles=angles, source=tmp_path / "setup.toml")


def test_all_angles_show_the_same_moments(setup: Setup) -> None:
    plan = plan_clips(setup)
    assert plan is not None
    assert [float(edge) for edge in plan.sampled.span] == pytest.approx([0.4, 2.458], abs=0.001)
    assert len(plan.times) == 8 and plan.sampled.rejected == {}
    places = {}
    for angle in setup.angles:
        stills = list(sample_angle(angle, None, plan))
        assert [still.moment for still in stills] == list(range(8))
        assert all(still.range == "legal" and still.bit_depth == 10 for still in stills)
        places[angle.name] = np.array([bar(still.codes) for still in stills])
    wanted = 10 + 40 * np.array([float(time) for time in plan.times])
    for found in places.values():
        # Half a frame of the slowest camera is 0.8 columns, rounding of the bar half a column more.
        assert np.abs(found - wanted).max() <= 1.5


def test_codes_are_those_of_the_camera(setup: Setup) -> None:
    plan = plan_clips(setup, SampleOptions(clips=ClipOptions(averaged=1)))
    assert plan is not None
    stills = list(clip_stills(setup["wide"], plan, SampleOptions(clips=ClipOptions(averaged=1))))
    for still, index in zip(stills, plan.frames["wide"], strict=True):
        codes = counting(0.0, 25)(index)[0]
        assert np.rint(still.codes[..., 0] * 876 + 64).astype(int).tolist() == codes.tolist()
        assert still.source == f"wide.mkv #{index}"


def test_what_was_looked_at_is_not_decoded_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a codec with prediction a frame costs all that come before it."""
    path = write_clip(
        tmp_path / "wide.mp4", counting(0.0, 25), frames=48, size=SIZE, codec="libx264", pix_fmt="yuv444p10le"
    )
    wide = Angle(name="wide", media=(path,), encoding=LOG.name)
    setup = Setup(name="show", hero="wide", angles=(wide, replace(wide, name="left")), source=tmp_path / "x.toml")
    plan = plan_clips(setup)
    assert plan is not None and len(plan.frames["wide"]) == 8
    with monkeypatch.context() as patched:
        patched.setattr(Clip, "_frame", None)
        once = [still.codes for still in clip_stills(wide, plan, SampleOptions())]
    # Each is handed out once, and then decoded anew.
    assert not any(map(plan.clips["wide"].decoded.take, plan.frames["wide"]))
    assert all(map(plan.clips["left"].decoded.take, plan.frames["left"]))
    np.testing.assert_array_equal(once, [still.codes for still in clip_stills(wide, plan, SampleOptions())])


def test_averaging_brings_less_noise_where_there_are_few_moments(setup: Setup) -> None:
    plan = plan_clips(setup, SampleOptions(clips=ClipOptions(moments=1)))
    assert plan is not None and len(plan.times) == 1
    plain = SampleOptions(clips=ClipOptions(averaged=1))
    still = np.s_[74:, :]
    truth = log_planes(room())[0][still]
    one, two = (
        np.std(next(clip_stills(setup["wide"], plan, options)).codes[still][..., 1] * 876 + 64 - truth)
        for options in (plain, SampleOptions())
    )
    assert two < 0.6 * one


def test_the_record_says_what_was_done(setup: Setup) -> None:
    plan = plan_clips(setup)
    assert plan is not None
    record = json.loads(json.dumps(clips_record(plan.sampled)))
    left = record["angles"]["left"]
    assert left["sync"]["how"] == "timecode" and left["start_timecode"] == "10:00:00:20"
    assert left["fps"] == "50" and len(left["moments"]) == 8
    # Matroska keeps no tags of a lossless clip: what was assumed is told.
    assert all(isinstance(each, str) for each in left["assumed"])
    assert record["angles"]["wide"]["moments"][0]["timecode"].startswith("10:00:0")


def test_another_look_uses_other_frames(setup: Setup) -> None:
    first = plan_clips(setup)
    assert first is not None
    again = plan_clips(setup, avoid=first.times)
    assert again is not None
    assert not set(again.frames["wide"]) & set(first.frames["wide"])
    assert not again.sampled.again


def test_another_look_at_clips_too_short_for_it_says_so(setup: Setup) -> None:
    short = (Fraction(1), Fraction(3, 2))
    first = plan_clips(setup, span=short)
    assert first is not None and not first.sampled.again
    again = plan_clips(setup, span=short, avoid=first.times)
    assert again is not None and again.times and again.sampled.again


def test_a_span_is_kept(setup: Setup) -> None:
    plan = plan_clips(setup, span=(Fraction(1), Fraction(2)))
    assert plan is not None and all(1 <= time <= 2 for time in plan.times)


def test_clips_that_share_no_moment(setup: Setup) -> None:
    angles = (setup["wide"], replace(setup["left"], offset=100.0))
    with pytest.raises(
        MediaError, match=r"the clips share no moment: wide \(hero\), left \(stated offset\); state"
    ):
        plan_clips(replace(setup, angles=angles))


def test_a_stated_range_and_matrix_override_the_tags(setup: Setup) -> None:
    angle = replace(setup["left"], range="full", range_stated=True, matrix="bt601")
    plan = plan_clips(replace(setup, angles=(setup["wide"], angle)))
    assert plan is not None
    signal = plan.clips["left"].info.signal
    assert (signal.range, signal.matrix) == ("full", "bt601")
    assert next(clip_stills(angle, plan, SampleOptions())).range == "full"


def test_turn_and_crop_of_the_setup_file(setup: Setup) -> None:
    angle = replace(setup["left"], rotate=90, crop=(0.0, 0.5, 0.0, 0.0))
    plan = plan_clips(replace(setup, angles=(setup["wide"], angle)))
    assert plan is not None
    assert next(clip_stills(angle, plan, SampleOptions())).codes.shape == (80, 90, 3)


def test_numbered_pictures_are_a_clip(tmp_path: Path) -> None:
    paths = []
    for index in range(30):
        paths.append(tmp_path / f"shot.{index + 1001:04d}.tif")
        codes = np.repeat(counting(0.0, 24)(index)[0][..., None] / 1023, 3, axis=2)
        write_picture(paths[-1], codes.astype(np.float32), 16)
    assert is_clip(paths) and not is_clip(paths[:5]) and not is_clip([paths[0], *paths[2:]])
    angles = tuple(Angle(name=name, media=tuple(paths), encoding=LOG.name) for name in ("wide", "left"))
    plan = plan_clips(Setup(name="s", hero="wide", angles=angles, source=tmp_path / "setup.toml"))
    assert plan is not None and plan.clips["left"].sampled.frames.sync.how == "frame number"
    still = next(clip_stills(angles[0], plan, SampleOptions()))
    assert still.range is None and still.bit_depth == 16


def test_stills_alone_need_no_plan(tmp_path: Path) -> None:
    angle = Angle(name="a", media=(tmp_path / "a.png",), encoding="x")
    assert plan_clips(Setup(name="s", hero="a", angles=(angle,), source=tmp_path / "s.toml")) is None


def test_the_setup_file_states_it(tmp_path: Path) -> None:
    for name in ("wide", "left"):
        (tmp_path / f"{name}.mov").write_bytes(b"x")
    text = (
        '[setup]\nname = "s"\nhero = "wide"\n[angle.wide]\nmedia = ["wide.mov"]\nencoding = "x"\n'
        '[angle.left]\nmedia = ["left.mov"]\nencoding = "x"\nmatrix = "bt2020"\noffset = -1.5\nrange = "legal"\n'
    )
    (tmp_path / "setup.toml").write_text(text)
    loaded = load_setup(tmp_path / "setup.toml")
    left = loaded["left"]
    assert (left.matrix, left.offset, left.range, left.range_stated) == ("bt2020", -1.5, "legal", True)
    assert (loaded["wide"].matrix, loaded["wide"].offset, loaded["wide"].range_stated) == (None, None, False)


def test_a_ramp_in_a_log_clip_is_recovered(tmp_path: Path) -> None:
    """Twelve frames of S-Log3 whose light rises by half a stop: through decoding, curve and following."""
    stops = np.linspace(0, 0.5, 12)

    def planes(index: int) -> list[np.ndarray]:
        rng = np.random.default_rng(index)
        picture = room().copy()
        x = 8 * index
        picture[20:80, x : x + 40] = rng.uniform(0.05, 0.5)
        return log_planes(picture * 2.0 ** stops[index] * (1 + 0.02 * rng.standard_normal((*SIZE, 1))))

    angles = []
    for name, frames_of in (("wide", counting(0.0, 24)), ("left", planes)):
        path = write_clip(
            tmp_path / f"{name}.mkv", frames_of, frames=12, size=SIZE, pix_fmt="yuv444p10le", rate=24
        )
        angles.append(Angle(name=name, media=(path,), encoding=LOG.name))
    plan = plan_clips(Setup(name="s", hero="wide", angles=tuple(angles), source=tmp_path / "s.toml"))
    assert plan is not None
    frames = [plan.clips["left"].sampled.frames.at(time) for time in plan.followed]
    assert frames[0] == 0 and frames[-1] == 11 and set(frames) == set(range(12))
    small = drift_stills(angles[1], plan)
    options = LineariseOptions()
    track = follow(
        [linearise(s, LOG, range=s.range or "full", pixel_aspect=1.0, options=options) for s in small],
        DriftOptions(),
    )
    risen = stops[frames]
    first = round(DriftOptions().first_share * len(frames))
    assert np.abs(track.exposure - (risen - risen[:first].mean())).max() < 0.05
