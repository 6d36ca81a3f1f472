"""Photographs with published answers that other packages carry; nothing of them is copied here.

Debian's ``opencv-doc`` (the samples of OpenCV, Apache-2.0 and BSD-3-Clause by its copyright file):

* ``graf1.png``, ``graf3.png``, ``H1to3p.xml``: a painted wall from two sides and the homography between them
  (Mikolajczyk et al., A comparison of affine region detectors, International Journal of Computer Vision 65, 2005).
* ``aloeL.jpg``, ``aloeR.jpg``, ``aloeGT.png``: a stereo pair of one camera under one light, and its disparity by
  structured light (Hirschmüller & Scharstein, Evaluation of cost functions for stereo matching, CVPR 2007).
* ``leuvenA.jpg``, ``leuvenB.jpg``: a street from two places within 14 s by one camera, whose EXIF says that
  exposure time, aperture and sensitivity were the same, and what its meter read.
* ``left*.jpg``, ``right*.jpg``: thirteen views of a chessboard by two grey cameras; no colour, so not used here.

The wheel of scikit-image carries ``stereo_motorcycle`` (Scharstein et al., High-resolution stereo datasets with
subpixel-accurate ground truth, GCPR 2014).
"""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import cv2
import numpy as np
import pytest
from PIL import Image

from huemend.model import LinearStill
from tests.correspond.made_views import light, still_of

__all__ = ["disparity", "exif", "homography", "needs_opencv_doc", "photograph"]

_FOLDER = Path("/usr/share/doc/opencv-doc/examples/data")

needs_opencv_doc = pytest.mark.skipif(
    not (_FOLDER / "graf1.png").is_file(), reason="needs Debian's package opencv-doc"
)


def photograph(name: str, angle: str) -> LinearStill:
    """Return a photograph, its sRGB codes (IEC 61966-2-1) decoded to light and taken for scene-linear ACEScg."""
    return still_of(light(cv2.imread(str(_FOLDER / name))[..., ::-1]), angle)


def homography() -> np.ndarray:
    """Return the 3x3 that takes places on graf1 to graf3, column vectors (x, y, 1)."""
    root = ElementTree.parse(_FOLDER / "H1to3p.xml").getroot()
    text = root.findtext("H13/data")
    assert text is not None
    return np.array(text.split(), float).reshape(3, 3)


def exif(name: str) -> dict[str, float]:
    """Return a photograph's exposure time, aperture, sensitivity and APEX light, by EXIF (CIPA DC-008)."""
    with Image.open(_FOLDER / name) as picture:
        tags = picture.getexif().get_ifd(0x8769)
    wanted = {"time": 0x829A, "aperture": 0x829D, "sensitivity": 0x8827, "light": 0x9203}
    return {key: float(tags[number]) for key, number in wanted.items()}


def disparity() -> np.ndarray:
    """Return how many pixels farther left aloeR shows what aloeL shows, NaN where that is not known."""
    codes = cv2.imread(str(_FOLDER / "aloeGT.png"), cv2.IMREAD_GRAYSCALE).astype(float)
    return np.where(codes > 0, codes, np.nan)
