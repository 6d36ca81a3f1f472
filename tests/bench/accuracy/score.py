"""How far an angle is from the truth: CIEDE2000 in a plain Rec.709 / BT.1886 view.

No gain is applied before the view and light is clipped to the display's 0..1, as on a monitor. BT.1886 with
a zero black is undone exactly by the display, so the light that reaches the eye is linear Rec.709.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import colour
import numpy as np
from numpy.typing import NDArray

from tests.bench.accuracy import codes
from tests.bench.accuracy.cases import CLASSES, SKIN, Truth

Apply = Callable[[Any], Any]

#: CIELAB chroma of the truth below which a pixel is neutral, and above which it is saturated. Between a
#: painted "white" wall (2 to 5) and skin (15 to 25); common practice, no source.
NEUTRAL_CHROMA, SATURATED_CHROMA = 6.0, 32.0
#: Neutrals near black carry no visible cast: lightness below this is left out of the neutrals.
NEUTRAL_LIGHTNESS = 15.0
#: A part of the picture with fewer scored pixels than this is not reported.
FEWEST = 50


@dataclass(frozen=True, kw_only=True)
class Score:
    """Mean CIEDE2000 over the frame and its parts, and the frame's 95th percentile.

    ``skin`` is by person where the case tells them apart (and under ``skin`` for all together). A part that
    is not in frame is missing.
    """

    mean: float
    p95: float
    parts: dict[str, float] = field(default_factory=dict)
    skin: dict[str, float] = field(default_factory=dict)


def view_lab(rgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIELAB (D65) of scene-linear ACEScg in the plain view; shapes (..., 3)."""
    light = np.clip(rgb @ codes.gamut_matrix("ACEScg", "ITU-R BT.709").T, 0.0, 1.0)
    xyz = light @ colour.RGB_COLOURSPACES["ITU-R BT.709"].matrix_RGB_to_XYZ.T
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    return np.asarray(colour.XYZ_to_Lab(xyz, white), float)


def differences(got: NDArray[np.float64], want: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIEDE2000 between two arrays of scene-linear ACEScg in the plain view."""
    return np.asarray(colour.difference.delta_E_CIE2000(view_lab(got), view_lab(want)), float)


def score(truth: Truth, apply: Apply, people: tuple[str, ...] = ()) -> Score:
    """Score what ``apply`` makes of the angle's pixels."""
    error = differences(apply(truth.shot), truth.truth)
    return summarise(error, truth, people)


def summarise(error: NDArray[np.float64], truth: Truth, people: tuple[str, ...] = ()) -> Score:
    """Sum up per-pixel errors, shape (height, width)."""
    lab = view_lab(truth.truth)
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    masks = {name: truth.cls == index for index, name in enumerate(CLASSES)}
    masks["neutrals"] = (chroma < NEUTRAL_CHROMA) & (lab[..., 0] > NEUTRAL_LIGHTNESS)
    masks["saturated"] = chroma > SATURATED_CHROMA
    parts = {name: float(error[mask].mean()) for name, mask in masks.items() if mask.sum() >= FEWEST}
    skin = {}
    for number, name in enumerate(people, start=1):
        mask = (truth.cls == SKIN) & (truth.person == number)
        if mask.sum() >= FEWEST:
            skin[name] = float(error[mask].mean())
    return Score(mean=float(error.mean()), p95=float(np.percentile(error, 95)), parts=parts, skin=skin)


def as_shot(rgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """The match that does nothing."""
    return rgb


def by_matrix(matrix: NDArray[np.float64]) -> Apply:
    """A match that is a (3, 3) matrix on column vectors."""
    return lambda rgb: rgb @ np.asarray(matrix, float).T


def by_cube(path: Path, encoding: str, *, legal: bool = False) -> Apply:
    """A match that is a cube from camera codes to camera codes, applied as a grading system would.

    OpenColorIO, tetrahedral, on 32-bit floats.
    """
    import PyOpenColorIO as ocio

    transform = ocio.FileTransform(str(path.resolve()), interpolation=ocio.INTERP_TETRAHEDRAL)
    processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()

    def apply(rgb: NDArray[np.float64]) -> NDArray[np.float64]:
        values = np.ascontiguousarray(codes.encode(rgb, encoding, legal=legal), np.float32)
        processor.applyRGB(values)
        return codes.decode(values, encoding, legal=legal)

    return apply
