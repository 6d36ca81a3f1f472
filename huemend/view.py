"""The views: one to measure in, one to look at, shared by every stage that shows or judges colour.

The *measurement view* is a plain conversion of scene-linear ACEScg to BT.709 primaries (CAT02), one gain, and a
clip to display range; every colour difference uses it. The *picture view* is the ACES 2.0 output transform after
the ACES 1.3 reference gamut compression: it rolls highlights off as a monitor on set would, and is for eyes only.
"""

from __future__ import annotations

from functools import cache
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, Float32, Float64
from huemend.base.tasks import over
from huemend.base.units import AP1_LUMINANCE, acescct_decode, matrix_times, stops_to_gain
from huemend.model import LinearStill

__all__ = [
    "clips",
    "delta_e2000",
    "ease_light",
    "luminance",
    "measurement_lab",
    "measurement_picture",
    "measurement_signal",
    "rendered_hdr_signal",
    "rendered_picture",
    "rendered_signal",
    "view_stops_of",
]


def _constant(rows: tuple[tuple[float, float, float], ...]) -> Float64:
    matrix = np.array(rows)
    matrix.setflags(write=False)
    return matrix


# Derived from the chromaticities of S-2014-004 and BT.709-6 (SMPTE RP 177), CAT02 between the whites;
# the tests derive them again with colour-science.
_ACESCG_TO_709 = _constant(
    (
        (1.705079643607503, -0.6242334614728379, -0.08084618213466575),
        (-0.1297005301166055, 1.13846854656911, -0.008768016452504719),
        (-0.02416634494252404, -0.1246141580525819, 1.148780502995106),
    )
)
# BT.709 RGB to CIE XYZ over the XYZ of its white (D65: x 0.3127, y 0.3290), which is what CIELAB asks for.
_709_TO_XYZ_OVER_WHITE = _constant(
    (
        (0.4338873455660399, 0.3762240091374988, 0.1898886452964614),
        (0.2126390058715103, 0.7151686787677559, 0.07219231536073371),
        (0.01775004007097324, 0.1094476208552384, 0.8728023390737882),
    )
)

# CIE 15:2018, section 8.2.1: where the cube root of CIELAB gives way to a line.
_LAB_BREAK, _LAB_SLOPE = (6 / 29) ** 3, 841 / 108


def luminance(rgb: Float) -> Float:
    """Return the relative luminance of ACEScg, (..., 3) to (...)."""
    weighted: Float = rgb @ AP1_LUMINANCE.astype(rgb.dtype)
    return weighted


# ----------------------------------------------------------------------------------------- to measure in


def _display_light(rgb: Float, view_stops: float) -> Float:
    """ACEScg to linear BT.709 with the view's gain, not clipped; keeps float32."""
    rgb = np.asarray(rgb)
    kind = rgb.dtype if rgb.dtype == np.float32 else np.dtype(float)
    return matrix_times(_ACESCG_TO_709 * stops_to_gain(view_stops), rgb.astype(kind, copy=False))


def _largest(rgb: Float) -> Float:
    return np.maximum(np.maximum(rgb[..., 0], rgb[..., 1]), rgb[..., 2])


def measurement_lab(rgb: Float, view_stops: float = 0.0) -> Float:
    """Scene-linear ACEScg to CIELAB in the measurement view (D65, 2 degrees).

    Parameters
    ----------
    rgb : (..., 3) array
    view_stops : float
        The gain of the view, ``view_stops`` of the setup's hero.

    Returns
    -------
    (..., 3) array
        L*, a*, b*. Light outside of what the display can show is clipped: see ``clips``.
    """
    light = np.clip(_display_light(rgb, view_stops), 0.0, 1.0)
    ratio = matrix_times(_709_TO_XYZ_OVER_WHITE, light)
    root = np.cbrt(ratio)
    f = np.where(ratio > _LAB_BREAK, root, _LAB_SLOPE * ratio + 4 / 29).astype(light.dtype)
    lab = np.empty_like(f)
    lab[..., 0] = 116 * f[..., 1] - 16
    lab[..., 1] = 500 * (f[..., 0] - f[..., 1])
    lab[..., 2] = 200 * (f[..., 1] - f[..., 2])
    return lab


def clips(rgb: Float, view_stops: float = 0.0) -> Bool:
    """Return where a colour exceeds display white in the measurement view, (..., 3) to (...) bool.

    A colour difference means nothing there: two clipped colours agree however far apart they are.
    """
    return np.asarray(_largest(_display_light(rgb, view_stops)) > 1.0, np.bool_)


def delta_e2000(lab_a: Float, lab_b: Float) -> Float64:
    """CIEDE2000 between two arrays of CIELAB, (..., 3) each to (...); ISO/CIE 11664-6."""
    # scikit-image gives colour-science's figures to 1e-12 and loads in a quarter of the time.
    from skimage.color import deltaE_ciede2000

    return np.asarray(deltaE_ciede2000(np.asarray(lab_a, float), np.asarray(lab_b, float)), np.float64)


def ease_light(rgb: Float, reference: Float, spread: Float) -> Float64:
    """Forgive a difference of luminance up to what a pair itself says that its light may differ by.

    Two areas drawn by hand may show differently lit parts of a surface, and a plain backdrop hardly knows where on
    it one looks: they are held to their colour.

    Parameters
    ----------
    rgb, reference : (n, 3) array
        Scene-linear ACEScg.
    spread : (n,) array
        Standard deviation of the natural logarithm of luminance.

    Returns
    -------
    (n, 3) float64
        ``rgb`` with another luminance.
    """
    own, wanted = (np.maximum(value @ AP1_LUMINANCE, 1e-4) for value in (rgb, reference))
    eased: Float64 = rgb * np.exp(-np.clip(np.log(own / wanted), -spread, spread))[:, None]
    return eased


def tinted(rgb: Float, off: Float) -> Float64:
    """Add to red and blue over luminance, (..., 2), and leave luminance as it was."""
    luminance = rgb @ AP1_LUMINANCE
    out = np.array(rgb, float)
    out[..., ::2] += off * luminance[..., None]
    out *= (luminance / (out @ AP1_LUMINANCE))[..., None]
    return out


def measurement_signal(rgb: Float, view_stops: float = 0.0) -> Float:
    """Scene-linear ACEScg to BT.709 signal for a BT.1886 display, (..., 3) to (..., 3) in 0..1, clipped."""
    return np.clip(_display_light(rgb, view_stops), 0.0, 1.0) ** (1 / 2.4)


def measurement_picture(rgb: Float, view_stops: float = 0.0) -> NDArray[np.uint8]:
    """Scene-linear ACEScg to the measurement view in 8 bits, (..., 3) to (..., 3) uint8."""
    return _bytes(measurement_signal(rgb, view_stops))


_BLOCKS_ACROSS = 120
_SHARE_UNDER_WHITE = 0.98
# Middle brightness of a set exposed as usual: a stop under mid-grey, since most of a set is in shade.
_USUAL_MIDDLE = 0.09


def view_stops_of(hero: LinearStill) -> float:
    """The one gain of a setup's views: how far to darken so that the hero's bright diffuse areas do not clip.

    The brightness of an area is the median of its largest BT.709 channel over small blocks, so that points of
    specular light count nowhere; blocks that are mostly clipped do not count either, and neither does the
    brightest fiftieth of the frame, which is where lamps in shot are. A window may be larger than that: the middle
    brightness of the frame is never brought below that of a scene exposed as usual, for then the scene is not too
    bright, only the window is.

    Returns
    -------
    float
        0 where nothing needs it, otherwise negative, in tenths of a stop.
    """
    size = max(2, hero.rgb.shape[1] // _BLOCKS_ACROSS)
    rows, columns = (side // size for side in hero.valid.shape)
    if not rows or not columns:
        return 0.0
    largest = np.where(hero.valid, _largest(_display_light(hero.rgb, 0.0)), np.nan)
    tiled = largest[: rows * size, : columns * size].reshape(rows, size, columns, size)
    blocks = tiled.transpose(0, 2, 1, 3).reshape(-1, size * size)
    blocks = blocks[np.isfinite(blocks).mean(axis=1) > 0.5]
    if not len(blocks):
        return 0.0
    levels = np.nanmedian(blocks, axis=1)
    level = float(np.quantile(levels, _SHARE_UNDER_WHITE))
    level = min(level, float(np.median(levels)) / _USUAL_MIDDLE)
    if level <= 1.0:
        return 0.0
    return -float(np.ceil(np.log2(level) * 10 - 1e-9) / 10)


# ------------------------------------------------------------------------------------------- to look at

_SDR = (
    "ACES-OUTPUT - ACES2065-1_to_CIE-XYZ-D65 - SDR-100nit-REC709_2.0",
    "DISPLAY - CIE-XYZ-D65_to_REC.1886-REC.709",
)
_HDR = (
    "ACES-OUTPUT - ACES2065-1_to_CIE-XYZ-D65 - HDR-1000nit-REC2020_2.0",
    "DISPLAY - CIE-XYZ-D65_to_REC.2100-PQ",
)
# The cube's input is ACEScct over the part that the rendering tells apart: from just under black to 100.
_CUBE_SIZE, _CUBE_LOW, _CUBE_HIGH = 65, 0.04, 0.94
_ONE_AT_A_TIME = Lock()


@cache
def _rendering(styles: tuple[str, str]) -> Any:
    """The whole rendering as an OpenColorIO processor: exact, and slow (a UHD frame takes seconds)."""
    import PyOpenColorIO as ocio

    before = ("ACEScg_to_ACES2065-1", "ACES-LMT - ACES 1.3 Reference Gamut Compression")
    group = ocio.GroupTransform([ocio.BuiltinTransform(style) for style in (*before, *styles)])
    return ocio.Config.CreateRaw().getProcessor(group).getDefaultCPUProcessor()


@cache
def _rendering_cube() -> Any:
    """The rendering for SDR through a cube over ACEScct, as an OpenColorIO processor: within a code of 8 bits."""
    import PyOpenColorIO as ocio

    axis = acescct_decode(np.linspace(_CUBE_LOW, _CUBE_HIGH, _CUBE_SIZE)).astype(np.float32)
    # Blue varies fastest in the order that setData expects.
    nodes = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3)
    nodes = np.ascontiguousarray(nodes)
    list(over(np.array_split(nodes, 8), _rendering(_SDR).applyRGB))
    cube = ocio.Lut3DTransform(_CUBE_SIZE)
    cube.setData(nodes.ravel())
    cube.setInterpolation(ocio.INTERP_TETRAHEDRAL)
    encode = ocio.BuiltinTransform("CURVE - ACEScct-LOG_to_LINEAR", direction=ocio.TRANSFORM_DIR_INVERSE)
    scale = 1 / (_CUBE_HIGH - _CUBE_LOW)
    fit = ocio.MatrixTransform(
        [scale, 0, 0, 0, 0, scale, 0, 0, 0, 0, scale, 0, 0, 0, 0, 1], [*[-_CUBE_LOW * scale] * 3, 0]
    )
    return ocio.Config.CreateRaw().getProcessor(ocio.GroupTransform([encode, fit, cube])).getDefaultCPUProcessor()


def _rendered(rgb: Float, processor: Any) -> Float32:
    pixels = np.array(np.reshape(rgb, (-1, 3)), np.float32, order="C")
    processor.applyRGB(pixels)
    return np.clip(pixels, 0.0, 1.0).reshape(np.shape(rgb))


def rendered_signal(rgb: Float) -> Float32:
    """Scene-linear ACEScg to BT.709 signal for a BT.1886 display, rendered by ACES 2.0 (SDR, 100 cd/m2), 0..1."""
    return _rendered(rgb, _rendering(_SDR))


def rendered_hdr_signal(rgb: Float) -> Float32:
    """Scene-linear ACEScg to BT.2100 PQ signal, rendered by ACES 2.0 (1,000 cd/m2, BT.2020); full range."""
    return _rendered(rgb, _rendering(_HDR))


def rendered_picture(rgb: Float) -> NDArray[np.uint8]:
    """Scene-linear ACEScg to the picture view in 8 bits, (..., 3) to (..., 3) uint8; quicker, through a cube."""
    # Made once, whichever thread asks.
    with _ONE_AT_A_TIME:
        cube = _rendering_cube()
    return _bytes(_rendered(rgb, cube))


def _bytes(signal: Float) -> NDArray[np.uint8]:
    return (signal * 255 + 0.5).astype(np.uint8)
