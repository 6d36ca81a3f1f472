"""Sound: the right samples at the right time after the first picture."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import correlate, resample_poly

from huemend.errors import MediaError
from huemend.media.audio import read_mono
from tests.clipmaker import moving_planes, write_clip

SIZE = (48, 64)


def clip(path: Path, sound: np.ndarray | None) -> Path:
    return write_clip(
        path, moving_planes("yuv420p", SIZE), frames=50, size=SIZE, codec="libx264", pix_fmt="yuv420p", audio=sound
    )


@pytest.mark.parametrize("suffix", ["mov", "mp4", "mkv"])
def test_sound_is_where_it_was_put(suffix: str, tmp_path: Path) -> None:
    noise = (0.1 * np.random.default_rng(1).standard_normal(96_000)).astype(np.float32)
    read = read_mono(clip(tmp_path / f"a.{suffix}", noise), 8000)
    assert read is not None
    samples, start = read
    wanted = resample_poly(noise, 1, 6)  # scipy's resampler, as an outside reader of the same sound
    count = min(len(samples), len(wanted))
    curve = correlate(samples[:count], wanted[:count], mode="full", method="fft")
    lag = (int(curve.argmax()) - (count - 1)) / 8000 + float(start)
    assert abs(lag) < 0.0005


def test_no_sound_and_silence_are_none(tmp_path: Path) -> None:
    assert read_mono(clip(tmp_path / "a.mov", None), 8000) is None
    assert read_mono(clip(tmp_path / "b.mov", np.zeros(48_000, np.float32)), 8000) is None


def test_the_length_read_is_bounded(tmp_path: Path) -> None:
    noise = (0.1 * np.random.default_rng(1).standard_normal(96_000)).astype(np.float32)
    read = read_mono(clip(tmp_path / "a.mov", noise), 8000, longest=0.5)
    assert read is not None
    assert 4000 <= len(read[0]) <= 4000 + 8000 and read[1] == Fraction(0)


def test_what_is_no_media(tmp_path: Path) -> None:
    (tmp_path / "x.mov").write_bytes(b"nothing of the kind" * 20)
    with pytest.raises(MediaError, match=r"x\.mov: its sound cannot be read"):
        read_mono(tmp_path / "x.mov", 8000)
