"""Head, hair and eyes, in the head's own frame: the origin between the ears, the face towards -y."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..mesh import Finish, Part, placed
from ..texture import Paint, smoothstep, solid_noise
from .looks import Look, Point
from .shapes import both_sides, cone, cut, ellipsoid, join

Array = NDArray[Any]

__all__ = ["EYE", "eyeball", "hair_distance", "head_distance", "skin_paint"]


EYE_FINISH = Finish(0.12, 0.5)


EYE: Point = (0.0315, -0.0755, 0.004)


def head_distance(p: Array, look: Look) -> Array:
    """Skin of head and neck."""
    q = both_sides(p)
    skull = ellipsoid(p, (0, 0.014, 0.032), (0.075, 0.096, 0.090))
    face = ellipsoid(p, (0, -0.022, -0.034), (0.059, 0.070, 0.086))
    d = join(skull, face, 0.03)
    d = join(d, ellipsoid(p, (0, -0.048, -0.088), (0.043 * look.jaw, 0.041, 0.033)), 0.03)
    d = join(d, ellipsoid(q, (0.042 * look.jaw, -0.012, -0.064), (0.017, 0.033, 0.026)), 0.03)
    d = join(d, ellipsoid(q, (0.040, -0.058, -0.028), (0.025, 0.026, 0.022)), 0.02)
    d = join(d, cone(q, (0.012, -0.085, 0.029), (0.046, -0.070, 0.028), 0.009, 0.008), 0.016)
    d = cut(d, ellipsoid(q, (0.0315, -0.097, 0.004), (0.0185, 0.019, 0.013)), 0.010)
    bridge = cone(p, (0, -0.083, 0.016), (0, -0.1075, -0.0245), 0.0085, 0.0105 * look.nose)
    d = join(d, bridge, 0.010)
    d = join(d, ellipsoid(p, (0, -0.108, -0.029), (0.0135 * look.nose, 0.0125, 0.0115)), 0.006)
    d = join(d, ellipsoid(q, (0.0125 * look.nose, -0.0985, -0.032), (0.0085, 0.0105, 0.0080)), 0.006)
    d = cut(d, ellipsoid(q, (0.0065, -0.108, -0.0415), (0.0036, 0.0052, 0.0035)), 0.003)
    d = join(d, ellipsoid(p, (0, -0.0825, -0.068), (0.027, 0.0165, 0.019)), 0.010)
    d = join(d, cone(q, (0.0, -0.0972, -0.0622), (0.022, -0.0872, -0.0632), 0.0042, 0.0024), 0.004)
    d = join(d, cone(q, (0.0, -0.0962, -0.0722), (0.019, -0.0880, -0.0672), 0.0052, 0.0026), 0.004)
    d = cut(d, cone(q, (0.0, -0.1020, -0.0672), (0.027, -0.0890, -0.0622), 0.0015, 0.0011), 0.002)
    d = join(d, ellipsoid(p, (0, -0.082, -0.103), (0.021 * look.jaw, 0.016, 0.014)), 0.014)
    # Lids: a shell around the eyeball, open in the middle.
    eye = np.linalg.norm(q - np.asarray(EYE, np.float32), axis=1)
    upper = np.maximum(eye - 0.0152, EYE[2] + 0.0034 + 0.0012 * look.eyes - 0.15 * (q[:, 0] - EYE[0]) - q[:, 2])
    lower = np.maximum(eye - 0.0148, q[:, 2] - (EYE[2] - 0.0062))
    d = join(d, np.minimum(upper, lower), 0.003)
    ear = ellipsoid(q, (0.077, 0.014, -0.006), (0.009, 0.021, 0.033))
    ear = cut(ear, ellipsoid(q, (0.086, 0.007, -0.002), (0.007, 0.011, 0.019)), 0.005)
    d = join(d, ear, 0.006)
    neck = cone(p, (0, 0.022, -0.070), (0, 0.040, -0.235), 0.048, 0.054)
    d = join(d, neck, 0.03)
    return d


def hair_distance(p: Array, look: Look, seed: int) -> Array:
    """Hair (or scarf) around the skull."""
    strands = np.arctan2(p[:, 0], -p[:, 1] + 0.02) + 0.35 * solid_noise(p, 0.06, seed + 7, 2)
    wave = 0.0015 * np.sin(strands * 38 + 50 * p[:, 2]) + 0.004 * solid_noise(p, 0.05, seed)
    wave = wave + 0.0012 * solid_noise(p, 0.008, seed + 3, 2)
    skull = ellipsoid(p, (0, 0.018, 0.034), (0.083, 0.104, 0.098))
    # The hairline: above a slanted plane, higher at the front than at the nape.
    front = 0.062 - 0.075 * smoothstep(-0.075, 0.02, p[:, 1]) - 0.055 * smoothstep(0.02, 0.09, p[:, 1])
    line = front - p[:, 2] + 0.006 * solid_noise(p, 0.02, seed + 1)
    if look.style == "curly":
        puff = ellipsoid(p, (0, 0.022, 0.050), (0.098, 0.112, 0.104)) + 0.012 * solid_noise(p, 0.028, seed, 2)
        return np.maximum(puff, line - 0.004)
    if look.style == "scarf":
        wrap = ellipsoid(p, (0, 0.020, 0.036), (0.0835, 0.105, 0.099)) + 0.0016 * np.sin(
            p[:, 2] * 260 + p[:, 1] * 120
        )
        line = 0.050 - 0.105 * smoothstep(-0.075, 0.05, p[:, 1]) - p[:, 2]
        knot = ellipsoid(p, (0.0, 0.128, -0.012), (0.022, 0.020, 0.016))
        tail = cone(p, (0.0, 0.132, -0.02), (0.035, 0.140, -0.10), 0.012, 0.018)
        return join(np.maximum(wrap, line), np.minimum(knot, tail), 0.012)
    d = np.maximum(skull + wave, line)
    if look.style == "bob":
        q = both_sides(p)
        side = ellipsoid(q, (0.074, 0.030, -0.036), (0.022, 0.058, 0.086)) + wave
        back = ellipsoid(p, (0, 0.080, -0.040), (0.078, 0.040, 0.084)) + wave
        d = join(d, np.minimum(side, back), 0.02)
        fringe = ellipsoid(p, (0.022, -0.070, 0.078), (0.050, 0.022, 0.020)) + wave
        d = join(d, fringe, 0.012)
    elif look.style == "bun":
        bun = ellipsoid(p, (0.004, 0.060, 0.142), (0.044, 0.042, 0.036)) + 0.0022 * np.sin(
            p[:, 2] * 260 + strands * 14
        )
        d = join(d, bun, 0.008)
        q = both_sides(p)
        swept = cone(q, (0.012, -0.078, 0.094), (0.078, -0.012, 0.030), 0.017, 0.013) + wave
        lock = cone(q, (0.078, -0.012, 0.030), (0.079, 0.004, -0.020), 0.011, 0.005)
        d = join(d, np.minimum(swept, lock), 0.012)
    elif look.style == "short":
        tuft = ellipsoid(p, (0.012, -0.042, 0.108), (0.056, 0.046, 0.026)) + 1.6 * wave
        d = join(d, np.maximum(tuft, line - 0.006), 0.015)
    return d


def skin_paint(p: Array, look: Look, seed: int) -> Paint:
    """Tone, flush, lips, brows and stubble, in the head's frame."""
    surface, gain = look.skin
    paint = Paint(len(p), surface, gain)
    paint.shade(1 + 0.05 * solid_noise(p, 0.05, seed) + 0.05 * solid_noise(p, 0.010, seed + 1))
    q = both_sides(p)
    flush = 0.30 * np.exp(-((np.linalg.norm(q - np.array([0.042, -0.075, -0.030]), axis=1) / 0.020) ** 2))
    flush += 0.28 * np.exp(-((np.linalg.norm(p - np.array([0, -0.112, -0.030]), axis=1) / 0.013) ** 2))
    flush += 0.30 * np.exp(-((np.linalg.norm(q - np.array([0.082, 0.014, -0.006]), axis=1) / 0.025) ** 2))
    paint.over("peach red", flush * 0.42, gain * 0.9)
    lips = np.minimum(
        cone(q, (0.0, -0.0990, -0.0622), (0.023, -0.0885, -0.0632), 0.0052, 0.0020),
        cone(q, (0.0, -0.0980, -0.0722), (0.020, -0.0895, -0.0668), 0.0060, 0.0024),
    )
    paint.over("peach red", look.lips * (1 - smoothstep(-0.0015, 0.0022, lips)), gain * 0.85)
    dark = 0.35 * np.exp(
        -((np.linalg.norm((q - np.array([0.032, -0.088, 0.002])) / [1, 1, 0.7], axis=1) / 0.016) ** 2)
    )
    paint.shade(1 - dark)
    away = np.linalg.norm(q - np.array(EYE), axis=1)
    rim = EYE[2] + 0.0034 + 0.0012 * look.eyes - 0.15 * (q[:, 0] - EYE[0])
    lash = (
        np.exp(-(((p[:, 2] - rim - 0.0006) / 0.0013) ** 2))
        * (1 - smoothstep(0.0158, 0.0172, away))
        * (p[:, 1] < EYE[1])
    )
    paint.over("hair black", 0.75 * lash)
    brow = np.minimum(
        cone(q, (0.0165, -0.097, 0.0290), (0.034, -0.089, 0.0340), 0.0046, 0.0042),
        cone(q, (0.034, -0.089, 0.0340), (0.049, -0.075, 0.0290), 0.0042, 0.0024),
    )
    brow = brow + 0.0022 * look.eyes
    grain = 0.5 + 0.5 * solid_noise(p * np.array([1, 1, 3.0]), 0.006, seed + 2)
    hair, hair_gain = look.hair
    paint.over(hair, (1 - smoothstep(-0.002, 0.0045, brow)) * (0.70 + 0.3 * grain), hair_gain * 0.9)
    if look.beard:
        chin = 1 - smoothstep(-0.068, -0.040, p[:, 2])
        front = 1 - smoothstep(-0.035, 0.012, p[:, 1])
        moustache = np.exp(
            -((np.linalg.norm((q - np.array([0.012, -0.100, -0.051])) / [2.2, 1.4, 0.6], axis=1) / 0.011) ** 2)
        )
        below = smoothstep(-0.135, -0.110, p[:, 2])
        mask = np.clip(chin * front * below * smoothstep(0.004, 0.010, lips) + moustache, 0, 1)
        paint.over(hair, mask * (0.45 + 0.35 * grain), hair_gain)
    return paint


def eyeball(side: float, look: Look, gaze: float) -> Part:
    """An eye: white, iris with a darker rim, pupil."""
    steps = 48
    theta = np.linspace(0, np.pi, steps)
    phi = np.linspace(0, 2 * np.pi, steps + 1)
    t, f = np.meshgrid(theta, phi, indexing="ij")
    grid = np.stack([np.sin(t) * np.cos(f), -np.cos(t), np.sin(t) * np.sin(f)], -1).reshape(-1, 3)
    index = np.arange(len(grid)).reshape(t.shape)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]
    faces = np.concatenate([np.stack([a, c, b], -1).reshape(-1, 3), np.stack([a, d, c], -1).reshape(-1, 3)])
    angle = np.arccos(np.clip(-grid[:, 1], -1, 1))
    paint = Paint(len(grid), "table cloth white", 0.85)
    paint.over(look.iris, 1 - smoothstep(0.50, 0.54, angle), 1.1)
    paint.over("hair black", smoothstep(0.42, 0.50, angle) * (1 - smoothstep(0.52, 0.58, angle)) * 0.6)
    paint.over("hair black", 1 - smoothstep(0.20, 0.24, angle))
    eye = Part(vertices=grid * 0.0132, faces=faces, paint=paint, finish=EYE_FINISH, kind="skin", smooth=True)
    return placed([eye], (side * EYE[0], EYE[1], EYE[2]), turn=gaze)[0]
