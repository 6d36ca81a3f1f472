"""Trunk, arms and clothes of a person who stands at the origin facing -y."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..texture import Paint, smoothstep, solid_noise
from .looks import Look, Pose
from .shapes import both_sides, cone, ellipsoid, join

Array = NDArray[Any]

__all__ = [
    "apron_paint",
    "arm_points",
    "band",
    "garment_distance",
    "garment_paint",
    "leaned",
    "legs_distance",
    "trunk_distance",
]


def arm_points(pose: Pose) -> list[tuple[Array, Array, Array]]:
    """Shoulder, elbow and wrist of both arms, right first."""
    arms = []
    for side, wrist in ((-1.0, pose.right), (1.0, pose.left)):
        shoulder = np.array([side * 0.172, 0.015 - 0.0055 * pose.lean, 1.385])
        target = np.asarray(wrist, float)
        upper, fore = 0.285, 0.255
        reach = target - shoulder
        length = min(float(np.linalg.norm(reach)), (upper + fore) * 0.995)
        reach = reach / np.linalg.norm(reach)
        target = shoulder + reach * length
        along = (upper**2 - fore**2 + length**2) / (2 * length)
        out = np.sqrt(max(upper**2 - along**2, 1e-6))
        hint = np.array([side * 0.55, 0.45, -0.9])
        bend = hint - reach * (hint @ reach)
        elbow = shoulder + reach * along + out * bend / np.linalg.norm(bend)
        arms.append((shoulder, elbow, target))
    return arms


def leaned(p: Array, lean: float) -> Array:
    """Undo the lean: bend space about the hips."""
    a = np.deg2rad(lean)
    q = p.copy()
    q[:, 1] += np.tan(a) * np.clip(p[:, 2] - 0.95, 0, None)
    return q


def trunk_distance(p: Array, look: Look, lean: float) -> Array:
    """Chest, waist and hips."""
    q = leaned(p, lean)
    g = look.girth
    d = ellipsoid(q, (0, 0.005, 1.285), (0.165 * g, 0.112 * g, 0.165))
    d = join(d, ellipsoid(q, (0, 0.0, 1.08), (0.140 * g, 0.108 * g, 0.17)), 0.06)
    d = join(d, ellipsoid(q, (0, 0.005, 0.92), (0.168 * g, 0.122 * g, 0.135)), 0.06)
    d = join(d, cone(both_sides(q), (0.03, 0.02, 1.425), (0.164, 0.015, 1.382), 0.044, 0.052), 0.05)
    return join(d, cone(q, (0, 0.025, 1.39), (0, 0.035, 1.450), 0.080, 0.062), 0.03)


def garment_distance(p: Array, look: Look, pose: Pose, seed: int) -> Array:
    """Shirt with sleeves and folds."""
    d = trunk_distance(p, look, pose.lean)
    for shoulder, elbow, wrist in arm_points(pose):
        end = elbow + (wrist - elbow) * look.sleeves
        d = join(d, cone(p, shoulder, elbow, 0.055, 0.046), 0.045)
        sleeve = cone(p, elbow, end, 0.047, 0.043)
        d = join(d, sleeve, 0.025)
        cuff = cone(
            p, end - (end - elbow) * min(1.0, 0.03 / max(np.linalg.norm(end - elbow), 1e-3)), end, 0.046, 0.046
        )
        d = np.minimum(d, cuff)
        # Folds gather at the elbow.
        near = np.exp(-((np.linalg.norm(p - elbow.astype(np.float32), axis=1) / 0.10) ** 2))
        d = d + 0.004 * near * np.sin((p - elbow.astype(np.float32)) @ ((wrist - shoulder) / 0.010)).astype(
            np.float32
        )
    folds = solid_noise(p * np.array([1.0, 1.0, 0.45], np.float32), 0.13, seed, 2)
    d = d + 0.008 * folds
    q = leaned(p, pose.lean)
    collar = np.maximum(
        np.abs(np.hypot(q[:, 0], q[:, 1] - 0.036) - 0.065) - 0.006,
        np.abs(q[:, 2] - (1.455 + 0.25 * (q[:, 1] - 0.03))) - 0.020,
    )
    return join(d, collar, 0.008)


def legs_distance(p: Array, look: Look) -> Array:
    """Trousers and shoes."""
    q = both_sides(p)
    d = cone(q, (0.085, 0.005, 0.90), (0.095, -0.015, 0.50), 0.098 * look.girth, 0.066)
    d = join(d, cone(q, (0.095, -0.015, 0.50), (0.10, 0.02, 0.09), 0.066, 0.058), 0.03)
    return d + 0.006 * solid_noise(p * np.array([1, 1, 0.5], np.float32), 0.11, 5, 2)


def band(x: Array, pitch: float, share: float, soft: float = 0.0028) -> Array:
    """Stripes with soft edges: 1 over ``share`` of every ``pitch`` metres."""
    away = (np.abs((x / pitch) % 1 - 0.5) - share / 2) * pitch
    return 1 - smoothstep(-soft / 2, soft / 2, away)


def garment_paint(p: Array, look: Look, pose: Pose, seed: int) -> Paint:
    """Pattern of the garment, as a function of place on the body; sleeves measure along the arm."""
    ground, first, second = look.colours
    q = leaned(p.astype(np.float32), pose.lean)
    u, v = q[:, 0].copy(), q[:, 2].copy()
    depth = q[:, 1]
    for shoulder, elbow, wrist in arm_points(pose):
        for a, b, start in ((shoulder, elbow, 0.0), (elbow, wrist, 0.285)):
            axis = (b - a) / np.linalg.norm(b - a)
            t = (p - a) @ axis
            away = np.linalg.norm(p - a - t[:, None] * axis, axis=1)
            near = (away < 0.075) & (np.abs(p[:, 0]) > 0.17) & (t > -0.02) & (t < np.linalg.norm(b - a) + 0.05)
            side = np.cross(axis, [0, 1.0, 0.2])
            v[near] = 1.4 - (t + start)[near]
            u[near] = ((p - a) @ side / np.linalg.norm(side))[near]
    paint = Paint(len(p), ground)
    weave = 0.06 * solid_noise(p, 0.004, seed + 9, 1) + 0.06 * solid_noise(p, 0.05, seed + 8)
    if look.top == "plaid":
        for scale, width, surface, share in ((0.085, 0.42, first, 0.62), (0.085, 0.10, second, 0.85)):
            shift = 0.0 if surface == first else 0.022
            across, down = (band(x + shift, scale, width) for x in (u, v))
            paint.over(surface, (across + down) * share / (1.35 if surface == first else 1.0))
    elif look.top == "stripes":
        paint.over(first, band(v, 0.046, 0.45))
        paint.over(second, band(v + 0.023, 0.046, 0.14))
    elif look.top == "knit":
        cable = np.sin(v * 330 + 2.2 * np.sin(u * 190))
        paint.over(first, 0.30 * smoothstep(-0.3, 0.8, cable))
        zig = np.abs((v + 0.018 * np.abs((u / 0.03) % 2 - 1)) / 0.12 % 1 - 0.5) * 2
        paint.over(second, 0.9 * (1 - smoothstep(0.18, 0.25, zig)))
        weave = weave + 0.10 * cable
    elif look.top in ("dots", "leaves"):
        pitch = 0.036 if look.top == "dots" else 0.055
        row = np.floor(v / pitch)
        x = (u / pitch + 0.5 * (row % 2)) % 1 - 0.5
        z = (v / pitch) % 1 - 0.5
        if look.top == "dots":
            paint.over(first, 1 - smoothstep(0.20, 0.26, np.hypot(x, z)))
            paint.over(second, 1 - smoothstep(0.08, 0.12, np.hypot(x, z)))
        else:
            turn = (np.floor(u / pitch + 0.5 * (row % 2)) * 1.7 + row * 2.3) % 6.28
            a, b = x * np.cos(turn) + z * np.sin(turn), z * np.cos(turn) - x * np.sin(turn)
            paint.over(first, 1 - smoothstep(0.9, 1.0, np.hypot(a / 0.42, b / 0.16)))
            paint.over(second, 1 - smoothstep(0.02, 0.04, np.abs(b) + 10 * (np.abs(a) > 0.40)))
    placket = (np.abs(q[:, 0]) < 0.012) & (depth < 0) & (q[:, 2] > 1.0) & (np.abs(p[:, 0]) < 0.1)
    button = np.hypot(q[:, 0], (q[:, 2] % 0.085) - 0.042) < 0.006
    if look.top in ("plain", "plaid", "dots"):
        paint.shade(1 - 0.12 * placket)
        paint.over("paint white 9.5", (placket & button).astype(np.float32) * 0.8)
    return paint.shade(1 + weave)


def apron_paint(p: Array, look: Look, lean: float, seed: int) -> Paint:
    """Canvas with stitching, a pocket, clay smears."""
    q = leaned(p.astype(np.float32), lean)
    paint = Paint(len(p), look.apron or "cotton light grey", look.apron_gain)
    x, z = q[:, 0], q[:, 2]
    paint.shade(1 + 0.07 * solid_noise(p, 0.003, seed, 1) + 0.08 * solid_noise(p, 0.08, seed + 1))
    pocket_edge = (np.abs(np.abs(x) - 0.095) < 0.003) & (np.abs(z - 1.03) < 0.062)
    pocket_edge |= (np.abs(np.abs(z - 1.03) - 0.062) < 0.003) & (np.abs(x) < 0.097)
    pocket_edge |= (np.abs(x) < 0.002) & (np.abs(z - 1.03) < 0.062)
    paint.shade(1 - 0.45 * pocket_edge)
    smear = smoothstep(0.34, 0.5, solid_noise(p * np.array([1, 1, 0.6]), 0.07, seed + 3, 4))
    paint.over("sand", 0.75 * smear, 1.3)
    smear = smoothstep(0.42, 0.55, solid_noise(p * np.array([1, 1, 0.6]), 0.06, seed + 4, 4))
    return paint.over("table cloth white", 0.7 * smear)
