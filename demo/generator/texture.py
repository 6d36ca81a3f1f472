"""Painting with measured surfaces.

A ``Paint`` says, at every texel or vertex, how much of which measured surface is there. Nothing is painted in RGB:
a stripe is a share of "raincoat blue" over "cotton light grey", and wood grain a play of two woods.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from .spectra import reflectance

__all__ = ["Paint", "fbm", "label_word", "smoothstep", "solid_noise"]

Array = NDArray[Any]


class Paint:
    """Shares of measured surfaces over a picture (h, w) or over vertices (n,).

    Parameters
    ----------
    shape : int or tuple
        ``(h, w)`` of a texture, ``(n,)`` for vertices.
    base : str
        The surface that everything starts from.
    gain : float
        Factor on its reflectance.
    """

    def __init__(self, shape: int | tuple[int, ...], base: str, gain: float = 1.0) -> None:
        self.shape = (shape,) if isinstance(shape, int) else tuple(shape)
        self.shares: dict[str, Array] = {base: np.full(self.shape, gain, np.float32)}

    def over(self, surface: str, mask: Array | float = 1.0, gain: float = 1.0) -> Paint:
        """Paint ``surface`` over what is there, where ``mask`` (0..1) says so."""
        share = np.clip(np.broadcast_to(np.asarray(mask, np.float32), self.shape), 0.0, 1.0)
        for name in self.shares:
            self.shares[name] = self.shares[name] * (1.0 - share)
        self.shares[surface] = self.shares.get(surface, np.zeros(self.shape, np.float32)) + share * gain
        return self

    def shade(self, factor: Array | float) -> Paint:
        """Multiply every reflectance by a factor: grain, dirt, wear."""
        for name in self.shares:
            self.shares[name] = self.shares[name] * np.asarray(factor, np.float32)
        return self

    def bands(self, which: Sequence[int]) -> NDArray[np.float32]:
        """Reflectance in the given bands, (..., len(which)), kept under 0.95 as no real paint is whiter."""
        out = np.zeros((*self.shape, len(which)), np.float32)
        for name, share in self.shares.items():
            out += share[..., None] * reflectance(name)[list(which)].astype(np.float32)
        return np.clip(out, 0.002, 0.95)

    # Masks in texels, for flat textures -------------------------------------------------------------------------

    def blank(self) -> NDArray[np.uint8]:
        """An empty 8-bit mask of this texture's shape."""
        return np.zeros(self.shape, np.uint8)

    def rectangle(self, surface: str, x: float, y: float, w: float, h: float, gain: float = 1.0) -> Paint:
        """Fill a rectangle given in shares of the texture's width and height, from the top left."""
        height, width = self.shape
        mask = self.blank()
        corner = (round((x + w) * width) - 1, round((y + h) * height) - 1)
        cv2.rectangle(mask, (round(x * width), round(y * height)), corner, 255, -1)
        return self.over(surface, mask / 255.0, gain)

    def disc(self, surface: str, x: float, y: float, radius: float, gain: float = 1.0) -> Paint:
        """Fill a disc; its radius is in shares of the width."""
        height, width = self.shape
        mask = self.blank()
        centre = (round(x * width * 16), round(y * height * 16))
        cv2.circle(mask, centre, round(radius * width * 16), 255, -1, cv2.LINE_AA, 4)
        return self.over(surface, mask / 255.0, gain)

    def line(
        self,
        surface: str,
        points: Sequence[tuple[float, float]],
        thickness: float,
        gain: float = 1.0,
        closed: bool = False,
    ) -> Paint:
        """Draw a line through points; thickness in shares of the width. ``closed`` fills the polygon."""
        height, width = self.shape
        mask = self.blank()
        places = np.array([(x * width * 16, y * height * 16) for x, y in points], np.int32)
        if closed:
            cv2.fillPoly(mask, [places], 255, cv2.LINE_AA, 4)
        else:
            cv2.polylines(mask, [places], False, 255, max(1, round(thickness * width)), cv2.LINE_AA, 4)
        return self.over(surface, mask / 255.0, gain)

    def text(
        self, surface: str, words: str, x: float, y: float, w: float, h: float, font: int = 0, gain: float = 1.0
    ) -> Paint:
        """Write ``words`` to fill a box given in shares of the texture."""
        height, width = self.shape
        face = (
            cv2.FONT_HERSHEY_DUPLEX,
            cv2.FONT_HERSHEY_COMPLEX,
            cv2.FONT_HERSHEY_TRIPLEX,
            cv2.FONT_HERSHEY_SIMPLEX,
        )[font % 4]
        (tw, th), low = cv2.getTextSize(words, face, 2.0, 4)
        canvas = np.zeros((th + low + 12, tw + 12), np.uint8)
        cv2.putText(canvas, words, (6, th + 6), face, 2.0, 255, 4, cv2.LINE_AA)
        box = (max(1, round(w * width)), max(1, round(h * height)))
        canvas = cv2.resize(canvas, box, interpolation=cv2.INTER_AREA)
        mask = np.zeros(self.shape, np.float32)
        x0, y0 = round(x * width), round(y * height)
        part = mask[y0 : y0 + box[1], x0 : x0 + box[0]]
        part[:] = canvas[: part.shape[0], : part.shape[1]] / 255.0
        return self.over(surface, mask, gain)


def smoothstep(low: float, high: float, value: Array) -> Array:
    """0 below ``low``, 1 above ``high``, smooth between."""
    t = np.clip((np.asarray(value, np.float32) - low) / (high - low), 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


def fbm(shape: tuple[int, int], cells: tuple[float, float], rng: np.random.Generator, octaves: int = 4) -> Array:
    """Fractal noise over a picture, about -1..1; ``cells`` are the coarsest octave's cells down and across."""
    total = np.zeros(shape, np.float32)
    weight, norm = 1.0, 0.0
    for octave in range(octaves):
        grid = [max(2, round(c * 2**octave)) + 1 for c in cells]
        if grid[0] >= shape[0] * 1.5 and grid[1] >= shape[1] * 1.5:
            break
        coarse = rng.uniform(-1, 1, grid).astype(np.float32)
        total += weight * cv2.resize(coarse, shape[::-1], interpolation=cv2.INTER_CUBIC)
        norm += weight
        weight *= 0.5
    return total / norm


def solid_noise(points: Array, cell: float, seed: int, octaves: int = 3) -> NDArray[np.float32]:
    """Fractal value noise at points in space (n, 3), about -1..1; ``cell`` is the coarsest cell in metres."""
    from scipy.ndimage import map_coordinates

    lattice = np.random.default_rng(seed).uniform(-1, 1, (32, 32, 32)).astype(np.float32)
    total = np.zeros(len(points), np.float32)
    weight, norm = 1.0, 0.0
    for octave in range(octaves):
        places = (np.asarray(points, np.float32) / cell * 2**octave + 7.3 * octave).T
        total += weight * map_coordinates(lattice, places, order=1, mode="grid-wrap").astype(np.float32)
        norm += weight
        weight *= 0.5
    return total / norm


_ONSETS = (
    "b",
    "d",
    "f",
    "g",
    "k",
    "l",
    "m",
    "n",
    "p",
    "r",
    "s",
    "t",
    "v",
    "z",
    "br",
    "dr",
    "gr",
    "kl",
    "pl",
    "st",
    "tr",
)
_VOWELS = ("a", "e", "i", "o", "u", "y", "ae", "oi")


def label_word(rng: np.random.Generator, syllables: int = 2) -> str:
    """An invented word."""
    word = "".join(str(rng.choice(_ONSETS)) + str(rng.choice(_VOWELS)) for _ in range(syllables))
    return (word + str(rng.choice(["", "n", "l", "r", "s"]))).upper()
