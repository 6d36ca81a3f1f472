"""Typical surfaces, on which an error or a move is told where no footage is asked; the 24-patch chart."""

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

#: (24, 3): the maker's xyY under D50 for charts made since November 2014, to the ACES white by Bradford (the tests
#: compute them again from "ColorChecker24 - After November 2014" of colour-science). Earlier charts differ by a
#: mean CIEDE2000 of 0.6, which the 3x3 of a check mostly takes up.
PUBLISHED = np.array(
    (
        (0.13574832, 0.08509002, 0.05818094),  # dark skin
        (0.44741746, 0.29632238, 0.22535014),  # light skin
        (0.14362300, 0.18484524, 0.30894024),  # blue sky
        (0.11842913, 0.14624190, 0.06291060),  # foliage
        (0.23178275, 0.21632496, 0.39886898),  # blue flower
        (0.26246732, 0.47861264, 0.41556098),  # bluish green
        (0.52738358, 0.23792863, 0.06348004),  # orange
        (0.08875118, 0.10205460, 0.34955118),  # purplish blue
        (0.37607853, 0.11425894, 0.11997688),  # moderate red
        (0.08774230, 0.04799954, 0.12699815),  # purple
        (0.37491274, 0.47968344, 0.09839264),  # yellow green
        (0.59523702, 0.38230978, 0.07287163),  # orange yellow
        (0.04245640, 0.04885044, 0.25276973),  # blue
        (0.13031377, 0.27167671, 0.08641793),  # green
        (0.28784362, 0.06518527, 0.04844372),  # red
        (0.71130801, 0.58543143, 0.08431327),  # yellow
        (0.36039893, 0.11182018, 0.27091757),  # magenta
        (0.07028712, 0.21611450, 0.35276884),  # cyan
        (0.87930100, 0.88388742, 0.84068250),  # white 9.5 (.05 D)
        (0.58713300, 0.59147899, 0.58527888),  # neutral 8 (.23 D)
        (0.36125957, 0.36636526, 0.36528233),  # neutral 6.5 (.44 D)
        (0.19035405, 0.19078252, 0.18992088),  # neutral 5 (.70 D)
        (0.08707079, 0.08854581, 0.08960064),  # neutral 3.5 (1.05 D)
        (0.03145008, 0.03149451, 0.03220973),  # black 2 (1.5 D)
    )
)
PUBLISHED.setflags(write=False)


def patches(*names: str) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return some patches, (n, 3) float64, scene-linear ACEScg."""
    return np.array([PATCHES[name] for name in names])
