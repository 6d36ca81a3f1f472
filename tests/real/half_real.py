"""A real photograph as measured cameras would have recorded it: true texture and parallax, and known colours.

A photograph tells three numbers of a surface and not its spectrum. Each pixel gets a smooth spectrum that gives
its three numbers to the CIE 1931 observer, and the departure from smoothness of the training reflectances nearest
to it in colour (their metameric blacks, Wyszecki 1953): what one camera sees of them and another doesn't is what
no 3x3 can mend. Sensitivities are measured ones (demo/generator/data/README.md); lights are those of the CIE.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.spatial import cKDTree

from demo.generator.sensors import input_transform, sensitivity, white_gains
from demo.generator.spectra import light, observer, training_surfaces

__all__ = ["Camera", "record"]

# The light that input transforms are made for.
_NOMINAL = "D55"
# Reflectances that a pixel's spectrum borrows from, and how near in ln chromaticity; steps that pixels share.
_NEAREST, _REACH, _STEP = 6, 0.15, 0.02


@dataclass(frozen=True)
class Camera:
    """``balance`` is the light that its white is set to, ``stops`` its exposure."""

    sensor: str
    balance: str
    stops: float = 0.0


@cache
def _spectra() -> tuple[np.ndarray, np.ndarray, np.ndarray, cKDTree]:
    """Basis (3, 18), its inverse, blacks (190, 18) of unit brightness, and where they lie in colour."""
    surfaces = training_surfaces()
    eye = light("D65")[:, None] * observer()
    eye = eye / eye.sum(0)
    basis = np.linalg.svd(surfaces, full_matrices=False)[2][:3]
    inverse = np.linalg.inv(basis @ eye)
    seen = surfaces @ eye
    blacks = (surfaces - seen @ inverse @ basis) / seen.mean(1, keepdims=True)
    return basis, inverse, blacks, cKDTree(_chroma(seen))


def _chroma(xyz: np.ndarray) -> np.ndarray:
    return np.asarray(np.log(np.maximum(xyz[:, ::2], 1e-4) / np.maximum(xyz[:, 1:2], 1e-4)))


def record(rgb: np.ndarray, camera: Camera, lamp: str) -> np.ndarray:
    """Return a picture as a camera gives it to ACEScg.

    Parameters
    ----------
    rgb : (height, width, 3) array
        Linear BT.709 light of the photograph, taken for the reflectance under D65.
    camera : Camera
    lamp : str
        What lights the scene now.
    """
    basis, inverse, blacks, tree = _spectra()
    # BT.709 to XYZ over white (BT.709-6; SMPTE RP 177).
    to_xyz = np.array([[0.4339, 0.3762, 0.1899], [0.2126, 0.7152, 0.0722], [0.0178, 0.1094, 0.8728]])
    xyz = rgb.reshape(-1, 3).astype(float) @ to_xyz.T
    response = light(lamp)[:, None] * sensitivity(camera.sensor)
    steps = np.rint(_chroma(xyz) / _STEP)
    # One number for both steps: rows are sorted ten times slower.
    _, first, cell = np.unique(steps @ [1e4, 1.0], return_index=True, return_inverse=True)
    away, which = tree.query(_STEP * steps[first], k=_NEAREST)
    weight = np.exp(-np.square(away / _REACH)) + 1e-9
    weight /= weight.sum(1, keepdims=True)
    raw = xyz @ inverse @ basis @ response
    borrowed = np.einsum("nk,nkc->nc", weight, (blacks @ response)[which])
    raw += xyz.mean(1, keepdims=True) * borrowed[cell.reshape(-1)]
    raw *= white_gains(camera.sensor, camera.balance)
    out = 2.0**camera.stops * raw @ input_transform(camera.sensor, _NOMINAL).T
    return np.asarray(out.reshape(rgb.shape))
