"""Laying a place of an angle over the same place of the reference, by the pairs around it.

The reference is the angle that the pairs are shared with: the hero, unless angles were chained. Two views of a set
differ by perspective and parallax, which no one transform describes; within a small square an affine map does,
wherever enough pairs agree on one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from huemend.base.arrays import Float, Float32, Float64
from huemend.base.cv import import_cv2
from huemend.base.units import AP1_LUMINANCE, acescct_decode, acescct_encode

#: The map that leaves a square of the reference where it is.
UNMOVED = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
UNMOVED.setflags(write=False)

#: Pairs that an affine map rests on at least; with fewer, scale and turn of the pairs themselves must do.
_FEWEST = 5
# Pairs nearest to the place that have a say, and how far off, in shares of the square's side, they may be.
_MOST, _REACH = 24, 1.6
# Pairs agree on a map that misses them by less than this share of the square's side.
_AGREE = 0.07
# Two pairs' own scale, over what the features measured: beyond this, one of the two is wrong.
_SHRUNK, _GROWN = 0.6, 1.7
# An affine map may differ in scale between its directions by this much: a surface seen at 60 degrees.
_SLANT = 2.0


@dataclass(frozen=True)
class Alignment:
    """Where a place of the reference lies on an angle."""

    #: (2, 3) float64. Multiplies a column ``(x, y, 1)`` in pixels of the reference's still from the left, to
    #: pixels of the angle's.
    to_angle: Float
    #: False where it is no more than a shift and a scale: too few pairs, or too much in one line.
    affine: bool


def align(reference_xy: Float, angle_xy: Float, scale: Float, centre: Float, side: float) -> Alignment | None:
    """Fit the map of a square about a place, robustly; None without a pair in reach.

    Pairs lie at ``reference_xy`` and ``angle_xy``, (n, 2), in pixels of each view's still; ``scale``, (n,), is
    pixels of the angle over pixels of the reference, as each pair's own feature measured it. Centre and side of
    the square are in the reference's pixels.
    """
    far = np.hypot(*(reference_xy - centre).T)
    near = np.argsort(far, kind="stable")[:_MOST]
    near = near[far[near] < _REACH * side]
    if not len(near):
        return None
    here, there, size = reference_xy[near], angle_xy[near], float(np.median(scale[near]))
    # Weights fall off with distance: what lies at the edge may lie on another surface.
    weight = 1.0 / (1.0 + (far[near] / (0.6 * side)) ** 2)
    tolerance = _AGREE * side * size
    plain = _shift(here, there, weight, size, tolerance)
    best = plain, _misses(plain, here, there) < tolerance
    found = _similarities(here, there, size, side)
    if len(found):
        agree = _misses(found, here, there) < tolerance
        behind = agree @ weight
        most = int(np.argmax(behind))
        if behind[most] > weight[best[1]].sum() + 1e-9:
            best = found[most], agree[most]
    if best[1].sum() < _FEWEST:
        return Alignment(plain, affine=False)
    affine = _affine(here, there, weight * best[1], best[0], side)
    grown = np.linalg.svd(affine[:, :2], compute_uv=False)
    if grown[0] > _SLANT * grown[1] or np.linalg.det(affine[:, :2]) <= 0:
        return Alignment(best[0], affine=False)
    return Alignment(affine, affine=True)


def _similarities(here: Float, there: Float, size: float, side: float) -> Float64:
    """Return the scale, turn and shift, (k, 2, 3), that each two pairs say, of those that can say one.

    They must lie far enough apart to say something of scale and turn, and not turn the place over; a scale far
    from ``size``, the pairs' own, comes of a wrong pair.
    """
    first, second = np.triu_indices(len(here), 1)
    one, other = here[second] - here[first], there[second] - there[first]
    length = (one**2).sum(axis=1)
    apart = length > (0.15 * side) ** 2
    first, second, one, other, length = (each[apart] for each in (first, second, one, other, length))
    a = (one * other).sum(axis=1) / length
    b = (one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]) / length
    grown = np.hypot(a, b) / size
    sound = (a > 0) & (grown > _SHRUNK) & (grown < _GROWN)
    first, second, a, b = (each[sound] for each in (first, second, a, b))
    turned = np.stack([np.stack([a, -b], axis=1), np.stack([b, a], axis=1)], axis=1)
    middle = (here[first] + here[second]) / 2
    shift = (there[first] + there[second]) / 2 - np.einsum("kij,kj->ki", turned, middle)
    return np.concatenate([turned, shift[:, :, None]], axis=2)


def _misses(to_angle: Float, here: Float, there: Float) -> Float64:
    """Return by how many of the angle's pixels a map, or each of several (k, 2, 3), misses each pair."""
    off = here @ np.swapaxes(to_angle[..., :2], -1, -2) + to_angle[..., None, :, 2] - there
    return np.asarray(np.hypot(off[..., 0], off[..., 1]), float)


def _shift(here: Float, there: Float, weight: Float, scale: float, tolerance: float) -> Float64:
    """Return the shift at the pairs' own scale that most of their weight agrees on."""
    shifts = there - scale * here
    apart = shifts[:, None] - shifts
    agree = [float(weight[near].sum()) for near in np.hypot(apart[..., 0], apart[..., 1]) < 2 * tolerance]
    chosen = np.hypot(*(shifts - shifts[int(np.argmax(agree))]).T) < 2 * tolerance
    shift = np.average(shifts[chosen], axis=0, weights=weight[chosen])
    return np.array([[scale, 0.0, shift[0]], [0.0, scale, shift[1]]])


def _affine(here: Float, there: Float, weight: Float, near: Float, side: float) -> Float64:
    """Fit an affine map by least squares, held to a similarity where the pairs leave a direction open."""
    middle = np.average(here, axis=0, weights=weight)
    spread = 0.35 * side
    # Corners that the similarity maps, counting as one pair: they decide only what the pairs do not.
    corners = middle + spread * np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    points = np.vstack([here, corners])
    targets = np.vstack([there, corners @ near[:, :2].T + near[:, 2]])
    root = np.sqrt(np.concatenate([weight, np.full(4, 0.25)]))[:, None]
    design = np.column_stack([points - middle, np.ones(len(points))])
    solved, *_ = np.linalg.lstsq(design * root, targets * root, rcond=None)
    turned = solved[:2].T
    return np.column_stack([turned, solved[2] - turned @ middle])


def outer_square(to_picture: Float, centre: Float, side: float) -> Float64:
    """Return where the corners of a square of the reference lie on a picture, (4, 2); ``to_picture`` is (2, 3)."""
    corners = centre + side / 2 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    return np.asarray(corners @ to_picture[:, :2].T + to_picture[:, 2], float)


def cut_square(rgb: Float, to_picture: Float, centre: Float, side: float, pixels: int) -> Float32:
    """Cut a square of the reference, (pixels, pixels, ...), out of a picture, through a map to its pixels.

    The picture is (height, width, 3) or (height, width), scene-linear, the map (2, 3); centre and side are in the
    reference's pixels. Averaged where the picture is finer than what is asked for; its edge goes on beyond it.
    """
    cv2 = import_cv2()
    step = side / pixels
    # Centres of pixels lie on whole numbers, here and there.
    start = np.asarray(centre, float) - side / 2 + step / 2
    linear = to_picture[:, :2] * step
    shift = to_picture[:, :2] @ start + to_picture[:, 2]
    finest = float(np.sqrt(abs(np.linalg.det(linear))))
    # A cut much coarser than the picture would alias: cut finer, then average.
    over = max(1, min(6, int(np.ceil(finest))))
    if over > 1:
        linear, shift = linear / over, shift - linear @ np.full(2, (over - 1) / (2 * over))
    size = pixels * over
    near, linear_map = _near(rgb, linear, shift, size)
    # Enlarged, an eye expects a blend of what it sees, not of light: blended light would turn edges to steps.
    source = near if over > 1 else acescct_encode(near)
    cut = cv2.warpAffine(
        np.ascontiguousarray(source, np.float32),
        linear_map,
        (size, size),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    if over > 1:
        return np.asarray(cv2.resize(cut, (pixels, pixels), interpolation=cv2.INTER_AREA), np.float32)
    return np.asarray(acescct_decode(cut), np.float32)


def _near(rgb: Float, linear: Float, shift: Float, size: int) -> tuple[Float, Float64]:
    """Return the part of a picture that a map reads from, and the map into that part."""
    corners = np.array([[0, 0], [size, 0], [size, size], [0, size]]) @ linear.T + shift
    height, width = rgb.shape[:2]
    left, top = np.clip(np.floor(corners.min(axis=0)).astype(int) - 3, 0, [width - 1, height - 1])
    right, bottom = np.clip(np.ceil(corners.max(axis=0)).astype(int) + 4, [left + 1, top + 1], [width, height])
    return rgb[top:bottom, left:right], np.column_stack([linear, shift - [left, top]])


def likeness(one: Float, other: Float) -> float:
    """Return how well the detail of two cuts of scene-linear light agrees: their correlation, -1 to 1.

    Exposure and balance cancel; two plain surfaces, which have no detail to compare, come to zero.
    """
    cv2 = import_cv2()
    details = []
    for light in (one, other):
        log = np.log2(np.maximum(light @ AP1_LUMINANCE.astype(np.float32), 1e-4)).astype(np.float32)
        log = cv2.GaussianBlur(log, (0, 0), 0.02 * len(log))
        details.append(log - cv2.GaussianBlur(log, (0, 0), 0.2 * len(log)))
    power = np.sqrt(float((details[0] ** 2).sum()) * float((details[1] ** 2).sum()))
    # Detail of a fiftieth of a stop is noise and compression, also where they are weak.
    floor = 0.02**2 * details[0].size
    return float((details[0] * details[1]).sum() / max(power, floor))
