"""Pixels as files and as addresses that hold them: JPEG, WebP and PNG."""

from __future__ import annotations

import base64

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float
from huemend.base.cv import import_cv2

# What is small and many is WebP.
_JPEG_QUALITY, _THUMBNAIL_QUALITY, _WEBP_QUALITY = 88, 82, 65

#: (height, width), or (height, width, 3) RGB.
Pixels = NDArray[np.uint8]


def jpeg_uri(pixels: Pixels, quality: int = _JPEG_QUALITY) -> str:
    """Return 8-bit RGB as an address; colour is kept at full resolution, since colour is what a reader judges."""
    cv2 = import_cv2()
    settings = [cv2.IMWRITE_JPEG_QUALITY, quality]
    settings += [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444]
    return _uri("jpeg", _encode(".jpg", pixels[..., ::-1], settings))


def webp_uri(pixels: Pixels) -> str:
    """Return 8-bit RGB as an address, colour at half the resolution: half a JPEG's bytes, for what moves."""
    return _uri("webp", _encode(".webp", pixels[..., ::-1], [import_cv2().IMWRITE_WEBP_QUALITY, _WEBP_QUALITY]))


def encode_png(pixels: Pixels) -> bytes:
    """Encode 8-bit RGB without loss."""
    # As the library does it if left alone: a twentieth larger than its best, in a fifth of the time.
    return _encode(".png", pixels[..., ::-1], [])


def ink_uri(ink: Float) -> str:
    """Return a density (0..1) as a black picture whose opacity is the ink."""
    alpha = np.round(np.clip(ink, 0.0, 1.0) * 255).astype(np.uint8)
    black = np.zeros((*alpha.shape, 3), np.uint8)
    # A quality past 100 asks for no loss: a third of a PNG's bytes, in a tenth of its time.
    lossless = [import_cv2().IMWRITE_WEBP_QUALITY, 101]
    return _uri("webp", _encode(".webp", np.dstack([black, alpha]), lossless))


def thumbnail_uri(pixels: Pixels, width: int) -> str:
    """Return a small copy of a picture as an address."""
    cv2 = import_cv2()
    height, full = pixels.shape[:2]
    if full > width:
        size = (width, max(1, round(height * width / full)))
        pixels = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    return jpeg_uri(pixels, _THUMBNAIL_QUALITY)


def _encode(kind: str, picture: Pixels, settings: list[int]) -> bytes:
    good, data = import_cv2().imencode(kind, np.ascontiguousarray(picture), settings)
    if not good:
        raise RuntimeError(f"a picture of {picture.shape} could not be encoded as {kind}")
    return bytes(data)


def _uri(kind: str, data: bytes) -> str:
    return f"data:image/{kind};base64,{base64.b64encode(data).decode('ascii')}"
