"""The few shapes that published transfer curves come in, with their exact inverses.

A curve is a shape and its published numbers (``huemend.encodings.curves``). Code and light run both ways
through the same numbers, a segment at a time, so that no logarithm ever sees a negative value and a code
value always comes back as itself. Codes are 0..1, 1 being the largest full-range code (or the white of a
signal); light is scene-linear, 1 being a perfect diffuser at the nominal exposure.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import log
from typing import ClassVar, Protocol

import numpy as np

from huemend.base.arrays import Float, Float64

Exact = Float64

#: Codes further out than this are read as this: no recording holds them, and their light would overflow.
CODE_LIMIT = 4.0


class Curve(Protocol):
    """Light to code and back, per channel, in float64. Curves are values: equal numbers, equal curves."""

    def __hash__(self) -> int: ...

    def encode(self, light: Float) -> Exact:
        """Return the codes of scene-linear values."""
        ...

    def decode(self, code: Float) -> Exact:
        """Return the scene-linear values of codes."""
        ...


def _exact(values: Float) -> Exact:
    return np.asarray(values, np.float64)


def _codes(values: Float) -> Exact:
    return np.clip(np.asarray(values, np.float64), -CODE_LIMIT, CODE_LIMIT)


@dataclass(frozen=True, kw_only=True)
class Linear:
    """Code is light."""

    def encode(self, light: Float) -> Exact:
        return _exact(light)

    def decode(self, code: Float) -> Exact:
        return _exact(code)


@dataclass(frozen=True, kw_only=True)
class CameraLog:
    """A logarithm over a straight toe: most camera curves, ``LogParams`` of SMPTE ST 2136-1 (CLF).

    ``code = log_side_slope * log_base(lin_side_slope * light + lin_side_offset) + log_side_offset`` above
    ``lin_side_break``, and ``linear_slope * light + linear_offset`` from there down.
    """

    base: float = 10.0
    log_side_slope: float
    log_side_offset: float
    lin_side_slope: float
    lin_side_offset: float
    lin_side_break: float
    linear_slope: float
    linear_offset: float

    @property
    def join_gap(self) -> float:
        """How far the logarithm lies above the line where they meet, in code; makers print rounded numbers."""
        x = self.lin_side_break
        curved = self.log_side_slope * log(self.lin_side_slope * x + self.lin_side_offset, self.base)
        return curved + self.log_side_offset - (self.linear_slope * x + self.linear_offset)

    def encode(self, light: Float) -> Exact:
        x = _exact(light)
        above = np.maximum(x, self.lin_side_break)
        curved = self.log_side_slope / log(self.base) * np.log(self.lin_side_slope * above + self.lin_side_offset)
        straight = self.linear_slope * x + self.linear_offset
        return np.where(x > self.lin_side_break, curved + self.log_side_offset, straight)

    def decode(self, code: Float) -> Exact:
        v = _codes(code)
        cut = self.linear_slope * self.lin_side_break + self.linear_offset
        power = np.exp((v - self.log_side_offset) * (log(self.base) / self.log_side_slope))
        curved = (power - self.lin_side_offset) / self.lin_side_slope
        return np.where(v > cut, curved, (v - self.linear_offset) / self.linear_slope)


@dataclass(frozen=True, kw_only=True)
class PureLog:
    """A logarithm without a toe; light that has no logarithm gets the code of ``darkest``."""

    base: float = 10.0
    log_side_slope: float
    log_side_offset: float
    lin_side_slope: float
    lin_side_offset: float
    darkest: float

    def encode(self, light: Float) -> Exact:
        x = np.maximum(_exact(light), self.darkest)
        power = self.lin_side_slope * x + self.lin_side_offset
        return self.log_side_slope / log(self.base) * np.log(power) + self.log_side_offset

    def decode(self, code: Float) -> Exact:
        power = np.exp((_codes(code) - self.log_side_offset) * (log(self.base) / self.log_side_slope))
        return (power - self.lin_side_offset) / self.lin_side_slope


@dataclass(frozen=True, kw_only=True)
class AcesCc:
    """ACEScc (S-2014-003): one logarithm down to 2**-15, then bent so that black has a code; no negatives."""

    def encode(self, light: Float) -> Exact:
        x = np.maximum(_exact(light), 0.0)
        curved = np.where(x < 2.0**-15, 2.0**-16 + x / 2, np.maximum(x, 2.0**-15))
        return (np.log2(curved) + 9.72) / 17.52

    def decode(self, code: Float) -> Exact:
        power = np.exp2(_codes(code) * 17.52 - 9.72)
        return np.where(power < 2.0**-15, (power - 2.0**-16) * 2, power)


@dataclass(frozen=True, kw_only=True)
class MirroredLog:
    """A logarithm on both sides of black, with a straight piece of half-width ``break_`` between (may be 0).

    ``code = offset + sign(x) * (slope * log10(1 + gain * abs(x)) + step)`` with ``x = light / white_light``.
    """

    slope: float
    gain: float
    offset: float
    step: float = 0.0
    break_: float = 0.0
    linear_slope: float = 1.0
    white_light: float = 0.9

    def encode(self, light: Float) -> Exact:
        x = _exact(light) / self.white_light
        curved = self.slope * np.log10(1 + self.gain * np.abs(x)) + self.step
        return self.offset + np.where(np.abs(x) > self.break_, np.sign(x) * curved, self.linear_slope * x)

    def decode(self, code: Float) -> Exact:
        v = _codes(code) - self.offset
        curved = (10 ** ((np.abs(v) - self.step) / self.slope) - 1) / self.gain
        x = np.where(np.abs(v) > self.linear_slope * self.break_, np.sign(v) * curved, v / self.linear_slope)
        return x * self.white_light


@dataclass(frozen=True, kw_only=True)
class QuadraticToeLog:
    """A base-2 logarithm over a parabola that starts at ``darkest``; darker light has code 0."""

    darkest: float
    break_: float
    sigma: float
    beta: float
    gamma: float
    delta: float

    def encode(self, light: Float) -> Exact:
        x = np.maximum(_exact(light), self.darkest)
        curved = self.gamma * np.log2(np.maximum(x, self.break_) + self.beta) + self.delta
        return np.where(x >= self.break_, curved, self.sigma * (x - self.darkest) ** 2)

    def decode(self, code: Float) -> Exact:
        v = _codes(code)
        cut = self.sigma * (self.break_ - self.darkest) ** 2
        curved = np.exp2((v - self.delta) / self.gamma) - self.beta
        return np.where(v >= cut, curved, np.sqrt(np.maximum(v, 0.0) / self.sigma) + self.darkest)


@dataclass(frozen=True, kw_only=True)
class CubeRootLog:
    """A natural logarithm over a cube root."""

    break_: float
    root_gain: float
    root_offset: float
    log_gain: float
    log_offset: float

    def encode(self, light: Float) -> Exact:
        x = _exact(light)
        curved = self.log_gain * np.log(np.maximum(x, self.break_)) + self.log_offset
        return np.where(x < self.break_, self.root_gain * np.cbrt(x + self.root_offset), curved)

    def decode(self, code: Float) -> Exact:
        v = _codes(code)
        cut = self.root_gain * np.cbrt(self.break_ + self.root_offset)
        curved = np.exp((v - self.log_offset) / self.log_gain)
        return np.where(v < cut, (v / self.root_gain) ** 3 - self.root_offset, curved)


@dataclass(frozen=True, kw_only=True)
class ToedPower:
    """A power over a straight toe: ``code = (1 + offset) * light**exponent - offset``, or ``slope * light``."""

    exponent: float
    offset: float
    break_: float
    slope: float

    def encode(self, light: Float) -> Exact:
        x = _exact(light)
        curved = (1 + self.offset) * np.maximum(x, self.break_) ** self.exponent - self.offset
        return np.where(x > self.break_, curved, self.slope * x)

    def decode(self, code: Float) -> Exact:
        v = _codes(code)
        cut = self.slope * self.break_
        curved = ((np.maximum(v, cut) + self.offset) / (1 + self.offset)) ** (1 / self.exponent)
        return np.where(v > cut, curved, v / self.slope)


@dataclass(frozen=True, kw_only=True)
class PurePower:
    """``light = code**gamma``, mirrored below black so that it can be undone."""

    gamma: float

    def encode(self, light: Float) -> Exact:
        x = _exact(light)
        return np.sign(x) * np.abs(x) ** (1 / self.gamma)

    def decode(self, code: Float) -> Exact:
        v = _codes(code)
        return np.sign(v) * np.abs(v) ** self.gamma


@dataclass(frozen=True, kw_only=True)
class HybridLogGamma:
    """The opto-electronic curve of hybrid log-gamma; ``white`` is the light of a perfect diffuser in 0..1."""

    a: float
    white: float

    def _bc(self) -> tuple[float, float]:
        b = 1 - 4 * self.a
        return b, 0.5 - self.a * log(4 * self.a)

    def encode(self, light: Float) -> Exact:
        x = _exact(light) * self.white
        b, c = self._bc()
        curved = self.a * np.log(12 * np.maximum(x, 1 / 12) - b) + c
        return np.where(x > 1 / 12, curved, np.sign(x) * np.sqrt(3 * np.abs(x)))

    def decode(self, code: Float) -> Exact:
        v = _codes(code)
        b, c = self._bc()
        curved = (np.exp((v - c) / self.a) + b) / 12
        return np.where(v > 0.5, curved, np.sign(v) * v * v / 3) / self.white


@dataclass(frozen=True, kw_only=True)
class PerceptualQuantizer:
    """The electro-optical curve of perceptual quantization; ``white`` is the luminance (cd/m2) of light 1.

    It ends at code 1 (10,000 cd/m2): codes and light beyond the ends are read as the ends.
    """

    white: float
    peak: ClassVar[float] = 10_000.0
    m1: ClassVar[float] = 2610 / 16384
    m2: ClassVar[float] = 2523 / 4096 * 128
    c1: ClassVar[float] = 3424 / 4096
    c2: ClassVar[float] = 2413 / 4096 * 32
    c3: ClassVar[float] = 2392 / 4096 * 32

    def encode(self, light: Float) -> Exact:
        y = np.clip(_exact(light) * (self.white / self.peak), 0.0, 1.0) ** self.m1
        return ((self.c1 + self.c2 * y) / (1 + self.c3 * y)) ** self.m2

    def decode(self, code: Float) -> Exact:
        v = np.clip(_exact(code), 0.0, 1.0) ** (1 / self.m2)
        y = np.maximum(v - self.c1, 0.0) / (self.c2 - self.c3 * v)
        return y ** (1 / self.m1) * (self.peak / self.white)


@dataclass(frozen=True, kw_only=True)
class Table:
    """Light at evenly spaced codes from 0 to 1, strictly rising; straight lines between and beyond."""

    light: tuple[float, ...]
    _knots: tuple[Exact, Exact] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        light = np.asarray(self.light, np.float64)
        if light.ndim != 1 or light.size < 2 or not np.isfinite(light).all() or not (np.diff(light) > 0).all():
            raise ValueError("a table needs at least two finite values, each larger than the one before")
        code = np.linspace(0.0, 1.0, light.size)
        # One knot beyond each end continues the outermost pieces as far as codes are read.
        first = light[0] - (CODE_LIMIT / code[1]) * (light[1] - light[0])
        last = light[-1] + (CODE_LIMIT - 1) / code[1] * (light[-1] - light[-2])
        knots = (np.r_[-CODE_LIMIT, code, CODE_LIMIT], np.r_[first, light, last])
        object.__setattr__(self, "_knots", knots)

    def encode(self, light: Float) -> Exact:
        code, knots = self._knots
        return np.asarray(np.interp(_exact(light), knots, code), np.float64)

    def decode(self, code: Float) -> Exact:
        codes, knots = self._knots
        return np.asarray(np.interp(_exact(code), codes, knots), np.float64)
