"""Rendering 18 bands with Mitsuba 3, three at a time.

Mitsuba's RGB variants carry three independent numbers along each path and, with raw textures, never ask what the
three mean. So the scene is rendered six times with the same random seed, each time with the reflectances and lights
of three bands. The paths are the same each time; the noise is therefore (nearly) grey, and whatever noise is left is part
of the picture that shot and truth share.

The result is then cleaned: divided by the surface's own reflectance, smoothed over neighbours of the same orientation
and depth with weights common to all bands, and multiplied back, so texture and colour stay untouched.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .mesh import CLASSES, Part
from .scene import Scene, View
from .spectra import BANDS, light, reflectance
from .texture import Paint

__all__ = ["Render", "render_bands", "render_class", "render_views"]

Array = NDArray[Any]

DEPTH = 6


@dataclass(frozen=True, kw_only=True)
class Render:
    """One view: ``bands`` (h, w, 18) float32 spectral radiance, ``cls`` (h, w) uint8 as in ``mesh.CLASSES``."""

    bands: NDArray[np.float32]
    cls: NDArray[np.uint8]


def _mitsuba() -> Any:
    import mitsuba as mi

    if mi.variant() != "llvm_ad_rgb":
        mi.set_variant("llvm_ad_rgb")
    mi.set_log_level(mi.LogLevel.Error)
    return mi


def _colour(mi: Any, part: Part) -> dict[str, Any]:
    if isinstance(part.paint, str):
        return {"type": "rgb", "value": 0.5}
    if len(part.paint.shape) == 1:
        return {"type": "mesh_attribute", "name": "vertex_paint"}
    empty = np.full((*part.paint.shape, 3), 0.5, np.float16)
    return {"type": "bitmap", "bitmap": mi.Bitmap(empty), "raw": True, "format": "fp16"}


def _mesh(mi: Any, part: Part) -> Any:
    props = mi.Properties()
    if part.finish.roughness is None:
        props["bsdf"] = mi.load_dict({"type": "diffuse", "reflectance": _colour(mi, part)})
    else:
        gloss = {"roughness": part.finish.roughness, "specular": part.finish.specular}
        props["bsdf"] = mi.load_dict({"type": "principled", "base_color": _colour(mi, part), **gloss})
    if part.light is not None:
        painted = isinstance(part.paint, Paint) and len(part.paint.shape) == 2
        shine = _colour(mi, part) if painted else {"type": "rgb", "value": 1.0}
        props["emitter"] = mi.load_dict({"type": "area", "radiance": shine})
    has_uv = part.uv is not None
    count = (len(part.vertices), len(part.faces))
    mesh = mi.Mesh("part", *count, has_vertex_normals=part.smooth, has_vertex_texcoords=has_uv, props=props)
    fields = mi.traverse(mesh)
    fields["vertex_positions"] = np.ravel(part.vertices).astype(np.float32)
    fields["faces"] = np.ravel(part.faces).astype(np.uint32)
    if part.smooth:
        fields["vertex_normals"] = np.ravel(vertex_normals(part.vertices, part.faces)).astype(np.float32)
    if has_uv:
        fields["vertex_texcoords"] = np.ravel(part.uv).astype(np.float32)
    fields.update()
    if isinstance(part.paint, Paint) and len(part.paint.shape) == 1:
        mesh.add_attribute("vertex_paint", 3, np.full(3 * len(part.vertices), 0.5, np.float32))
    return mesh


class _Loaded:
    """A scene inside Mitsuba; its geometry stays while the bands change."""

    def __init__(self, scene: Scene) -> None:
        self.mi = _mitsuba()
        self.parts = {f"part{i:05d}": part for i, part in enumerate(scene.parts)}
        self.ambient = scene.ambient
        spec: dict[str, Any] = {name: _mesh(self.mi, part) for name, part in self.parts.items()}
        spec["ambient"] = {"type": "constant", "radiance": {"type": "rgb", "value": 1.0}}
        self.scene = self.mi.load_dict({"type": "scene", **spec})
        self.params = self.mi.traverse(self.scene)

    def set_bands(self, which: list[int]) -> None:
        """Give every surface and light the values of three bands."""
        mi = self.mi
        name, power = self.ambient
        self.params["ambient.radiance.value"] = mi.Color3f(*(power * light(name)[which]).tolist())
        for key, part in self.parts.items():
            slot = "reflectance" if part.finish.roughness is None else "base_color"
            if isinstance(part.paint, str):
                self.params[f"{key}.bsdf.{slot}.value"] = mi.Color3f(*reflectance(part.paint)[which].tolist())
            elif len(part.paint.shape) == 1:
                self.params[f"{key}.vertex_paint"] = mi.Float(np.ravel(part.paint.bands(which)))
            else:
                # Mitsuba has v = 0 at row 0; here v runs up, as a picture hangs.
                pixels = np.ascontiguousarray(part.paint.bands(which)[::-1]).astype(np.float16)
                self.params[f"{key}.bsdf.{slot}.data"] = mi.TensorXf16(pixels)
            if part.light is not None:
                lamp, radiance = part.light
                shine = radiance * light(lamp)[which]
                if isinstance(part.paint, Paint) and len(part.paint.shape) == 2:
                    glow = np.ascontiguousarray((part.paint.bands(which) * shine)[::-1]).astype(np.float16)
                    self.params[f"{key}.emitter.radiance.data"] = mi.TensorXf16(glow)
                else:
                    self.params[f"{key}.emitter.radiance.value"] = mi.Color3f(*shine.tolist())
        self.params.update()

    def render(self, view: View, size: tuple[int, int], integrator: dict[str, Any], spp: int, seed: int) -> Array:
        """Render one view with the bands as set."""
        sensor = _sensor(self.mi, view, size)
        image = self.mi.render(self.scene, sensor=sensor, integrator=self.mi.load_dict(integrator), spp=spp, seed=seed)
        return np.array(image)


def vertex_normals(vertices: Array, faces: Array) -> Array:
    """Area-weighted normals; vertices at the same place (seams of a lathe) share one."""
    corners = vertices[faces]
    face_normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    _, same = np.unique(np.round(vertices * 1e5).astype(np.int64), axis=0, return_inverse=True)
    same = same.ravel()
    total = np.zeros((same.max() + 1, 3))
    for k in range(3):
        for axis in range(3):
            total[:, axis] += np.bincount(same[faces[:, k]], face_normals[:, axis], minlength=len(total))
    normals = total[same]
    return normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)


def _sensor(mi: Any, view: View, size: tuple[int, int]) -> Any:
    width, height = size
    forward = np.subtract(view.target, view.position)
    distance = float(np.linalg.norm(forward))
    forward = forward / distance
    right = np.cross(forward, [0, 0, 1.0])
    right /= np.linalg.norm(right)
    up = np.cross(right, forward)
    roll = np.deg2rad(view.roll)
    up = np.cos(roll) * up + np.sin(roll) * right
    spec: dict[str, Any] = {
        "type": "thinlens" if view.aperture else "perspective",
        "fov": view.fov,
        "fov_axis": "x",
        "near_clip": 0.05,
        "to_world": mi.ScalarTransform4f().look_at(origin=list(view.position), target=list(view.target), up=up.tolist()),
        "film": {
            "type": "hdrfilm",
            "width": width,
            "height": height,
            "rfilter": {"type": "box"},
            "pixel_format": "rgb",
            "component_format": "float32",
        },
        "sampler": {"type": "independent"},
    }
    if view.aperture:
        spec["aperture_radius"] = view.aperture
        spec["focus_distance"] = distance if view.focus is None else view.focus
    return mi.load_dict(spec)


def render_views(
    scene: Scene, views: Mapping[str, View], size: tuple[int, int] = (960, 540), spp: int = 64, seed: int = 0, clean: bool = True
) -> dict[str, Render]:
    """Render several views of one scene.

    Parameters
    ----------
    views : mapping of name to View
    size : (width, height)
    spp : int
        Paths a pixel and band group.
    seed : int
    clean : bool
        Smooth the light as the module says.
    """
    loaded = _Loaded(scene)
    light_maps: dict[str, list[Array]] = {name: [] for name in views}
    albedos: dict[str, list[Array]] = {name: [] for name in views}
    guides: dict[str, Array] = {}
    for start in range(0, len(BANDS), 3):
        loaded.set_bands(list(range(start, start + 3)))
        for k, (name, view) in enumerate(views.items()):
            # The same seed and count in both: each path's place in its pixel is the same.
            common = (spp, seed * 1000 + k)
            light_maps[name].append(loaded.render(view, size, {"type": "path", "max_depth": DEPTH, "rr_depth": 1000}, *common))
            if clean:
                aovs = "albedo:albedo" if name in guides else "albedo:albedo,nn:sh_normal,dd:depth"
                out = loaded.render(view, size, {"type": "aov", "aovs": aovs}, *common)
                albedos[name].append(out[..., :3])
                guides.setdefault(name, out[..., 3:])
    result = {}
    for name, view in views.items():
        bands = np.concatenate(light_maps[name], axis=2)
        if clean:
            bands = clean_light(bands, np.concatenate(albedos[name], axis=2), guides[name][..., :3], guides[name][..., 3])
        result[name] = Render(bands=np.ascontiguousarray(bands, np.float32), cls=_classes(loaded, scene, view, size))
    return result


def render_bands(
    scene: Scene, view: View, size: tuple[int, int] = (960, 540), spp: int = 64, seed: int = 0, clean: bool = True
) -> NDArray[np.float32]:
    """Spectral radiance of one view, (h, w, 18)."""
    return render_views(scene, {"view": view}, size, spp, seed, clean)["view"].bands


def render_class(scene: Scene, view: View, size: tuple[int, int] = (960, 540)) -> NDArray[np.uint8]:
    """What each pixel's centre shows, (h, w), numbered as in ``mesh.CLASSES``."""
    return _classes(_Loaded(scene), scene, view, size)


def _classes(loaded: _Loaded, scene: Scene, view: View, size: tuple[int, int]) -> NDArray[np.uint8]:
    sharp = replace(view, aperture=0.0)
    out = loaded.render(sharp, size, {"type": "aov", "aovs": "ss:shape_index,dd:depth"}, 1, 0)
    table = np.array([CLASSES[part.kind] for part in scene.parts], np.uint8)
    index, depth = np.rint(out[..., 0]).astype(int), out[..., 1]
    cls = table[np.clip(index, 0, len(table) - 1)]
    cls[depth <= 0] = CLASSES["none"]
    return cls


def clean_light(bands: Array, albedo: Array, normal: Array, depth: Array, rounds: int = 3) -> NDArray[np.float32]:
    """Smooth the light that falls on surfaces, edge-avoiding, with the same weights for every band.

    An a-trous wavelet filter guided by normal, depth and the light's own brightness, after Dammertz, Sewtz, Hanika &
    Lensch, Edge-avoiding a-trous wavelet transform for fast global illumination filtering, HPG 2010.
    """
    import cv2

    base = np.maximum(albedo, 0.02)
    falling = (bands / base).astype(np.float32)
    kernel = np.array([1, 4, 6, 4, 1]) / 16.0
    slope = np.hypot(*np.gradient(cv2.GaussianBlur(depth.astype(np.float32), (0, 0), 1.0))) + 0.002 * depth + 1e-4
    # Pixels on an outline average two surfaces; no neighbour is like them, so they stay as rendered.
    bend = np.abs(cv2.Laplacian(depth.astype(np.float32), cv2.CV_32F, ksize=1)) / np.maximum(depth, 0.1)
    inner = (bend < 0.02) & ((normal**2).sum(2) > 0.9)
    for level in range(rounds):
        step = 2**level
        bright = np.log(cv2.GaussianBlur(falling.mean(2), (0, 0), 1.0 + 0.5 * level) + 1e-3)
        total, norm = np.zeros_like(falling), np.zeros(depth.shape, np.float32)
        pad = 2 * step
        border = ((pad, pad), (pad, pad))
        wide = [np.pad(a, (*border, *((0, 0),) * (a.ndim - 2)), mode="edge") for a in (falling, normal, depth, bright)]
        for i in range(5):
            for j in range(5):
                window = (slice(i * step, i * step + depth.shape[0]), slice(j * step, j * step + depth.shape[1]))
                light_there, normal_there, depth_there, bright_there = (a[window] for a in wide)
                facing = np.clip((normal * normal_there).sum(2), 0, 1) ** 64
                near = np.exp(-np.abs(depth - depth_there) / (slope * step * 2.0))
                alike = np.exp(-(((bright - bright_there) / 0.15) ** 2))
                weight = (kernel[i] * kernel[j] * facing * near * alike).astype(np.float32)
                if i == j == 2:
                    weight += 1e-6
                total += weight[..., None] * light_there
                norm += weight
        falling = total / norm[..., None]
    return np.where(inner[..., None], falling * base, bands).astype(np.float32)
