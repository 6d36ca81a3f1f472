"""Camera encodings by name: code values to scene-linear ACEScg, and exactly back.

A new one: its curve goes into `huemend.encodings.curves`, its gamut into `huemend.encodings.gamuts`, and the two
are named as one encoding in ``_PAIRS``, here.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from huemend.base.arrays import Float, Float64
from huemend.base.units import MID_GREY, matrix_times
from huemend.encodings.curves import CURVES, LOGC3_EXPOSURE_INDICES, PublishedCurve, logc3
from huemend.encodings.custom import curve_from_spec, gamut_from_spec
from huemend.encodings.forms import Linear
from huemend.encodings.gamuts import GAMUTS, Gamut, matrix_to_acescg
from huemend.encodings.lookup import decode_fast
from huemend.errors import EncodingError
from huemend.model import EncodingSpec, Setup

#: The words for a picture's range; ``narrow`` is BT.2100's word for legal.
RANGES = ("full", "legal", "narrow")

_TOP = 1023.0
#: (slope, offset) from values of a legal signal to full-range codes: black at 64 and white at 940 of ten bits
#: (ITU-R BT.709-6, item 5.4, and BT.2100-2, table 9).
LEGAL_LINE = 876.0 / _TOP, 64.0 / _TOP


@dataclass(frozen=True, kw_only=True)
class Encoding:
    """How a camera writes light into code values: a transfer curve and a gamut."""

    #: ``curve/gamut`` by their published names, or one of the short names (``ACEScg``, ``BT.709 camera``).
    name: str
    curve: PublishedCurve
    gamut: Gamut

    @property
    def display_referred(self) -> bool:
        """True if the light is that of a display, with a rendering in it: exposures are then approximate."""
        return self.curve.display_referred

    @property
    def is_linear(self) -> bool:
        """True if the values are light itself, so that there is no code and no range."""
        return isinstance(self.curve.form, Linear)

    @property
    def mid_grey_code(self) -> float | None:
        """The full-range 10-bit code of an 18 % grey; None for linear light."""
        if self.is_linear:
            return None
        return float(self.curve.form.encode(np.array(MID_GREY)) * _TOP)

    @property
    def largest_linear(self) -> float:
        """Scene-linear value of a neutral at the largest code that an integer file can hold; inf for linear."""
        return float("inf") if self.is_linear else float(self.curve.form.decode(np.array(1.0)))

    @property
    def source(self) -> str:
        """Where the curve and the gamut were published."""
        return f"{self.curve.source}; {self.gamut.name}: {self.gamut.source}"

    @property
    def to_acescg(self) -> Float64:
        """The (3, 3) matrix from the camera's linear RGB to linear ACEScg, for column vectors."""
        return matrix_to_acescg(self.gamut)

    def decode(self, codes: Float, range: str = "full") -> Float:
        """Code values, (..., 3), to scene-linear ACEScg.

        At ``range`` full 1.0 is the largest code, at legal and narrow the code 940 of ten bits. Of float32
        or float16 codes float32, through a table (``huemend.encodings.lookup``); otherwise exact float64.
        """
        return self.light_to_acescg(self.to_light(codes, range))

    def to_light(self, codes: Float, range: str = "full") -> Float:
        """Code values to scene-linear light in the camera's own gamut: ``decode`` without its matrix."""
        codes = np.asarray(codes)
        slope, offset = range_line(self, range)
        if codes.dtype not in (np.dtype(np.float32), np.dtype(np.float16)):
            return self.curve.form.decode(codes.astype(np.float64) * slope + offset)
        values = codes.astype(np.float32)
        if (slope, offset) != (1.0, 0.0):
            values *= np.float32(slope)
            values += np.float32(offset)
        return decode_fast(self.curve.form, values)

    def light_to_acescg(self, light: Float) -> Float:
        """Scene-linear light in the camera's own gamut to scene-linear ACEScg, (..., 3) to (..., 3)."""
        if self.gamut.name == "AP1":
            return light
        return matrix_times(self.to_acescg, light)

    def encode(self, acescg: Float, range: str = "full") -> Float64:
        """Scene-linear ACEScg, (..., 3), to code values: the exact inverse of ``decode``, not clamped."""
        light: Float = np.asarray(acescg, np.float64)
        if self.gamut.name != "AP1":
            light = matrix_times(np.linalg.inv(self.to_acescg), light)
        slope, offset = range_line(self, range)
        return (self.curve.form.encode(light) - offset) / slope


def range_line(encoding: Encoding, range: str) -> tuple[float, float]:
    """Return (slope, offset) from a picture's values to the codes that the curve is defined in.

    Raises EncodingError if the range is none of ``RANGES``.
    """
    if range not in RANGES:
        raise EncodingError(f'range "{range}" is not known', todo="use full, legal or narrow")
    if range == "full" or encoding.curve.defined_in != "codes":
        return 1.0, 0.0
    return LEGAL_LINE


# Curves of `huemend.encodings.curves` and gamuts of `huemend.encodings.gamuts` that are one encoding together.
_PAIRS = (
    ("S-Log3", "S-Gamut3.Cine"),
    ("S-Log3", "S-Gamut3"),
    ("S-Log3", "Venice S-Gamut3.Cine"),
    ("S-Log3", "Venice S-Gamut3"),
    ("S-Log2", "S-Gamut"),
    ("S-Log", "S-Gamut"),
    ("V-Log", "V-Gamut"),
    ("C-Log", "Cinema Gamut"),
    ("C-Log2", "Cinema Gamut"),
    ("C-Log3", "Cinema Gamut"),
    ("LogC3", "AWG3"),
    ("LogC4", "AWG4"),
    ("F-Log", "F-Gamut"),
    ("F-Log2", "F-Gamut"),
    ("F-Log2", "F-Gamut C"),
    ("N-Log", "N-Gamut"),
    ("D-Log", "D-Gamut"),
    ("Apple Log", "BT.2020"),
    ("Apple Log", "Apple Wide Gamut"),
    ("Mi-Log", "BT.2020"),
    ("Log3G10", "REDWideGamutRGB"),
    ("REDLogFilm", "REDWideGamutRGB"),
    ("HLG", "BT.2020"),
    ("PQ", "BT.2020"),
)

_SHORT = (
    ("ACEScct", "ACEScct", "AP1"),
    ("ACEScc", "ACEScc", "AP1"),
    ("ACEScg", "linear", "AP1"),
    ("ACES2065-1", "linear", "AP0"),
    ("BT.709 camera", "BT.709 camera", "BT.709"),
    ("BT.709 display", "BT.709 display", "BT.709"),
    ("BT.2020 camera", "BT.709 camera", "BT.2020"),
    ("BT.2020 display", "BT.709 display", "BT.2020"),
    ("sRGB", "sRGB", "BT.709"),
)

# Other published spellings of the same thing, after _plain() and without the slash.
_ALSO = {
    "hlg": "hlgbt2020",
    "pq": "pqbt2020",
    "bt2100hlg": "hlgbt2020",
    "bt2100pq": "pqbt2020",
    "hlgbt2100": "hlgbt2020",
    "pqbt2100": "pqbt2020",
    "applelog2applewidegamut": "applelogapplewidegamut",
    "flog2cfgamutc": "flog2fgamutc",
    "acescctap1": "acescct",
    "acesccap1": "acescc",
    "linearap1": "acescg",
    "linearap0": "aces20651",
    "srgbbt709": "srgb",
    "bt1886bt709": "bt709display",
    "bt1886": "bt709display",
}


@cache
def all_encodings() -> tuple[Encoding, ...]:
    """Return every known encoding, in the order in which they are listed; LogC3 at exposure index 800."""
    pairs = [(f"{curve}/{gamut}", curve, gamut) for curve, gamut in _PAIRS]
    pairs += _SHORT
    # Linear exports of raw developers and renderers come in any gamut.
    pairs += [(f"Linear/{gamut}", "linear", gamut) for gamut in GAMUTS if gamut not in ("AP0", "AP1")]
    return tuple(Encoding(name=name, curve=CURVES[curve], gamut=GAMUTS[gamut]) for name, curve, gamut in pairs)


def _plain(name: str) -> str:
    """Return a name without case, spaces and punctuation, so that any usual spelling finds it."""
    plain = re.sub(r"[^a-z0-9/]", "", name.lower())
    return plain.replace("rec709", "bt709").replace("rec2020", "bt2020").replace("rec2100", "bt2100")


def find_encoding(name: str, *, exposure_index: int = 800, custom: Iterable[EncodingSpec] = ()) -> Encoding:
    """Return the encoding of a name, ``curve/gamut``: case, spaces and punctuation are ignored.

    ``exposure_index`` is for curves that depend on it (LogC3). Those that the setup file defines (``custom``)
    come before the published ones. Raises EncodingError if the name is not known (the nearest is named), or
    LogC3 is not published for the exposure index.
    """
    wanted = _plain(name)
    own = {_plain(spec.name): spec for spec in custom}
    if wanted in own:
        spec = own[wanted]
        return Encoding(name=spec.name, curve=curve_from_spec(spec), gamut=gamut_from_spec(spec))
    # No two differ by their slash alone.
    known = {_plain(encoding.name).replace("/", ""): encoding for encoding in all_encodings()}
    joined = wanted.replace("/", "")
    found = known.get(_ALSO.get(joined, joined))
    if found is None:
        names = [spec.name for spec in own.values()] + [encoding.name for encoding in all_encodings()]
        raise EncodingError(f'encoding "{name}" is not known', todo=_advice(wanted, names))
    if not needs_exposure_index(found):
        return found
    if exposure_index not in LOGC3_EXPOSURE_INDICES:
        published = ", ".join(str(index) for index in LOGC3_EXPOSURE_INDICES)
        raise EncodingError(
            f"LogC3 is not published for exposure index {exposure_index}", todo=f"use one of {published}"
        )
    return replace(found, curve=replace(found.curve, form=logc3(exposure_index)))


def needs_exposure_index(encoding: Encoding) -> bool:
    """Say whether a curve depends on the exposure index that the camera was set to."""
    return encoding.curve.name == "LogC3"


def encoding_of(name: str, setup: Setup) -> Encoding:
    """Look up the encoding of an angle of a setup, as `find_encoding` does; an error says which angle's it is."""
    angle = setup[name]
    try:
        return find_encoding(angle.encoding, exposure_index=angle.exposure_index, custom=setup.encodings)
    except EncodingError as error:
        where = f"{setup.source}: angle.{name}.encoding"
        raise EncodingError(error.what, where=where, todo=error.todo) from None


def encodings_of(setup: Setup) -> dict[str, Encoding]:
    """Look up the encoding of every angle of a setup, by the angle's name, as `find_encoding` does."""
    return {angle.name: encoding_of(angle.name, setup) for angle in setup.angles}


def find_working_encoding(name: str) -> Encoding:
    """Look up the log space that working LUTs lead to and CDLs are stated in.

    Raises EncodingError if the name is not known, or is that of linear light.
    """
    encoding = find_encoding(name)
    if encoding.is_linear:
        raise EncodingError(
            f"{encoding.name} is scene-linear, and a LUT or a CDL cannot hold its highlights",
            todo="name a log space, such as ACEScct",
        )
    return encoding


def _advice(wanted: str, names: list[str]) -> str:
    """Say which name was probably meant."""
    same_curve = [name for name in names if wanted and _plain(name).split("/")[0] == wanted.split("/")[0]]
    if same_curve and "/" not in wanted:
        return f"name its gamut too: {' or '.join(same_curve)}"
    plain = {_plain(candidate): candidate for candidate in names}
    near = difflib.get_close_matches(wanted, list(plain), n=1, cutoff=0.0)
    return f'did you mean "{plain[near[0]]}"? (huemend encodings lists them all)'
