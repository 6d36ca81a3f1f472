"""From a scene and a view to spectral radiance in 18 bands, and to what each pixel shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .clean import clean_light
from .mesh import CLASSES
from .scene import Scene, View

__all__ = ["Render", "render_bands", "render_class", "render_views"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Render:
    """One view: ``bands`` (h, w, 18) float32 spectral radiance, ``cls`` (h, w) uint8 as in ``mesh.CLASSES``."""

    bands: NDArray[np.float32]
    cls: NDArray[np.uint8]


def render_views(
    scene: Scene,
    views: Mapping[str, View],
    size: tuple[int, int] = (960, 540),
    spp: int = 64,
    seed: int = 0,
    clean: bool = True,
) -> dict[str, Render]:
    """Render several views of one scene.

    Parameters
    ----------
    views : mapping of name to View
    size : (width, height)
    spp : int
        Paths a pixel.
    seed : int
        The same seed gives the same pictures on one machine.
    clean : bool
        Smooth the noise that is left, see :mod:`clean`.
    """
    from .trace import Tracer

    tracer = Tracer(scene)
    result = {}
    for number, (name, view) in enumerate(views.items()):
        bands, albedo, normal, depth = tracer.trace(view, size, spp, seed * 64 + number)
        if clean:
            bands = clean_light(bands, albedo, normal, depth)
        result[name] = Render(
            bands=np.ascontiguousarray(bands, np.float32), cls=_classes(tracer, scene, view, size)
        )
    return result


def render_bands(
    scene: Scene, view: View, size: tuple[int, int] = (960, 540), spp: int = 64, seed: int = 0, clean: bool = True
) -> NDArray[np.float32]:
    """Spectral radiance of one view, (h, w, 18)."""
    return render_views(scene, {"view": view}, size, spp, seed, clean)["view"].bands


def render_class(scene: Scene, view: View, size: tuple[int, int] = (960, 540)) -> NDArray[np.uint8]:
    """What each pixel's centre shows, (h, w), numbered as in ``mesh.CLASSES``."""
    from .trace import Tracer

    return _classes(Tracer(scene), scene, view, size)


def _classes(tracer: Any, scene: Scene, view: View, size: tuple[int, int]) -> NDArray[np.uint8]:
    part, _ = tracer.classes(replace(view, aperture=0.0), size)
    table = np.array([*(CLASSES[part.kind] for part in scene.parts), CLASSES["none"]], np.uint8)
    return table[part]
