"""What every room needs: walls, lamps, people in their places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..mesh import MATTE, Part, box, placed
from ..people import Look, Pose, person
from ..texture import Paint
from ..things.lamps import softbox

__all__ = ["Place", "key_and_fill", "moved", "shell", "stand"]

#: Where a person stands and how far they turn from facing the hero camera: ((x, y), degrees).
Place = tuple[tuple[float, float], float]


def shell(
    wall: Paint | str,
    floor: Paint | str,
    *,
    back: float = 1.75,
    wall_size: float = 4.0,
    side: Paint | str | None = None,
) -> list[Part]:
    """Back wall with its face at y = ``back`` - 0.05, side walls, floor and ceiling; open behind the cameras."""
    parts = [box((6.4, 0.1, 3.1), (0, back, 1.5), wall, texture_size=wall_size)]
    for x in (-3.1, 3.1):
        parts.append(box((0.1, 6.4, 3.1), (x, -1.4, 1.5), side or wall, texture_size=wall_size))
    parts.append(box((6.4, 6.4, 0.1), (0, -1.4, -0.05), floor, texture_size=2.0))
    parts.append(box((6.4, 6.4, 0.1), (0, -1.4, 3.1), "paint white 9.5", finish=MATTE))
    return parts


def key_and_fill(
    key: str,
    fill: str,
    rim: str,
    *,
    key_power: float = 19.0,
    fill_power: float = 3.2,
    rim_power: float = 9.0,
    side: float = -1.0,
) -> list[Part]:
    """A large soft key from the front, a weak fill from the other side, two narrow lamps from behind."""
    parts = softbox((1.7, 1.1), (side, -3.1, 2.75), (0, 0, 1.2), key, key_power)
    parts += softbox((1.8, 1.6), (-2.7 * np.sign(side), -2.0, 1.9), (0, 0, 1.2), fill, fill_power)
    for x in (-1.6, 1.6):
        parts += softbox((0.9, 0.35), (x, 1.2, 2.95), (-0.12 * x, -0.2, 1.3), rim, rim_power)
    return parts


def moved(pose: Pose, moment: int, number: int) -> Pose:
    """The same person at another moment; moment 0 leaves the pose as it is."""
    if moment == 0:
        return pose
    rng = np.random.default_rng([moment, number])
    right, left = (np.asarray(wrist) + rng.uniform(-0.06, 0.06, 3) for wrist in (pose.right, pose.left))
    return replace(
        pose,
        right=(float(right[0]), float(right[1]), float(right[2])),
        left=(float(left[0]), float(left[1]), float(left[2])),
        yaw=pose.yaw + float(rng.uniform(-22, 22)),
        nod=pose.nod + float(rng.uniform(-8, 8)),
        lean=pose.lean + float(rng.uniform(-4, 6)),
    )


def stand(
    looks: Sequence[Look], poses: Sequence[Pose], places: Sequence[Place], *, seed: int, moment: int, detail: float
) -> list[Part]:
    """People in their places."""
    parts: list[Part] = []
    for number, (look, pose, ((x, y), turn)) in enumerate(zip(looks, poses, places, strict=True), start=1):
        built = person(look, moved(pose, moment, number), seed=seed * 10 + number, detail=detail)
        parts += placed(built, (x, y, 0), turn=turn)
    return parts
