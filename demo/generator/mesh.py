"""Parts of a scene: triangle meshes with a paint, a finish and a class.

Metres, z up; the hero camera looks along +y. Every builder returns fresh ``Part`` objects; ``placed`` moves them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .texture import Paint

__all__ = [
    "CLASSES",
    "GLASS",
    "GLAZED",
    "MATTE",
    "METAL",
    "SATIN",
    "Finish",
    "Part",
    "box",
    "isosurface",
    "lathe",
    "panel",
    "placed",
    "tube",
]

Array = NDArray[Any]
#: A place or direction (x, y, z).
Vector = Sequence[float] | NDArray[Any]

#: What a pixel shows, as the truth files number it.
CLASSES = {"set": 0, "skin": 1, "cloth": 2, "hair": 3, "leaf": 4, "none": 5}


@dataclass(frozen=True)
class Finish:
    """Gloss: ``roughness`` 0..1, None being matte, and ``specular`` 0..1 (0.5 is an index of 1.5)."""

    roughness: float | None = None
    specular: float = 0.5


MATTE = Finish()
SATIN = Finish(0.45, 0.4)
GLAZED = Finish(0.18, 0.5)
METAL = Finish(0.35, 1.0)
GLASS = Finish(0.12, 0.6)


@dataclass(frozen=True, eq=False)
class Part:
    """One mesh.

    Attributes
    ----------
    vertices, faces : (n, 3) float, (m, 3) int
        Counter-clockwise from outside.
    paint : Paint or str
        A texture (needs ``uv``), a paint over the vertices, or one measured surface.
    uv : (n, 2), optional
        Texture places; v runs up.
    smooth : bool
        Interpolate normals.
    light : (str, float), optional
        Emits: name of the light, and radiance relative to a perfect diffuser at the key's level; a texture
        scales it, so that a window can show what lies outside.
    """

    vertices: Array
    faces: Array
    paint: Paint | str = "paint neutral 5"
    uv: Array | None = None
    finish: Finish = MATTE
    kind: str = "set"
    smooth: bool = False
    light: tuple[str, float] | None = None


def placed(
    parts: Iterable[Part],
    move: Vector = (0, 0, 0),
    turn: float = 0.0,
    scale: float = 1.0,
    tilt: float = 0.0,
) -> list[Part]:
    """Scale, tilt about x, turn about z (degrees), then move."""
    a, b = np.deg2rad(turn), np.deg2rad(tilt)
    about_z = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1.0]])
    about_x = np.array([[1.0, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    matrix = about_z @ about_x * scale
    return [replace(part, vertices=part.vertices @ matrix.T + np.asarray(move, float)) for part in parts]


def box(
    size: Vector,
    centre: Vector,
    paint: Paint | str,
    *,
    finish: Finish = MATTE,
    kind: str = "set",
    texture_size: float | None = 1.0,
    along: int | None = None,
    shift: tuple[float, float] = (0.0, 0.0),
) -> Part:
    """A box.

    Parameters
    ----------
    texture_size : float or None
        Metres that one repeat of the texture covers; None stretches the texture over each face.
    along : int, optional
        The axis that the texture's u follows on every face that has it (wood grain).
    shift : (u, v)
        Moves the texture, so that boards differ.
    """
    half = np.asarray(size, float) / 2
    vertices, faces, uv = [], [], []
    for axis in range(3):
        for sign in (-1.0, 1.0):
            # The two axes that span this face, ordered so that v is up where the face is upright.
            u_axis, v_axis = {0: (1, 2), 1: (0, 2), 2: (0, 1)}[axis]
            corners = []
            for du, dv in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
                corner = np.zeros(3)
                corner[axis], corner[u_axis], corner[v_axis] = sign, du, dv
                corners.append(corner * half)
            order = [0, 1, 2, 3]
            normal = np.cross(corners[1] - corners[0], corners[3] - corners[0])
            if normal[axis] * sign < 0:
                order = [0, 3, 2, 1]
            start = len(vertices)
            for i in order:
                du, dv = ((0, 0), (1, 0), (1, 1), (0, 1))[i]
                # Seen from outside, the left faces would show their texture mirrored.
                if (axis, sign) in ((0, -1.0), (1, 1.0)):
                    du = 1 - du
                if texture_size is None:
                    place = (float(du), float(dv))
                else:
                    metres = (du * 2 * half[u_axis] / texture_size, dv * 2 * half[v_axis] / texture_size)
                    place = (metres[1], metres[0]) if along == v_axis else metres
                    place = (place[0] + shift[0], place[1] + shift[1])
                vertices.append(corners[i])
                uv.append(place)
            faces += [(start, start + 1, start + 2), (start, start + 2, start + 3)]
    return Part(
        vertices=np.array(vertices) + np.asarray(centre, float),
        faces=np.array(faces),
        uv=np.array(uv),
        paint=paint,
        finish=finish,
        kind=kind,
    )


def panel(
    width: float,
    height: float,
    centre: Vector,
    towards: Vector,
    *,
    paint: Paint | str = "paint neutral 5",
    light: tuple[str, float] | None = None,
    kind: str = "none",
    finish: Finish = MATTE,
) -> Part:
    """A rectangle that faces ``towards``: a lamp, a window pane, a poster."""
    normal = np.asarray(towards, float) - np.asarray(centre, float)
    normal /= np.linalg.norm(normal)
    up = np.array([0, 0, 1.0]) if abs(normal[2]) < 0.99 else np.array([0, 1.0, 0])
    across = np.cross(up, normal)
    across /= np.linalg.norm(across)
    up = np.cross(normal, across)
    corners = [(-1, -1), (1, -1), (1, 1), (-1, 1)]
    vertices = np.array([a * across * width / 2 + b * up * height / 2 for a, b in corners]) + np.asarray(
        centre, float
    )
    uv = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    return Part(
        vertices=vertices,
        faces=np.array([[0, 1, 2], [0, 2, 3]]),
        uv=uv,
        paint=paint,
        light=light,
        kind=kind,
        finish=finish,
    )


def lathe(
    profile: Sequence[tuple[float, float]],
    paint: Paint | str,
    *,
    finish: Finish = GLAZED,
    steps: int = 64,
    kind: str = "set",
    smooth: bool = True,
    light: tuple[str, float] | None = None,
) -> Part:
    """Turn a profile of (radius, height), bottom to top along the outside, about the z axis.

    u runs once around, its seam looking along +y, away from the hero; v along the profile's length, upwards.
    """
    rows = np.asarray(profile, float)
    length = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(rows, axis=0).T))])
    v = length / length[-1]
    angle = np.linspace(0, 2 * np.pi, steps + 1)
    radius, height = rows[:, 0][:, None], rows[:, 1][:, None]
    grid = np.stack(
        [-radius * np.sin(angle), radius * np.cos(angle), np.broadcast_to(height, (len(rows), steps + 1))], axis=-1
    )
    uv = np.stack(np.broadcast_arrays(angle / (2 * np.pi), v[:, None]), axis=-1)
    index = np.arange(grid.shape[0] * grid.shape[1]).reshape(grid.shape[:2])
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]
    faces = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    return Part(
        vertices=grid.reshape(-1, 3),
        faces=faces,
        uv=uv.reshape(-1, 2),
        paint=paint,
        finish=finish,
        kind=kind,
        smooth=smooth,
        light=light,
    )


def tube(
    points: Sequence[Vector] | NDArray[Any],
    radius: float,
    paint: Paint | str,
    *,
    finish: Finish = SATIN,
    kind: str = "set",
    steps: int = 12,
) -> Part:
    """A round tube along a path: lamp arms, cables, handles."""
    path = np.asarray(points, float)
    tangent = np.gradient(path, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    side = np.cross(tangent[0], [0.3, 0.2, 0.93])
    rings = []
    angle = np.linspace(0, 2 * np.pi, steps + 1)
    for place, along in zip(path, tangent, strict=True):
        side = side - along * (side @ along)
        side /= np.linalg.norm(side)
        other = np.cross(along, side)
        rings.append(place + radius * (np.cos(angle)[:, None] * side + np.sin(angle)[:, None] * other))
    caps = [np.broadcast_to(path[0], rings[0].shape), *rings, np.broadcast_to(path[-1], rings[0].shape)]
    grid = np.stack(caps)
    index = np.arange(grid.shape[0] * grid.shape[1]).reshape(grid.shape[:2])
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]
    faces = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    uv = np.stack(np.meshgrid(angle / (2 * np.pi), np.linspace(0, 1, len(caps))), -1).reshape(-1, 2)
    return Part(
        vertices=grid.reshape(-1, 3), faces=faces, uv=uv, paint=paint, finish=finish, kind=kind, smooth=True
    )


def isosurface(
    distance: Callable[[Array], Array], low: Vector, high: Vector, cell: float
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Mesh the zero surface of a signed distance over a box.

    Parameters
    ----------
    distance : callable
        Takes points (n, 3), returns (n,), negative inside.
    cell : float
        Edge of a grid cell in metres.

    Returns
    -------
    vertices (n, 3), faces (m, 3)
    """
    from skimage.measure import marching_cubes

    axes = [np.arange(a, b + cell, cell, dtype=np.float32) for a, b in zip(low, high, strict=True)]
    shape = tuple(len(axis) for axis in axes)
    values = np.empty(shape, np.float32)
    y, z = np.meshgrid(axes[1], axes[2], indexing="ij")
    slab = max(1, 400_000 // y.size)
    for start in range(0, shape[0], slab):
        xs = axes[0][start : start + slab]
        points = np.empty((len(xs), *y.shape, 3), np.float32)
        points[..., 0], points[..., 1], points[..., 2] = xs[:, None, None], y, z
        values[start : start + slab] = distance(points.reshape(-1, 3)).reshape(len(xs), *y.shape)
    # Close the surface at the box, so that no mesh has an open edge.
    for axis in range(3):
        for end in (0, -1):
            face = [slice(None)] * 3
            face[axis] = end
            values[tuple(face)] = np.maximum(values[tuple(face)], cell * 0.5)
    vertices, faces, _, _ = marching_cubes(values, 0.0, spacing=(cell, cell, cell))
    return vertices.astype(float) + np.asarray(low, float), faces.astype(np.int64)
