"""What is rendered: parts, ambient light, and the views that a room suggests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .mesh import Part

__all__ = ["Scene", "View"]


@dataclass(frozen=True, kw_only=True)
class View:
    """Where a camera stands and what it sees.

    Attributes
    ----------
    position, target : (x, y, z)
        Metres.
    fov : float
        Horizontal angle of view in degrees.
    roll : float
        Turn about the optical axis in degrees; 180 is a camera hung upside down.
    aperture : float
        Radius of the lens opening in metres; 0 has everything in focus.
    focus : float or None
        Distance of sharp focus; None: the target's.
    """

    position: tuple[float, float, float]
    target: tuple[float, float, float]
    fov: float
    roll: float = 0.0
    aperture: float = 0.0
    focus: float | None = None


@dataclass(frozen=True, kw_only=True)
class Scene:
    """A set.

    Attributes
    ----------
    ambient : (str, float)
        Name and radiance of a light from everywhere that stands for the rest of the stage.
    views : mapping
        Suggested views by name; ``wide`` is the hero.
    """

    name: str
    parts: tuple[Part, ...]
    ambient: tuple[str, float] = ("D55", 0.05)
    views: Mapping[str, View] = field(default_factory=dict)
