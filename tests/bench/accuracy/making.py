"""Make a bench setup: render its stages, let its cameras record them, and keep the truth beside the pictures.

A stage (a set, its light, a moment) is rendered once, in spectral bands; any number of cameras can then record
it. What is rendered stays in the cache.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from fnmatch import fnmatch
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from demo.generator import camera as kit
from demo.generator.camera import Camera
from demo.generator.scene import Scene, View
from tests.bench.accuracy import codes, sets
from tests.bench.accuracy.geometry import Pinhole, shared_surfaces

Codes = NDArray[np.uint16] | NDArray[np.uint8]

#: Raise this when the stages look different from before, so that caches are made anew.
RENDERING = 2
#: Raise this when cases hold other things than before.
RECORDING = 3
SIZE = (960, 540)
PATHS = 12
#: Where the kit's renderer begins its rays, in metres before the camera.
NEAR_CLIP = 0.05
#: The display-referred encoding, and a log one that holds all that the sensor sees.
DISPLAY, _DEEP_LOG = "BT.709 display", "LogC4/AWG4"
#: Truth is kept for every third pixel, from the second on.
THIRD = (slice(1, None, 3), slice(1, None, 3))


@dataclass(frozen=True, kw_only=True)
class Stage:
    """A set at one moment, seen from ``views``; ``aperture`` and ``focus`` are in metres (0: all is sharp).

    ``paths`` a pixel are traced for pictures of ``size`` (width, height).
    """

    name: str
    build: Callable[[], sets.Peopled]
    people: tuple[str, ...]
    views: tuple[str, ...]
    aperture: float = 0.0
    focus: float | None = None
    size: tuple[int, int] = SIZE
    paths: int = PATHS

    def cameras(self, scene: Scene) -> dict[str, View]:
        """The scene's views that are used, with this stage's lens."""
        return {view: replace(scene.views[view], aperture=self.aperture, focus=self.focus) for view in self.views}


@dataclass(frozen=True, kw_only=True)
class Shot:
    """One camera of a setup: the view it has, and how it records it.

    ``legal`` keeps code values 64 to 940, as 0 to 1; ``upside_down`` hangs the camera from the ceiling; ``knee``
    is the look that a display-referred camera bakes in. ``claimed`` is the range that is declared, where that is
    not the true one; ``jpeg`` the quality of a lossy 8-bit codec with halved chroma between camera and file.
    """

    stage: Stage
    view: str
    camera: Camera
    legal: bool = False
    upside_down: bool = False
    knee: bool = False
    claimed: str = ""
    jpeg: int = 0

    @property
    def declared(self) -> str:
        """The range that the setup file states."""
        return self.claimed or ("legal" if self.legal else "full")


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """One setup; ``wide`` is the hero. ``target`` is the log-mean luminance that the hero is exposed for."""

    about: str
    shots: dict[str, Shot]
    blind: tuple[str, ...] = ()
    settled: tuple[str, ...] = ()
    target: float = 0.12


def make(recipes: dict[str, Recipe], cache: Path, *, only: list[str] | None = None) -> None:
    """Make the setups that ``cache/cases`` lacks; renders are kept in ``cache/renders``."""
    renders = Renders(cache / "renders")
    for name, recipe in recipes.items():
        if only and not any(fnmatch(name, pattern) for pattern in only):
            continue
        folder, stamp = cache / "cases" / name, _stamp(recipe)
        kept = folder / "recipe.json"
        if kept.exists() and kept.read_text("utf-8") == stamp:
            continue
        print(f"making {name}: {recipe.about}", file=sys.stderr, flush=True)
        # Built beside its place and moved there whole, so that nobody meets half a case.
        unfinished = cache / f"making-{name}-{os.getpid()}"
        try:
            _make_one(name, recipe, unfinished, renders)
            (unfinished / "recipe.json").write_text(stamp, "utf-8")
            folder.parent.mkdir(parents=True, exist_ok=True)
            shutil.rmtree(folder, ignore_errors=True)
            unfinished.rename(folder)
        finally:
            shutil.rmtree(unfinished, ignore_errors=True)


def _stamp(recipe: Recipe) -> str:
    """What the pictures depend on, as text: a case with another stamp is made anew."""
    shots = {
        name: [shot.stage.name, shot.view, repr(shot.camera), shot.legal, shot.upside_down, shot.knee]
        + [value for value in (shot.claimed, shot.jpeg) if value]
        for name, shot in recipe.shots.items()
    }
    sizes = sorted({(*shot.stage.size, shot.stage.paths) for shot in recipe.shots.values()})
    return json.dumps([RENDERING, RECORDING, sizes, shots, recipe.blind, recipe.settled, recipe.target], indent=1)


@dataclass(frozen=True, kw_only=True, eq=False)
class Rendered:
    """One view: spectral bands (h, w, 18), what each pixel shows, and whose it is (0 nobody's)."""

    bands: NDArray[np.float32]
    cls: NDArray[np.uint8]
    person: NDArray[np.uint8]


@dataclass(frozen=True)
class Renders:
    """Renders kept in a folder, one file a view, made a stage at a time."""

    folder: Path

    def view(self, shot: Shot) -> Rendered:
        """What the shot's camera stands before."""
        path = self._path(shot.stage, shot.view)
        if not path.exists():
            self._render(shot.stage)
        with np.load(path) as data:
            return Rendered(bands=data["bands"].astype(np.float32), cls=data["cls"], person=data["person"])

    def depth(self, shot: Shot) -> tuple[Pinhole, NDArray[np.float64]]:
        """The shot's camera, and the distance (h, w) of what each pixel shows (0: nothing)."""
        path = self._path(shot.stage, shot.view, "depth")
        if not path.exists():
            self._measure(shot.stage)
        with np.load(path) as data:
            camera = Pinhole(
                origin=data["origin"], axes=data["axes"], focal=float(data["focal"]), size=shot.stage.size
            )
            return camera, data["depth"].astype(float)

    def _path(self, stage: Stage, view: str, kind: str = "") -> Path:
        paths = f"_{kind}{RECORDING}" if kind else f"_{stage.paths}"
        return self.folder / f"{stage.name}_{view}_{stage.size[0]}x{stage.size[1]}{paths}_{RENDERING}.npz"

    def _render(self, stage: Stage) -> None:
        from demo.generator.render import render_views
        from demo.generator.trace import Tracer

        scene, people = stage.build()
        missing = {
            view: spec for view, spec in stage.cameras(scene).items() if not self._path(stage, view).exists()
        }
        print(f"rendering {stage.name}: {', '.join(missing)}", file=sys.stderr, flush=True)
        seed = zlib.crc32(stage.name.encode()) % 1000
        rendered = render_views(scene, missing, stage.size, spp=stage.paths, seed=seed)
        numbers = {id(part): number for number, parts in enumerate(people, start=1) for part in parts}
        # One more for pixels that show nothing: part -1.
        owner = np.array([*(numbers.get(id(part), 0) for part in scene.parts), 0], np.uint8)
        tracer = Tracer(scene)
        for view, spec in missing.items():
            part, _ = tracer.classes(replace(spec, aperture=0.0), stage.size)
            # Half floats hold radiance to 0.05 %, and shot and truth share what is lost.
            bands = rendered[view].bands.astype(np.float16)
            _save(self._path(stage, view), bands=bands, cls=rendered[view].cls, person=owner[part])

    def _measure(self, stage: Stage) -> None:
        from demo.generator.trace import Tracer

        scene, _ = stage.build()
        tracer = Tracer(scene)
        for view, spec in stage.cameras(scene).items():
            _, depth = tracer.classes(replace(spec, aperture=0.0), stage.size)
            camera = Pinhole.of(spec, stage.size)
            _save(
                self._path(stage, view, "depth"),
                depth=camera.from_origin(depth, NEAR_CLIP).astype(np.float32),
                origin=camera.origin,
                axes=camera.axes,
                focal=camera.focal,
            )


def _save(path: Path, **arrays: object) -> None:
    """Write an .npz whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(f".{os.getpid()}.npz")
    np.savez(unfinished, **arrays)  # type: ignore[arg-type]
    unfinished.replace(path)


def _make_one(name: str, recipe: Recipe, folder: Path, renders: Renders) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    hero = recipe.shots["wide"]
    # The operator exposes for what the frame shows, not for lamps in it.
    key = kit.expose(renders.view(hero).bands, hero.camera, recipe.target)
    for camera_name, shot in recipe.shots.items():
        view = renders.view(shot)
        seed = zlib.crc32(f"{name}/{camera_name}".encode())
        _write_png(folder / f"{camera_name}.png", _record(view.bands, shot, key, seed))
        if camera_name == "wide":
            continue
        clean = _finish(kit.develop(view.bands, shot.camera, key), shot)
        want = _finish(kit.truth(view.bands, hero.camera, key), hero)
        np.savez_compressed(
            folder / f"truth_{camera_name}.npz",
            shot=codes.decode(clean, shot.camera.encoding, legal=shot.declared == "legal")[THIRD].astype(
                np.float16
            ),
            truth=codes.decode(want, hero.camera.encoding, legal=hero.legal)[THIRD].astype(np.float16),
            cls=view.cls[THIRD],
            person=view.person[THIRD],
        )
        if camera_name not in recipe.blind:
            hero_xy, angle_xy, scale = shared_surfaces(*renders.depth(hero), *renders.depth(shot))
            np.savez_compressed(
                folder / f"surfaces_{camera_name}.npz", hero_xy=hero_xy, angle_xy=angle_xy, scale=scale
            )
    spec = {
        "about": recipe.about,
        "hero": "wide",
        "encoding": {camera_name: shot.camera.encoding for camera_name, shot in recipe.shots.items()},
        "range": {camera_name: shot.declared for camera_name, shot in recipe.shots.items()},
        "rotate": {camera_name: 180 for camera_name, shot in recipe.shots.items() if shot.upside_down},
        "blind": list(recipe.blind),
        "settled": list(recipe.settled),
        "people": list(hero.stage.people),
        "electrons": {camera_name: shot.camera.electrons for camera_name, shot in recipe.shots.items()},
    }
    (folder / "case.json").write_text(json.dumps(spec, indent=1) + "\n", "utf-8")


def _record(
    bands: NDArray[np.float32], shot: Shot, key: float, seed: int
) -> NDArray[np.uint16] | NDArray[np.uint8]:
    """What the camera writes to its card: code values of its depth, spread over 8 or 16 bits."""
    camera = shot.camera
    # Quantising comes last, after range and look: let the kit keep 16 bits of log until then.
    log = camera.encoding if camera.encoding != DISPLAY else _DEEP_LOG
    values = kit.shoot(bands, replace(camera, encoding=log, bits=16), key, seed) / 65535
    if camera.encoding == DISPLAY or shot.legal:
        values = _finish(kit.decode(values, log), shot)
    if shot.upside_down:
        values = values[::-1, ::-1]
    top = 2**camera.bits - 1
    values = np.rint(values * top) / top
    if shot.jpeg:
        picture = np.rint(values[..., ::-1] * 255).astype(np.uint8)
        _, squeezed = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, shot.jpeg])
        decoded: NDArray[np.uint8] = np.asarray(cv2.imdecode(squeezed, cv2.IMREAD_COLOR), np.uint8)[..., ::-1]
        return decoded
    kind = np.uint8 if camera.bits == 8 else np.uint16
    return np.asarray(np.rint(values * np.iinfo(kind).max).astype(kind))


def _finish(rgb: NDArray[np.float64], shot: Shot) -> NDArray[np.float64]:
    """Scene-linear ACEScg to the code values of the shot's encoding, look and range, not yet quantised."""
    if shot.knee:
        light = rgb @ codes.gamut_matrix("ACEScg", "ITU-R BT.709").T
        rgb = _knee(light) @ codes.gamut_matrix("ITU-R BT.709", "ACEScg").T
    return codes.encode(rgb, shot.camera.encoding, legal=shot.legal)


#: A display-referred camera squeezes light above this share of white into what is left (a "knee"; common
#: practice, no source), up to four times white; the bend is such that the curve has no kink.
_KNEE, _KNEE_REACH, _KNEE_BEND = 0.8, 4.0, 67.6


def _knee(light: NDArray[np.float64]) -> NDArray[np.float64]:
    over = np.clip((light - _KNEE) / (_KNEE_REACH - _KNEE), 0.0, 1.0)
    squeezed = _KNEE + (1.0 - _KNEE) * np.log1p(_KNEE_BEND * over) / np.log1p(_KNEE_BEND)
    return np.where(light > _KNEE, squeezed, light)


def _write_png(path: Path, values: Codes) -> None:
    if not cv2.imwrite(str(path), np.ascontiguousarray(values[..., ::-1])):
        raise OSError(f"{path}: cannot be written")
