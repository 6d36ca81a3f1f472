"""Features of one picture, and which of two pictures' features might be the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from huemend.base.arrays import Bool, Float, Float32, Int, Rows
from huemend.base.cv import import_cv2
from huemend.correspond.framing import SAME, Framing
from huemend.correspond.raster import MatchPicture, feature_picture, log_luminance, patch_means
from huemend.options import CorrespondOptions


@dataclass(frozen=True, kw_only=True, eq=False)
class Features(Rows):
    """SIFT features (Lowe 2004) with RootSIFT descriptors (Arandjelovic & Zisserman 2012)."""

    #: (n, 2) float64. x, y in pixels of the matching picture.
    places: Float
    #: (n,) float64. Diameter in pixels, orientation in degrees.
    size: Float
    turn: Float
    #: (n, 128) float32. Unit length, so that a dot product is a similarity.
    descriptor: Float
    #: (n, 2) float64. log2 red/green and blue/green of the patch around the feature.
    chroma: Float

    def __len__(self) -> int:
        return len(self.places)


@dataclass(frozen=True, kw_only=True, eq=False)
class Candidates(Rows):
    """Pairs of features that might be the same surface."""

    #: (n, 2) float64. Places in the two matching pictures.
    reference: Float
    angle: Float
    #: (n,) float64. log2 of the feature's size in the angle over that in the reference.
    scale: Float
    #: (n, 2) float64. log2 red/green and blue/green around the feature, the angle over the reference.
    tint: Float
    #: (n,) float64. 0..1: how sure a match is to be this surface and not another that looks alike in the same
    #: picture.
    distinct: Float
    #: How many features of the angle were tried.
    found: int

    def __len__(self) -> int:
        return len(self.scale)

    def carried(self, reference: Framing, angle: Framing) -> Candidates:
        """Return the same pairs where later pictures of both cameras show them."""
        if reference is SAME and angle is SAME:
            return self
        scale = self.scale + np.log2(angle.scale / reference.scale)
        return replace(
            self, reference=reference.places(self.reference), angle=angle.places(self.angle), scale=scale
        )


def find_features(picture: MatchPicture, width: int, most: int, squeeze: float = 1.0) -> Features:
    """Find features on a picture's still, seen ``width`` pixels wide; places are those of the picture.

    ``squeeze`` makes that picture narrower (below 1) or wider: cameras of one set stand at about one height
    around it, so that upright surfaces are foreshortened sideways and hardly any other way (a few of the many
    simulated views of Morel & Yu 2009).
    """
    found, ignored = _detect(picture, width, most, squeeze), picture.still.ignored
    return found if ignored is None else _outside(found, picture, ignored)


def join_features(parts: Sequence[Features]) -> Features:
    """Put the features of several views of one picture side by side."""
    if len(parts) == 1:
        return parts[0]
    names = [item.name for item in fields(Features)]
    return Features(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})


def _outside(found: Features, picture: MatchPicture, ignored: Bool) -> Features:
    """Leave out the features whose centres lie where nothing may be used: a screen shows other places."""
    column, row = np.rint(picture.still_places(found.places)).astype(int).T
    height, width = ignored.shape
    return found.take(~ignored[np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)])


def _detect(picture: MatchPicture, width: int, most: int, squeeze: float) -> Features:
    cv2, still = import_cv2(), picture.still
    height = max(1, round(still.rgb.shape[0] * width / still.rgb.shape[1]))
    size = round(width * squeeze), height
    if width < still.rgb.shape[1]:
        log = log_luminance(cv2.resize(np.asarray(still.rgb, np.float32), size, interpolation=cv2.INTER_AREA))
    else:
        log = cv2.resize(log_luminance(np.asarray(still.rgb)), size, interpolation=cv2.INTER_CUBIC)
    # A low contrast threshold: evenly lit sets are soft, and later checks are strict.
    sift = cv2.SIFT_create(nfeatures=most, contrastThreshold=0.012, edgeThreshold=15)
    points, descriptor = sift.detectAndCompute(feature_picture(log), None)
    if not points:
        none = np.zeros(0)
        return Features(
            places=np.zeros((0, 2)),
            size=none,
            turn=none,
            descriptor=np.zeros((0, 128), np.float32),
            chroma=np.zeros((0, 2)),
        )
    enlarged = np.array([size[0] / picture.rgb.shape[1], size[1] / picture.rgb.shape[0]])
    places = (np.array([p.pt for p in points], float) + 0.5) / enlarged - 0.5
    diameter = np.array([p.size for p in points], float) / enlarged[1]
    # Whole octaves of radius are enough for a coarse gate, and few blurs.
    radius = 2.0 ** np.rint(np.log2(np.maximum(diameter / 2, 1.0)))
    rgb, _ = patch_means(picture, places, radius)
    log_rgb = np.log2(np.maximum(rgb, 1e-3))
    root = np.sqrt(descriptor / np.maximum(descriptor.sum(1, keepdims=True), 1e-9))
    return Features(
        places=places,
        size=diameter,
        turn=np.array([p.angle for p in points], float),
        descriptor=root.astype(np.float32),
        chroma=log_rgb[:, [0, 2]] - log_rgb[:, 1:2],
    )


def _distance(similarity: Float) -> Float32:
    return np.sqrt(np.maximum(2 - 2 * similarity, 0)).astype(np.float32)


def find_candidates(reference: Features, angle: Features, options: CorrespondOptions) -> Candidates:
    """Pair features by descriptor, keeping several counterparts of each; geometry decides later.

    A repeated texture (bricks, book spines) fails a strict ratio test everywhere, so candidates are kept
    generously, and how much each counts as evidence is measured instead: a match that is no nearer than what
    the same picture shows elsewhere says little.
    """
    keep = options.neighbours
    if len(reference) <= keep + 1 or not len(angle):
        return Candidates(
            reference=np.zeros((0, 2)),
            angle=np.zeros((0, 2)),
            scale=np.zeros(0),
            tint=np.zeros((0, 2)),
            distinct=np.zeros(0),
            found=len(angle),
        )
    nearest, distance, best_of_reference = _nearest(angle, reference, keep + 2, options.upright)
    of_angle = np.repeat(np.arange(len(angle)), keep)
    of_reference = nearest[:, :keep].ravel()
    apart = distance[:, :keep].ravel()
    turn = (angle.turn[of_angle] - reference.turn[of_reference] + 180) % 360 - 180
    tint = angle.chroma[of_angle] - reference.chroma[of_reference]
    good = (
        (apart < options.ratio * np.repeat(distance[:, -1], keep))
        & (apart <= options.slack * best_of_reference[of_reference] + 1e-6)
        & (apart < 0.75)
        & (np.abs(turn) < options.upright)
        & (np.abs(tint).max(1) < options.chroma_gate)
    )
    of_angle, of_reference, apart = of_angle[good], of_reference[good], apart[good]
    # Distance to the most alike feature elsewhere in the same picture, in either picture.
    alike = np.minimum(
        _self_distance(angle, of_angle, 12.0, options.upright),
        _self_distance(reference, of_reference, 6.0, options.upright),
    )
    return Candidates(
        reference=reference.places[of_reference],
        angle=angle.places[of_angle],
        scale=np.log2(angle.size[of_angle] / reference.size[of_reference]),
        tint=tint[good],
        distinct=np.clip((1.15 - apart / np.maximum(alike, 1e-6)) / 0.35, 0.02, 1.0),
        found=len(angle),
    )


def _alike_turned(turn: Float, others: Float, upright: float) -> Iterator[tuple[Int, Int]]:
    """Yield rows of ``turn``, and the ``others`` that are turned like them, or little more than ``upright`` off.

    Cameras stand upright, so that no other can be the same surface; what need not be compared costs nothing.
    """
    sector = 15.0
    order = np.argsort(others, kind="stable")
    ring = np.concatenate([others[order] - 360, others[order], others[order] + 360])
    order = np.concatenate([order, order, order])
    number = (turn % 360 // sector).astype(int)
    for at in np.flatnonzero(np.bincount(number)):
        low, high = np.searchsorted(ring, [at * sector - upright, (at + 1) * sector + upright])
        rows = np.flatnonzero(number == at)
        # Slices whose products stay in the cache's reach.
        for part in np.array_split(rows, len(rows) // 1_000 + 1):
            yield part, order[low:high]


def _nearest(angle: Features, reference: Features, count: int, upright: float) -> tuple[Int, Float32, Float32]:
    """Return each angle feature's nearest reference features, their distances, and each reference's smallest one.

    Only features turned alike are looked at; where there are fewer than ``count``, the first reference feature
    stands in at the distance of what has nothing in common. A few passes of argmax are several times as quick as
    a partition.
    """
    near = np.zeros((len(angle), count), np.int64)
    value = np.full((len(angle), count), -1.0, np.float32)
    best = np.full(len(reference), -1.0, np.float32)
    for rows, columns in _alike_turned(angle.turn, reference.turn, upright):
        if not len(columns):
            continue
        similarity = angle.descriptor[rows] @ reference.descriptor[columns].T
        best[columns] = np.maximum(best[columns], similarity.max(0))
        each = np.arange(len(rows))
        for rank in range(min(count, len(columns))):
            found = similarity.argmax(1)
            near[rows, rank] = columns[found]
            value[rows, rank] = similarity[each, found]
            similarity[each, found] = -1
    return near, _distance(value), _distance(best)


def _self_distance(features: Features, which: Int, apart: float, upright: float) -> Float32:
    """Return the distance to the most similar feature of the same picture at least ``apart`` pixels away."""
    unique, back = np.unique(which, return_inverse=True)
    best = np.full(len(unique), -1.0, np.float32)  # nothing in common
    for rows, columns in _alike_turned(features.turn[unique], features.turn, upright):
        chosen = unique[rows]
        similarity = features.descriptor[chosen] @ features.descriptor[columns].T
        here = features.places[chosen]
        # What lies nearer is itself and its few twins: to strike them out as they come up is quicker than to
        # measure how far everything is.
        left = np.arange(len(rows))
        while len(left):
            found = similarity[left].argmax(1) if len(left) < len(rows) else similarity.argmax(1)
            value = similarity[left, found]
            off = features.places[columns[found]] - here[left]
            near = ((off * off).sum(1) <= apart * apart) & (value > -1)
            best[rows[left[~near]]] = value[~near]
            similarity[left[near], found[near]] = -1
            left = left[near]
    return _distance(best)[back.reshape(-1)]
