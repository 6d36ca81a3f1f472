"""The lag between two recordings of one coloured sound, against scipy's correlation and a known delay."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from huemend.options import ClipOptions
from huemend.sample.sync import align_audio

RATE = 8000


def coloured(seed: int, seconds: int = 40) -> np.ndarray:
    """Noise whose power falls with frequency, as that of speech and rooms does (pink: one over f)."""
    rng = np.random.default_rng([21, seed])
    samples = seconds * RATE
    frequency = np.fft.rfftfreq(samples, 1 / RATE)
    frequency[0] = frequency[1]
    out = np.fft.irfft(np.fft.rfft(rng.standard_normal(samples)) / np.sqrt(frequency), samples)
    return np.asarray(out / out.std())


def heard(seed: int) -> tuple[np.ndarray, np.ndarray, int]:
    """One sound by two microphones, the second in another corner of the room; with the delay in samples."""
    rng = np.random.default_rng([22, seed])
    world = coloured(seed)
    delay = int(rng.integers(-5 * RATE, 5 * RATE))
    hero, angle = world[10 * RATE : 30 * RATE], world[10 * RATE + delay : 25 * RATE + delay]
    room = np.exp(-np.arange(1600) / 400) * rng.standard_normal(1600)
    room[0] += 8
    angle = np.convolve(angle, room)[: len(angle)]
    return hero, angle / angle.std(), delay


@pytest.mark.parametrize("seed", range(4))
def test_the_lag_is_that_of_scipys_correlation(seed: int) -> None:
    hero, angle, delay = heard(seed)
    start, confidence = align_audio(hero, angle, RATE)
    # scipy.signal.correlate of the same sound, whitened first by a difference, which is what pink noise asks for.
    flat = [signal.lfilter([1.0, -0.95], [1.0], each) for each in (hero, angle)]
    lags = signal.correlation_lags(len(hero), len(angle))
    by_scipy = int(lags[np.argmax(signal.correlate(*flat))])
    assert by_scipy == delay
    assert start * RATE == pytest.approx(by_scipy, abs=0.5)
    assert confidence > ClipOptions().audio_confidence


def hum(samples: int, phase: float) -> np.ndarray:
    """Twice the mains' 50 Hz, which lamps and transformers sing at (common practice, no source)."""
    return np.sin(2 * np.pi * 100 * np.arange(samples) / RATE + phase)


@pytest.mark.parametrize("seed", range(4))
def test_a_hum_as_loud_as_the_sound_does_not_lead_astray(seed: int) -> None:
    # It repeats a hundred times a second, so that a correlation of the bare sound has a peak at every hundredth
    # of a second; whitened, it is one frequency of thousands.
    hero, angle, delay = heard(seed)
    hero, angle = hero + hum(len(hero), 0.0), angle + hum(len(angle), 1.0)
    start, confidence = align_audio(hero, angle, RATE)
    assert start * RATE == pytest.approx(delay, abs=0.5)
    assert confidence > ClipOptions().audio_confidence
