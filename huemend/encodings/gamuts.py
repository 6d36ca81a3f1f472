"""Published gamuts: primaries, white, and how that white is carried to the white of ACEScg.

Matrices are derived from the chromaticities (SMPTE RP 177) and a von Kries adaptation in cone space, which is
what the published transforms to ACES2065-1 do; they multiply column vectors from the left.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float64
from huemend.errors import EncodingError

Matrix = Float64
XY = tuple[float, float]

D65: XY = (0.3127, 0.3290)
ACES_WHITE: XY = (0.32168, 0.33767)

#: Cone responses: CAT02 (CIE 159:2004) and Bradford (Lam 1985, as in ICC.1 Annex E), XYZ to cones.
ADAPTATIONS: dict[str, tuple[tuple[float, float, float], ...]] = {
    "cat02": ((0.7328, 0.4296, -0.1624), (-0.7036, 1.6975, 0.0061), (0.0030, 0.0136, 0.9834)),
    "bradford": ((0.8951, 0.2664, -0.1614), (-0.7502, 1.7135, 0.0367), (0.0389, -0.0685, 1.0296)),
}


@dataclass(frozen=True, kw_only=True)
class Gamut:
    """What light the three channels stand for."""

    name: str
    #: (x, y). CIE 1931 chromaticities.
    red: XY
    green: XY
    blue: XY
    white: XY = D65
    #: ``cat02`` or ``bradford``, as the gamut's published transform to ACES has it.
    adaptation: str = "bradford"
    #: Where the numbers come from.
    source: str = ""


def _xyz(xy: XY) -> Matrix:
    x, y = xy
    return np.array([x / y, 1.0, (1 - x - y) / y])


def _frozen(matrix: NDArray[Any]) -> Matrix:
    out: Matrix = np.array(matrix, np.float64)
    out.setflags(write=False)
    return out


@cache
def rgb_to_xyz(gamut: Gamut) -> Matrix:
    """Return the (3, 3) matrix from linear RGB to CIE XYZ with the gamut's own white at Y = 1 (SMPTE RP 177).

    Raises EncodingError if the primaries lie on one line, or give no finite matrix.
    """
    # Columns (x, y, 1 - x - y), not scaled to Y = 1: a primary may have y = 0 or less.
    primaries = np.array([(x, y, 1 - x - y) for x, y in (gamut.red, gamut.green, gamut.blue)]).T
    if not abs(np.linalg.det(primaries)) > 1e-6:
        raise EncodingError("the three primaries lie on one line", where=gamut.name)
    return _frozen(primaries * np.linalg.solve(primaries, _xyz(gamut.white)))


@cache
def matrix_to_acescg(gamut: Gamut) -> Matrix:
    """Return the (3, 3) matrix from linear RGB of a gamut to linear ACEScg; white stays white."""
    cones = np.array(ADAPTATIONS[gamut.adaptation])
    gain = np.divide(cones @ _xyz(ACES_WHITE), cones @ _xyz(gamut.white))
    adapt = np.linalg.solve(cones, gain[:, None] * cones)
    matrix = np.linalg.solve(rgb_to_xyz(GAMUTS["AP1"]), adapt @ rgb_to_xyz(gamut))
    if gamut == GAMUTS["AP1"]:
        matrix = np.eye(3)
    return _frozen(matrix)


_SUMMARY = "Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3 (Sony)"
_AMPAS = "ACES input transform (aces-dev, vendor supplied), as in OpenColorIO"
_BRADFORD = "no transform to ACES published: Bradford, as in aces-dev's own utilities"

# fmt: off
_ALL = (
    Gamut(name="AP1", red=(0.713, 0.293), green=(0.165, 0.830), blue=(0.128, 0.044), white=ACES_WHITE,
          source="S-2014-004 (ACEScg)"),
    Gamut(name="AP0", red=(0.7347, 0.2653), green=(0.0, 1.0), blue=(0.0001, -0.0770), white=ACES_WHITE,
          source="SMPTE ST 2065-1"),
    Gamut(name="S-Gamut", red=(0.730, 0.280), green=(0.140, 0.855), blue=(0.100, -0.050), adaptation="cat02",
          source=f"S-Gamut primaries in {_SUMMARY}; {_AMPAS}"),
    Gamut(name="S-Gamut3", red=(0.730, 0.280), green=(0.140, 0.855), blue=(0.100, -0.050), adaptation="cat02",
          source=f"{_SUMMARY}; {_AMPAS}"),
    Gamut(name="S-Gamut3.Cine", red=(0.766, 0.275), green=(0.225, 0.800), blue=(0.089, -0.087), adaptation="cat02",
          source=f"{_SUMMARY}; {_AMPAS}"),
    Gamut(name="Venice S-Gamut3", red=(0.740464264304292, 0.279364374750660),
          green=(0.089241145423286, 0.893809528608105),
          blue=(0.110488236673827, -0.052579333080476), adaptation="cat02",
          source="IDT.Sony.Venice_SLog3_SGamut3 (aces-dev, 2020)"),
    Gamut(name="Venice S-Gamut3.Cine", red=(0.775901871567345, 0.274502392854799),
          green=(0.188682902773355, 0.828684937020288),
          blue=(0.101337382499301, -0.089187517306263), adaptation="cat02",
          source="IDT.Sony.Venice_SLog3_SGamut3Cine (aces-dev, 2020)"),
    Gamut(name="V-Gamut", red=(0.730, 0.280), green=(0.165, 0.840), blue=(0.100, -0.030),
          source=f"V-Log/V-Gamut Reference Manual Rev. 1.0 (Panasonic, 2014); {_AMPAS}"),
    Gamut(name="Cinema Gamut", red=(0.740, 0.270), green=(0.170, 1.140), blue=(0.080, -0.100), adaptation="cat02",
          source=f"EOS C500 Firmware Update (Canon, 2014); {_AMPAS}"),
    Gamut(name="AWG3", red=(0.6840, 0.3130), green=(0.2210, 0.8480), blue=(0.0861, -0.1020), adaptation="cat02",
          source=f"ALEXA Log C Curve, Usage in VFX (ARRI, 2012); {_AMPAS}"),
    Gamut(name="AWG4", red=(0.7347, 0.2653), green=(0.1424, 0.8576), blue=(0.0991, -0.0308), adaptation="cat02",
          source=f"ARRI LogC4 Logarithmic Color Space Specification (ARRI, 2022); {_AMPAS}"),
    Gamut(name="F-Gamut", red=(0.708, 0.292), green=(0.170, 0.797), blue=(0.131, 0.046),
          source=f"F-Log Data Sheet Ver. 1.1 (Fujifilm): primaries of BT.2020; {_BRADFORD}"),
    Gamut(name="F-Gamut C", red=(0.7347, 0.2653), green=(0.0263, 0.9737), blue=(0.1173, -0.0224),
          source=f"F-Log2 C Data Sheet Ver. 1.0 (Fujifilm, 2024), through colour-science; {_BRADFORD}"),
    Gamut(name="N-Gamut", red=(0.708, 0.292), green=(0.170, 0.797), blue=(0.131, 0.046),
          source=f"N-Log Specification Document Version 1.0.0 (Nikon, 2018): primaries of BT.2020; {_BRADFORD}"),
    Gamut(name="D-Gamut", red=(0.71, 0.31), green=(0.21, 0.88), blue=(0.09, -0.08),
          source=f"White Paper on D-Log and D-Gamut (DJI, 2017); {_BRADFORD}"),
    Gamut(name="REDWideGamutRGB", red=(0.780308, 0.304253), green=(0.121595, 1.493994), blue=(0.095612, -0.084589),
          source=f"White Paper on REDWideGamutRGB and Log3G10 (RED, 2017); {_AMPAS}"),
    Gamut(name="Apple Wide Gamut", red=(0.725, 0.301), green=(0.221, 0.814), blue=(0.068, -0.076),
          source="OpenColorIO's builtin transform of Apple Log 2, "
                 "to the three decimals that its matrix stands for"),
    Gamut(name="BT.2020", red=(0.708, 0.292), green=(0.170, 0.797), blue=(0.131, 0.046),
          source="ITU-R BT.2020-2, BT.2100-2; adaptation as in the published input transform of Apple Log"),
    Gamut(name="BT.709", red=(0.640, 0.330), green=(0.300, 0.600), blue=(0.150, 0.060),
          source="ITU-R BT.709-6; adaptation as in aces-dev's own utilities"),
    Gamut(name="P3-D65", red=(0.680, 0.320), green=(0.265, 0.690), blue=(0.150, 0.060),
          source="SMPTE EG 432-1 with the white of D65; adaptation as in aces-dev's own utilities"),
)
# fmt: on

#: Every known gamut by its published name.
GAMUTS: dict[str, Gamut] = {gamut.name: gamut for gamut in _ALL}
