"""Typical surfaces: what an error or a move is told on where the footage itself is not asked."""

from __future__ import annotations

import numpy as np

#: Patches of the 24-patch chart in scene-linear ACEScg, by their customary names: BabelColor averages as carried
#: by colour-science, D50 adapted to the ACES white with CAT02. The neutrals, which are nearly so, are made so.
PATCHES: dict[str, tuple[float, float, float]] = {
    "dark skin": (0.140, 0.090, 0.063),
    "light skin": (0.460, 0.314, 0.236),
    "foliage": (0.116, 0.145, 0.065),
    "blue": (0.044, 0.052, 0.258),
    "green": (0.139, 0.277, 0.094),
    "red": (0.297, 0.060, 0.048),
    "yellow": (0.729, 0.588, 0.093),
    "magenta": (0.373, 0.124, 0.282),
    "cyan": (0.081, 0.226, 0.364),
    "neutral 8": (0.588, 0.588, 0.588),
    "neutral 6.5": (0.360, 0.360, 0.360),
    "neutral 5": (0.191, 0.191, 0.191),
    "neutral 3.5": (0.090, 0.090, 0.090),
}

#: The four mid neutrals, and the six most saturated patches.
NEUTRALS = ("neutral 8", "neutral 6.5", "neutral 5", "neutral 3.5")
SATURATED = ("blue", "green", "red", "yellow", "magenta", "cyan")


def patches(*names: str) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return some patches, (n, 3) float64, scene-linear ACEScg."""
    return np.array([PATCHES[name] for name in names])
