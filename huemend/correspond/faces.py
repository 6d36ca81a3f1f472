"""Skin samples from faces that two views show: forehead and cheeks of the same person.

Who is the same person is decided by the colour of the clothes below a face against the skin above, in which the
cameras' balance and exposure cancel, and by where matched features put a face. A face itself is never compared
with another one. Two people who cannot be told apart in this way are left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from huemend.base.arrays import Float, Float64, picked
from huemend.correspond.face_finder import Face
from huemend.correspond.people import Person, SkinPatch
from huemend.correspond.stances import PictureId, picture_id
from huemend.model import LinearStill, PairedColours
from huemend.options import FaceOptions

_SKIN = "skin"


class FaceSource:
    """Pairs of skin patches of the same person.

    Parameters
    ----------
    people : mapping of PictureId to tuple of Person
        Whom each picture shows.
    """

    name = "faces"

    def __init__(self, options: FaceOptions, people: Mapping[PictureId, tuple[Person, ...]]) -> None:
        self.options = options
        self._people = people

    def __call__(
        self,
        reference: tuple[LinearStill, ...],
        angle: tuple[LinearStill, ...],
        guide: PairedColours | None = None,
    ) -> PairedColours:
        """Return the skin pairs of some of the moments that both angles have.

        The guide is what features found between the two: it says where a face is to be looked for.
        """
        looked_at = [
            two for two in zip(reference, angle, strict=False) if all(picture_id(s) in self._people for s in two)
        ]
        both = picked(looked_at, self.options.moments)
        found: list[tuple[SkinPatch, SkinPatch, int, int]] = []
        numbers = self._numbers([ours for ours, _ in both])
        several = len(set(numbers.values())) > 1
        seen = 0
        for ours, theirs in both:
            here, there = self._of(ours), self._of(theirs)
            seen += len(there)
            for i, j in self._same(here, there, guide, ours.moment):
                parts = _alike_lit(here[i].patches, there[j].patches, self.options)
                found += [(*patches, ours.moment, numbers[ours.moment, i]) for patches in parts]
        return self._paired(found, several, reference[0].angle, angle[0].angle, seen, len(both))

    def _of(self, still: LinearStill) -> tuple[Person, ...]:
        return self._people[picture_id(still)]

    def _same(
        self, here: Sequence[Person], there: Sequence[Person], guide: PairedColours | None, moment: int
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
        known: list[Person] = []
        numbers: dict[tuple[int, int], int] = {}
        for still in stills:
            here = self._of(still)
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


def _dress(here: Sequence[Person], there: Sequence[Person]) -> Float64:
    """Return the difference of the clothes of every two people, against the skin, in stops; NaN where not seen."""
    out = np.full((len(here), len(there)), np.nan)
    for i, one in enumerate(here):
        for j, other in enumerate(there):
            if one.clothes is not None and other.clothes is not None:
                out[i, j] = float(np.sqrt(np.square(one.clothes - other.clothes).mean()))
    return out


def _alike_lit(
    ours: Mapping[str, SkinPatch], theirs: Mapping[str, SkinPatch], options: FaceOptions
) -> list[tuple[SkinPatch, SkinPatch]]:
    """Return the parts of a face that both views show, without one that light or hair sets apart from the rest."""
    both = [(ours[part], theirs[part]) for part in ours if part in theirs]
    if len(both) < 3:
        return both
    change = np.array([np.log2(one.rgb / other.rgb) for one, other in both])
    off = np.abs(change - np.median(change, axis=0)).max(1)
    return [patches for patches, value in zip(both, off, strict=True) if value < options.one_light]


def same_people(apart: Float, dress: Float, options: FaceOptions) -> list[tuple[int, int]]:
    """Return which faces of two views are the same person's, as (reference, angle) indices, each at most once.

    ``apart``, (n, m), says how far a face of the angle lies from where features put one of the reference, in
    face lengths, and ``dress`` how their clothes differ, against the skin, in stops; NaN where it is not
    known. A choice that is not clear is none.
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


def _expected(face: Face, guide: PairedColours, moment: int, options: FaceOptions) -> Float64 | None:
    """Return where features put a face in the other view, or None where there are too few around it."""
    off = np.asarray(guide.reference_xy, float) - face.nose
    distance = np.hypot(off[:, 0], off[:, 1])
    # Where cameras stood still, places are listed under the moment that they were found at.
    since = guide.moment[guide.moment <= moment].max(initial=-1)
    near = np.nonzero((guide.moment == since) & (distance < options.around * face.size))[0]
    if len(near) < options.fewest_around:
        return None
    near = near[np.argsort(distance[near], kind="stable")][: options.most_around]
    # A plain scale and shift, by medians: what lies behind a head moves otherwise than the head does.
    scale = np.median(guide.radius[near, 1] / np.maximum(guide.radius[near, 0], 1e-9))
    return np.asarray(np.median(guide.angle_xy[near] - scale * off[near], axis=0), float)
