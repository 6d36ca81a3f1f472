"""Smoothing what noise a render has left, without touching texture or colour."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["clean_light"]

Array = NDArray[Any]


def clean_light(bands: Array, albedo: Array, normal: Array, depth: Array, rounds: int = 3) -> NDArray[np.float32]:
    """Smooth the light that falls on surfaces, edge-avoiding, with the same weights for every band.

    The picture is divided by the surface's own reflectance, smoothed, and multiplied back: an a-trous wavelet
    filter guided by normal, depth and the light's own brightness, after Dammertz, Sewtz, Hanika & Lensch,
    Edge-avoiding a-trous wavelet transform for fast global illumination filtering, HPG 2010.

    Parameters
    ----------
    bands, albedo : (h, w, n)
    normal : (h, w, 3)
    depth : (h, w)
        Metres; 0 where there is nothing.
    """
    import cv2

    base = np.maximum(albedo, 0.02).astype(np.float32)
    falling = (bands / base).astype(np.float32)
    depth = depth.astype(np.float32)
    kernel = np.array([1, 4, 6, 4, 1]) / 16.0
    slope = np.hypot(*np.gradient(cv2.GaussianBlur(depth, (0, 0), 1.0))) + 0.002 * depth + 1e-4
    # Pixels on an outline average two surfaces; no neighbour is like them, so they stay as rendered.
    bend = np.abs(cv2.Laplacian(depth, cv2.CV_32F, ksize=1)) / np.maximum(depth, 0.1)
    inner = (bend < 0.02) & ((normal**2).sum(2) > 0.9)
    height, width = depth.shape
    for level in range(rounds):
        step = 2**level
        bright = np.log(cv2.GaussianBlur(falling.mean(2), (0, 0), 1.0 + 0.5 * level) + 1e-3)
        total, norm = np.zeros_like(falling), np.zeros(depth.shape, np.float32)
        pad = ((2 * step, 2 * step), (2 * step, 2 * step))
        wide = [
            np.pad(a, (*pad, *((0, 0),) * (a.ndim - 2)), mode="edge") for a in (falling, normal, depth, bright)
        ]
        for i in range(5):
            for j in range(5):
                window = (slice(i * step, i * step + height), slice(j * step, j * step + width))
                light_there, normal_there, depth_there, bright_there = (a[window] for a in wide)
                facing = np.clip((normal * normal_there).sum(2), 0, 1) ** 64
                near = np.exp(-np.abs(depth - depth_there) / (slope * step * 2.0))
                alike = np.exp(-(((bright - bright_there) / 0.15) ** 2))
                weight = (kernel[i] * kernel[j] * facing * near * alike).astype(np.float32)
                if i == j == 2:
                    weight += 1e-6
                total += weight[..., None] * light_there
                norm += weight
        falling = total / norm[..., None]
    return np.where(inner[..., None], falling * base, bands).astype(np.float32)
