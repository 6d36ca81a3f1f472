"""Faces in a picture: where they are, and five points on each; never whose they are.

The network is CenterFace (Xu et al. 2019, "CenterFace: Joint face detection and alignment using face as point"),
which lies beside this module with its licence; OpenCV runs it. An installation that was stripped of it finds no
face, and nothing fails.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float, Int64
from huemend.base.cv import import_cv2
from huemend.base.units import AP1_LUMINANCE
from huemend.model import LinearStill
from huemend.options import FaceOptions
from huemend.view import measurement_picture

_MODEL = Path(__file__).parent / "network" / "centerface.onnx"
# Heat map, size, offset and landmarks; one cell stands for a square of that many pixels.
_OUTPUTS = ("537", "538", "539", "540")
_CELL = 4
_MULTIPLE = 32
# What a face detector was taught on: a picture whose middle tones lie there, with soft highlights.
_MIDDLE = 0.16
_SHOULDER = 0.6

_ONE_AT_A_TIME = Lock()


@dataclass(frozen=True, kw_only=True, eq=False)
class Face:
    """One face, in pixels of the LinearStill."""

    #: (4,) float64. left, top, right, bottom.
    box: Float
    #: (2, 2) float64. x, y of either, from left to right.
    eyes: Float
    #: (2,) float64.
    nose: Float
    #: (2, 2) float64. x, y of its corners, from left to right.
    mouth: Float
    #: 0..1.
    sure: float

    @property
    def size(self) -> float:
        """Length of the face from the eyes to the mouth: it does not shrink when a head turns away."""
        return float(np.hypot(*(self.mouth.mean(0) - self.eyes.mean(0))))

    def scaled(self, times: float) -> Face:
        """Return the same on a picture so many times as large."""
        return replace(
            self,
            box=scaled_places(self.box, times),
            eyes=scaled_places(self.eyes, times),
            nose=scaled_places(self.nose, times),
            mouth=scaled_places(self.mouth, times),
        )


def scaled_places(places: Float, times: float) -> Float:
    """Return places of a picture, pixel centres at whole numbers, on one so many times as large."""
    return places if times == 1 else (np.asarray(places) + 0.5) * times - 0.5


def model_file() -> Path | None:
    """Return where the network is, or None where somebody left it out of the installation."""
    return _MODEL if _MODEL.is_file() else None


def find_faces(still: LinearStill, options: FaceOptions) -> tuple[Face, ...]:
    """Find the faces of a picture, from left to right; none where there is no network."""
    path = model_file()
    if path is None:
        return ()
    picture, network = _toned(still, None if options.closer else max(options.sides)), _network(str(path))
    full = still.rgb.shape[:2]
    found: list[Face] = []
    # A face as tall as the frame and one of twenty pixels both occur; each suits another size of the input.
    largest = options.enlarged * max(full)
    for side in sorted({min(side, largest) for side in options.sides}):
        seen = _detect(network, _Sized(picture, side, full), options)
        found += seen
        # Faces that are this tall at one size are not found better at the next, which costs twice as much.
        small = [face for face in seen if _height(face) * side / max(full) < options.tall_enough]
        if seen and not small:
            break
    else:
        # Enlarging once more finds other faces only where none was found, but places the points of small ones
        # better, and so pairs skin better: what is around them is enough for that.
        if options.closer and largest > options.sides[-1]:
            closer = _Sized(picture, min(options.closer, largest), full)
            found += [] if seen else _detect(network, closer, options)
            for face in small:
                again = _detect(network, closer, options, around=face.box)
                found += [other for other in again if _overlap(face.box, other.box) > options.overlap]
    return _kept(found, full, options)


def find_faces_again(still: LinearStill, known: Sequence[Face], options: FaceOptions) -> tuple[Face, ...]:
    """Find the faces of a later picture of a camera that has not moved, from left to right.

    The smallest picture is looked at whole; a larger one only around the small faces that are seen there or were
    known before, which is a fraction of the work. Where nobody was known it is looked at whole, too.
    """
    path = model_file()
    if path is None:
        return ()
    network, full = _network(str(path)), still.rgb.shape[:2]
    side, smaller = (min(pick(options.sides), options.enlarged * max(full)) for pick in (max, min))
    picture = _toned(still, side)
    found, larger = _detect(network, _Sized(picture, smaller, full), options), _Sized(picture, side, full)
    if not known:
        found += _detect(network, larger, options) if side > smaller else []
        return _kept(found, full, options)
    # Where somebody known has stood is looked at once, whether they are seen there or not.
    moved = [face for face in found if all(_overlap(face.box, other.box) < options.overlap for other in known)]
    for face in (*known, *moved):
        if _height(face) * side / max(full) < options.tall_enough:
            found += _detect(network, larger, options, around=face.box)
    return _kept(found, full, options)


def _kept(found: Sequence[Face], full: tuple[int, ...], options: FaceOptions) -> tuple[Face, ...]:
    """Return each face once, as it was seen best, those whose points lie in the picture, from left to right."""
    height, width = full
    kept: list[Face] = []
    for face in sorted(found, key=lambda face: -face.sure):
        points = np.vstack([face.eyes, face.mouth])
        inside = (points >= 0).all() and (points < (width, height)).all()
        if inside and all(_overlap(face.box, other.box) < options.overlap for other in kept):
            kept.append(face)
    return tuple(sorted(kept, key=lambda face: float(face.nose[0])))


def _toned(still: LinearStill, side: int | None) -> NDArray[np.uint8]:
    """Return a picture as a detector expects one: middle tones in the middle, highlights rolled off.

    ``side`` is how long its longer side is at most; None leaves it as large as it is.
    """
    rgb, use = np.maximum(np.asarray(still.rgb, np.float32), 0), still.valid
    scale = 1.0 if side is None else side / max(use.shape)
    cv2 = import_cv2()
    if scale < 1:
        size = round(use.shape[1] * scale), round(use.shape[0] * scale)
        rgb = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA)
        use = cv2.resize(use.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    if not use.any():
        use = np.ones(use.shape, bool)
    luminance = cv2.transform(rgb, AP1_LUMINANCE.astype(np.float32)[None])
    lit = rgb * np.float32(_MIDDLE / np.exp(np.log(luminance[use] + np.float32(1e-3)).mean()))
    rolled = lit + np.float32(_SHOULDER)
    lit *= np.float32(1 + _SHOULDER)
    lit /= rolled
    return measurement_picture(lit)


@lru_cache(maxsize=1)
def _network(path: str) -> Any:
    return import_cv2().dnn.readNetFromONNX(path)


def forget_network() -> None:
    """Let go of the network, which holds a few hundred megabytes once it has seen a large picture."""
    _network.cache_clear()


class _Sized:
    """A picture as large as a network is to see it, stretched a little to whole multiples.

    Places go back to the (height, width) of the whole picture.
    """

    def __init__(self, picture: NDArray[np.uint8], side: float, full: tuple[int, ...]) -> None:
        cv2 = import_cv2()
        height, width = picture.shape[:2]
        scale = side / max(height, width)
        size = tuple(int(np.ceil(n * scale / _MULTIPLE) * _MULTIPLE) for n in (width, height))
        method = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
        self.rgb: NDArray[np.uint8] = cv2.resize(picture, size, interpolation=method)
        self.back = np.array([full[1] / size[0], full[0] / size[1]])


def _height(face: Face) -> float:
    return float(face.box[3] - face.box[1])


def _detect(network: Any, sized: _Sized, options: FaceOptions, around: Float | None = None) -> list[Face]:
    """Run the network over a picture, or over what is around one box of it; places are the still's."""
    cv2 = import_cv2()
    rgb, first = sized.rgb, np.zeros(2, np.int64)
    if around is not None:
        first, last = _window(around.reshape(2, 2) / sized.back, rgb.shape[1::-1])
        rgb = np.ascontiguousarray(rgb[first[1] : last[1], first[0] : last[0]])
    # Angles are read in threads, and a network holds the picture that it is shown.
    with _ONE_AT_A_TIME:
        network.setInput(cv2.dnn.blobFromImage(rgb, 1.0, rgb.shape[1::-1], (0, 0, 0), False))
        heat, size, offset, points = (out[0] for out in network.forward(list(_OUTPUTS)))
    peak = (heat[0] > options.least_sure) & (heat[0] >= cv2.dilate(heat[0], np.ones((3, 3), np.uint8)))
    found = []
    for row, column in np.argwhere(peak):
        # The network speaks of rows first: heights before widths, y before x.
        extent = np.exp(size[::-1, row, column]) * _CELL
        centre = (np.array([column, row]) + offset[::-1, row, column] + 0.5) * _CELL + first
        corner = centre - extent / 2
        # Pixel centres at whole numbers.
        five = (corner + points[:, row, column].reshape(5, 2)[:, ::-1] * extent) * sized.back - 0.5
        box = np.concatenate([corner * sized.back, (corner + extent) * sized.back]) - 0.5
        found.append(
            Face(
                box=box,
                eyes=five[:2][np.argsort(five[:2, 0])],
                nose=five[2],
                mouth=five[3:][np.argsort(five[3:, 0])],
                sure=float(heat[0, row, column]),
            )
        )
    return found


def _window(box: Float, size: tuple[int, int]) -> tuple[Int64, Int64]:
    """Return the corners around a box that leave twice its size free on every side, on the network's own grid."""
    room = 2 * (box[1] - box[0])
    low = np.floor((box[0] - room) / _MULTIPLE) * _MULTIPLE
    high = np.ceil((box[1] + room) / _MULTIPLE) * _MULTIPLE
    return np.maximum(low, 0).astype(np.int64), np.minimum(high, size).astype(np.int64)


def _overlap(one: Float, other: Float) -> float:
    """Return the share of two boxes that is common, over what both cover together."""
    low, high = np.maximum(one[:2], other[:2]), np.minimum(one[2:], other[2:])
    common = float(np.prod(np.maximum(high - low, 0)))
    both = float(np.prod(one[2:] - one[:2]) + np.prod(other[2:] - other[:2])) - common
    return common / max(both, 1e-9)
