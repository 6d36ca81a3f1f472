"""The colours of patches that two pictures show at known places."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from huemend.base.arrays import Bool, Float, Float64
from huemend.base.units import AP1_LUMINANCE
from huemend.correspond.raster import MatchPicture, patch_means
from huemend.options import CorrespondOptions

if TYPE_CHECKING:
    from huemend.correspond.growth import Grown


@dataclass(frozen=True, kw_only=True, eq=False)
class Patches:
    """n patches as both views show them."""

    #: (n, 3) float64, scene-linear ACEScg.
    reference_rgb: Float
    angle_rgb: Float
    #: (n, 2) float64. Relative standard deviation of the mean in the reference and in the angle.
    noise: Float
    #: (n,) bool. Touches nothing that is clipped or ignored, in either view.
    clean: Bool
    #: (n,) bool. Is not too dark in either view.
    lit: Bool

    @property
    def usable(self) -> Bool:
        """True where both colours can be used, (n,)."""
        out: Bool = self.clean & self.lit
        return out


def patch_radius(grown: Grown, options: CorrespondOptions) -> Float64:
    """Return the radius of patches in the two matching pictures, (n, 2): the same piece of each surface."""
    scale = np.sqrt(np.abs(np.linalg.det(grown.affine)))
    return np.stack([np.full(len(scale), options.patch_radius), np.maximum(options.patch_radius * scale, 1.0)], 1)


def measure_patches(ours: MatchPicture, theirs: MatchPicture, grown: Grown, options: CorrespondOptions) -> Patches:
    """Return the mean colours of patches where growth put them, over the same piece of each surface."""
    radius = patch_radius(grown, options)
    reference_rgb, reference_clean = patch_means(ours, grown.reference, radius[:, 0])
    angle_rgb, angle_clean = patch_means(theirs, grown.angle, radius[:, 1])
    lit = (reference_rgb @ AP1_LUMINANCE > options.darkest) & (angle_rgb @ AP1_LUMINANCE > options.darkest)
    # Stops to relative; a soft patch of radius r averages about 2 pi (r/2)**2 * 2 pixels.
    area = np.pi * radius**2
    noise = (
        np.log(2)
        * np.stack(
            [
                ours.noise_at(np.log2(np.maximum(reference_rgb @ AP1_LUMINANCE, 1e-4))),
                theirs.noise_at(np.log2(np.maximum(angle_rgb @ AP1_LUMINANCE, 1e-4))),
            ],
            1,
        )
        / np.sqrt(area)
    )
    return Patches(
        reference_rgb=reference_rgb,
        angle_rgb=angle_rgb,
        noise=noise,
        clean=reference_clean & angle_clean,
        lit=lit,
    )
