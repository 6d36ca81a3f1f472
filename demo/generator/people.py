"""People, modelled as signed distances and meshed: simple, stylised, and pleasant to look at.

A person stands at the origin facing -y (towards the hero camera). Skin, hair and clothes are separate meshes whose
colours are painted per vertex as functions of place, so that a knit or a plaid needs no unwrapping.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .mesh import MATTE, Finish, Part, isosurface, placed, tube
from .texture import Paint, smoothstep, solid_noise

__all__ = ["Look", "Pose", "person"]

Array = NDArray[Any]
Point = tuple[float, float, float]

SKIN_FINISH = Finish(0.5, 0.35)
EYE_FINISH = Finish(0.12, 0.5)


@dataclass(frozen=True, kw_only=True)
class Look:
    """How a person looks.

    Attributes
    ----------
    skin : (surface, gain)
    hair : (surface, gain)
    style : str
        ``short``, ``bob``, ``bun``, ``curly``, ``scarf`` or ``bald``.
    top : str
        Pattern of the garment: ``plain``, ``plaid``, ``stripes``, ``knit``, ``dots`` or ``leaves``.
    colours : three surfaces
        Ground, first and second colour of the pattern.
    apron : surface or None
    sleeves : float
        Share of the forearm that the sleeve covers.
    beard, glasses : bool
    iris : str
        Surface of the iris.
    height, girth : float
        Metres, and a factor on width.
    jaw, nose : float
        Factors that vary the face.
    lips : float
        How much redder than the skin the lips are, 0..1.
    scarf : two surfaces
        Ground and spots of the scarf.
    """

    skin: tuple[str, float] = ("skin light 2", 0.9)
    hair: tuple[str, float] = ("hair brown", 1.2)
    style: str = "short"
    top: str = "plain"
    colours: tuple[str, str, str] = ("cotton light grey", "jeans dark blue", "fabric white")
    apron: str | None = None
    apron_gain: float = 1.0
    sleeves: float = 0.1
    beard: bool = False
    glasses: bool = False
    iris: str = "leather brown"
    height: float = 1.74
    girth: float = 1.0
    jaw: float = 1.0
    nose: float = 1.0
    lips: float = 0.45
    scarf: tuple[str, str] = ("towel red", "yarn yellow")


@dataclass(frozen=True, kw_only=True)
class Pose:
    """How a person holds themselves, in metres and degrees before scaling to their height.

    ``left`` and ``right`` are the wrists' places (the person's right hand lies at negative x), ``curl`` closes the
    fingers 0..1, ``yaw`` turns the head to the person's left, ``nod`` bows it, ``lean`` bends the trunk forward.
    """

    right: Point = (-0.20, -0.36, 1.02)
    left: Point = (0.20, -0.36, 1.02)
    curl: tuple[float, float] = (0.35, 0.35)
    palm: tuple[float, float] = (0.0, 0.0)
    yaw: float = 0.0
    nod: float = 0.0
    roll: float = 0.0
    lean: float = 4.0


# Signed distances ------------------------------------------------------------------------------------------------


def cone(p: Array, a: Point | Array, b: Point | Array, ra: float, rb: float) -> Array:
    """A capsule whose radius runs from ``ra`` to ``rb``."""
    start = np.asarray(a, np.float32)
    along = np.asarray(b, np.float32) - start
    t = np.clip((p - start) @ along / (along @ along), 0, 1)
    return np.linalg.norm(p - start - t[:, None] * along, axis=1) - (ra + (rb - ra) * t)


def ellipsoid(p: Array, centre: Point, radii: Point) -> Array:
    """An ellipsoid, to first order a distance near its surface."""
    q = (p - np.asarray(centre, np.float32)) / np.asarray(radii, np.float32)
    k = np.linalg.norm(q, axis=1)
    g = np.linalg.norm(q / np.asarray(radii, np.float32), axis=1)
    return k * (k - 1.0) / np.maximum(g, 1e-6)


def join(a: Array, b: Array, k: float) -> Array:
    """Smooth union with a blend of width ``k``."""
    h = np.clip(0.5 + 0.5 * (b - a) / k, 0, 1)
    return b + (a - b) * h - k * h * (1 - h)


def cut(a: Array, b: Array, k: float) -> Array:
    """Smooth removal of ``b`` from ``a``."""
    return -join(-a, b, k)


def both_sides(p: Array) -> Array:
    """Fold space so that one side's shape appears on both."""
    q = p.copy()
    q[:, 0] = np.abs(q[:, 0])
    return q


# The head, in its own frame: origin between the ears ----------------------------------------------------------------

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
    upper = np.maximum(eye - 0.0152, EYE[2] + 0.0034 - 0.15 * (q[:, 0] - EYE[0]) - q[:, 2])
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
        wrap = ellipsoid(p, (0, 0.020, 0.036), (0.0835, 0.105, 0.099)) + 0.0016 * np.sin(p[:, 2] * 260 + p[:, 1] * 120)
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
        bun = ellipsoid(p, (0.004, 0.060, 0.142), (0.044, 0.042, 0.036)) + 0.0022 * np.sin(p[:, 2] * 260 + strands * 14)
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
    flush = 0.30 * np.exp(-(np.linalg.norm(q - np.array([0.042, -0.075, -0.030]), axis=1) / 0.020) ** 2)
    flush += 0.28 * np.exp(-(np.linalg.norm(p - np.array([0, -0.112, -0.030]), axis=1) / 0.013) ** 2)
    flush += 0.30 * np.exp(-(np.linalg.norm(q - np.array([0.082, 0.014, -0.006]), axis=1) / 0.025) ** 2)
    paint.over("peach red", flush * 0.42, gain * 0.9)
    lips = np.minimum(
        cone(q, (0.0, -0.0990, -0.0622), (0.023, -0.0885, -0.0632), 0.0052, 0.0020),
        cone(q, (0.0, -0.0980, -0.0722), (0.020, -0.0895, -0.0668), 0.0060, 0.0024),
    )
    paint.over("peach red", look.lips * (1 - smoothstep(-0.0015, 0.0022, lips)), gain * 0.85)
    dark = 0.35 * np.exp(-(np.linalg.norm((q - np.array([0.032, -0.088, 0.002])) / [1, 1, 0.7], axis=1) / 0.016) ** 2)
    paint.shade(1 - dark)
    brow = np.minimum(
        cone(q, (0.0155, -0.097, 0.0285), (0.034, -0.089, 0.0335), 0.0048, 0.0044),
        cone(q, (0.034, -0.089, 0.0335), (0.049, -0.075, 0.0290), 0.0044, 0.0026),
    )
    grain = 0.5 + 0.5 * solid_noise(p * np.array([1, 1, 3.0]), 0.006, seed + 2)
    hair, hair_gain = look.hair
    paint.over(hair, (1 - smoothstep(-0.002, 0.0045, brow)) * (0.70 + 0.3 * grain), hair_gain * 0.9)
    if look.beard:
        chin = 1 - smoothstep(-0.068, -0.040, p[:, 2])
        front = 1 - smoothstep(-0.035, 0.012, p[:, 1])
        moustache = np.exp(-(np.linalg.norm((q - np.array([0.012, -0.100, -0.051])) / [2.2, 1.4, 0.6], axis=1) / 0.011) ** 2)
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


# The body ---------------------------------------------------------------------------------------------------------


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
        cuff = cone(p, end - (end - elbow) * min(1.0, 0.03 / max(np.linalg.norm(end - elbow), 1e-3)), end, 0.046, 0.046)
        d = np.minimum(d, cuff)
        # Folds gather at the elbow.
        near = np.exp(-((np.linalg.norm(p - elbow.astype(np.float32), axis=1) / 0.10) ** 2))
        d = d + 0.004 * near * np.sin((p - elbow.astype(np.float32)) @ ((wrist - shoulder) / 0.010)).astype(np.float32)
    folds = solid_noise(p * np.array([1.0, 1.0, 0.45], np.float32), 0.13, seed, 2)
    d = d + 0.008 * folds
    q = leaned(p, pose.lean)
    collar = np.maximum(
        np.abs(np.hypot(q[:, 0], q[:, 1] - 0.036) - 0.065) - 0.006, np.abs(q[:, 2] - (1.455 + 0.25 * (q[:, 1] - 0.03))) - 0.020
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


def hand_distance(p: Array, curl: float) -> Array:
    """A hand in its own frame: wrist at the origin, fingers along +x, palm down, thumb at +y."""
    d = cone(p, (-0.02, 0, 0), (0.03, 0.0, 0.0), 0.024, 0.024)
    palm = np.stack([cone(p, (0.022, y * 0.8, 0), (0.078, y, -0.001), 0.0145, 0.012) for y in (-0.028, -0.010, 0.009, 0.027)])
    hand = palm[0]
    for other in palm[1:]:
        hand = join(hand, other, 0.010)
    d = join(d, hand, 0.02)
    for y, length, extra in ((-0.030, 0.062, 0.10), (-0.010, 0.074, 0.0), (0.010, 0.078, -0.02), (0.029, 0.070, -0.06)):
        bend = 1.25 * curl + extra * curl + 0.12
        base = np.array([0.080, y, 0.0])
        one = base + length * 0.52 * np.array([np.cos(bend), (y - 0.0) * 1.2, -np.sin(bend)])
        two = one + length * 0.48 * np.array([np.cos(bend * 1.95), 0, -np.sin(bend * 1.95)])
        finger = np.minimum(cone(p, base, one, 0.0092, 0.0084), cone(p, one, two, 0.0084, 0.0068))
        d = join(d, finger, 0.006)
    thumb = np.array([0.060, 0.052 - 0.014 * curl, -0.012 - 0.012 * curl])
    tip = thumb + 0.034 * np.array([0.93, 0.10 - 0.8 * curl, -0.25])
    d = join(d, np.minimum(cone(p, (0.016, 0.022, -0.004), thumb, 0.014, 0.0102), cone(p, thumb, tip, 0.0102, 0.0078)), 0.010)
    return d


def hand_frame(elbow: Array, wrist: Array, side: float, palm: float) -> Array:
    """Columns: fingers, thumb side, back of the hand; ``palm`` turns about the forearm in degrees."""
    along = (wrist - elbow) / np.linalg.norm(wrist - elbow)
    level = np.array([along[0], along[1], along[2] * 0.35])
    along = level / np.linalg.norm(level)
    inner = np.array([-side, 0, 0.15])
    thumb = inner - along * (inner @ along)
    thumb /= np.linalg.norm(thumb)
    back = np.cross(along, thumb)
    # The thumb's side is mirrored between the hands; the back of the hand stays up.
    if back[2] < 0:
        back = -back
    a = np.deg2rad(palm) * side
    return np.column_stack([along, np.cos(a) * thumb + np.sin(a) * back, np.cos(a) * back - np.sin(a) * thumb])


def meshed(distance: Callable[[Array], Array], low: Point | Array, high: Point | Array, cell: float, finer: bool = False) -> tuple[Array, Array]:
    """Mesh a distance; ``finer`` splits each triangle in four, so that paint per vertex shows more detail."""
    vertices, faces = isosurface(distance, tuple(low), tuple(high), cell)
    if not finer:
        return vertices, faces
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    unique, index = np.unique(edges, axis=0, return_inverse=True)
    index = index.ravel() + len(vertices)
    middle = vertices[unique].mean(1)
    ab, bc, ca = np.split(index, 3)
    a, b, c = faces.T
    split = np.concatenate([np.stack(t, 1) for t in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))])
    return np.concatenate([vertices, middle]), split


def person(look: Look, pose: Pose, *, seed: int = 0, detail: float = 1.0, legs: bool = True) -> list[Part]:
    """Build a person facing -y with their feet at the origin.

    Parameters
    ----------
    detail : float
        Above 1 meshes coarser and faster, below 1 finer.
    legs : bool
        Leave the legs out where a table hides them.
    """
    parts: list[Part] = []
    # Head.
    low, high = (-0.11, -0.14, -0.235), (0.11, 0.15, 0.15)
    v, f = meshed(lambda p: head_distance(p, look), low, high, 0.0024 * detail)
    head = [Part(vertices=v, faces=f, paint=skin_paint(v, look, seed), finish=SKIN_FINISH, kind="skin", smooth=True)]
    head += [eyeball(-1, look, 3.0), eyeball(1, look, -3.0)]
    if look.style != "bald":
        v, f = meshed(lambda p: hair_distance(p, look, seed), (-0.12, -0.13, -0.15), (0.12, 0.18, 0.17), 0.0026 * detail)
        if look.style == "scarf":
            paint = Paint(len(v), look.scarf[0])
            spots = (np.abs((v[:, 0] / 0.022) % 1 - 0.5) < 0.16) & (np.abs((v[:, 2] / 0.022) % 1 - 0.5) < 0.16)
            paint.over(look.scarf[1], spots.astype(np.float32))
            head.append(Part(vertices=v, faces=f, paint=paint, kind="cloth", smooth=True))
        else:
            paint = Paint(len(v), *look.hair)
            strands = np.arctan2(v[:, 0], -v[:, 1] + 0.02)
            streak = solid_noise(np.stack([strands * 0.9, v[:, 2] * 0.6, v[:, 1] * 0.6], 1), 0.06, seed + 4, 3)
            paint.shade(1 + 0.45 * streak)
            head.append(Part(vertices=v, faces=f, paint=paint, finish=Finish(0.42, 0.45), kind="hair", smooth=True))
    if look.glasses:
        for side in (-1, 1):
            a = np.linspace(0, 2 * np.pi, 33)
            rim = np.stack([side * EYE[0] + 0.0235 * np.cos(a), np.full(33, -0.1005), EYE[2] - 0.002 + 0.0190 * np.sin(a)], 1)
            head.append(tube(rim, 0.0013, "hair black", finish=Finish(0.3, 0.5)))
            head.append(tube([(side * 0.055, -0.1, 0.008), (side * 0.076, -0.06, 0.010), (side * 0.082, 0.01, 0.010)], 0.0013, "hair black"))
        head.append(tube([(-0.008, -0.101, 0.006), (0, -0.1035, 0.008), (0.008, -0.101, 0.006)], 0.0013, "hair black"))
    head = placed(head, tilt=pose.nod, turn=pose.yaw)
    if pose.roll:
        a = np.deg2rad(pose.roll)
        about_y = np.array([[np.cos(a), 0, np.sin(a)], [0, 1, 0], [-np.sin(a), 0, np.cos(a)]])
        head = [replace(part, vertices=part.vertices @ about_y.T) for part in head]
    shift = -np.tan(np.deg2rad(pose.lean)) * 0.60
    parts += placed(head, (0, 0.005 + shift, 1.634))
    # Clothes.
    arms = arm_points(pose)
    reach = np.array([p for arm in arms for p in arm])
    low = np.minimum(reach.min(0) - 0.10, [-0.30, -0.22, 0.80])
    high = np.maximum(reach.max(0) + 0.10, [0.30, 0.20, 1.52])
    low[2] = 0.80
    v, f = meshed(lambda p: garment_distance(p, look, pose, seed), low, high, 0.0065 * detail, finer=True)
    parts.append(Part(vertices=v, faces=f, paint=garment_paint(v, look, pose, seed), kind="cloth", smooth=True))
    if look.apron:

        def apron_distance(p: Array) -> Array:
            q = leaned(p, pose.lean)
            body = trunk_distance(p, look, pose.lean) + 0.006 * solid_noise(p * np.array([1, 1, 0.4], np.float32), 0.15, seed + 6, 1)
            hips = ellipsoid(q, (0, 0.01, 0.86), (0.185 * look.girth, 0.150 * look.girth, 0.30))
            shell = np.abs(join(body - 0.014, hips, 0.05)) - 0.0045
            width = 0.105 + 0.075 * (1 - smoothstep(1.12, 1.26, q[:, 2])) + 0.05 * (1 - smoothstep(0.9, 1.1, q[:, 2]))
            bib = np.maximum(np.abs(q[:, 0]) - width, q[:, 2] - 1.335)
            front = q[:, 1] + 0.005
            strap = np.maximum(np.abs(np.abs(q[:, 0]) - 0.090) - 0.014, np.maximum(1.30 - q[:, 2], q[:, 2] - 1.56))
            belt = np.maximum(np.abs(q[:, 2] - 1.09) - 0.014, q[:, 1] - 0.3)
            return np.maximum(shell, np.minimum(np.minimum(np.maximum(bib, front), strap), belt))

        v, f = meshed(apron_distance, (-0.28, -0.34, 0.62), (0.28, 0.20, 1.54), 0.0045 * detail)
        parts.append(Part(vertices=v, faces=f, paint=apron_paint(v, look, pose.lean, seed), kind="cloth", smooth=True))
    # Forearms and hands.
    for k, (_, elbow, wrist) in enumerate(arms):
        side = (-1.0, 1.0)[k]
        frame = hand_frame(elbow, wrist, side, pose.palm[k])

        def limb(p: Array, elbow: Array = elbow, wrist: Array = wrist, frame: Array = frame, curl: float = pose.curl[k]) -> Array:
            arm = cone(p, elbow, wrist, 0.041, 0.0255)
            local = ((p - wrist.astype(np.float32)) @ frame.astype(np.float32)).astype(np.float32)
            return join(arm, hand_distance(local, curl), 0.015)

        ends = np.array([elbow, wrist, wrist + frame[:, 0] * 0.19])
        v, f = meshed(limb, ends.min(0) - 0.075, ends.max(0) + 0.075, 0.0034 * detail)
        paint = Paint(len(v), *look.skin)
        local = (v - wrist) @ frame
        knuckle = np.exp(-(((local[:, 0] - 0.082) / 0.012) ** 2)) + smoothstep(0.13, 0.16, local[:, 0])
        paint.over("peach red", 0.16 * np.clip(knuckle, 0, 1), look.skin[1] * 0.9)
        paint.shade(1 + 0.06 * solid_noise(v, 0.03, seed + k) + 0.04 * solid_noise(v, 0.008, seed + k))
        parts.append(Part(vertices=v, faces=f, paint=paint, finish=SKIN_FINISH, kind="skin", smooth=True))
    if legs:
        v, f = meshed(lambda p: legs_distance(p, look), (-0.25, -0.2, 0.04), (0.25, 0.2, 1.0), 0.012 * detail)
        paint = Paint(len(v), "jeans dark blue").shade(1 + 0.12 * solid_noise(v, 0.02, seed))
        parts.append(Part(vertices=v, faces=f, paint=paint, finish=MATTE, kind="cloth", smooth=True))
    return placed(parts, scale=look.height / 1.78)
