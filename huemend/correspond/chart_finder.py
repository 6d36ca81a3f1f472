"""A 24-patch colour chart in a picture: where its patches are, believed only if they have the published colours.

OpenCV's ``mcc`` module looks for the chart; it needs no model file, and its luck depends on the size at which the
chart is shown to it, so that several sizes are tried. What it returns is a guess until the patches agree with the
published values (`huemend.model.surfaces`) up to one 3x3, which stands for light, camera
and exposure. Twenty-four colours in a fixed order leave little to chance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, Float64
from huemend.base.cv import import_chart_finder, import_cv2
from huemend.base.units import AP1_LUMINANCE, FROM_MAD
from huemend.model import LinearStill
from huemend.model.surfaces import PUBLISHED
from huemend.options import ChartOptions
from huemend.view import delta_e2000, measurement_lab, measurement_picture

#: Numbers of the neutral patches between white and black, which neither clip nor drown easily.
GREYS = (19, 20, 21, 22)
_PATCHES, _ACROSS = 24, 6
# Side of a patch over the distance to the next (common practice, no source): only its middle is measured.
_SIDE = 0.85
# The detector was made for photographs; the middle tones of this picture lie where theirs do.
_MIDDLE = 0.16
# A patch that is farther from its colour than this, or not plain at all, says only that it is elsewhere.
_FAR, _HOPELESS = 20.0, 1e3
# Centres of the patches on the board, where each is one apart from the next, and those of its four corners.
_GRID = np.stack([np.arange(_PATCHES) % _ACROSS, np.arange(_PATCHES) // _ACROSS], axis=1).astype(float)
_ENDS = _GRID[[0, 5, 23, 18]]


@dataclass(frozen=True, kw_only=True, eq=False)
class Chart:
    """A chart in one picture, patch by patch in the published order (dark skin first, black last)."""

    #: (24, 3) float64, scene-linear ACEScg.
    rgb: Float
    #: (24,) float64. Relative standard error of each patch's mean.
    noise: Float
    #: (24,) bool. False where a patch is clipped, ignored, drowned in noise, too small, or not of its published
    #: colour.
    usable: Bool
    #: (24, 2) float64. x, y of the patches' centres in pixels of the LinearStill.
    place: Float
    #: Of a circle as large as the part of a patch that is measured, pixels.
    radius: float
    #: Mean CIEDE2000 from the published colours after the best 3x3.
    residual: float


def published_residual(rgb: Float, usable: Bool, options: ChartOptions) -> tuple[float, Bool]:
    """Return how far patches, (24, 3), are from the published ones after the best 3x3, as mean CIEDE2000.

    A few single patches may be something else: a hand, a highlight, a scratch. They are left out, the worst
    first, of those that count (``usable``); returned are also those that were kept, (24,) bool. Infinite where
    too few count for a 3x3 to be put to the test.
    """
    kept = usable.copy()
    for last in range(options.most_covered, -1, -1):
        if kept.sum() < _PATCHES // 2:
            break
        off = _differences(rgb, kept)
        if not last or off.max() <= options.largest_difference:
            return float(off.mean()), kept
        kept[np.nonzero(kept)[0][off.argmax()]] = False
    return float("inf"), kept


def _differences(rgb: Float, usable: Bool) -> Float64:
    """Return the CIEDE2000 of each usable patch from the published one, after the best 3x3."""
    seen, published = np.asarray(rgb, float)[usable], PUBLISHED[usable]
    # Relative errors, so that the white patch does not decide alone; a little light keeps black from doing so.
    weight = 1 / (published @ AP1_LUMINANCE + 0.02)
    mix = np.linalg.lstsq(seen * weight[:, None], published * weight[:, None], rcond=None)[0]
    return delta_e2000(measurement_lab(seen @ mix), measurement_lab(published))


def find_chart(still: LinearStill, options: ChartOptions) -> Chart | None:
    """Find a chart in a picture; None where there is none, or what was found is no chart.

    Raises MissingLibraryError where this OpenCV has no chart finder.
    """
    cv2, mcc = import_cv2(), import_chart_finder()
    picture = _toned(still)
    height, width = picture.shape[:2]
    for scale in options.scales:
        times = scale * options.width / max(height, width)
        method = cv2.INTER_AREA if times < 1 else cv2.INTER_CUBIC
        detector = mcc.CCheckerDetector_create()
        detector.setColorChartType(mcc.MCC24)
        if not detector.process(cv2.resize(picture, None, fx=times, fy=times, interpolation=method), options.most):
            continue
        for found in detector.getListColorChecker():
            centres = np.array(found.getColorCharts(), float).reshape(_PATCHES, 4, 2).mean(1)
            # Pixel centres at whole numbers, in OpenCV's corners too.
            corners = settle(still, (centres + 0.5) / times - 0.5)
            chart = None if corners is None else measure_chart(still, corners, options)
            if chart is not None:
                return chart
    return None


def settle(still: LinearStill, centres: Float) -> Float64 | None:
    """Settle a flat board on a chart that is roughly found: the detector often lies half a patch off at a corner.

    ``centres``, (24, 2), are x, y of the patches as the detector has them, in pixels. Returned are corners of
    the patches, (24, 4, 2), by the homography near to the detector's at which patches are plain within
    themselves and have the published colours; None where there is no such board.
    """
    from scipy.optimize import minimize

    cv2 = import_cv2()
    board, _ = cv2.findHomography(_GRID, centres, 0)
    if board is None:
        return None
    start = _moved(board, _ENDS)
    if not np.isfinite(start).all():
        return None
    step = float(np.linalg.norm(start[0] - start[1])) / (_ACROSS - 1)
    ends = np.asarray(_ENDS, np.float32)
    # Points over most of each patch: where some of them leave it, the patch is no longer plain.
    reach = 0.42 * _SIDE * np.linspace(-1, 1, 5)
    inner = (_GRID[:, None] + np.stack(np.meshgrid(reach, reach), axis=-1).reshape(1, -1, 2)).reshape(-1, 2)
    last = np.array(still.clipped.shape[::-1], float) - 1
    used = np.ones(_PATCHES, bool)

    def moved_board(shift: Float) -> Float64:
        corners = start + step * shift.reshape(4, 2)
        return np.asarray(cv2.getPerspectiveTransform(ends, corners.astype(np.float32)), float)

    def unlike(shift: Float) -> float:
        place = _moved(moved_board(shift), inner)
        if not np.isfinite(place).all() or (place < 0).any() or (place > last).any():
            return _HOPELESS
        column, row = np.rint(place).astype(int).T
        pixels = np.maximum(np.asarray(still.rgb[row, column], float), 1e-4).reshape(_PATCHES, -1, 3)
        plain = np.minimum(np.log(pixels).std(axis=1).mean(-1), 1.0)
        off = np.minimum(_differences(np.median(pixels, axis=1), used), _FAR)
        return float(off.mean() + _FAR * plain.mean())

    simplex = np.vstack([np.zeros(8), 0.25 * np.eye(8)])
    options = {"initial_simplex": simplex, "maxfev": 400, "xatol": 0.01, "fatol": 0.01}
    found = minimize(unlike, np.zeros(8), method="Nelder-Mead", options=options)
    if found.fun >= _HOPELESS:
        return None
    half = _SIDE / 2 * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    corners = _moved(moved_board(found.x), (_GRID[:, None] + half).reshape(-1, 2)).reshape(_PATCHES, 4, 2)
    return corners if np.isfinite(corners).all() else None


def _moved(homography: Float, points: Float) -> Float64:
    flat = np.hstack([points, np.ones((len(points), 1))]) @ homography.T
    out: Float64 = flat[:, :2] / np.where(np.abs(flat[:, 2:]) > 1e-12, flat[:, 2:], np.nan)
    return out


def measure_chart(still: LinearStill, corners: Float, options: ChartOptions) -> Chart | None:
    """Measure 24 patches, and return them if they have the published colours in either reading direction.

    ``corners``, (24, 4, 2), are x, y of those of the patches, in pixels.
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
        if middle @ AP1_LUMINANCE < options.darkest:
            continue
        spread = FROM_MAD * np.median(np.abs(pixels - middle), axis=0) / np.maximum(middle, options.darkest)
        rgb[patch] = middle
        noise[patch] = np.hypot(float(spread.max()) / np.sqrt(len(pixels)), options.least_noise)
    usable = np.isfinite(rgb).all(1)
    # A chart that hangs upside down is a chart.
    turned = np.arange(_PATCHES)[::-1]
    found = [(*published_residual(rgb[order], usable[order], options), order) for order in (turned[::-1], turned)]
    residual, kept, order = min(found, key=lambda each: each[0])
    if not residual <= options.largest_residual:
        return None
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=-1)
    return Chart(
        rgb=rgb[order],
        noise=noise[order],
        usable=kept,
        place=place[order],
        radius=float(options.inside * sides.mean() / np.sqrt(np.pi)),
        residual=residual,
    )


def _toned(still: LinearStill) -> NDArray[np.uint8]:
    rgb = np.maximum(np.asarray(still.rgb, np.float32), 0)
    use = still.valid if still.valid.any() else np.ones(still.valid.shape, bool)
    stops = np.log2(_MIDDLE) - float(np.log2(rgb[use] @ AP1_LUMINANCE.astype(np.float32) + 1e-3).mean())
    return np.ascontiguousarray(measurement_picture(rgb, stops)[..., ::-1])


def _inside(still: LinearStill, corners: Float) -> Float64 | None:
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
