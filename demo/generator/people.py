"""People, modelled as signed distances and meshed: simple, stylised, and pleasant to look at.

A person stands at the origin facing -y (towards the hero camera). Skin, hair and clothes are separate meshes whose
colours are painted per vertex as functions of place, so that a knit or a plaid needs no unwrapping.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .figure.body import (
    apron_paint,
    arm_points,
    garment_distance,
    garment_paint,
    leaned,
    legs_distance,
    trunk_distance,
)
from .figure.hand import hand_distance, hand_frame
from .figure.head import EYE, eyeball, hair_distance, head_distance, skin_paint
from .figure.looks import Look, Point, Pose
from .figure.shapes import cone, ellipsoid, join
from .mesh import MATTE, Finish, Part, isosurface, placed, tube
from .texture import Paint, smoothstep, solid_noise

__all__ = ["Look", "Pose", "person"]

Array = NDArray[Any]

SKIN_FINISH = Finish(0.5, 0.35)


def meshed(
    distance: Callable[[Array], Array], low: Point | Array, high: Point | Array, cell: float, finer: bool = False
) -> tuple[Array, Array]:
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
    v, f = meshed(lambda p: head_distance(p, look), low, high, 0.0019 * detail)
    head = [
        Part(vertices=v, faces=f, paint=skin_paint(v, look, seed), finish=SKIN_FINISH, kind="skin", smooth=True)
    ]
    head += [eyeball(-1, look, 3.0), eyeball(1, look, -3.0)]
    if look.style != "bald":
        v, f = meshed(
            lambda p: hair_distance(p, look, seed), (-0.12, -0.13, -0.15), (0.12, 0.18, 0.17), 0.0026 * detail
        )
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
            head.append(
                Part(vertices=v, faces=f, paint=paint, finish=Finish(0.42, 0.45), kind="hair", smooth=True)
            )
    if look.glasses:
        for side in (-1, 1):
            a = np.linspace(0, 2 * np.pi, 33)
            rim = np.stack(
                [side * EYE[0] + 0.0235 * np.cos(a), np.full(33, -0.1005), EYE[2] - 0.002 + 0.0190 * np.sin(a)], 1
            )
            head.append(tube(rim, 0.0013, "hair black", finish=Finish(0.3, 0.5)))
            head.append(
                tube(
                    [(side * 0.055, -0.1, 0.008), (side * 0.076, -0.06, 0.010), (side * 0.082, 0.01, 0.010)],
                    0.0013,
                    "hair black",
                )
            )
        head.append(
            tube([(-0.008, -0.101, 0.006), (0, -0.1035, 0.008), (0.008, -0.101, 0.006)], 0.0013, "hair black")
        )
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
            body = trunk_distance(p, look, pose.lean) + 0.006 * solid_noise(
                p * np.array([1, 1, 0.4], np.float32), 0.15, seed + 6, 1
            )
            hips = ellipsoid(q, (0, 0.01, 0.86), (0.185 * look.girth, 0.150 * look.girth, 0.30))
            shell = np.abs(join(body - 0.014, hips, 0.05)) - 0.0045
            width = (
                0.105 + 0.075 * (1 - smoothstep(1.12, 1.26, q[:, 2])) + 0.05 * (1 - smoothstep(0.9, 1.1, q[:, 2]))
            )
            bib = np.maximum(np.abs(q[:, 0]) - width, q[:, 2] - 1.335)
            front = q[:, 1] + 0.005
            strap = np.maximum(np.abs(np.abs(q[:, 0]) - 0.090) - 0.014, np.maximum(1.30 - q[:, 2], q[:, 2] - 1.56))
            belt = np.maximum(np.abs(q[:, 2] - 1.09) - 0.014, q[:, 1] - 0.3)
            return np.maximum(shell, np.minimum(np.minimum(np.maximum(bib, front), strap), belt))

        v, f = meshed(apron_distance, (-0.28, -0.34, 0.62), (0.28, 0.20, 1.54), 0.0045 * detail)
        parts.append(
            Part(vertices=v, faces=f, paint=apron_paint(v, look, pose.lean, seed), kind="cloth", smooth=True)
        )
    # Forearms and hands.
    for k, (_, elbow, wrist) in enumerate(arms):
        side = (-1.0, 1.0)[k]
        frame = hand_frame(elbow, wrist, side, pose.palm[k])

        def limb(
            p: Array, elbow: Array = elbow, wrist: Array = wrist, frame: Array = frame, curl: float = pose.curl[k]
        ) -> Array:
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
