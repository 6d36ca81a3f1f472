"""When each angle was recorded: by timecode, by sound, as stated, by frame number; and the record says which."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from huemend.media.clipinfo import ClipInfo
from huemend.media.signal import signal_of
from huemend.model.timecode import Timecode
from huemend.options import ClipOptions
from huemend.sample.sync import align_audio, synchronise

RATE = 8000
NTSC = Fraction(30000, 1001)


def info(
    fps: Fraction = Fraction(25), frames: int = 500, timecode: str | None = None, audio: bool = False
) -> ClipInfo:
    return ClipInfo(
        path=Path("clip.mov"),
        size=(1080, 1920),
        fps=fps,
        even=True,
        frames=frames,
        timecode=Timecode.parse(timecode, fps) if timecode else None,
        codec="prores",
        pix_fmt="yuv422p10le",
        signal=signal_of("yuv422p10le", (1080, 1920)),
        transfer="untagged",
        primaries="untagged",
        tags=None,
        rotation=0,
        pixel_aspect=1.0,
        audio=audio,
        reel="",
        interlaced=False,
    )


def no_sound(_: ClipInfo, __: int) -> None:
    raise AssertionError("the sound is not needed")


def test_timecode_at_different_rates() -> None:
    infos = {
        "wide": info(Fraction(25), timecode="10:00:00:00"),
        "left": info(Fraction(50), timecode="10:00:02:10"),
        "right": info(Fraction(24), timecode="09:59:58:12"),
    }
    found = synchronise(infos, "wide", read_audio=no_sound)
    assert (found["left"].start, found["left"].how) == (Fraction(2) + Fraction(10, 50), "timecode")
    assert found["right"].start == Fraction(-3, 2)
    assert "10:00:02:10" in found["left"].text


def test_drop_frame_timecode() -> None:
    # ST 12-1: 00:10:00;00 is frame 17982, 00:09:59;29 the frame before it.
    infos = {"wide": info(NTSC, timecode="00:09:59;29"), "left": info(NTSC, timecode="00:10:00;00")}
    assert synchronise(infos, "wide", read_audio=no_sound)["left"].start == 1 / NTSC


def test_a_take_past_midnight() -> None:
    infos = {"wide": info(timecode="23:59:58:00"), "left": info(timecode="00:00:01:00")}
    assert synchronise(infos, "wide", read_audio=no_sound)["left"].start == 3


def test_clocks_of_different_speed_do_not_count() -> None:
    infos = {
        "wide": info(Fraction(24000, 1001), timecode="10:00:00:00"),
        "left": info(Fraction(25), timecode="10:00:00:00"),
    }
    found = synchronise(infos, "wide", read_audio=no_sound)["left"]
    assert found.how == "frame number" and "different speeds" in found.text and found.confidence == 0


def test_timecodes_that_share_no_moment_do_not_count() -> None:
    infos = {"wide": info(timecode="10:00:00:00"), "left": info(timecode="11:00:00:00")}
    found = synchronise(infos, "wide", read_audio=no_sound)["left"]
    assert found.how == "frame number" and "share no moment" in found.text


def test_what_the_setup_file_states_wins() -> None:
    infos = {"wide": info(timecode="10:00:00:00"), "left": info(timecode="10:00:02:00")}
    found = synchronise(infos, "wide", offsets={"left": -1.25}, read_audio=no_sound)["left"]
    assert (found.start, found.how, found.confidence) == (Fraction(-5, 4), "stated offset", 1.0)


def test_sound_decides_without_timecode_and_is_read_once() -> None:
    rng = np.random.default_rng(4)
    world = rng.standard_normal(20 * RATE).astype(np.float32)
    sound = {"wide": world[: 12 * RATE], "left": world[3 * RATE : 14 * RATE], "mute": None}
    reads: list[str] = []
    infos = {name: replace(info(audio=True), reel=name) for name in sound}

    def read(which: ClipInfo, rate: int) -> tuple[np.ndarray, Fraction] | None:
        assert rate == RATE
        reads.append(which.reel)
        samples = sound[which.reel]
        return None if samples is None else (samples, Fraction(0))

    found = synchronise(infos, "wide", read_audio=read)
    assert found["left"].how == "audio" and float(found["left"].start) == pytest.approx(3.0, abs=1e-3)
    assert 0.5 < found["left"].confidence <= 1 and "confidence" in found["left"].text
    assert found["mute"].how == "frame number" and "silent" in found["mute"].text
    assert reads.count("wide") == 1


def test_unrelated_sound_does_not_decide() -> None:
    rng = np.random.default_rng(5)

    def read(_: ClipInfo, rate: int) -> tuple[np.ndarray, Fraction]:
        return rng.standard_normal(10 * rate).astype(np.float32), Fraction(0)

    found = synchronise({"wide": info(audio=True), "left": info(audio=True)}, "wide", read_audio=read)["left"]
    assert found.how == "frame number" and "does not agree" in found.text


def test_the_start_of_each_sound_counts() -> None:
    world = np.random.default_rng(6).standard_normal(12 * RATE).astype(np.float32)
    starts = {"wide": Fraction(1, 10), "left": Fraction(-1, 20)}

    def read(which: ClipInfo, rate: int) -> tuple[np.ndarray, Fraction]:
        return (world if which.reel == "wide" else world[2 * rate :]), starts[which.reel]

    infos = {name: replace(info(audio=True), reel=name) for name in starts}
    found = synchronise(infos, "wide", read_audio=read)["left"]
    # The sound says +2 s between first samples; each lies 0.1 and -0.05 s from its first picture.
    assert float(found.start) == pytest.approx(2 + 0.1 + 0.05, abs=1e-3)


def trial(seed: int) -> tuple[np.ndarray, np.ndarray, float]:
    """Noise heard by two cameras: delay, gain, another room, noise of their own at about the same level."""
    rng = np.random.default_rng([9, seed])
    world = rng.standard_normal(60 * RATE)
    delay = rng.uniform(-10, 10)
    shift = round(delay * RATE)
    hero = world[15 * RATE : 45 * RATE]
    angle = world[15 * RATE + shift : 35 * RATE + shift]
    room = np.exp(-np.arange(800) / 200) * rng.standard_normal(800)
    room[0] += 5
    angle = np.convolve(angle, room)[: len(angle)]
    gain = 10 ** rng.uniform(-2, 1)
    angle = gain * (angle / angle.std() + 0.7 * rng.standard_normal(len(angle)))
    return hero + 0.5 * rng.standard_normal(len(hero)), angle, shift / RATE


@pytest.mark.slow
def test_fifty_trials_to_within_half_a_frame() -> None:
    errors, confidences = [], []
    for seed in range(50):
        hero, angle, delay = trial(seed)
        start, confidence = align_audio(hero, angle, RATE)
        errors.append(abs(start - delay))
        confidences.append(confidence)
    assert max(errors) < 0.5 / 60  # half a frame of the fastest usual rate
    assert min(confidences) > ClipOptions().audio_confidence
    wrong = [align_audio(trial(seed)[0], trial(seed + 1)[1], RATE)[1] for seed in range(12)]
    assert max(wrong) < ClipOptions().audio_confidence


def test_a_repeating_sound_is_not_trusted() -> None:
    click = np.zeros(RATE)
    click[:200] = np.random.default_rng(7).standard_normal(200)
    beat = np.tile(click, 20)
    _, confidence = align_audio(beat, beat[5 * RATE : 15 * RATE], RATE)
    assert confidence < ClipOptions().audio_confidence


@pytest.mark.parametrize("samples", [np.zeros(RATE), np.zeros(0), np.ones(10)])
def test_nothing_to_hear(samples: np.ndarray) -> None:
    noise = np.random.default_rng(0).standard_normal(RATE)
    assert align_audio(noise, samples, RATE) == (0.0, 0.0)
