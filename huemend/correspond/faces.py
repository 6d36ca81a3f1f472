"""Skin samples from faces that two views show: forehead and cheeks of the same person.

Who is the same person is decided by the colour of the clothes below a face against the skin above, in which the
cameras' balance and exposure cancel, and by where matched features put a face. A face itself is never compared
with another one. Two people who cannot be told apart in this way are left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.units import AP1_LUMINANCE
from huemend.correspond.face_finder import Face, find_faces
from huemend.model import LinearStill, PairedColours
from huemend.options import FaceOptions

__all__ = ["FaceSource", "SkinPatch", "same_people", "skin_patches"]

Float = NDArray[np.floating[Any]]

_WEIGHTS = AP1_LUMINANCE / AP1_LUMINANCE.sum()
_FROM_MAD = 1.4826
_SKIN = "skin"
# How far below the mouth clothes are looked at, in face lengths: past the neck, above a table.
_BELOW = (2.2, 2.8, 3.4)
# Clothes darker than this share of the skin are all one.
_BLACK = 0.04


@dataclass(frozen=True, kw_only=True, eq=False)
class SkinPatch:
    """A piece of somebody's skin.

    Attributes
    ----------
    rgb : (3,) float64, scene-linear ACEScg
    noise : float
        Relative standard error of the ratios of the channels.
    shading : float
        Standard deviation of the natural logarithm of luminance within the patch.
    place : (2,) float64
        x, y in pixels of the LinearStill.
    radius : float
    """

    rgb: Float
    noise: float
    shading: float
    place: Float
    radius: float


@dataclass(frozen=True, kw_only=True, eq=False)
class _Person:
    """One face of one view: its patches by part of the face, and its clothes against its skin."""

    face: Face
    patches: dict[str, SkinPatch]
    clothes: Float | None


class FaceSource:
    """Pairs of skin patches of the same person.

    Parameters
    ----------
    options : FaceOptions
    """

    name = "faces"

    def __init__(self, options: FaceOptions) -> None:
        self.options = options
        self._people: dict[tuple[str, int], list[_Person]] = {}
        self._lock = Lock()

    def __call__(
        self,
        reference: tuple[LinearStill, ...],
        angle: tuple[LinearStill, ...],
        guide: PairedColours | None = None,
    ) -> PairedColours:
        """Return the skin pairs of some of the moments that both angles have.

        Parameters
        ----------
        reference, angle : tuple of LinearStill
            In matching order.
        guide : PairedColours, optional
            What features found between the two: it says where a face is to be looked for.
        """
        both = list(zip(reference, angle, strict=False))
        pick = self._picked(len(both))
        found: list[tuple[SkinPatch, SkinPatch, int, int]] = []
        numbers = self._numbers([both[index][0] for index in pick])
        several = len(set(numbers.values())) > 1
        seen = 0
        for index in pick:
            ours, theirs = both[index]
            here, there = self._seen(ours), self._seen(theirs)
            seen += len(there)
            for i, j in self._same(here, there, guide, ours.moment):
                parts = _alike_lit(here[i].patches, there[j].patches, self.options)
                found += [(*patches, ours.moment, numbers[ours.moment, i]) for patches in parts]
        return self._paired(found, several, reference[0].angle, angle[0].angle, seen, len(pick))

    def looks(self, stills: tuple[LinearStill, ...], index: int) -> list[Callable[[], object]]:
        """Return the looking for faces in one picture of an angle, to be done ahead; none if it is not needed."""
        return [partial(self._seen, stills[index])] if index in self._picked(len(stills)) else []

    def _picked(self, moments: int) -> NDArray[np.integer[Any]]:
        return np.unique(np.linspace(0, moments - 1, min(moments, self.options.moments)).round().astype(int))

    def skin(self, still: LinearStill) -> list[list[SkinPatch]]:
        """Return the patches of skin of each face of one picture."""
        return [list(person.patches.values()) for person in self._seen(still)]

    def _seen(self, still: LinearStill) -> list[_Person]:
        key = still.angle, still.moment
        # Angles are matched in threads, and a network holds the picture that it is shown.
        with self._lock:
            if key not in self._people:
                people = []
                for face in find_faces(still, self.options):
                    patches = skin_patches(still, face, self.options)
                    if patches:
                        people.append(_Person(face=face, patches=patches, clothes=_clothes(still, face, patches)))
                self._people[key] = people
            return self._people[key]

    def _same(
        self, here: Sequence[_Person], there: Sequence[_Person], guide: PairedColours | None, moment: int
    ) -> list[tuple[int, int]]:
        if not here or not there:
            return []
        apart = np.full((len(here), len(there)), np.nan)
        for i, one in enumerate(here):
            place = None if guide is None else _expected(one.face, guide, moment, self.options)
            for j, other in enumerate(there):
                if place is not None:
                    apart[i, j] = np.hypot(*(other.face.nose - place)) / other.face.size
        return same_people(apart, _dress(here, there), self.options)

    def _numbers(self, stills: Sequence[LinearStill]) -> dict[tuple[int, int], int]:
        """Number the people of one angle over all moments, by (moment, face): a missed face changes nothing."""
        known: list[_Person] = []
        numbers: dict[tuple[int, int], int] = {}
        for still in stills:
            here = self._seen(still)
            apart = np.full((len(known), len(here)), np.nan)
            for i, one in enumerate(known):
                for j, other in enumerate(here):
                    apart[i, j] = np.hypot(*(other.face.nose - one.face.nose)) / other.face.size
            same = {j: i for i, j in same_people(apart, _dress(known, here), self.options)}
            for j, person in enumerate(here):
                if j not in same:
                    same[j] = len(known)
                    known.append(person)
                numbers[still.moment, j] = same[j]
        return numbers

    def _paired(
        self,
        found: Sequence[tuple[SkinPatch, SkinPatch, int, int]],
        several: bool,
        reference: str,
        angle: str,
        seen: int,
        moments: int,
    ) -> PairedColours:
        if not found:
            return PairedColours.empty(reference, angle, self.name, found=seen)
        ours, theirs, moment, person = zip(*found, strict=True)
        options = self.options
        shading = [max(one.shading, other.shading) for one, other in zip(ours, theirs, strict=True)]
        return PairedColours(
            reference=reference,
            angle=angle,
            source=self.name,
            reference_rgb=np.array([patch.rgb for patch in ours]),
            angle_rgb=np.array([patch.rgb for patch in theirs]),
            weight=np.full(len(found), options.weight / moments),
            reference_xy=np.array([patch.place for patch in ours]),
            angle_xy=np.array([patch.place for patch in theirs]),
            radius=np.array([[one.radius, other.radius] for one, other in zip(ours, theirs, strict=True)]),
            noise=np.array([[one.noise, other.noise] for one, other in zip(ours, theirs, strict=True)]),
            moment=np.array(moment),
            # Forehead and cheeks share the person, the make-up and mostly the light: one witness.
            group=np.array(person),
            label=np.array([f"{_SKIN} of person {n + 1}" if several else _SKIN for n in person]),
            found=seen,
            matched=len({(m, p) for m, p in zip(moment, person, strict=True)}),
            # A head is round, and a key light from the side lights one cheek for one camera and not for another.
            light_spread=np.hypot(options.light_spread, shading),
        )


def _dress(here: Sequence[_Person], there: Sequence[_Person]) -> NDArray[np.float64]:
    """Return the difference of the clothes of every two people, against the skin, in stops; NaN where not seen."""
    out = np.full((len(here), len(there)), np.nan)
    for i, one in enumerate(here):
        for j, other in enumerate(there):
            if one.clothes is not None and other.clothes is not None:
                out[i, j] = float(np.sqrt(np.square(one.clothes - other.clothes).mean()))
    return out


def _alike_lit(
    ours: dict[str, SkinPatch], theirs: dict[str, SkinPatch], options: FaceOptions
) -> list[tuple[SkinPatch, SkinPatch]]:
    """Return the parts of a face that both views show, without one that light or hair sets apart from the rest."""
    both = [(ours[part], theirs[part]) for part in ours if part in theirs]
    if len(both) < 3:
        return both
    change = np.array([np.log2(one.rgb / other.rgb) for one, other in both])
    off = np.abs(change - np.median(change, axis=0)).max(1)
    return [patches for patches, value in zip(both, off, strict=True) if value < options.one_light]


def same_people(apart: Float, dress: Float, options: FaceOptions) -> list[tuple[int, int]]:
    """Return which faces of two views are the same person's, as (reference, angle) indices.

    Parameters
    ----------
    apart : (n, m) array
        How far a face of the angle lies from where features put one of the reference, in face lengths; NaN where
        features say nothing.
    dress : (n, m) array
        Difference of the clothes, against the skin, in stops; NaN where they cannot be seen.
    options : FaceOptions

    Returns
    -------
    list of (int, int)
        Each face at most once; a choice that is not clear is none.
    """
    dressed, placed = ~np.isnan(dress), ~np.isnan(apart)
    near = np.where(placed, apart / options.near, 1.0)
    alike = np.where(dressed, dress / options.alike, 1.0)
    # Features lie on the wall behind, which moves against a head by parallax: a wrong place is no proof against
    # the same clothes. Where clothes cannot be seen, place alone must do.
    cost = np.hypot(np.minimum(near, 1.0), alike)
    cost[np.where(dressed, alike > 1, near > 1) | ~(dressed | placed)] = np.inf
    out: list[tuple[int, int]] = []
    order = np.argsort(cost, axis=None, kind="stable")
    for i, j in np.stack(np.unravel_index(order, cost.shape), axis=1).tolist():
        if not np.isfinite(cost[i, j]):
            break
        rows, columns = {a for a, _ in out}, {b for _, b in out}
        if i in rows or j in columns:
            continue
        others = [cost[i, b] for b in range(cost.shape[1]) if b != j and b not in columns]
        others += [cost[a, j] for a in range(cost.shape[0]) if a != i and a not in rows]
        if all(cost[i, j] < options.clearly * other for other in others):
            out.append((i, j))
    return sorted(out)


def _expected(face: Face, guide: PairedColours, moment: int, options: FaceOptions) -> NDArray[np.float64] | None:
    """Return where features put a face in the other view, or None where there are too few around it."""
    off = np.asarray(guide.reference_xy, float) - face.nose
    distance = np.hypot(off[:, 0], off[:, 1])
    near = np.nonzero((guide.moment == moment) & (distance < options.around * face.size))[0]
    if len(near) < options.fewest_around:
        return None
    near = near[np.argsort(distance[near], kind="stable")][: options.most_around]
    # A plain scale and shift, by medians: what lies behind a head moves otherwise than the head does.
    scale = np.median(guide.radius[near, 1] / np.maximum(guide.radius[near, 0], 1e-9))
    return np.asarray(np.median(guide.angle_xy[near] - scale * off[near], axis=0), float)


def skin_patches(still: LinearStill, face: Face, options: FaceOptions) -> dict[str, SkinPatch]:
    """Return forehead and cheeks of a face where they show skin that is lit and not shining."""
    eyes, mouth = face.eyes.mean(0), face.mouth.mean(0)
    up = (eyes - mouth) / max(face.size, 1e-9)
    places = {
        "forehead": eyes + 0.55 * face.size * up,
        "left cheek": 0.5 * (face.eyes[0] + face.mouth[0]),
        "right cheek": 0.5 * (face.eyes[1] + face.mouth[1]),
    }
    found = {}
    for part, place in places.items():
        patch = _patch(still, np.asarray(place, float), options.patch * face.size, options)
        if patch is not None:
            found[part] = patch
    return _of_one_skin(found, options)


def _patch(still: LinearStill, place: Float, radius: float, options: FaceOptions) -> SkinPatch | None:
    rgb = _disc(still, place, max(radius, 1.5))
    if rgb is None or len(rgb) < options.fewest_pixels:
        return None
    luminance = np.maximum(rgb @ _WEIGHTS, 1e-6)
    # Shine and highlights are brighter than the skin around and greyer; pores, hair and shadow edges darker.
    middle = float(np.median(luminance))
    matt = (luminance < options.shine * middle) & (luminance > options.shade * middle)
    ratio = rgb / luminance[:, None]
    matt &= ratio[:, 0] > np.quantile(ratio[:, 0], options.greyest)
    if matt.sum() < options.fewest_pixels:
        return None
    log, ratio = np.log(luminance[matt]), ratio[matt]
    centre = np.median(ratio, axis=0)
    skin = np.exp(np.median(log)) * centre / (centre @ _WEIGHTS)
    if skin @ _WEIGHTS < options.darkest or not _looks_like_skin(skin, options):
        return None
    spread = np.median(np.abs(ratio - centre), axis=0).max()
    return SkinPatch(
        rgb=skin,
        noise=float(np.hypot(_FROM_MAD * spread / np.sqrt(len(ratio)), 0.004)),
        shading=float(_FROM_MAD * np.median(np.abs(log - np.median(log)))),
        place=place,
        radius=max(radius, 1.5),
    )


def _disc(still: LinearStill, place: Float, radius: float) -> NDArray[np.float64] | None:
    """Return the pixels of a disc, or None where a part of it is outside the picture, clipped or ignored."""
    height, width = still.clipped.shape
    x0, y0 = np.floor(place - radius).astype(int)
    x1, y1 = np.ceil(place + radius).astype(int) + 1
    if x0 < 0 or y0 < 0 or x1 > width or y1 > height:
        return None
    y, x = np.mgrid[y0:y1, x0:x1]
    inside = np.hypot(x - place[0], y - place[1]) <= radius
    spoilt = still.clipped[y0:y1, x0:x1][inside]
    if still.ignored is not None:
        spoilt = spoilt | still.ignored[y0:y1, x0:x1][inside]
    if spoilt.any():
        return None
    return np.asarray(still.rgb[y0:y1, x0:x1][inside], float)


def _looks_like_skin(rgb: Float, options: FaceOptions) -> bool:
    """Say whether a colour could be skin under a light that a camera is roughly balanced for: no mask or beard.

    Skin reflects red more than green, and green hardly less than blue, whatever its depth.
    """
    red, green, blue = np.log2(np.maximum(rgb, 1e-6))
    low, high = options.skin_red_green
    return bool(low < red - green < high and blue - green < options.skin_blue_green)


def _of_one_skin(found: dict[str, SkinPatch], options: FaceOptions) -> dict[str, SkinPatch]:
    """Leave out a part whose ratios are far from the others': hair in the forehead, a hand, a strap."""
    if len(found) < 3:
        return found
    chroma = {part: np.log2(patch.rgb[[0, 2]] / patch.rgb[1]) for part, patch in found.items()}
    middle = np.median(list(chroma.values()), axis=0)
    return {part: found[part] for part, value in chroma.items() if np.abs(value - middle).max() < options.one_skin}


def _clothes(still: LinearStill, face: Face, patches: dict[str, SkinPatch]) -> NDArray[np.float64] | None:
    """Return the colour of what is worn below a face against the skin of that face, in stops of each channel.

    What differs between two cameras (exposure and balance) is in both, and cancels.
    """
    mouth = face.mouth.mean(0)
    down = np.array([0.0, 1.0])
    rows = []
    for below in _BELOW:
        rgb = _disc(still, mouth + below * face.size * down, max(0.45 * face.size, 2.0))
        if rgb is not None:
            rows.append(np.median(rgb, axis=0))
    if not rows:
        return None
    skin = np.median([patch.rgb for patch in patches.values()], axis=0)
    # Black is black: how black depends on noise and flare, not on who wears it.
    out: NDArray[np.float64] = np.log2(np.maximum(np.median(rows, axis=0) / np.maximum(skin, 1e-6), _BLACK))
    return out
