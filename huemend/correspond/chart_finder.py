"""A 24-patch colour chart in a picture: where its patches are, believed only if they have the published colours.

OpenCV's ``mcc`` module looks for the chart; it needs no model file, and its luck depends on the size at which the
chart is shown to it, so that several sizes are tried. What it returns is a guess until the patches agree with the
published values (the chart's maker, as colour-science carries them) up to one 3x3, which stands for light, camera
and exposure. Twenty-four colours in a fixed order leave little to chance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.cv import import_cv2
from huemend.model import LinearStill
from huemend.options import ChartOptions
from huemend.units import AP1_LUMINANCE
from huemend.view import delta_e2000, measurement_lab, measurement_picture

__all__ = ["GREYS", "Chart", "find_chart", "measure_chart", "published_colours", "published_residual"]

Float = NDArray[np.floating[Any]]

#: Numbers of the neutral patches between white and black, which neither clip nor drown easily.
GREYS = (19, 20, 21, 22)
_PATCHES, _ACROSS = 24, 6
_PUBLISHED = "ColorChecker24 - After November 2014"
_WEIGHTS = AP1_LUMINANCE / AP1_LUMINANCE.sum()
# The detector was made for photographs; the middle tones of this picture lie where theirs do.
_MIDDLE = 0.16
_FROM_MAD = 1.4826


@dataclass(frozen=True, kw_only=True, eq=False)
class Chart:
    """A chart in one picture, patch by patch in the published order (dark skin first, black last).

    Attributes
    ----------
    rgb : (24, 3) float64, scene-linear ACEScg
    noise : (24,) float64
        Relative standard error of each patch's mean.
    usable : (24,) bool
        False where a patch is clipped, ignored, drowned in noise, or too small.
    place : (24, 2) float64
        x, y of the patches' centres in pixels of the LinearStill.
    radius : float
        Of a circle as large as the part of a patch that is measured, pixels.
    residual : float
        Mean CIEDE2000 from the published colours after the best 3x3.
    """

    rgb: Float
    noise: Float
    usable: NDArray[np.bool_]
    place: Float
    radius: float
    residual: float


@lru_cache(maxsize=1)
def published_colours() -> NDArray[np.float64]:
    """Return the published colours of the 24 patches, (24, 3) scene-linear ACEScg.

    The maker's values under D50 for charts made since November 2014, as carried by colour-science
    (``CCS_COLOURCHECKERS``), adapted to the ACES white by Bradford. Earlier charts differ by a mean CIEDE2000 of
    0.6, which the 3x3 of a check mostly takes up.
    """
    import colour

    chart = colour.CCS_COLOURCHECKERS[_PUBLISHED]
    xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
    rgb = colour.XYZ_to_RGB(xyz, colour.RGB_COLOURSPACES["ACEScg"], chart.illuminant, "Bradford")
    out = np.array(rgb, float)
    out.setflags(write=False)
    return out


def published_residual(rgb: Float, usable: NDArray[np.bool_]) -> float:
    """Return how far patches are from the published ones after the best 3x3, as mean CIEDE2000.

    Parameters
    ----------
    rgb : (24, 3) array, scene-linear ACEScg
    usable : (24,) bool
        The patches that count.

    Returns
    -------
    float
        Infinity where too few patches count for a 3x3 to be put to the test.
    """
    if usable.sum() < _PATCHES // 2:
        return float("inf")
    seen, known = np.asarray(rgb, float)[usable], published_colours()[usable]
    # Relative errors, so that the white patch does not decide alone; a little light keeps black from doing so.
    weight = 1 / (known @ _WEIGHTS + 0.02)
    mix = np.linalg.lstsq(seen * weight[:, None], known * weight[:, None], rcond=None)[0]
    return float(delta_e2000(measurement_lab(seen @ mix), measurement_lab(known)).mean())


def find_chart(still: LinearStill, options: ChartOptions) -> Chart | None:
    """Find a chart in a picture; None where there is none, or what was found is no chart.

    Parameters
    ----------
    still : LinearStill
    options : ChartOptions
    """
    cv2 = import_cv2()
    picture = _shown(still)
    height, width = picture.shape[:2]
    for scale in options.scales:
        times = scale * options.width / max(height, width)
        method = cv2.INTER_AREA if times < 1 else cv2.INTER_CUBIC
        detector = cv2.mcc.CCheckerDetector_create()
        detector.setColorChartType(cv2.mcc.MCC24)
        if not detector.process(cv2.resize(picture, None, fx=times, fy=times, interpolation=method), options.most):
            continue
        for found in detector.getListColorChecker():
            # Pixel centres at whole numbers, in OpenCV's corners too.
            corners = (np.array(found.getColorCharts(), float).reshape(_PATCHES, 4, 2) + 0.5) / times - 0.5
            chart = measure_chart(still, corners, options)
            if chart is not None:
                return chart
    return None


def measure_chart(still: LinearStill, corners: Float, options: ChartOptions) -> Chart | None:
    """Measure 24 patches, and return them if they have the published colours in either reading direction.

    Parameters
    ----------
    still : LinearStill
    corners : (24, 4, 2) array
        x, y of the corners of the patches, in pixels.
    options : ChartOptions
    """
    place = corners.mean(1)
    rgb, noise = np.full((_PATCHES, 3), np.nan), np.full(_PATCHES, np.nan)
    for patch in range(_PATCHES):
        # The rim of a patch mixes with its frame; a place that is a little off still lies inside.
        inner = place[patch] + options.inside * (corners[patch] - place[patch])
        pixels = _inside(still, inner)
        if pixels is None or len(pixels) < options.fewest_pixels:
            continue
        middle = np.median(pixels, axis=0)
        if middle @ _WEIGHTS < options.darkest:
            continue
        spread = _FROM_MAD * np.median(np.abs(pixels - middle), axis=0) / np.maximum(middle, options.darkest)
        rgb[patch] = middle
        noise[patch] = np.hypot(float(spread.max()) / np.sqrt(len(pixels)), options.least_noise)
    usable = np.isfinite(rgb).all(1)
    # A chart that hangs upside down is a chart.
    turned = np.arange(_PATCHES)[::-1]
    residuals = [published_residual(rgb[order], usable[order]) for order in (turned[::-1], turned)]
    if not min(residuals) <= options.largest_residual:
        return None
    order = turned if residuals[1] < residuals[0] else turned[::-1]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=-1)
    return Chart(
        rgb=rgb[order],
        noise=noise[order],
        usable=usable[order],
        place=place[order],
        radius=float(options.inside * sides.mean() / np.sqrt(np.pi)),
        residual=min(residuals),
    )


def _shown(still: LinearStill) -> NDArray[np.uint8]:
    rgb = np.maximum(np.asarray(still.rgb, np.float32), 0)
    use = still.valid if still.valid.any() else np.ones(still.valid.shape, bool)
    stops = np.log2(_MIDDLE) - float(np.log2(rgb[use] @ AP1_LUMINANCE.astype(np.float32) + 1e-3).mean())
    return np.ascontiguousarray(measurement_picture(rgb, stops)[..., ::-1])


def _inside(still: LinearStill, corners: Float) -> NDArray[np.float64] | None:
    """Return the pixels inside a quadrangle; None where it leaves the picture, or holds one that is spoilt."""
    from skimage.draw import polygon

    height, width = still.clipped.shape
    if (corners < 0).any() or (corners > (width - 1, height - 1)).any():
        return None
    rows, columns = polygon(corners[:, 1], corners[:, 0], (height, width))
    spoilt = still.clipped[rows, columns]
    if still.ignored is not None:
        spoilt = spoilt | still.ignored[rows, columns]
    if spoilt.any():
        return None
    pixels = np.asarray(still.rgb[rows, columns], float)
    return pixels if np.isfinite(pixels).all() else None
