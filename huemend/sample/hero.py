"""Which angle's picture holds the others: a proposal for the hero, by the scale at which features match."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from huemend.base.arrays import Float, Float32
from huemend.base.cv import import_cv2

#: Pictures are brought to this width, or enlarged as far as that: what the wide view shows is small there.
_WIDTH, _ENLARGED = 1920, 2.0
_FEATURES = 8000
#: Lowe's ratio test (Distinctive image features from scale-invariant keypoints, 2004, section 7.1).
_RATIO = 0.75
#: Unrelated pictures give 7 to 15 matches that agree by chance: below this many nothing is said.
_EVIDENCE = 24
#: Views closer in scale than this many octaves do not hold one another.
_SAME_SCALE = 0.15

#: Places, and descriptors where there are any.
_Features = tuple[Float32, Float32 | None]


@dataclass(frozen=True, kw_only=True)
class HeroProposal:
    """Which angle should be the hero, and why."""

    #: None where the pictures do not say.
    name: str | None
    #: In words, with what was measured of every other angle; or why nothing is proposed.
    why: str


def propose_hero(pictures: Mapping[str, Float]) -> HeroProposal:
    """Propose the angle in whose picture everything is smallest, so that it holds most of the others.

    Of each angle an upright picture, (height, width) luma, at the same moment as far as possible. Without a
    name where they share too little to tell, or no view is wider than the others.
    """
    found = {name: _features(picture) for name, picture in pictures.items()}
    score = dict.fromkeys(pictures, 0.0)
    seen = dict.fromkeys(pictures, 0)
    times: dict[tuple[str, str], float] = {}
    for one, two in combinations(pictures, 2):
        octaves = _octaves(found[one], found[two])
        if octaves is None:
            continue
        times[one, two], times[two, one] = 2**octaves, 2**-octaves
        score[one] += octaves
        score[two] -= octaves
        seen[one] += 1
        seen[two] += 1
    joined = [name for name in pictures if seen[name]]
    # It must have been compared with half of the others at least, and stand out.
    able = [name for name in joined if seen[name] >= (len(pictures) - 1) / 2]
    if len(joined) < 2 or not able:
        return HeroProposal(name=None, why="the pictures share too little to tell which holds the others")
    best = max(able, key=lambda name: score[name] / seen[name])
    lead = score[best] / seen[best]
    others = [name for name in pictures if name != best]
    each = ", ".join(
        f"{name} {times[best, name]:.1f} times" if (best, name) in times else f"{name} shares too little to tell"
        for name in others
    )
    if lead < _SAME_SCALE:
        return HeroProposal(
            name=None, why=f"no picture holds the others: all are of about one scale (from {best}: {each})"
        )
    return HeroProposal(
        name=best, why=f"it shows what {seen[best]} of {len(others)} others show, and smaller than they do: {each}"
    )


def _features(picture: Float) -> _Features:
    """Places and descriptors of the features of a picture."""
    cv2 = import_cv2()
    low, high = np.percentile(picture[::4, ::4], (1, 99))
    grey = np.clip((picture - low) / max(float(high - low), 1e-6) * 255, 0, 255).astype(np.uint8)
    times = min(_WIDTH / grey.shape[1], _ENLARGED)
    size = max(1, round(grey.shape[1] * times)), max(1, round(grey.shape[0] * times))
    sized = cv2.resize(grey, size, interpolation=cv2.INTER_AREA if times < 1 else cv2.INTER_CUBIC)
    points, descriptors = cv2.SIFT_create(_FEATURES).detectAndCompute(sized, None)
    # In fractions of the picture's width, so that pictures of any two sizes compare.
    places = np.array([point.pt for point in points], np.float32).reshape(-1, 2) / sized.shape[1]
    return places, descriptors


def _octaves(one: _Features, two: _Features) -> float | None:
    """Return how many octaves larger the second picture shows what both show; None if that cannot be told."""
    found = _octaves_from(one, two)
    if found is not None:
        return found
    # The nearest neighbours of the one's features need not be those of the other's.
    back = _octaves_from(two, one)
    return None if back is None else -back


def _octaves_from(one: _Features, two: _Features) -> float | None:
    cv2 = import_cv2()
    if one[1] is None or two[1] is None or min(len(one[0]), len(two[0])) < _EVIDENCE:
        return None
    matches = [
        pair[0]
        for pair in cv2.BFMatcher(cv2.NORM_L2).knnMatch(one[1], two[1], k=2)
        if len(pair) == 2 and pair[0].distance < _RATIO * pair[1].distance
    ]
    if len(matches) < _EVIDENCE:
        return None
    source = one[0][[match.queryIdx for match in matches]]
    target = two[0][[match.trainIdx for match in matches]]
    cv2.setRNGSeed(0)
    affine, kept = cv2.estimateAffinePartial2D(source, target, ransacReprojThreshold=1 / 60)
    if affine is None or int(kept.sum()) < _EVIDENCE:
        return None
    # Many features of one picture that fall on a few of the other are no agreement.
    if len(np.unique((_WIDTH * target[kept.ravel() > 0]).round(), axis=0)) < _EVIDENCE:
        return None
    return float(np.log2(np.hypot(affine[0, 0], affine[1, 0])))
