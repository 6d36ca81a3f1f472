"""What the scopes measure, apart from how they are drawn.

Everything here works on Rec.709 R'G'B' signals of the measurement view, 0 being black and 1 display white.
Pictures are averaged over patches in scene-linear light first: a single pixel of a log camera carries up to
three and a half CIEDE2000 of noise, and a trace that is broad with noise hides a difference of balance.
"""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Float, Float32, Float64
from huemend.base.units import BT709_LUMA
from huemend.write.report.pictures import resized

#: Scale of the colour-difference signals, ITU-R BT.709-6, item 3.3.
_CB_SCALE, _CR_SCALE = 1.8556, 1.5748

CHANNELS = ("red", "green", "blue")

#: The six colours of 75 % bars as R'G'B' (bars 100/0/75/0 of ITU-R BT.471-1).
BARS_75: dict[str, tuple[float, float, float]] = {
    "yellow": (0.75, 0.75, 0.0),
    "cyan": (0.0, 0.75, 0.75),
    "green": (0.0, 0.75, 0.0),
    "magenta": (0.75, 0.0, 0.75),
    "red": (0.75, 0.0, 0.0),
    "blue": (0.0, 0.0, 0.75),
}

#: Between which angles skin tends to lie on a vectorscope, counter-clockwise from +Cb. The skin patches of the
#: published 24-patch chart lie at 118 and 121 degrees, the line of common practice (the +I axis of composite
#: video) at 123. A guide: light, make-up and intent move people out of it.
SKIN_GUIDE_DEGREES = (115.0, 127.0)

#: Rows of a density: finer ones break a trace of averaged patches into dots.
_ROWS = 128
#: Cells of a side of a vectorscope, and patches across a picture.
_CELLS, _PATCHES = 200, 160


def luma(signal: Float) -> Float64:
    """Return Y' of R'G'B' (ITU-R BT.709-6, item 3.2), both 0..1.

    >>> float(luma(np.array([0.5, 0.5, 0.5])).round(6))
    0.5
    """
    return np.asarray(np.asarray(signal, float) @ BT709_LUMA)


def chroma(signal: Float) -> Float64:
    """Return (C'B, C'R) of R'G'B' (ITU-R BT.709-6, item 3.3), each -0.5..0.5, on a last axis of two.

    >>> chroma(np.array([0.0, 0.0, 1.0])).round(4)
    array([ 0.5   , -0.0458])
    """
    signal = np.asarray(signal, float)
    y = luma(signal)
    return np.stack([(signal[..., 2] - y) / _CB_SCALE, (signal[..., 0] - y) / _CR_SCALE], axis=-1)


def hue_degrees(cb_cr: Float) -> Float64:
    """Return the angle on the vectorscope, counter-clockwise from +Cb, 0..360."""
    return np.asarray(np.degrees(np.arctan2(cb_cr[..., 1], cb_cr[..., 0])) % 360.0)


def middle(values: Float) -> float:
    """Return the median of what is finite, NaN where nothing is.

    >>> middle(np.array([1.0, np.nan, 3.0])), middle(np.array([]))
    (2.0, nan)
    """
    good = np.asarray(values, float)[np.isfinite(values)]
    return float(np.median(good)) if good.size else float("nan")


def turn_degrees(start: float, end: float) -> float:
    """Return the shortest signed turn from one hue to another.

    >>> turn_degrees(350.0, 10.0), turn_degrees(10.0, 350.0)
    (20.0, -20.0)
    """
    return (end - start + 180.0) % 360.0 - 180.0


def patch_average(rgb: Float) -> Float32:
    """Average a scene-linear picture over square patches, so many across its width."""
    return resized(rgb, _PATCHES)


def column_density(signal: Float, top: float, rows: int = _ROWS) -> Float64:
    """Return how often each level occurs in each column of one (height, width) signal, 0..1: a waveform.

    Row by row, (rows, width), from ``top`` down to 0, as a share of the column's patches, the largest of all being
    1. What lies outside is counted in the first and last row, as a clipped signal lies on the edge of a scope.
    """
    signal = np.asarray(signal, float)
    height, width = signal.shape
    level = np.clip(((1.0 - signal / top) * rows).astype(int), 0, rows - 1)
    column = np.broadcast_to(np.arange(width), (height, width))
    counts = np.bincount((level * width + column).ravel(), minlength=rows * width).reshape(rows, width)
    return _ink(counts.astype(float))


def plane_density(cb_cr: Float, reach: float) -> Float64:
    """Return how often each chroma, (..., 2), occurs from -reach to reach, Cr growing upwards: a vectorscope.

    (cells, cells), the largest being 1.
    """
    flat = np.asarray(cb_cr, float).reshape(-1, 2)
    x = np.clip(((flat[:, 0] / reach + 1) / 2 * _CELLS).astype(int), 0, _CELLS - 1)
    y = np.clip(((1 - flat[:, 1] / reach) / 2 * _CELLS).astype(int), 0, _CELLS - 1)
    counts = np.bincount(y * _CELLS + x, minlength=_CELLS * _CELLS).reshape(_CELLS, _CELLS)
    return _ink(counts.astype(float))


def _ink(counts: Float64) -> Float64:
    """Turn counts into ink: rare levels stay visible beside common ones."""
    peak = counts.max()
    if peak == 0:
        return counts
    # Between one patch and the peak lie three orders of magnitude; a third power brings them onto paper.
    ink: Float64 = np.cbrt(counts / peak)
    return np.where(counts > 0, np.maximum(ink, 0.4), 0.0)
