"""Areas that somebody marked, and the pairs that they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from huemend.base.arrays import Float, Float64
from huemend.base.units import AP1_LUMINANCE
from huemend.correspond.area_colour import AreaColour, area_colour, area_mask, holds
from huemend.correspond.face_finder import scaled_places
from huemend.errors import MediaError
from huemend.model import NO_LIGHT, Area, LinearStill, MarkedArea, NamedPair, PairedColours, Setup
from huemend.options import CorrespondOptions

_NEUTRAL = "neutral"


class _Marked:
    """What measures the areas that a setup file marks."""

    def __init__(self, setup: Setup, options: CorrespondOptions) -> None:
        self.setup = setup
        self.options = options
        self._crops = {angle.name: angle.crop for angle in setup.angles}

    def _measure(self, area: Area, still: LinearStill) -> AreaColour | str:
        """Return the colour of an area, or why it cannot be measured."""
        return area_colour(still, area_mask(area, still.clipped.shape, self._crops[still.angle]), self.options)

    def _no_moment(self, why: str, what: str, mark: str) -> MediaError:
        """Return the error for an area that no moment shows: why not, or else none is among its frames."""
        todo = f"mark a {mark} that is exposed, or leave that line out" if why else "widen its frames"
        return MediaError(
            why or f"none of the sampled frames is among the frames of {what}", where=self.setup.source, todo=todo
        )


class AreaSource(_Marked):
    """Pairs of areas that somebody marked: one pair for each area and moment."""

    name = "areas"

    def __call__(self, reference: tuple[LinearStill, ...], angle: tuple[LinearStill, ...]) -> PairedColours:
        """Return the pairs of all moments that both angles have.

        Raises MediaError if an area can be measured at no moment: it is clipped, black, ignored or too
        small.
        """
        names = reference[0].angle, angle[0].angle
        rows: list[_Row] = []
        wanted = [pair for pair in self.setup.marks.pairs if names[0] in pair.areas and names[1] in pair.areas]
        for group, pair in enumerate(wanted):
            rows += self._pair(pair, group, reference, angle)
        return _paired(rows, names, self.name, len(wanted), self.options)

    def reference_colours(self, stills: Sequence[LinearStill]) -> list[tuple[str, Float, float]]:
        """Return what the areas of the reference show where they can be measured: name, colour, relative noise."""
        found = []
        for pair in self.setup.marks.pairs:
            for still in stills:
                if still.angle not in pair.areas or not _measured_on(pair.frames, still):
                    continue
                colour = self._measure(pair.areas[still.angle], still)
                if not isinstance(colour, str):
                    found.append((pair.name, colour.rgb, colour.noise))
        return found

    def _pair(
        self, pair: NamedPair, group: int, reference: Sequence[LinearStill], angle: Sequence[LinearStill]
    ) -> list[_Row]:
        found: list[_Row] = []
        why = ""
        for ours, theirs in zip(reference, angle, strict=False):
            if not _measured_on(pair.frames, ours):
                continue
            colours = []
            for still in (ours, theirs):
                colour = self._measure(pair.areas[still.angle], still)
                if isinstance(colour, str):
                    why = why or f"the area {pair.name!r} on {still.angle} ({still.source}) {colour}"
                    break
                colours.append(colour)
            else:
                found.append(_Row(ours=colours[0], theirs=colours[1], moment=ours.moment, group=group))
        if not found:
            raise self._no_moment(why, f"the pair {pair.name!r}", "piece of the surface")
        worth = self.options.area_weight * pair.weight / len(found)
        return [replace(row, weight=worth, label=pair.name) for row in found]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Row:
    """One pair of areas at one moment."""

    ours: AreaColour
    theirs: AreaColour
    moment: int
    group: int
    weight: float = 1.0
    label: str = ""
    light_spread: float | None = None


def _paired(
    rows: Sequence[_Row], names: tuple[str, str], source: str, found: int, options: CorrespondOptions
) -> PairedColours:
    if not rows:
        return PairedColours.empty(*names, source)
    both = [(row.ours, row.theirs) for row in rows]
    # The areas may show other parts of a shaded surface: what brightness differs within them it may between them.
    shading = np.hypot(options.area_light, [max(ours.shading, theirs.shading) for ours, theirs in both]).tolist()
    given = [row.light_spread for row in rows]
    return PairedColours(
        reference=names[0],
        angle=names[1],
        source=source,
        reference_rgb=np.array([ours.rgb for ours, _ in both]),
        angle_rgb=np.array([theirs.rgb for _, theirs in both]),
        weight=np.array([row.weight for row in rows]),
        reference_xy=np.array([ours.centre for ours, _ in both]),
        angle_xy=np.array([theirs.centre for _, theirs in both]),
        radius=np.array([[ours.radius, theirs.radius] for ours, theirs in both]),
        noise=np.hypot([[ours.noise, theirs.noise] for ours, theirs in both], options.area_agrees),
        moment=np.array([row.moment for row in rows]),
        group=np.array([row.group for row in rows]),
        label=np.array([row.label for row in rows]),
        found=found,
        matched=len({row.group for row in rows}),
        by_hand=np.ones(len(rows), bool),
        light_spread=np.array([s if g is None else g for s, g in zip(shading, given, strict=True)]),
    )


class NeutralSource(_Marked):
    """Areas of an angle that somebody called grey: they speak of balance, never of exposure.

    A grey of the angle is to come out as grey as the hero's own greys: those that are marked on the hero, or,
    where none is, a grey of three equal channels.
    """

    name = "neutral"

    def __call__(self, reference: tuple[LinearStill, ...], angle: tuple[LinearStill, ...]) -> PairedColours:
        """Return one pair for each grey area of the angle and moment; raises MediaError as `AreaSource` does."""
        names = reference[0].angle, angle[0].angle
        marks = [mark for mark in self.setup.marks.neutral if mark.angle == names[1]]
        if not marks:
            return PairedColours.empty(*names, self.name)
        grey, known = self._grey(reference)
        rows: list[_Row] = []
        for group, mark in enumerate(marks):
            colours = self._measured(mark, angle)
            weight = self.options.area_weight / len(colours)
            for moment, colour in colours:
                target = replace(
                    colour,
                    rgb=grey * float(colour.rgb @ AP1_LUMINANCE),
                    noise=0.003 if known else self.options.grey_spread,
                )
                rows.append(
                    _Row(
                        ours=target,
                        theirs=colour,
                        moment=moment,
                        group=group,
                        weight=weight,
                        label=_NEUTRAL,
                        light_spread=3 * NO_LIGHT,
                    )
                )
        return _paired(rows, names, self.name, len(marks), self.options)

    def greys(self, stills: Sequence[LinearStill]) -> list[tuple[Float, float, float | None]]:
        """Return the greys that are marked on one angle: colour, relative noise, reflectance where it is stated.

        Raises MediaError if an area can be measured at no moment.
        """
        return [
            (colour.rgb, colour.noise, mark.reflectance)
            for mark in self.setup.marks.neutral
            if mark.angle == stills[0].angle
            for _, colour in self._measured(mark, stills)
        ]

    def _grey(self, reference: Sequence[LinearStill]) -> tuple[Float64, bool]:
        """Return the chroma of the hero's greys (luminance 1), and whether any is marked."""
        marks = [mark for mark in self.setup.marks.neutral if mark.angle == reference[0].angle]
        colours = [colour.rgb for mark in marks for _, colour in self._measured(mark, reference)]
        if not colours:
            return np.ones(3), False
        ratios = np.array([rgb / (rgb @ AP1_LUMINANCE) for rgb in colours])
        grey = np.median(ratios, axis=0)
        return grey / (grey @ AP1_LUMINANCE), True

    def _measured(self, mark: MarkedArea, stills: Sequence[LinearStill]) -> list[tuple[int, AreaColour]]:
        found: list[tuple[int, AreaColour]] = []
        why = ""
        for still in stills:
            if not _measured_on(mark.frames, still):
                continue
            colour = self._measure(mark.area, still)
            if isinstance(colour, str):
                why = why or f"the neutral area on {still.angle} ({still.source}) {colour}"
            else:
                found.append((still.moment, colour))
        if not found:
            raise self._no_moment(why, f"a neutral area on {mark.angle}", "grey")
        return found


def _measured_on(frames: tuple[int, int] | None, still: LinearStill) -> bool:
    """Say whether a mark holds on a still and may be small there: it is as large as it was read."""
    return still.reduced == 1 and holds(frames, still)


def with_labels(
    pairs: PairedColours, setup: Setup, reference: Sequence[LinearStill], angle: Sequence[LinearStill]
) -> PairedColours:
    """Name the pairs that lie in an area which the setup file names, so that the proof speaks of it."""
    marked: list[tuple[str, str, Area, tuple[int, int] | None]] = []
    for pair in setup.marks.pairs:
        marked += [(pair.name, name, area, pair.frames) for name, area in pair.areas.items()]
    marked += [(_NEUTRAL, mark.angle, mark.area, mark.frames) for mark in setup.marks.neutral]
    label = np.array(pairs.label, dtype=object)
    for stills, places in ((reference, pairs.reference_xy), (angle, pairs.angle_xy)):
        for still in stills:
            at = np.nonzero((pairs.moment == still.moment) & (label == ""))[0]
            if not len(at):
                continue
            height, width = still.clipped.shape
            x, y = np.rint(scaled_places(places[at], 1 / still.reduced)).astype(int).T
            x, y = np.clip(x, 0, width - 1), np.clip(y, 0, height - 1)
            for name, where, area, frames in marked:
                # The frames of a pair are the hero's: on an angle they say nothing.
                if where == still.angle and (where != setup.hero or holds(frames, still)):
                    label[at[area_mask(area, (height, width), setup[where].crop)[y, x]]] = name
    return replace(pairs, label=label.astype(str)) if len(pairs) else pairs
