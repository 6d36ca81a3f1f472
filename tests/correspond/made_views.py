"""Two views whose true correspondence is known, from the photographs that scikit-image carries."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
from skimage import data

from huemend.model import LinearStill, PairedColours
from huemend.options import CorrespondOptions
from tests.correspond.sources import SeeingSource

#: Fewer features and a coarser grid than the tool takes, so that the tests are quick.
QUICK = CorrespondOptions(reference_features=3000, angle_features=1500, squeezes=(), step=5)

#: What the second camera makes of the light: 0.7 of it, and a channel mix whose rows sum to one.
GAIN = 0.7
MIX = np.array([[0.93, 0.05, 0.02], [-0.02, 1.05, -0.03], [0.01, -0.04, 1.03]])
SCALE, ORIGIN = 2.5, np.array([130.0, 20.0])


def light(codes: np.ndarray) -> np.ndarray:
    """Decode sRGB (IEC 61966-2-1) and take the outcome for scene-linear ACEScg: colours need not be true here."""
    v = np.asarray(codes, np.float64) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)


def still_of(rgb: np.ndarray, angle: str, *, moment: int = 0, clipped: np.ndarray | None = None) -> LinearStill:
    clipped = np.zeros(rgb.shape[:2], bool) if clipped is None else clipped
    return LinearStill(
        rgb=np.asarray(rgb, np.float32),
        valid=~clipped,
        clipped=clipped,
        angle=angle,
        moment=moment,
        source=f"{angle}.png",
        full_size=rgb.shape[:2],
    )


def noisy(rgb: np.ndarray, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.maximum(rgb * (1 + 0.01 * rng.normal(size=rgb.shape)) + 0.0005, 0).astype(np.float32)


@cache
def wide_and_close() -> tuple[LinearStill, LinearStill]:
    """A wide view, and a close one that shows a part of it 2.5 times as large through another camera."""
    wide = light(data.astronaut())
    # Pixel centres at whole numbers: close = (wide - ORIGIN) * SCALE.
    to_close = np.hstack([SCALE * np.eye(2), (-SCALE * ORIGIN)[:, None]])
    close = cv2.warpAffine(wide, to_close, (600, 500), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    close = GAIN * np.maximum(close, 0) @ MIX.T.astype(np.float32)
    return still_of(noisy(wide, 1), "wide"), still_of(noisy(close, 2), "close")


def pair_up(reference: LinearStill, angle: LinearStill, **said: object) -> PairedColours:
    options = replace(QUICK, **said)  # type: ignore[arg-type]
    return SeeingSource(options)((reference,), (angle,))


@cache
def wide_and_close_pairs() -> PairedColours:
    return pair_up(*wide_and_close())


@cache
def strangers() -> tuple[LinearStill, LinearStill]:
    """Two photographs that have nothing in common."""
    return still_of(noisy(light(data.coffee()), 3), "wide"), still_of(noisy(light(data.chelsea()), 4), "close")
