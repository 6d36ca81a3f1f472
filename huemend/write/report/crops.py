"""Cutting surfaces that both views show, as one strip each: as shot, hero, matched, edge to edge.

Both are cut at one scale. What is left over is measured within the squares that are shown, so that an eye and a
number judge the same surfaces: on the pairs there, on skin alone for skin, on the picture itself for plain ground.
`huemend.write.report.crop_choice` chooses the surfaces; `huemend.flow.close_ups` reads full-size pixels of small
ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from huemend.base.arrays import Float, Float32
from huemend.base.cv import import_cv2
from huemend.base.tasks import over
from huemend.model import AngleResult, LinearStill, SetupResult
from huemend.write.luts.shoulder import NeutralShoulder
from huemend.write.report.alignment import UNMOVED, cut_square
from huemend.write.report.crop_choice import choose_surfaces
from huemend.write.report.left_over import LeftOver, left_over, of_skin
from huemend.write.report.pictures import Drawn, Gallery, Picture, matched_light, moment_shown, still_at
from huemend.write.report.surfaces import Kind, Surface, speaking

# Where too few pairs speak for a square, and of plain ground, which has few and needs no alignment, the picture
# itself does: its middle, by share of the side, in so many parts across.
_MIDDLE, _PARTS, _MEASURED = 0.7, 14, 160

#: From about this CIEDE2000 on a difference is noticed side by side (see `huemend.write.report.words`).
NOTICED = 1.0


class Side(StrEnum):
    """Which of the two views."""

    REFERENCE = "reference"
    ANGLE = "angle"


@dataclass(frozen=True, kw_only=True, eq=False)
class CloseUp:
    """A part of a still at the resolution that it was recorded in."""

    #: (height, width, 3) float32, scene-linear ACEScg.
    rgb: Float
    #: (2, 3) float64. Multiplies a column ``(x, y, 1)`` in pixels of the averaged still from the left, to pixels
    #: of ``rgb``.
    from_still: Float


@dataclass(frozen=True, kw_only=True)
class Crop:
    """One surface as the page shows it: ``picture`` holds the squares of ``states`` from left to right."""

    surface: Surface
    picture: Picture
    states: tuple[str, ...]
    before: LeftOver
    after: LeftOver | None
    #: How many times more pixels across the angle recorded it in than the reference did: so much softer that is.
    finer: float = 1.0

    @property
    def left(self) -> LeftOver:
        """What is left against the hero: after the match, or as shot where there is none."""
        return self.before if self.after is None else self.after

    @property
    def is_noticed(self) -> bool:
        """Whether what is left is noticed; plain ground never is: it may be another part of it, lit otherwise."""
        return self.surface.kind is not Kind.GROUND and self.left.error >= NOTICED


def surfaces_of(found: AngleResult, result: SetupResult) -> list[Surface]:
    """Choose an angle's surfaces at the moment that the report shows."""
    moment = moment_shown(found, result.stills, result.setup.hero)
    return choose_surfaces(found, result.stills, moment, result.view_stops)


def crops_of(found: AngleResult, result: SetupResult, gallery: Gallery) -> list[Crop]:
    """Cut an angle's surfaces, those that `surfaces_of` chose, and put them on the gallery's sheet.

    The hero's side is what the samples are shared with: of an angle that is matched through another one, that one
    as it is matched.
    """
    name, cut = found.angle.name, _Cut(found, result, gallery.shoulders)
    surfaces, known = gallery.surfaces[name], gallery.measured.get(name)

    def work(number: int) -> tuple[dict[str, Drawn], tuple[LeftOver, LeftOver]]:
        close = {side: gallery.close.get((name, number, side)) for side in Side}
        strip = np.hstack(cut.squares(surfaces[number], gallery.crop_pixels, close))
        return gallery.drawn(strip), known[number] if known else cut.left_over(surfaces[number])

    crops, unmatched = [], found.delivered is None
    for number, (drawn, (before, after)) in enumerate(over(range(len(surfaces)), work)):
        crops.append(
            Crop(
                surface=surfaces[number],
                picture=gallery.add(f"{gallery.ids[name]}-same-{number + 1}", drawn),
                states=("as shot", "hero") if unmatched else ("as shot", "hero", "matched"),
                before=before,
                after=None if unmatched else after,
                finer=cut.finer(surfaces[number]),
            )
        )
    return crops


@dataclass(frozen=True, eq=False)
class _Cut:
    """Cuts surfaces of one angle out of its stills and those that it shares them with, and measures them."""

    found: AngleResult
    result: SetupResult
    shoulders: Mapping[str, NeutralShoulder]

    def stills(self, surface: Surface) -> list[LinearStill]:
        """Return the reference's still, and the angle's."""
        names = (self.found.pairs.reference, self.found.angle.name)
        return [still_at(self.result.stills[name], surface.moment) for name in names]

    def squares(self, surface: Surface, pixels: int, close: Mapping[Side, CloseUp | None]) -> list[Float32]:
        """Cut a surface, so many pixels wide: as shot, hero and, where there is a match, matched."""
        found, reference, (there, here) = self.found, self.found.pairs.reference, self.stills(surface)
        one = _cut_square(there.rgb, UNMOVED, surface, pixels, close.get(Side.REFERENCE))
        if reference != self.result.setup.hero:
            one = self._matched(self.result[reference], one)
        shot = _cut_square(here.rgb, surface.alignment.to_angle, surface, pixels, close.get(Side.ANGLE))
        return [shot, one] if found.delivered is None else [shot, one, self._matched(found, shot)]

    def _matched(self, found: AngleResult, light: Float32) -> Float32:
        if found.delivered is None:
            return light
        shoulder = self.shoulders.get(found.angle.name)
        return np.asarray(matched_light(found.delivered, light, shoulder), np.float32)

    def finer(self, surface: Surface) -> float:
        """Return how many times more pixels across the angle recorded a surface in than the reference did."""
        reference, angle = (still.full_size[1] / still.rgb.shape[1] for still in self.stills(surface))
        scale = np.sqrt(abs(np.linalg.det(surface.alignment.to_angle[:, :2])))
        return float(scale * angle / reference)

    def left_over(self, surface: Surface) -> tuple[LeftOver, LeftOver]:
        """Measure a surface, as shot and as matched."""
        found, match, exposure = self.found, self.found.delivered, self.result.view_stops
        person = next((person for person in found.people if person.name == surface.name), None)
        if surface.kind is Kind.SKIN and person is not None:
            return of_skin(found, person)
        seen = _of_pairs(found, surface)
        if seen is not None:
            wanted, shot = seen
            after = shot if match is None else np.asarray(match.apply(shot), float)
        else:
            # The same pixels whatever size the page shows.
            squares = [_parts(square) for square in self.squares(surface, _MEASURED, {})]
            shot, wanted, after = squares[0], squares[1], squares[-1]
        return left_over(wanted, shot, exposure), left_over(wanted, after, exposure)


def _cut_square(rgb: Float, to_still: Float, surface: Surface, pixels: int, close: CloseUp | None) -> Float32:
    """Cut a surface out of a still, or out of what was read of it closer."""
    if close is None:
        return cut_square(rgb, to_still, surface.centre, surface.side, pixels)
    linear = close.from_still[:, :2]
    to_close = np.column_stack([linear @ to_still[:, :2], linear @ to_still[:, 2] + close.from_still[:, 2]])
    return cut_square(close.rgb, to_close, surface.centre, surface.side, pixels)


def _of_pairs(found: AngleResult, surface: Surface) -> tuple[Float, Float] | None:
    """Return the colours of the pairs in a square, reference and angle as shot; None where too few are to speak.

    Those that the fit set aside are among them: where a match is wrong, they are the ones that know.
    """
    pairs = found.pairs
    within = pairs.label == surface.name if surface.kind is Kind.SKIN else speaking(pairs, surface)
    if not within.any() or surface.kind is Kind.GROUND:
        return None
    return pairs.reference_rgb[within], pairs.angle_rgb[within]


def _parts(square: Float) -> Float:
    """Return the mean light of the small parts of the middle of a square, (n, 3)."""
    edge = round(len(square) * (1 - _MIDDLE) / 2)
    middle = np.ascontiguousarray(square[edge : len(square) - edge, edge : len(square) - edge], np.float32)
    cv2 = import_cv2()
    return np.asarray(cv2.resize(middle, (_PARTS, _PARTS), interpolation=cv2.INTER_AREA).reshape(-1, 3), float)


def differs_most(crops: Sequence[Crop]) -> int | None:
    """Return which of an angle's strips differs most; None where nothing is noticed, or there is but one strip."""
    noticed = [number for number, crop in enumerate(crops) if crop.is_noticed]
    return max(noticed, key=lambda number: crops[number].left.error) if noticed and len(crops) > 1 else None


def worst_of(crops: Mapping[str, Sequence[Crop]], count: int) -> list[tuple[str, int]]:
    """Return what matches leave that is noticed most, over all angles, as (angle, number), worst first.

    An angle without a match is to be balanced by hand anyway.
    """
    known = [
        (-crop.left.error, name, number)
        for name, own in crops.items()
        for number, crop in enumerate(own)
        if crop.after is not None and crop.is_noticed
    ]
    return [(name, number) for _, name, number in sorted(known)[:count]]
