"""Pictures as the matcher sees them: log luminance, blur pyramids, sampling at places between pixels."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, Float32, Float64
from huemend.base.cv import import_cv2
from huemend.base.units import AP1_LUMINANCE
from huemend.errors import MediaError
from huemend.model import LinearStill

# Added to luminance before the logarithm, so that the noise of blacks does not become structure: about six
# stops below mid-grey.
_TOE = 0.003
_SMALLEST = 24  # pixels: a patch with room to move in

# Height over width up to which pictures are matched at equal width.
_TALLEST = 0.75


class Pyramid:
    """A picture blurred in half-octave steps, so that it can be sampled as a coarser view would see it.

    Level j is blurred for a pixel 2**(j/2) times as large and decimated by whole octaves, once it is asked for.
    """

    def __init__(self, picture: Float, levels: int) -> None:
        self._levels: list[Float | None] = [picture] + [None] * (levels - 1)
        self._picture = picture

    def _level(self, j: int) -> Float:
        level = self._levels[j]
        if level is None:
            # A box of the coarser pixel has about this sigma; what the finer pixel already blurred is taken off.
            blurred = import_cv2().GaussianBlur(self._picture, (0, 0), 0.5 * np.sqrt(2.0**j - 1.0))
            step = 2 ** (j // 2)
            self._levels[j] = level = np.ascontiguousarray(blurred[::step, ::step])
        return level

    def sample(self, x: Float, y: Float, scale: Float) -> Float32:
        """Return values at places of the finest level, blurred for pixels ``scale`` times as large, (n,).

        Places are those of n patches, (n, m), m below 32,768; so is what is returned, and NaN outside the picture.
        """
        cv2 = import_cv2()
        level = np.clip(np.rint(2 * np.log2(np.maximum(scale, 1.0))), 0, len(self._levels) - 1).astype(int)
        x, y = np.asarray(x, np.float32), np.asarray(y, np.float32)
        out = np.empty((*x.shape, *self._picture.shape[2:]), np.float32)
        border = (float("nan"),) * 4
        for j in np.flatnonzero(np.bincount(level)):
            at = np.nonzero(level == j)[0]
            level_j, step = self._level(int(j)), np.float32(2 ** (int(j) // 2))
            # cv2.remap takes maps of at most 32,767 rows or columns.
            for part in np.array_split(at, len(at) // 30_000 + 1):
                out[part] = cv2.remap(
                    level_j,
                    x[part] / step,
                    y[part] / step,
                    cv2.INTER_LINEAR,
                    borderMode=cv2.BORDER_CONSTANT,
                    borderValue=border,
                ).reshape(out[part].shape)
        return out


@dataclass(frozen=True, kw_only=True, eq=False)
class MatchPicture:
    """One still, brought to matching size."""

    #: (height, width, 3) float32, scene-linear ACEScg.
    rgb: Float
    #: (height, width) float32. 1 where a pixel must not be measured (clipped, ignored), else 0.
    bad: Float
    #: Multiplies places of this picture to give places at working resolution (pixel centres at whole numbers).
    to_still: float
    still: LinearStill

    @cached_property
    def log(self) -> Float32:
        """log2 of luminance, with a toe, (height, width)."""
        return log_luminance(self.rgb)

    @cached_property
    def _noise(self) -> Float32:
        return _noise_curve(self.log)

    def noise_at(self, log: Float) -> Float64:
        """Return the noise of one pixel, in stops, at the given log2 luminance."""
        return np.asarray(np.interp(log, *self._noise), float)

    def still_places(self, places: Float) -> Float64:
        """Turn places of this picture into places of the LinearStill at working resolution."""
        return (np.asarray(places, float) + 0.5) * self.to_still - 0.5


def log_luminance(rgb: Float) -> Float32:
    luminance = np.maximum(rgb @ AP1_LUMINANCE.astype(np.float32), 0)
    return np.log2(luminance + np.float32(_TOE)).astype(np.float32)


def matching_width(shape: tuple[int, ...], width: int) -> int:
    """Return how wide a picture of (height, width) is matched: upright ones at the area of a 4:3 picture.

    At equal width an upright picture would show everything twice or three times as large as a wide one does, and
    cost that much more.

    >>> matching_width((1080, 1920), 960), matching_width((1440, 1920), 960), matching_width((1920, 1080), 960)
    (960, 960, 624)
    """
    height, wide = shape[:2]
    return min(width, round(width * float(np.sqrt(_TALLEST * wide / height))))


def matching_size(shape: tuple[int, ...], width: int) -> tuple[int, int]:
    """Return the (height, width) at which a picture of (height, width) is matched; it is never enlarged.

    >>> matching_size((2160, 3840), 960), matching_size((480, 640), 960)
    ((540, 960), (480, 640))
    """
    height, wide = shape[:2]
    width = min(matching_width(shape, width), wide)
    return max(1, round(height * width / wide)), width


def matching_log(still: LinearStill, width: int) -> Float32:
    """Return what `make_picture` gives as ``log``, and nothing else."""
    return log_luminance(_light(still, _size_of(still, width)))


def _size_of(still: LinearStill, width: int) -> tuple[int, int]:
    height, wide = still.rgb.shape[:2]
    size = matching_size((height, wide), width)
    # Of one that was made smaller already the rounded sides may ask for one column less.
    return (height, wide) if still.reduced > 1 and wide <= size[1] + 1 else size


def _light(still: LinearStill, size: tuple[int, int]) -> Float32:
    """Return a still's light at a size, what is not finite as black."""
    rgb = _averaged(np.asarray(still.rgb, np.float32), size)
    finite = np.isfinite(rgb)
    return rgb if finite.all() else np.where(finite, rgb, np.float32(0))


def _averaged(picture: Float32, size: tuple[int, int]) -> Float32:
    if picture.shape[:2] == size:
        return picture
    return np.asarray(import_cv2().resize(picture, size[::-1], interpolation=import_cv2().INTER_AREA))


def make_picture(still: LinearStill, width: int) -> MatchPicture:
    """Average a still down to matching size (it is never enlarged).

    Raises MediaError where a strip is left of it, with no room for a patch and what is around it.
    """
    size = _size_of(still, width)
    # Dark pixels are judged by the mean of their patch, which is far less noisy than each of them.
    spoilt = still.clipped if still.ignored is None else still.clipped | still.ignored
    finite = np.isfinite(still.rgb)
    bad = _averaged((spoilt if finite.all() else spoilt | ~finite.all(-1)).astype(np.float32), size)
    if min(size) < _SMALLEST:
        full = f"{still.full_size[1]} x {still.full_size[0]}"
        raise MediaError(
            f"is a strip of {full} pixels, too narrow to find surfaces in",
            where=f"{still.angle}: {still.source}",
            todo="give the full frame",
        )
    rgb = _light(still, size)
    return MatchPicture(
        rgb=rgb,
        bad=(bad > 0).astype(np.float32),
        to_still=still.reduced * still.rgb.shape[1] / rgb.shape[1],
        still=still,
    )


def _noise_curve(log: Float) -> Float32:
    """Return levels of luminance (log2) and the standard deviation of noise there, in stops, (2, n).

    It is that of the flattest patches of each brightness.
    """
    cv2 = import_cv2()
    mean = cv2.blur(log, (5, 5))
    spread = np.sqrt(np.maximum(cv2.blur(log * log, (5, 5)) - mean * mean, 0))
    mean, spread = mean[2:-2:3, 2:-2:3].ravel(), spread[2:-2:3, 2:-2:3].ravel()
    edges = np.quantile(mean, np.linspace(0, 1, 9))
    levels, noise = [], []
    for low, high in pairwise(edges):
        inside = (mean >= low) & (mean <= high)
        levels.append(float(mean[inside].mean()))
        noise.append(float(np.quantile(spread[inside], 0.15)))
    order = np.argsort(levels, kind="stable")
    return np.array([np.array(levels)[order], np.maximum(np.array(noise)[order], 0.004)], np.float32)


def feature_picture(log: Float) -> NDArray[np.uint8]:
    """Even out light and contrast over the frame, so that a dim shelf gives features like a bright one."""
    cv2 = import_cv2()
    # The light changes slowly over the frame: a sixteenth of the size is plenty to follow it.
    small = max(1, log.shape[1] // 16), max(1, log.shape[0] // 16)
    sigma = small[0] / 30

    def slow(picture: Float) -> Float32:
        coarse = cv2.GaussianBlur(cv2.resize(picture, small, interpolation=cv2.INTER_AREA), (0, 0), sigma)
        out: Float32 = cv2.resize(coarse, log.shape[::-1], interpolation=cv2.INTER_LINEAR)
        return out

    detail = log - slow(log)
    # The constant keeps noise on a plain wall from being stretched into texture.
    spread = np.sqrt(slow(detail * detail)) + np.float32(0.15)
    out: NDArray[np.uint8] = np.clip(128 + 45 * detail / spread, 0, 255).astype(np.uint8)
    return out


def patch_means(picture: MatchPicture, places: Float, radius: Float) -> tuple[Float64, Bool]:
    """Return the linear mean colour of round soft patches, (n, 3) ACEScg, and whether all of each may be measured.

    ``places`` are (n, 2) of x, y; ``radius``, (n,), is in pixels: the weight is a Gaussian of half that sigma.
    """
    cv2 = import_cv2()
    # A quarter octave of radius is finer than the patches' own uncertainty.
    spoils = bool(picture.bad.any())
    step = np.rint(4 * np.log2(np.maximum(radius, 0.5))).astype(int)
    colour = np.empty((len(places), 3))
    clean = np.empty(len(places), bool)
    x, y = np.ascontiguousarray(np.asarray(places, np.float32).T)
    for j in np.unique(step):
        at = step == j
        size = 2.0 ** (j / 4)
        blurred, wider = _blurred(picture.rgb, size / 2)
        # A square asks for a little more than the round patch, and costs a tenth of it.
        side = 2 * int(np.ceil(size)) + 1
        spoilt = cv2.dilate(picture.bad, np.ones((side, side), np.uint8)) if spoils else picture.bad
        for part in np.array_split(np.nonzero(at)[0], at.sum() // 30_000 + 1):
            maps = x[part][None], y[part][None]
            coarse = ((maps[axis] + np.float32(0.5)) / wider[axis] - np.float32(0.5) for axis in (0, 1))
            colour[part] = cv2.remap(blurred, *coarse, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0]
            clean[part] = (
                cv2.remap(spoilt, *maps, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT, borderValue=1.0)[0]
                == 0
            )
    return colour, clean


def _blurred(rgb: Float, sigma: float) -> tuple[Float32, tuple[np.float32, np.float32]]:
    """Return a picture under a Gaussian, and how much wider and taller its pixels are.

    A wide Gaussian is slow and leaves nothing fine: from four pixels on, fewer of them show the same.
    """
    cv2 = import_cv2()
    height, width = rgb.shape[:2]
    step = 2 ** max(0, int(np.log2(sigma / 2)))
    small = max(1, width // step), max(1, height // step)
    across, down = width / small[0], height / small[1]
    # What averaging over the larger pixels has blurred already is taken off.
    left = [np.sqrt((sigma * sigma - (wide * wide - 1) / 12) / wide**2) for wide in (across, down)]
    if step > 1:
        rgb = cv2.resize(rgb, small, interpolation=cv2.INTER_AREA)
    blurred: Float32 = cv2.GaussianBlur(rgb, (0, 0), left[0], sigmaY=left[1])
    return blurred, (np.float32(across), np.float32(down))
