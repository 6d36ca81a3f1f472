"""What the literature offers for the same job, for comparison.

The whole-frame methods see the hero's and the angle's picture, decoded to scene-linear ACEScg, and are then
applied to the angle's noise-free pixels. Each works in the space its authors used: Reinhard in l-alpha-beta,
the other two on the picture that a Rec.709 display would be sent (gamma 2.4, without a clip), where they do
better than in a log space.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import sqrtm
from skimage.exposure import match_histograms

from tests.bench.accuracy import codes
from tests.bench.accuracy.score import Apply

Picture = NDArray[np.float64]

#: Linear RGB to LMS, and log LMS to l-alpha-beta: Reinhard, Ashikhmin, Gooch & Shirley, "Color transfer
#: between images", IEEE Computer Graphics and Applications 21(5), 2001, equations 4 and 6.
_RGB_TO_LMS = np.array([[0.3811, 0.5783, 0.0402], [0.1967, 0.7244, 0.0782], [0.0241, 0.1288, 0.8444]])
_LMS_TO_LAB = np.diag([1 / np.sqrt(3), 1 / np.sqrt(6), 1 / np.sqrt(2)]) @ np.array(
    [[1.0, 1.0, 1.0], [1.0, 1.0, -2.0], [1.0, -1.0, 0.0]]
)
#: Below this the logarithm would turn noise into statistics: about nine stops under mid-grey.
_DARKEST = 3e-4


def reinhard(hero: Picture, angle: Picture) -> Apply:
    """Mean and standard deviation of each l-alpha-beta channel over the whole frame (Reinhard et al. 2001)."""
    want, have = _lab(hero).reshape(-1, 3), _lab(angle).reshape(-1, 3)
    gain = want.std(axis=0) / np.maximum(have.std(axis=0), 1e-9)

    def apply(rgb: Picture) -> Picture:
        return _from_lab((_lab(rgb) - have.mean(axis=0)) * gain + want.mean(axis=0))

    return apply


def monge_kantorovich(hero: Picture, angle: Picture) -> Apply:
    """The linear Monge-Kantorovich map between the frames' colours, in display values.

    Pitie & Kokaram, "The linear Monge-Kantorovitch linear colour mapping for example-based colour transfer",
    CVMP 2007: ``T = A^-1/2 (A^1/2 B A^1/2)^1/2 A^-1/2`` with A and B the two covariances.
    """
    want, have = _display(hero).reshape(-1, 3), _display(angle).reshape(-1, 3)
    floor = 1e-9 * np.eye(3)
    a, b = np.cov(have.T) + floor, np.cov(want.T) + floor
    root = np.real(sqrtm(a))
    inverse = np.linalg.inv(root)
    mix = inverse @ np.real(sqrtm(root @ b @ root)) @ inverse

    def apply(rgb: Picture) -> Picture:
        return _light((_display(rgb) - have.mean(axis=0)) @ mix.T + want.mean(axis=0))

    return apply


def histograms(hero: Picture, angle: Picture) -> Apply:
    """Match each channel's histogram to the hero's, in display values (scikit-image ``match_histograms``)."""
    del angle  # The library takes the histogram of the picture that it changes.
    want = _display(hero)

    def apply(rgb: Picture) -> Picture:
        return _light(match_histograms(_display(rgb), want, channel_axis=-1))

    return apply


def least_squares(reference_rgb: Picture, angle_rgb: Picture) -> Apply:
    """A plain least-squares 3x3 on pairs of colours, shapes (n, 3), in scene-linear ACEScg."""
    mix = np.linalg.lstsq(np.asarray(angle_rgb, float), np.asarray(reference_rgb, float), rcond=None)[0]
    return lambda rgb: rgb @ mix


#: The whole-frame methods, by the name in the table.
WHOLE_FRAME = {"Reinhard": reinhard, "M-K": monge_kantorovich, "histogram": histograms}


def _lab(rgb: Picture) -> Picture:
    lms = rgb @ codes.gamut_matrix("ACEScg", "ITU-R BT.709").T @ _RGB_TO_LMS.T
    return np.asarray(np.log10(np.maximum(lms, _DARKEST)) @ _LMS_TO_LAB.T, float)


def _from_lab(lab: Picture) -> Picture:
    lms = 10.0 ** (lab @ np.linalg.inv(_LMS_TO_LAB).T)
    rgb = lms @ np.linalg.inv(_RGB_TO_LMS).T
    return np.asarray(rgb @ codes.gamut_matrix("ITU-R BT.709", "ACEScg").T, float)


def _display(rgb: Picture) -> Picture:
    light = rgb @ codes.gamut_matrix("ACEScg", "ITU-R BT.709").T
    return np.asarray(np.sign(light) * np.abs(light) ** (1 / 2.4), float)


def _light(values: Picture) -> Picture:
    light = np.sign(values) * np.abs(values) ** 2.4
    return np.asarray(light @ codes.gamut_matrix("ITU-R BT.709", "ACEScg").T, float)
