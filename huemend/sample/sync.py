"""When each angle's clip was recorded, on the hero's clock.

In this order: an offset that the setup file states, start timecode, the sound that all cameras heard, and last of
all the frame number. What was used is part of the record, with a confidence where there is one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

import numpy as np

from huemend.base.arrays import Float, Float32
from huemend.media.clipinfo import ClipInfo
from huemend.model.clips import Sync
from huemend.model.timecode import DAY_SECONDS
from huemend.options import ClipOptions

ReadAudio = Callable[[ClipInfo, int], "tuple[Float32, Fraction] | None"]

#: Peaks closer to the best one than this many seconds are its own flanks, or the room answering.
_FLANK = 0.1
#: Sound below and above is rumble and hiss.
_BAND = (80.0, 3600.0)
#: Share of whitening: 1 keeps phase only (sharp but noisy), 0 keeps the spectrum (blunt in a room).
_WHITENING = 0.7


def synchronise(
    infos: Mapping[str, ClipInfo],
    hero: str,
    *,
    offsets: Mapping[str, float] | None = None,
    read_audio: ReadAudio,
    options: ClipOptions | None = None,
) -> dict[str, Sync]:
    """Bring the clips of a setup to one clock.

    ``offsets`` are the seconds that the setup file states. ``read_audio`` gives the samples of a clip at a
    rate and the time of the first sample, or None without sound.
    """
    options = options or ClipOptions()
    offsets = offsets or {}
    base = infos[hero]
    out = {hero: Sync(start=Fraction(0), how="hero", confidence=1.0, text="the hero's first frame is time zero")}
    sound: list[Any] = []  # the hero's, read once and only if it is needed
    for name, info in infos.items():
        if name == hero:
            continue
        if name in offsets:
            start = Fraction(offsets[name]).limit_denominator(1_000_000)
            text = f"starts {float(start):+.3f} s from the hero, as the setup file states"
            out[name] = Sync(start=start, how="stated offset", confidence=1.0, text=text)
            continue
        found, why = _by_timecode(base, info)
        if found is None and base.audio and info.audio:
            if not sound:
                sound.append(read_audio(base, options.audio_rate))
            found, heard = _by_audio(sound[0], read_audio(info, options.audio_rate), options)
            why = f"{why}; {heard}" if heard else why
        elif found is None:
            why = f"{why}; no sound on both clips"
        if found is None:
            text = f"frame numbers taken for times, since {why}"
            found = Sync(start=Fraction(0), how="frame number", confidence=0.0, text=text)
        out[name] = found
    return out


def _by_timecode(hero: ClipInfo, info: ClipInfo) -> tuple[Sync | None, str]:
    if hero.timecode is None or info.timecode is None:
        who = "both clips carry" if hero.timecode is None and info.timecode is None else "one of the clips carries"
        return None, f"{who} no start timecode"
    if _keeps_clock(hero) != _keeps_clock(info):
        # Labels of 23.976 lose 3.6 s an hour on the clock: without the moment of jam-sync they say nothing.
        return None, "the timecodes count at different speeds (1000/1001 against the clock)"
    start = info.timecode.seconds - hero.timecode.seconds
    day = Fraction(DAY_SECONDS) if _keeps_clock(hero) else Fraction(DAY_SECONDS * 1001, 1000)
    start = (start + day / 2) % day - day / 2  # a take may run past midnight
    if start >= hero.duration or start + info.duration <= 0:
        return None, f"the timecodes ({hero.timecode} and {info.timecode}) share no moment"
    text = f"start timecode {info.timecode} against {hero.timecode}: {float(start):+.3f} s from the hero"
    return Sync(start=start, how="timecode", confidence=1.0, text=text), ""


def _keeps_clock(info: ClipInfo) -> bool:
    assert info.timecode is not None
    return info.timecode.drop or info.fps.denominator == 1


def _by_audio(
    hero: tuple[Float32, Fraction] | None,
    angle: tuple[Float32, Fraction] | None,
    options: ClipOptions,
) -> tuple[Sync | None, str]:
    if hero is None or angle is None:
        return None, "a clip's sound is silent"
    lag, confidence = align_audio(hero[0], angle[0], options.audio_rate)
    if confidence < options.audio_confidence:
        return None, f"the sound does not agree (confidence {confidence:.2f})"
    start = hero[1] + Fraction(lag).limit_denominator(1_000_000) - angle[1]
    text = f"sound: starts {float(start):+.3f} s from the hero, confidence {confidence:.2f}"
    return Sync(start=start, how="audio", confidence=confidence, text=text), ""


def align_audio(hero: Float, angle: Float, rate: int) -> tuple[float, float]:
    """Find when a recording started by the sound that it shares with another, both sampled at ``rate``.

    Generalised cross-correlation with partial phase weighting (Knapp & Carter, The generalized correlation
    method for estimation of time delay, 1976), so that neither level nor the colour of a microphone matters.
    Returned are the seconds from the first sample of ``hero`` to that of ``angle``, and a confidence: 1 minus
    the height of the next best place over the best, 0.05 or so for unrelated sound.
    """
    from scipy.fft import irfft, next_fast_len, rfft, rfftfreq

    if min(len(hero), len(angle)) < rate // 10:
        return 0.0, 0.0
    length = next_fast_len(len(hero) + len(angle), real=True)
    one = rfft(np.asarray(hero, np.float32) - np.float32(hero.mean()), length)
    cross = one * np.conj(rfft(np.asarray(angle, np.float32) - np.float32(angle.mean()), length))
    frequency = rfftfreq(length, 1 / rate)
    size = np.abs(cross)
    floor = float(size.mean()) * 1e-3
    if floor == 0.0:
        return 0.0, 0.0
    cross /= (size + floor) ** _WHITENING
    cross[(frequency < _BAND[0]) | (frequency > min(_BAND[1], 0.45 * rate))] = 0
    curve = irfft(cross, length)
    best = int(curve.argmax())
    peak = float(curve[best])
    if peak <= 0.0:
        return 0.0, 0.0
    flank = max(1, round(_FLANK * rate))
    others = np.concatenate([curve[best + flank + 1 :], curve[: max(best - flank, 0)]])
    if best < flank:  # the curve is a ring
        others = others[: len(others) - (flank - best)]
    second = float(others.max()) if others.size else 0.0
    # A parabola through the peak and its neighbours gives the place between samples.
    left, right = float(curve[best - 1]), float(curve[(best + 1) % length])
    bend = left - 2 * peak + right
    between = 0.5 * (left - right) / bend if bend < 0 else 0.0
    lag = best + between
    if best >= len(hero):  # the far end of the ring: the angle started before the hero
        lag -= length
    return lag / rate, float(np.clip(1 - second / peak, 0.0, 1.0))
