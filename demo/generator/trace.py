"""A path tracer for 18 bands at once.

Mitsuba 3 finds the intersections, samples the lights and the lens; the surfaces are ours, because no variant of it
carries 18 bands along one path. A surface is diffuse under an optional colourless coat (a GGX microfacet lobe over
Schlick's Fresnel term), its reflectance a mixture of a few basis spectra, looked up in one atlas for all parts.
"""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np
from numpy.typing import NDArray

from .mesh import Part
from .scene import Scene, View
from .spectra import BANDS, light, reflectance
from .texture import Paint

__all__ = ["Tracer"]

Array = NDArray[Any]

if mi.variant() != "llvm_ad_rgb":
    mi.set_variant("llvm_ad_rgb")
mi.set_log_level(mi.LogLevel.Error)

#: Segments of a path: the camera's, then so many bounces less one.
DEPTH = 5
#: Basis spectra of reflectances; eight carry the surfaces used here to about 0.2 % of white.
RANK = 8
COUNT = len(BANDS)
#: Share of paths that follow the coat where there is one.
COAT_SHARE = 0.3


def vertex_normals(vertices: Array, faces: Array) -> Array:
    """Area-weighted normals; vertices at the same place (seams of a lathe) share one."""
    corners = vertices[faces]
    face_normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    _, same = np.unique(np.round(vertices * 1e5).astype(np.int64) @ [1, 2**21, 2**42], return_inverse=True)
    same = same.ravel()
    total = np.zeros((same.max() + 1, 3))
    for k in range(3):
        for axis in range(3):
            total[:, axis] += np.bincount(same[faces[:, k]], face_normals[:, axis], minlength=len(total))
    normals = total[same]
    return normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)


def _mesh(part: Part) -> Any:
    props = mi.Properties()
    props["bsdf"] = mi.load_dict({"type": "diffuse"})
    if part.light is not None:
        # Lights are sampled about as often as they matter.
        corners = part.vertices[part.faces]
        area = (
            0.5
            * np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1).sum()
        )
        weight = float((part.light[1] * area) ** 0.75)
        white = {"type": "rgb", "value": 1.0}
        props["emitter"] = mi.load_dict({"type": "area", "radiance": white, "sampling_weight": weight})
    # Paint over vertices is looked up by barycentric place, which Mitsuba gives where there is no texture place.
    has_uv = part.uv is not None and not (isinstance(part.paint, Paint) and len(part.paint.shape) == 1)
    count = (len(part.vertices), len(part.faces))
    mesh = mi.Mesh("part", *count, has_vertex_normals=part.smooth, has_vertex_texcoords=has_uv, props=props)
    fields = mi.traverse(mesh)
    fields["vertex_positions"] = np.ravel(part.vertices).astype(np.float32)
    fields["faces"] = np.ravel(part.faces).astype(np.uint32)
    if part.smooth:
        fields["vertex_normals"] = np.ravel(vertex_normals(part.vertices, part.faces)).astype(np.float32)
    if has_uv and part.uv is not None:
        fields["vertex_texcoords"] = np.ravel(part.uv).astype(np.float32)
    fields.update()
    return mesh


class _Atlas:
    """All paint of a scene as coefficients of basis spectra, with a row of tables for each part."""

    def __init__(self, parts: tuple[Part, ...]) -> None:
        names = sorted({n for p in parts for n in ([p.paint] if isinstance(p.paint, str) else p.paint.shares)})
        spectra = np.array([reflectance(name) for name in names])
        _, _, basis = np.linalg.svd(spectra, full_matrices=False)
        self.basis = basis[:RANK]
        if len(self.basis) < RANK:
            self.basis = np.vstack([self.basis, np.zeros((RANK - len(self.basis), COUNT))])
        loading = dict(zip(names, (spectra @ self.basis.T).astype(np.float32), strict=True))
        texels: list[Array] = []
        corners: list[Array] = []
        rows, seen, at, faces_at = [], dict[int, int](), 0, 0
        for part in parts:
            paint = part.paint
            width, height, mode, corner_row = 1, 1, 0, 0
            if isinstance(paint, str):
                block = loading[paint][None]
            else:
                block = sum(share.reshape(-1, 1) * loading[name] for name, share in paint.shares.items())  # type: ignore[assignment]
                if len(paint.shape) == 2:
                    height, width, mode = *paint.shape, 1
                else:
                    mode, corner_row = 2, faces_at
                    corners.append(part.faces)
                    faces_at += len(part.faces)
            # Boards that share a paint share its texels.
            place = seen.get(id(paint)) if mode == 1 else None
            if place is None:
                place = at
                if mode == 1:
                    seen[id(paint)] = at
                texels.append(block)
                at += len(block)
            rows.append((place, width, height, mode, corner_row))
        table = np.concatenate(texels).astype(np.float32)
        self.first, self.second = (mi.Float(np.ravel(table[:, k : k + 4])) for k in (0, 4))
        self.corners = mi.UInt32(
            np.ravel(np.concatenate(corners) if corners else np.zeros((1, 3))).astype(np.uint32)
        )
        self.place, self.width, self.height, self.mode, self.corner_row = (
            mi.UInt32(np.array([row[k] for row in rows], np.uint32)) for k in range(5)
        )
        self.roughness = mi.Float([p.finish.roughness or 0.0 for p in parts])
        self.specular = mi.Float([0.0 if p.finish.roughness is None else p.finish.specular for p in parts])

    def coefficients(self, part: Any, uv: Any, face: Any, jitter: Any, active: Any) -> list[Any]:
        """Coefficients of the surface at a place; interpolation is by chance, right in the mean."""
        mode = dr.gather(mi.UInt32, self.mode, part, active)
        width = dr.gather(mi.UInt32, self.width, part, active)
        height = dr.gather(mi.UInt32, self.height, part, active)
        across = (uv.x - dr.floor(uv.x)) * mi.Float(width) + jitter.x - 0.5
        down = (1.0 - (uv.y - dr.floor(uv.y))) * mi.Float(height) + jitter.y - 0.5
        column = mi.UInt32(dr.clip(mi.Int32(dr.floor(across)), 0, mi.Int32(width) - 1))
        line = mi.UInt32(dr.clip(mi.Int32(dr.floor(down)), 0, mi.Int32(height) - 1))
        texel = line * width + column
        which = dr.select(
            jitter.x < 1.0 - uv.x - uv.y,
            mi.UInt32(0),
            dr.select(jitter.x < 1.0 - uv.y, mi.UInt32(1), mi.UInt32(2)),
        )
        row = dr.gather(mi.UInt32, self.corner_row, part, active) + face
        painted = active & (mode == 2)
        vertex = dr.gather(mi.UInt32, self.corners, row * 3 + which, painted)
        index = dr.gather(mi.UInt32, self.place, part, active)
        index += dr.select(mode == 2, vertex, dr.select(mode == 1, texel, mi.UInt32(0)))
        one = dr.gather(mi.Vector4f, self.first, index, active)
        two = dr.gather(mi.Vector4f, self.second, index, active)
        return [one.x, one.y, one.z, one.w, two.x, two.y, two.z, two.w]

    def reflectances(self, coefficients: list[Any]) -> list[Any]:
        """The 18 band reflectances; no real paint is whiter than 0.95."""
        out = []
        for k in range(COUNT):
            value = mi.Float(0)
            for j in range(RANK):
                value = dr.fma(coefficients[j], float(self.basis[j, k]), value)
            out.append(dr.clip(value, 0.002, 0.95))
        return out


def _schlick(cosine: Any, specular: Any) -> Any:
    base = 0.08 * specular
    return dr.select(specular > 0, base + (1.0 - base) * dr.power(dr.clip(1.0 - cosine, 0.0, 1.0), 5), 0.0)


def _scatter(wi: Any, wo: Any, alpha: Any, specular: Any) -> tuple[Any, Any, Any]:
    """Diffuse factor, coat value (both with the cosine) and density of a direction, in the local frame."""
    up = (wi.z > 1e-4) & (wo.z > 1e-4)
    half = dr.normalize(wi + wo)
    along = dr.clip(dr.dot(wi, half), 1e-4, 1.0)
    cos2 = dr.square(half.z)
    d = dr.square(alpha) / (dr.pi * dr.square(cos2 * (dr.square(alpha) - 1.0) + 1.0))

    def visible(z: Any) -> Any:
        return 2.0 * z / (z + dr.sqrt(dr.square(alpha) + (1.0 - dr.square(alpha)) * dr.square(z)))

    coat = _schlick(along, specular) * d * visible(wi.z) * visible(wo.z) / (4.0 * dr.maximum(wi.z, 1e-4))
    diffuse = (1.0 - _schlick(wi.z, specular)) * (1.0 - _schlick(wo.z, specular)) * wo.z / dr.pi
    share = dr.select(specular > 0, COAT_SHARE, 0.0)
    density = (1.0 - share) * wo.z / dr.pi + share * d * half.z / (4.0 * along)
    return dr.select(up, diffuse, 0.0), dr.select(up & (specular > 0), coat, 0.0), dr.select(up, density, 0.0)


class Tracer:
    """A scene made ready for tracing.

    Parameters
    ----------
    scene : Scene
    """

    def __init__(self, scene: Scene) -> None:
        self.parts = scene.parts
        self.atlas = _Atlas(scene.parts)
        spec: dict[str, Any] = {f"part{i:05d}": _mesh(part) for i, part in enumerate(scene.parts)}
        ambient = {"type": "rgb", "value": 1.0}
        spec["ambient"] = {
            "type": "constant",
            "radiance": ambient,
            "sampling_weight": (20 * scene.ambient[1]) ** 0.75,
        }
        self.scene = mi.load_dict({"type": "scene", **spec})
        shapes = np.array(dr.reinterpret_array(mi.UInt32, self.scene.shapes_dr()))
        order = [int(shape.id()[4:]) for shape in self.scene.shapes()]
        self.part_of_shape = mi.UInt32(_lookup(shapes, order))
        # Lights: one row of 18 powers each, padded to 20 so that four load at a time; the ambient is the last.
        owners = {i: n for n, i in enumerate(i for i, part in enumerate(scene.parts) if part.light is not None)}
        powers = [part.light[1] * light(part.light[0]) for part in scene.parts if part.light is not None]
        powers.append(scene.ambient[1] * light(scene.ambient[0]))
        self.powers = mi.Float(np.ravel(np.pad(np.array(powers), ((0, 0), (0, 2)))).astype(np.float32))
        emitters = np.array(dr.reinterpret_array(mi.UInt32, self.scene.emitters_dr()))
        rows, painted, part_of_light = [], [], []
        for emitter in self.scene.emitters():
            shape = emitter.get_shape()
            rows.append(len(powers) - 1 if shape is None else owners[int(shape.id()[4:])])
        for i, part in enumerate(scene.parts):
            if part.light is not None:
                part_of_light.append(i)
                painted.append(isinstance(part.paint, Paint))
        self.light_of_emitter = mi.UInt32(_lookup(emitters, rows))
        self.part_of_light = mi.UInt32(np.array([*part_of_light, 0], np.uint32))
        self.painted_light = mi.Bool([*painted, False])

    def _power(self, which: Any, active: Any) -> list[Any]:
        out: list[Any] = []
        for k in range(5):
            four = dr.gather(mi.Vector4f, self.powers, which * 5 + k, active)
            out += [four.x, four.y, four.z, four.w]
        return out[:COUNT]

    def _glow(self, which: Any, uv: Any, jitter: Any, active: Any) -> list[Any]:
        """Radiance of a light at a place on it."""
        painted = dr.gather(mi.Bool, self.painted_light, which, active) & active
        part = dr.gather(mi.UInt32, self.part_of_light, which, active)
        surface = self.atlas.reflectances(self.atlas.coefficients(part, uv, mi.UInt32(0), jitter, painted))
        return [p * dr.select(painted, s, 1.0) for p, s in zip(self._power(which, active), surface, strict=True)]

    def shoot_rays(self, sensor: Any, size: tuple[int, int], spp: int, sampler: Any) -> Any:
        """Camera rays, ``spp`` neighbours a pixel."""
        width, height = size
        index = dr.arange(mi.UInt32, width * height * spp) // spp
        place = mi.Vector2f(mi.Float(index % width), mi.Float(index // width)) + sampler.next_2d()
        place = place / mi.Vector2f(width, height)
        ray, _ = sensor.sample_ray(0.0, 0.5, mi.Point2f(place), mi.Point2f(sampler.next_2d()))
        return ray

    def trace(self, view: View, size: tuple[int, int], spp: int, seed: int) -> tuple[Array, Array, Array, Array]:
        """Trace ``spp`` paths a pixel.

        Returns
        -------
        bands (h, w, 18), albedo (h, w, 18), normal (h, w, 3), depth (h, w)
        """
        chunk = 8
        total: Array | None = None
        for start in range(0, spp, chunk):
            count = min(chunk, spp - start)
            planes = self._trace(view, size, count, seed * 4096 + start)
            part = np.stack([np.array(dr.block_sum(plane, count)) for plane in planes], axis=1)
            total = part if total is None else total + part
        assert total is not None
        width, height = size
        mean = (total / spp).reshape(height, width, -1)
        albedo = np.clip(mean[..., COUNT : COUNT + RANK] @ self.atlas.basis, 0.002, 0.95)
        return mean[..., :COUNT], albedo, mean[..., COUNT + RANK : -1], mean[..., -1]

    @dr.syntax
    def _trace(self, view: View, size: tuple[int, int], spp: int, seed: int):  # type: ignore[no-untyped-def]
        scene = self.scene
        sampler = mi.load_dict({"type": "independent"})
        sampler.seed(seed, size[0] * size[1] * spp)
        ray = mi.Ray3f(self.shoot_rays(sensor_of(view, size), size, spp, sampler))
        radiance = [mi.Float(0) for _ in range(COUNT)]
        through = [mi.Float(1) for _ in range(COUNT)]
        first_coefficients = [mi.Float(0) for _ in range(RANK)]
        first_normal, first_depth = mi.Vector3f(0), mi.Float(0)
        before = dr.zeros(mi.SurfaceInteraction3f)
        density = mi.Float(1)
        depth, active = mi.UInt32(0), mi.Bool(True)
        while active:
            first = depth == 0
            si = scene.ray_intersect(ray, active)
            hit = active & si.is_valid()
            part = dr.gather(mi.UInt32, self.part_of_shape, dr.reinterpret_array(mi.UInt32, si.shape), hit)
            # Light that this path runs into by itself, weighed against having been sampled there.
            emitter = si.emitter(scene, active)
            shines = active & (emitter != None) & (~hit | (mi.Frame3f.cos_theta(si.wi) > 0))  # noqa: E711
            sampled = mi.DirectionSample3f(scene, si, before)
            other = scene.pdf_emitter_direction(before, sampled, shines & ~first)
            weight = dr.select(first, 1.0, density / (density + other))
            which = dr.gather(mi.UInt32, self.light_of_emitter, dr.reinterpret_array(mi.UInt32, emitter), shines)
            glow = self._glow(which, si.uv, sampler.next_2d(), shines)
            for k in range(COUNT):
                radiance[k] = radiance[k] + dr.select(shines, through[k] * glow[k] * weight, 0.0)
            active = hit & (depth + 1 < DEPTH)
            coefficients = self.atlas.coefficients(part, si.uv, si.prim_index, sampler.next_2d(), hit)
            albedo = self.atlas.reflectances(coefficients)
            for j in range(RANK):
                first_coefficients[j] = dr.select(first & hit, coefficients[j], first_coefficients[j])
            first_normal = dr.select(first & hit, mi.Vector3f(si.sh_frame.n), first_normal)
            first_depth = dr.select(first & hit, si.t, first_depth)
            # Both sides of a surface reflect.
            side = dr.select(si.wi.z < 0, -1.0, 1.0)
            wi = mi.Vector3f(si.wi.x, si.wi.y, si.wi.z * side)
            alpha = dr.maximum(dr.square(dr.gather(mi.Float, self.atlas.roughness, part, active)), 0.01)
            specular = dr.gather(mi.Float, self.atlas.specular, part, active)
            # Light sampled on a lamp.
            ds, seen = scene.sample_emitter_direction(si, sampler.next_2d(), True, active)
            local = si.to_local(ds.d)
            towards = mi.Vector3f(local.x, local.y, local.z * side)
            diffuse, coat, chance = _scatter(wi, towards, alpha, specular)
            lit = active & (ds.pdf > 0) & (seen.x > 0)
            factor = dr.select(lit, seen.x * ds.pdf / (ds.pdf + chance), 0.0)
            lamp = dr.gather(mi.UInt32, self.light_of_emitter, dr.reinterpret_array(mi.UInt32, ds.emitter), lit)
            shine = self._glow(lamp, ds.uv, sampler.next_2d(), lit)
            for k in range(COUNT):
                radiance[k] = radiance[k] + through[k] * (diffuse * albedo[k] + coat) * factor * shine[k]
            # Where the path goes on.
            pick, place = sampler.next_1d(), sampler.next_2d()
            glossy = (specular > 0) & (pick < COAT_SHARE)
            cos_half = dr.sqrt((1.0 - place.x) / (1.0 + (dr.square(alpha) - 1.0) * place.x))
            sin_half = dr.safe_sqrt(1.0 - dr.square(cos_half))
            half = mi.Vector3f(
                sin_half * dr.cos(dr.two_pi * place.y), sin_half * dr.sin(dr.two_pi * place.y), cos_half
            )
            mirrored = 2.0 * dr.dot(wi, half) * half - wi
            onward = dr.select(glossy, mirrored, mi.warp.square_to_cosine_hemisphere(place))
            diffuse, coat, density = _scatter(wi, onward, alpha, specular)
            active = active & (density > 0)
            inverse = dr.select(active, 1.0 / dr.maximum(density, 1e-12), 0.0)
            for k in range(COUNT):
                through[k] = through[k] * (diffuse * albedo[k] + coat) * inverse
            before = dr.detach(si)
            ray = si.spawn_ray(si.to_world(mi.Vector3f(onward.x, onward.y, onward.z * side)))
            depth += 1
        planes = [*radiance, *first_coefficients, first_normal.x, first_normal.y, first_normal.z, first_depth]
        dr.eval(planes)
        return planes

    def classes(self, view: View, size: tuple[int, int]) -> tuple[Array, Array]:
        """Which part each pixel's centre shows, (h, w) int (-1: none), and its depth (h, w)."""
        width, height = size
        index = dr.arange(mi.UInt32, width * height)
        place = (mi.Vector2f(mi.Float(index % width), mi.Float(index // width)) + 0.5) / mi.Vector2f(width, height)
        ray, _ = sensor_of(view, size).sample_ray(0.0, 0.5, mi.Point2f(place), mi.Point2f(0.5))
        si = self.scene.ray_intersect(ray)
        part = dr.gather(mi.UInt32, self.part_of_shape, dr.reinterpret_array(mi.UInt32, si.shape), si.is_valid())
        index = dr.select(si.is_valid(), mi.Int32(part), -1)
        return np.array(index).reshape(height, width), np.array(dr.select(si.is_valid(), si.t, 0.0)).reshape(
            height, width
        )


def _lookup(ids: Array, values: list[int]) -> Array:
    table = np.zeros(int(ids.max()) + 1, np.uint32)
    table[ids] = values
    return table


def sensor_of(view: View, size: tuple[int, int]) -> Any:
    """Mitsuba's camera for a view."""
    width, height = size
    forward = np.subtract(view.target, view.position)
    distance = float(np.linalg.norm(forward))
    forward = forward / distance
    right = np.cross(forward, [0, 0, 1.0])
    right /= np.linalg.norm(right)
    up = np.cross(right, forward)
    roll = np.deg2rad(view.roll)
    up = np.cos(roll) * up + np.sin(roll) * right
    pose = mi.ScalarTransform4f().look_at(origin=list(view.position), target=list(view.target), up=up.tolist())
    spec: dict[str, Any] = {
        "type": "thinlens" if view.aperture else "perspective",
        "fov": view.fov,
        "fov_axis": "x",
        "near_clip": 0.05,
        "to_world": pose,
        "film": {"type": "hdrfilm", "width": width, "height": height},
    }
    if view.aperture:
        spec["aperture_radius"] = view.aperture
        spec["focus_distance"] = distance if view.focus is None else view.focus
    return mi.load_dict(spec)
