"""Small areas of one colour each: what a view shows, for when nothing says where the other view shows the same."""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Float, Float64, picked
from huemend.base.units import AP1_LUMINANCE
from huemend.correspond.raster import MatchPicture, make_picture
from huemend.model import LinearStill
from huemend.model.stills import Regions
from huemend.options import ColourOptions

# A stop of channel ratio counts like two of luminance: light changes across a surface, its colour hardly does.
_CHROMA_COUNTS = 2.0
_ROUNDS = 8
# Channels below this share of the largest say more of noise and of the gamut than of the surface.
_LEAST_CHANNEL = 0.02


def find_regions(stills: tuple[LinearStill, ...], options: ColourOptions) -> Regions:
    """Cut an angle's pictures, ``options.moments`` of them at most, into regions (docs/maths.md, section 11).

    Of those that have light, away from what is clipped or ignored; perhaps there are none.
    """
    parts = [_regions(make_picture(still, options.width), options) for still in picked(stills, options.moments)]
    rgb, area = (np.concatenate(arrays) for arrays in zip(*parts, strict=True))
    return Regions(angle=stills[0].angle, rgb=rgb, area=area / len(parts))


def _regions(picture: MatchPicture, options: ColourOptions) -> tuple[Float64, Float64]:
    # Superpixels (Achanta et al. 2012), in stops instead of CIELAB: the same surface in half the light is as
    # uniform as in full light.
    from skimage.segmentation import slic

    height, width = picture.rgb.shape[:2]
    label = slic(
        _stops(picture.rgb),
        n_segments=options.regions,
        compactness=options.compactness,
        max_num_iter=_ROUNDS,
        channel_axis=-1,
        convert2lab=False,
        start_label=0,
    ).ravel()
    clean = picture.bad.ravel() == 0
    count = int(label.max()) + 1
    size = np.bincount(label, minlength=count)
    used = np.bincount(label[clean], minlength=count)
    flat = picture.rgb.reshape(-1, 3)[clean]
    total = np.stack([np.bincount(label[clean], flat[:, channel], count) for channel in range(3)], 1)
    mean = total / np.maximum(used, 1)[:, None]
    keep = used >= np.maximum(options.usable * size, 1)
    keep &= (mean @ AP1_LUMINANCE > options.darkest) & (mean[:, 1] > 0)
    return mean[keep], used[keep] / (height * width)


def _stops(rgb: Float) -> Float64:
    """Return (log2 luminance, log2 R/G, log2 B/G), (h, w, 3), the ratios stretched."""
    rgb = np.asarray(rgb, float)
    luminance = np.log2(np.maximum(rgb @ AP1_LUMINANCE, 1e-3))
    safe = np.maximum(rgb, np.maximum(_LEAST_CHANNEL * rgb.max(-1, keepdims=True), 1e-5))
    red, blue = np.log2(safe[..., 0] / safe[..., 1]), np.log2(safe[..., 2] / safe[..., 1])
    return np.stack([luminance, _CHROMA_COUNTS * red, _CHROMA_COUNTS * blue], -1)
