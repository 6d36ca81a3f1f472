"""From spectral light to log code values: one camera's way of recording a view.

``develop`` is the noise-free chain: lens (veiling flare, vignette), sensor, white balance, input transform,
exposure. ``shoot`` adds photon and read noise where they arise, on the sensor, then encodes and quantises.
``truth`` is what the hero's camera would have recorded from the same viewpoint, free of noise.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .sensors import input_transform, sensitivity, white_gains

__all__ = ["ENCODINGS", "Camera", "decode", "develop", "encode", "expose", "png16", "shoot", "truth"]

Array = NDArray[np.float64]

#: Curve and gamut of each encoding as colour-science knows them, with the chromatic adaptation between ACES white
#: and the gamut's white that its published transform uses.
ENCODINGS: dict[str, tuple[str, str, str]] = {
    "C-Log2/Cinema Gamut": ("Canon Log 2", "Cinema Gamut", "CAT02"),
    "C-Log3/Cinema Gamut": ("Canon Log 3", "Cinema Gamut", "CAT02"),
    "S-Log3/S-Gamut3": ("S-Log3", "S-Gamut3", "CAT02"),
    "S-Log3/S-Gamut3.Cine": ("S-Log3", "S-Gamut3.Cine", "CAT02"),
    "V-Log/V-Gamut": ("V-Log", "V-Gamut", "Bradford"),
    "LogC3/AWG3": ("ARRI LogC3", "ARRI Wide Gamut 3", "CAT02"),
    "LogC4/AWG4": ("ARRI LogC4", "ARRI Wide Gamut 4", "CAT02"),
    "BT.709 display": ("gamma 2.4", "ITU-R BT.709", "CAT02"),
}


@dataclass(frozen=True, kw_only=True)
class Camera:
    """One camera as it stands on set.

    Attributes
    ----------
    sensor : str
        A name from :func:`sensors.sensor_names`.
    encoding : str
        A key of :data:`ENCODINGS`.
    white : str
        The light that the camera was balanced to, see :func:`spectra.light`.
    nominal : str
        The light under which the maker fitted the input transform.
    exposure_stops : float
        How far the operator opened up beyond the common exposure.
    balance_stops : (red, blue)
        Errors of the white balance against green.
    flare : float
        Share of the mean light of the picture that the lens scatters evenly over the frame.
    vignette : float
        Share of the light lost in the corners.
    electrons : float
        Photo-electrons a pixel collects in green from a mid-grey at the common exposure; sets the photon noise.
        6,000 is a good camera at base sensitivity, scaled down to the picture's size.
    read_electrons : float
        Read noise.
    bits : int
        Depth of the recorded code values.
    """

    sensor: str
    encoding: str
    white: str = "D55"
    nominal: str = "D55"
    exposure_stops: float = 0.0
    balance_stops: tuple[float, float] = (0.0, 0.0)
    flare: float = 0.0
    vignette: float = 0.0
    electrons: float = 6000.0
    read_electrons: float = 12.0
    bits: int = 10


def _balanced(bands: NDArray[Any], camera: Camera, key: float) -> Array:
    """White-balanced sensor RGB, (h, w, 3); a grey of reflectance r in the key light reads about r."""
    light = np.asarray(bands, float)
    if camera.flare:
        light = light + camera.flare * light.mean((0, 1))
    if camera.vignette:
        height, width = light.shape[:2]
        y, x = np.mgrid[:height, :width]
        radius2 = ((x - (width - 1) / 2) ** 2 + (y - (height - 1) / 2) ** 2) / (
            (width / 2) ** 2 + (height / 2) ** 2
        )
        light = light * (1 - camera.vignette * radius2)[..., None]
    error = 2.0 ** np.array([camera.balance_stops[0], 0.0, camera.balance_stops[1]])
    gain = key * 2.0**camera.exposure_stops
    out: Array = gain * (light @ sensitivity(camera.sensor)) * white_gains(camera.sensor, camera.white) * error
    return out


def develop(bands: NDArray[Any], camera: Camera, key: float = 1.0) -> Array:
    """Record a view without noise.

    Parameters
    ----------
    bands : (h, w, 18) array
        Spectral radiance.
    key : float
        Common exposure of the setup, see :func:`expose`.

    Returns
    -------
    (h, w, 3) array
        Scene-linear ACEScg.
    """
    out: Array = _balanced(bands, camera, key) @ input_transform(camera.sensor, camera.nominal).T
    return out


def shoot(bands: NDArray[Any], camera: Camera, key: float = 1.0, seed: int = 0) -> NDArray[np.uint16]:
    """Record a view with noise; returns code values (h, w, 3) of ``camera.bits`` bits, full range."""
    rng = np.random.default_rng(seed)
    raw = _balanced(bands, camera, key)
    # A channel that white balance lifts collected fewer electrons for the same value, hence its own share.
    gains = white_gains(camera.sensor, camera.white)
    per_unit = camera.electrons / 0.18 * gains[1] / gains
    electrons = raw * per_unit
    deviation = np.sqrt(np.maximum(electrons, 0.0) + camera.read_electrons**2)
    raw = (electrons + deviation * rng.standard_normal(raw.shape)) / per_unit
    top = 2**camera.bits - 1
    code = encode(raw @ input_transform(camera.sensor, camera.nominal).T, camera.encoding)
    return np.clip(np.rint(code * top), 0, top).astype(np.uint16)


def truth(bands: NDArray[Any], hero: Camera, key: float = 1.0) -> Array:
    """What the hero's camera would have recorded from this viewpoint: (h, w, 3), scene-linear ACEScg, no noise."""
    return develop(bands, hero, key)


def expose(
    bands: NDArray[Any], hero: Camera, target: float = 0.12, where: NDArray[np.bool_] | None = None
) -> float:
    """Find the common exposure: the ``key`` at which the hero's picture has a given log-mean luminance.

    Parameters
    ----------
    target : float
        Log-mean luminance wanted; mid-grey is 0.18.
    where : (h, w) bool, optional
        The pixels to meter, such as faces.
    """
    luminance = develop(bands, hero) @ [0.2722, 0.6741, 0.0537]
    metered = luminance if where is None else luminance[where]
    return float(target / np.exp(np.log(np.maximum(metered, 1e-6)).mean()))


def _matrices(encoding: str) -> tuple[Array, Array]:
    import colour

    _, gamut, adaptation = ENCODINGS[encoding]
    there = colour.matrix_RGB_to_RGB("ACEScg", gamut, chromatic_adaptation_transform=adaptation)
    return there, np.linalg.inv(there)


def encode(linear: NDArray[Any], encoding: str) -> Array:
    """Encode scene-linear ACEScg (..., 3) to code values, 1 being the largest code."""
    import colour

    curve = ENCODINGS[encoding][0]
    rgb = np.asarray(linear, float) @ _matrices(encoding)[0].T
    if curve == "gamma 2.4":
        out: Array = np.clip(rgb, 0.0, 1.0) ** (1 / 2.4)
        return out
    # The curves' two branches are both evaluated everywhere; a logarithm of a value that its branch never uses
    # is no error.
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(colour.log_encoding(rgb, function=curve))


def decode(code: NDArray[Any], encoding: str) -> Array:
    """Decode code values (..., 3), 1 being the largest code, to scene-linear ACEScg."""
    import colour

    curve = ENCODINGS[encoding][0]
    value = np.asarray(code, float)
    rgb = value**2.4 if curve == "gamma 2.4" else colour.log_decoding(value, function=curve)
    out: Array = rgb @ _matrices(encoding)[1].T
    return out


def png16(codes: NDArray[np.integer[Any]], bits: int = 10) -> NDArray[np.uint16]:
    """Spread full-range codes over 16 bits: value / 65535 equals code / (2**bits - 1)."""
    return np.rint(np.asarray(codes, float) * (65535 / (2**bits - 1))).astype(np.uint16)
