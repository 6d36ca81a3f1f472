"""Pictures of an angle: as recorded, and as light."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from huemend.base.arrays import Bool, Float, Float64, FrozenArrays
from huemend.base.units import MID_GREY

# A pile at the top of all channels is as flat as this share of its light, and flatter than noise would let a
# bright surface be; in a picture without noise the two can't be told apart.
_FLAT, _LEAST_NOISE = 0.01, 0.002
# It holds this share of the picture: of less, a bright surface may look the same. So many columns tell.
_PILE, _ACROSS = 0.05, 480


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Still(FrozenArrays):
    """One picture as recorded, upright and cropped."""

    #: (height, width, 3) float32. Code values as the file holds them, 1.0 being the largest code of its bit depth
    #: (float files as they are). The range (full or legal) is still that of the file.
    codes: Float
    angle: str
    #: Which moment of the setup this is; pictures of one moment are compared with one another.
    moment: int
    #: File name as written in the setup file.
    source: str
    #: Bits of an integer file; 16 or 32 for half and float.
    bit_depth: int
    #: True if the file held floating-point values.
    floating: bool = False
    #: Hash of the file's bytes (empty for a frame of a clip).
    sha256: str = ""
    #: ``full`` or ``legal`` where the picture itself decides (a clip does); None means the angle's.
    range: str | None = None
    #: Which frame of a clip this is, counted from 0.
    frame: int | None = None


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LinearStill(FrozenArrays):
    """One picture in scene-linear light, at working resolution."""

    #: (height, width, 3) float32, scene-linear ACEScg.
    rgb: Float
    #: (height, width) bool. False where any channel is clipped, lies in the noise floor, or is not finite.
    valid: Bool
    #: (height, width) bool. True where any channel sits at the top of what the camera recorded.
    clipped: Bool
    angle: str
    moment: int
    source: str
    #: (height, width). Size of the upright, cropped picture before it was brought to working resolution.
    full_size: tuple[int, int]
    #: Estimated standard deviation of one pixel's noise at mid-grey, relative to the signal.
    noise: float = 0.0
    #: (height, width) bool or None. True where the setup file says that nothing may be used; None where it says
    #: nothing.
    ignored: Bool | None = None
    #: Which frame of a clip this is, counted from 0.
    frame: int | None = None
    #: (red, green, blue) or None. Light, in the camera's own gamut, from which each channel counts as clipped; inf
    #: where nothing clips.
    clip_light: tuple[float, float, float] | None = None
    #: How many pixels of working resolution one pixel of this picture is wide: above 1 where a later moment was
    #: made smaller.
    reduced: float = 1.0

    @property
    def extent(self) -> Float64:
        """(width, height) in pixels of working resolution, which is what places of pairs are given in."""
        return self.reduced * np.array(self.rgb.shape[1::-1], float)

    @cached_property
    def without_detail(self) -> Bool:
        """Where the picture holds no detail at its bright end, (height, width).

        That is what is clipped, and besides it a large area at one value, the highest of every channel, at a light
        at which cameras don't clip: a picture that was clipped before it was written as log.
        """
        if self.noise < _LEAST_NOISE:
            return self.clipped
        step = max(1, self.rgb.shape[1] // _ACROSS)
        few = self.rgb[::step, ::step].reshape(-1, 3)
        top = few.max(axis=0)
        noise = self.noise * float(np.sqrt(MID_GREY / max(float(top.mean()), 1e-6)))
        least = top * (1 - min(_FLAT, 1.2 * noise))
        if (few >= least).all(axis=1).mean() < _PILE:
            return self.clipped
        return np.asarray(self.clipped | (self.rgb >= least).all(axis=2))


@dataclass(frozen=True, kw_only=True, eq=False)
class Regions(FrozenArrays):
    """Small areas of one angle's pictures, each of one colour."""

    angle: str
    #: (n, 3) float64, scene-linear ACEScg. Mean colour of each region.
    rgb: Float
    #: (n,) float64. Share of the pictures that each covers.
    area: Float

    def __len__(self) -> int:
        return len(self.area)
