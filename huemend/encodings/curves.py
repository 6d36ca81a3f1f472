"""Published transfer curves: the numbers as their makers printed them, and where."""

from __future__ import annotations

from dataclasses import dataclass
from math import log

from huemend.encodings.forms import (
    AcesCc,
    CameraLog,
    CubeRootLog,
    Curve,
    HybridLogGamma,
    Linear,
    MirroredLog,
    PerceptualQuantizer,
    PureLog,
    PurePower,
    QuadraticToeLog,
    ToedPower,
)


@dataclass(frozen=True, kw_only=True)
class PublishedCurve:
    """A curve under its published name."""

    name: str
    form: Curve
    source: str
    #: ``codes``: published in full-range code values, 0..1 being 0..1023 of ten bits. ``signal``: its 0 and 1 are
    #: black and white, whatever codes they travel in. ``light``: no code at all.
    defined_in: str = "codes"
    #: True if the light is that of a display, with a rendering in it, not that of the scene.
    display_referred: bool = False


#: Cut, then a, b, c, d, e, f of the LogC3 curve by exposure index (light relative to a perfect diffuser).
_LOGC3: dict[int, tuple[float, ...]] = {
    160: (0.005561, 5.555556, 0.080216, 0.269036, 0.381991, 5.842037, 0.092778),
    200: (0.006208, 5.555556, 0.076621, 0.266007, 0.382478, 5.776265, 0.092782),
    250: (0.006871, 5.555556, 0.072941, 0.262978, 0.382966, 5.710494, 0.092786),
    320: (0.007622, 5.555556, 0.068768, 0.259627, 0.383508, 5.637732, 0.092791),
    400: (0.008318, 5.555556, 0.064901, 0.256598, 0.383999, 5.571960, 0.092795),
    500: (0.009031, 5.555556, 0.060939, 0.253569, 0.384493, 5.506188, 0.092800),
    640: (0.009840, 5.555556, 0.056443, 0.250219, 0.385040, 5.433426, 0.092805),
    800: (0.010591, 5.555556, 0.052272, 0.247190, 0.385537, 5.367655, 0.092809),
    1000: (0.011361, 5.555556, 0.047996, 0.244161, 0.386036, 5.301883, 0.092814),
    1280: (0.012235, 5.555556, 0.043137, 0.240810, 0.386590, 5.229121, 0.092819),
    1600: (0.013047, 5.555556, 0.038625, 0.237781, 0.387093, 5.163350, 0.092824),
}

#: The exposure indices for which LogC3 is published.
LOGC3_EXPOSURE_INDICES = tuple(_LOGC3)


def logc3(exposure_index: int) -> CameraLog:
    """Return the LogC3 curve of a published exposure index (KeyError for any other)."""
    cut, a, b, c, d, e, f = _LOGC3[exposure_index]
    return CameraLog(
        log_side_slope=c,
        log_side_offset=d,
        lin_side_slope=a,
        lin_side_offset=b,
        lin_side_break=cut,
        linear_slope=e,
        linear_offset=f,
    )


def _slog(scale: float) -> CameraLog:
    # y = 0.432699 log10(t + 0.037584) + 0.616596 + 0.03 with t = scale * x / 0.9, a straight line below black,
    # y in video levels: code = (64 + 876 y) / 1023.
    level, gain = 876 / 1023, scale / 0.9
    return CameraLog(
        log_side_slope=0.432699 * level,
        log_side_offset=(0.616596 + 0.03) * level + 64 / 1023,
        lin_side_slope=gain,
        lin_side_offset=0.037584,
        lin_side_break=0.0,
        linear_slope=5 * gain * level,
        linear_offset=0.030001222851889303 * level + 64 / 1023,
    )


def _slog3() -> CameraLog:
    # Below 0.01125 the line runs from code 95 at black through 171.2102946929 at the break.
    return CameraLog(
        log_side_slope=261.5 / 1023,
        log_side_offset=420 / 1023,
        lin_side_slope=1 / 0.19,
        lin_side_offset=0.01 / 0.19,
        lin_side_break=0.01125,
        linear_slope=(171.2102946929 - 95) / 0.01125 / 1023,
        linear_offset=95 / 1023,
    )


def _logc4() -> CameraLog:
    a, b, c = (2**18 - 16) / 117.45, (1023 - 95) / 1023, 95 / 1023
    slope = (7 * log(2) * 2 ** (7 - 14 * c / b)) / (a * b)
    start = (2 ** (14 * (-c / b) + 6) - 64) / a
    return CameraLog(
        base=2.0,
        log_side_slope=b / 14,
        log_side_offset=c - 6 * b / 14,
        lin_side_slope=a,
        lin_side_offset=64.0,
        lin_side_break=start,
        linear_slope=1 / slope,
        linear_offset=-start / slope,
    )


_BLACK = 10 ** ((95 - 685) / 300)  # the light of code 95 in a film log whose white is code 685
_WHITE_203 = 203.0  # cd/m2 of reference white in a high dynamic range signal, ITU-R BT.2408-7, table 1

# fmt: off
_ALL = (
    PublishedCurve(name="S-Log3",
        form=_slog3(),
        source="Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3 (Sony)"),
    PublishedCurve(name="S-Log2", form=_slog(155 / 219), source="S-Log2 Technical Paper (Sony, 2012)"),
    PublishedCurve(name="S-Log", form=_slog(1.0), source="S-Log White Paper (Sony)"),
    PublishedCurve(name="V-Log",
        form=CameraLog(log_side_slope=0.241514, log_side_offset=0.598206, lin_side_slope=1.0,
                       lin_side_offset=0.00873, lin_side_break=0.01, linear_slope=5.6, linear_offset=0.125),
        source="V-Log/V-Gamut Reference Manual Rev. 1.0 (Panasonic, 2014)"),
    PublishedCurve(name="C-Log",
        form=MirroredLog(slope=0.45310179, gain=10.1596, offset=0.12512248),
        source="Input Transform Version 202007 for EOS C300 Mark II (Canon, 2020)"),
    PublishedCurve(name="C-Log2",
        form=MirroredLog(slope=0.24136077, gain=87.09937546, offset=0.092864125),
        source="Input Transform Version 202007 for EOS C300 Mark II (Canon, 2020)"),
    PublishedCurve(name="C-Log3",
        form=MirroredLog(
            slope=0.36726845,
            gain=14.98325,
            offset=0.12512219,
            # 0.12783901 on the dark and 0.12240537 on the bright side, evenly about the offset.
            step=0.12240537 - 0.12512219,
            break_=0.014,
            linear_slope=1.9754798,
        ),
        source="Input Transform Version 202007 for EOS C300 Mark II (Canon, 2020)"),
    PublishedCurve(name="LogC3", form=logc3(800), source="ALEXA Log C Curve, Usage in VFX (ARRI, 2012)"),
    PublishedCurve(name="LogC4", form=_logc4(),
        source="ARRI LogC4 Logarithmic Color Space Specification (ARRI, 2022)"),
    PublishedCurve(name="F-Log",
        form=CameraLog(log_side_slope=0.344676, log_side_offset=0.790453, lin_side_slope=0.555556,
                       lin_side_offset=0.009468, lin_side_break=0.00089, linear_slope=8.735631,
                       linear_offset=0.092864),
        source="F-Log Data Sheet Ver. 1.1 (Fujifilm)"),
    PublishedCurve(name="F-Log2",
        form=CameraLog(log_side_slope=0.245281, log_side_offset=0.384316, lin_side_slope=5.555556,
                       lin_side_offset=0.064829, lin_side_break=0.000889, linear_slope=8.799461,
                       linear_offset=0.092864),
        source="F-Log2 Data Sheet Ver. 1.0 (Fujifilm)"),
    PublishedCurve(name="N-Log",
        form=CubeRootLog(break_=0.328, root_gain=650 / 1023, root_offset=0.0075, log_gain=150 / 1023,
                         log_offset=619 / 1023),
        source="N-Log Specification Document Version 1.0.0 (Nikon, 2018)"),
    PublishedCurve(name="D-Log",
        form=CameraLog(log_side_slope=0.256663, log_side_offset=0.584555, lin_side_slope=0.9892,
                       lin_side_offset=0.0108, lin_side_break=0.0078, linear_slope=6.025, linear_offset=0.0929),
        source="White Paper on D-Log and D-Gamut (DJI, 2017)"),
    PublishedCurve(name="Apple Log",
        form=QuadraticToeLog(darkest=-0.05641088, break_=0.01, sigma=47.28711236, beta=0.00964052,
                             gamma=0.08550479, delta=0.69336945),
        source="Apple Log Profile White Paper (Apple, 2023)"),
    PublishedCurve(name="Mi-Log",
        form=QuadraticToeLog(darkest=-0.09023729, break_=0.01974185, sigma=18.10531998, beta=0.01384578,
                             gamma=0.09271529, delta=0.67291850),
        source="Xiaomi Log Profile White Paper (Xiaomi, 2024), through colour-science"),
    PublishedCurve(name="Log3G10",
        form=CameraLog(log_side_slope=0.224282, log_side_offset=0.0, lin_side_slope=155.975327,
                       lin_side_offset=0.01 * 155.975327 + 1.0, lin_side_break=-0.01, linear_slope=15.1927,
                       linear_offset=0.151927),
        source="White Paper on REDWideGamutRGB and Log3G10 (RED, 2017)"),
    PublishedCurve(name="REDLogFilm",
        form=PureLog(
            log_side_slope=300 / 1023,
            log_side_offset=685 / 1023,
            lin_side_slope=1 - _BLACK,
            lin_side_offset=_BLACK,
            # Its logarithm ends at -0.0109: what is darker than code 0 is recorded as code 0.
            darkest=(10 ** (-685 / 300) - _BLACK) / (1 - _BLACK),
        ),
        source="film log with white at code 685 and black at 95, as in OpenColorIO's builtin transform"),
    PublishedCurve(name="ACEScct",
        form=CameraLog(base=2.0, log_side_slope=1 / 17.52, log_side_offset=9.72 / 17.52, lin_side_slope=1.0,
                       lin_side_offset=0.0, lin_side_break=0.0078125, linear_slope=10.5402377416545,
                       linear_offset=0.0729055341958355),
        source="S-2016-001 (ACEScct)", defined_in="signal"),
    PublishedCurve(name="ACEScc", form=AcesCc(), source="S-2014-003 (ACEScc)", defined_in="signal"),
    PublishedCurve(name="linear", form=Linear(), source="scene-linear light", defined_in="light"),
    PublishedCurve(name="BT.709 camera",
        form=ToedPower(exponent=0.45, offset=0.099, break_=0.018, slope=4.5),
        source="inverse of the opto-electronic transfer characteristic, ITU-R BT.709-6, item 1.2",
        defined_in="signal"),
    PublishedCurve(name="BT.709 display",
        form=PurePower(gamma=2.4),
        source="ITU-R BT.1886, annex 1, with black at zero", defined_in="signal", display_referred=True),
    PublishedCurve(name="sRGB",
        form=ToedPower(exponent=1 / 2.4, offset=0.055, break_=0.0031308, slope=12.92),
        source="IEC 61966-2-1", defined_in="signal", display_referred=True),
    PublishedCurve(name="HLG",
        # The signal of reference white is 75 %; an 18 % grey then lands on the 38 % of BT.2408.
        form=HybridLogGamma(a=0.17883277, white=0.26496256042100724),
        source="ITU-R BT.2100-2, table 5; reference white at 75 %, ITU-R BT.2408-7, table 1",
        defined_in="signal"),
    PublishedCurve(name="PQ",
        form=PerceptualQuantizer(white=_WHITE_203),
        source="ITU-R BT.2100-2, table 4 (SMPTE ST 2084); reference white at 203 cd/m2, ITU-R BT.2408-7, table 1",
        defined_in="signal", display_referred=True),
)
# fmt: on

#: Every known curve by its published name; LogC3 at exposure index 800.
CURVES: dict[str, PublishedCurve] = {curve.name: curve for curve in _ALL}
