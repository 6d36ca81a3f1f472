"""Surfaces that the reference and an angle both show: squares of one angle's pairs, tried one after another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, Float64
from huemend.model import AngleResult, LinearStill, PairedColours
from huemend.write.report.alignment import UNMOVED, Alignment, align, cut_square, likeness, outer_square
from huemend.write.report.left_over import left_over
from huemend.write.report.pictures import still_at
from huemend.write.report.sameness import ONCE, found_once, stands_out, whole_detail
from huemend.write.report.samples import difference_stops, kept_samples


class Kind(StrEnum):
    """Why a surface is shown."""

    SKIN = "skin"
    NAMED = "named"
    CLOTHES = "clothes"
    GROUND = "ground"
    PLACE = "place"
    OFF = "off"


@dataclass(frozen=True, kw_only=True, eq=False)
class Surface:
    """A square of the reference's picture and where it lies on the angle's."""

    kind: Kind
    #: The label of its pairs, for skin and for what somebody named; else empty.
    name: str
    moment: int
    #: (2,) float64. x, y in pixels of the reference's still.
    centre: Float
    #: In pixels of the reference's still.
    side: float
    alignment: Alignment
    #: Share of it that is clipped, in the view that clips more.
    clipped: float = 0.0


# So many pairs in a square speak for it.
_FEWEST_PAIRS = 5
# Side of a square as a share of the reference's width.
_SIDE = 1 / 12
# Squares are tried at one place of every so many sides.
_CELL = 0.75
# Squares are tried at these shares of the usual side: what stands before a wall shifts against it.
_SHARES = (1.0, 0.65, 0.42)
#: Detail that agrees less than this is not believed to be the same thing.
ALIKE = 0.5
# Nor is what stands out less than this from its shifts.
_OUT = 0.08
# Of the pairs around a place that the proof counts, so much of the share that it counts elsewhere must agree on
# where the place lies.
_HEARD, _NEARBY, _AGREE = 0.4, 0.8, 0.15
# So many of the pairs in a square must know how they are lit, to so many stops; of plain ground, which may lie
# anywhere, so many.
_SOME_LIT, _LIT, _MOST_LIT, _ALL_LIT = 0.2, 0.35, 0.5, 0.9
_PIXELS = 40
# A square's share of what is clipped is looked up at so many places across.
_PARTS = 10


@dataclass(frozen=True, kw_only=True, eq=False)
class Candidate:
    """A square that may be shown, and how well an eye could compare it."""

    surface: Surface
    #: Correlation of the detail of the two squares.
    alike: float
    #: Mean light of the reference's square, 1 being white.
    light: float
    #: Standard deviation of the logarithm of light within a square, in stops: the larger one of both.
    detail: float


class Finder:
    """Squares of one angle's pairs, tried one after another."""

    def __init__(
        self,
        found: AngleResult,
        references: tuple[LinearStill, ...],
        angles: tuple[LinearStill, ...],
        exposure: float,
    ) -> None:
        self.pairs: PairedColours = found.pairs
        self.references, self.angles = references, angles
        self.kept = kept_samples(found)
        self.exposure = exposure
        self.lit = self.pairs.light_spread < _LIT
        shot = self.pairs.angle_rgb
        self.matched = shot if found.match is None else found.match.apply(shot)
        here, there = np.maximum(self.pairs.radius, 1e-6).T
        self.scale = there / here
        self.off = difference_stops(self.pairs.reference_rgb, self.matched)
        self.side = _SIDE * references[0].rgb.shape[1]
        self._details: dict[tuple[int, float], Float] = {}
        self._clipped: dict[int, Float | None] = {}

    def at(
        self,
        kind: Kind,
        centre: Float,
        side: float,
        moment: int,
        *,
        name: str = "",
        by: NDArray[np.intp] | None = None,
    ) -> Candidate | None:
        """Try a square, laid over by some of the pairs; None where it does not lie on both pictures."""
        reference, angle = still_at(self.references, moment), still_at(self.angles, moment)
        if kind is Kind.SKIN and not reference.moment == angle.moment == moment:
            return None  # people are elsewhere on the picture that stands in for that moment
        centre = _moved_inside(centre, side, reference)
        now = np.flatnonzero(self.pairs.moment == moment) if by is None else by
        alignment = align(
            self.pairs.reference_xy[now],
            self.pairs.angle_xy[now],
            self.scale[now],
            centre,
            side,
        )
        if alignment is None or not _inside(outer_square(alignment.to_angle, centre, side), angle):
            return None
        one = cut_square(reference.rgb, UNMOVED, centre, side, _PIXELS)
        other = cut_square(angle.rgb, alignment.to_angle, centre, side, _PIXELS)
        surface = Surface(
            kind=kind,
            name=name,
            moment=moment,
            centre=centre,
            side=side,
            alignment=alignment,
            clipped=max(
                self._clipped_share(reference, UNMOVED, centre, side),
                self._clipped_share(angle, alignment.to_angle, centre, side),
            ),
        )
        light = np.maximum(one.mean(axis=2), 1e-4)
        # What is plain in one view and a picture in the other is plain in neither.
        detail = max(float(np.log2(np.maximum(square.mean(axis=2), 1e-4)).std()) for square in (one, other))
        return Candidate(surface=surface, alike=likeness(one, other), light=float(light.mean()), detail=detail)

    def _clipped_share(self, still: LinearStill, to_still: Float, centre: Float, side: float) -> float:
        if id(still) not in self._clipped:
            mask = still.without_detail
            self._clipped[id(still)] = mask.astype(np.float32) if mask.any() else None
        clipped = self._clipped[id(still)]
        return 0.0 if clipped is None else float(cut_square(clipped, to_still, centre, side, _PARTS).mean())

    def largest(self, centre: Float, moment: int) -> Candidate | None:
        """Try squares about a place, the largest first: one whose detail agrees, else the nearest to that."""
        best: Candidate | None = None
        for share in _SHARES:
            found = self.at(Kind.PLACE, centre, share * self.side, moment)
            if found is not None and (best is None or found.alike > best.alike + 0.05):
                best = found
            if best is not None and best.alike >= ALIKE:
                break
        return best

    def error(self, one: Candidate) -> float:
        """Return the CIEDE2000 that the match leaves on the pairs in a square, as the page prints it.

        NaN where nothing can be said.
        """
        within = speaking(self.pairs, one.surface)
        if not within.any():
            return np.nan
        return left_over(self.pairs.reference_rgb[within], self.matched[within], self.exposure).error

    def roughly_off(self, one: Candidate) -> float:
        """Return a figure that is large where `error` is, in no unit and a fraction of the time; NaN as there."""
        within = speaking(self.pairs, one.surface)
        return float(np.linalg.norm(np.median(self.off[within], axis=0))) if within.any() else np.nan

    # A square is believed to show one place in both views, and not one that only looks like it, in three ways.

    def shows_one_place(self, one: Candidate, out: float = _OUT) -> bool:
        """Say whether a square's detail stands out from its shifts by so much, and is found in one place only."""
        if not self._heard_and_lit(one, _SOME_LIT) or self._stands_out(one) < out:
            return False
        surface = one.surface
        reference, angle = self._pictures(surface)
        key = surface.moment, surface.side
        if key not in self._details:
            self._details[key] = whole_detail(reference, surface.side)
        found = found_once(
            reference, angle, surface.alignment.to_angle, surface.centre, surface.side, self._details[key]
        )
        return found >= ONCE

    def stands_apart(self, one: Candidate, around: float = 1.0) -> bool:
        """Say the same of a square whose detail need not be found in one place only, grown by so much about it.

        Beside a face it is, whatever its pattern; what has no detail may stand out by what lies around it.
        """
        return self._heard_and_lit(one, _MOST_LIT) and self._stands_out(one, around) >= _OUT

    def shows_plain_clothes(self, one: Candidate) -> bool:
        """Say the same of a square below a face with nothing on it: every pair within knows how it is lit."""
        return self._heard_and_lit(one, _ALL_LIT)

    def is_heard(self, one: Candidate) -> bool:
        """Say whether pairs around a square are heard, whatever they know of its light."""
        return self._heard_and_lit(one, 0.0)

    def _heard_and_lit(self, one: Candidate, lit: float) -> bool:
        """Say whether pairs around a square are heard, and enough of those within know how they are lit.

        Repeated things give pairs that agree among themselves and not with the rest; those that grew onto a bare
        wall behind do not know how they are lit.
        """
        surface = one.surface
        to_angle = surface.alignment.to_angle
        places = self.pairs.reference_xy
        now = self.pairs.moment == surface.moment
        near = np.flatnonzero(now & (np.hypot(*(places - surface.centre).T) < _NEARBY * surface.side))
        missed = places[near] @ to_angle[:, :2].T + to_angle[:, 2] - self.pairs.angle_xy[near]
        size = surface.side * float(np.sqrt(abs(np.linalg.det(to_angle[:, :2]))))
        heard = self.kept[near] & (np.hypot(*missed.T) < _AGREE * size)
        if not len(near) or heard.mean() < _HEARD * self.kept[now].mean():
            return False
        within = _within_square(self.pairs, surface)
        return bool(within.any() and self.lit[within].mean() >= lit)

    def _stands_out(self, one: Candidate, around: float = 1.0) -> float:
        """Return by how much a square, grown by a factor about its middle, stands out from its shifts."""
        reference, angle = self._pictures(one.surface)
        to_angle, centre = one.surface.alignment.to_angle, one.surface.centre
        return stands_out(reference, angle, to_angle, centre, around * one.surface.side)

    def _pictures(self, surface: Surface) -> tuple[Float, Float]:
        return still_at(self.references, surface.moment).rgb, still_at(self.angles, surface.moment).rgb

    def labelled(self) -> Iterator[tuple[str, int, NDArray[np.intp]]]:
        """Yield every label, the moment that shows it most, and its pairs there."""
        for label in sorted({str(label) for label in self.pairs.label if label}):
            own = np.flatnonzero(self.pairs.label == label)
            moments, counts = np.unique(self.pairs.moment[own], return_counts=True)
            moment = int(moments[int(np.argmax(counts))])
            yield label, moment, own[self.pairs.moment[own] == moment]

    def everywhere(self, moment: int, where: Bool | bool = True, cell: float = _CELL) -> list[Candidate]:
        """Try a square at a pair of every part of the reference's picture that holds some.

        ``where`` says which pairs are asked, (n,); a part is ``cell`` sides wide.
        """
        places = self.pairs.reference_xy
        cells: dict[tuple[int, ...], list[int]] = {}
        for index in np.flatnonzero((self.pairs.moment == moment) & self.kept & where):
            cells.setdefault(tuple((places[index] // (cell * self.side)).astype(int)), []).append(int(index))
        tried = (self.largest(np.median(places[own], axis=0), moment) for _, own in sorted(cells.items()))
        return [one for one in tried if one is not None]


def _within_square(pairs: PairedColours, surface: Surface) -> Bool:
    """Return which pairs lie in a surface's square at its moment, (n,)."""
    inside = np.abs(pairs.reference_xy - surface.centre) < surface.side / 2
    return np.asarray(inside.all(axis=1) & (pairs.moment == surface.moment))


def speaking(pairs: PairedColours, surface: Surface) -> Bool:
    """Return which pairs say how a surface differs, (n,): of those within, the ones that know how they are lit.

    All within where these are too few; none where all are.
    """
    within = _within_square(pairs, surface)
    lit = within & (pairs.light_spread < _LIT)
    enough = (some for some in (lit, within) if some.sum() >= _FEWEST_PAIRS)
    return np.asarray(next(enough, np.zeros_like(within)))


def _moved_inside(centre: Float, side: float, still: LinearStill) -> Float64:
    height, width = still.rgb.shape[:2]
    low, high = np.array([side, side]) / 2 - 0.5, np.array([width, height]) - side / 2 - 0.5
    return np.asarray(np.clip(centre, low, np.maximum(high, low)), float)


def _inside(corners: Float, still: LinearStill) -> bool:
    height, width = still.rgb.shape[:2]
    return bool((corners > -0.5).all() and (corners < np.array([width, height]) - 0.5).all())
