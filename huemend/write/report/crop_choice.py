"""Choosing surfaces that the hero and an angle both show, for an eye to judge a match by.

Faces first, since they are what a viewer looks at; then what somebody named, then clothes, then whatever lies
furthest from all of these, with what seems to differ most, and last plain ground, on which nothing says where it
lies.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from huemend.base.arrays import Bool, Float
from huemend.model import AngleResult, LinearStill
from huemend.model.people import is_skin
from huemend.model.reasons import Code
from huemend.write.report.surfaces import ALIKE, Candidate, Finder, Kind, Surface

#: With fewer surfaces of an angle it is said why; so many are shown at most, and as a rule.
FEWEST, MOST, _USUAL = 4, 8, 6
# Side of a face in radii of its skin patches.
_FACE = 20.0
# Centres of two squares lie this much of a side apart.
_APART = 0.85
# Where little is shared, clothes are tried at one place of every so many sides; so many of one person at most.
_CLOSELY, _WORN = 0.4, 3
# So far to the side of a face's middle, in sides of it, lie its own clothes, and so little, in sides of a square,
# do these shift against it: of 104 squares of rendered views whose pairs do not know their light, 103 were the
# same place, and of the 52 farther to the side 27.
_STRAIGHT, _CARRIED = 0.6, 0.2
# Side of the square about plain ground in which something must stand out, in sides of its own, and about what
# lies around a person.
_AROUND, _ABOUT = 2.0, 1.6
# How many of the places that seem to differ most are measured.
_MEASURED = 6
# What is said to differ most must be the same thing beyond a doubt.
_SURE, _SURELY_OUT = 0.6, 0.15
# What is darker than this share of white is hard to judge.
_DIM = 0.06
# What varies by less than this standard deviation, in stops, is plain.
_PLAIN = 0.35
# What varies by less than this is bare; anything more must be seen by both.
_BARE, _FAINTLY_ALIKE = 0.1, 0.4


def choose_surfaces(
    found: AngleResult, stills: Mapping[str, tuple[LinearStill, ...]], moment: int, exposure: float = 0.0
) -> list[Surface]:
    """Choose four to eight surfaces that an angle shares, or fewer, those first that an eye goes to.

    The report shows this angle at ``moment``; people may be seen better at another one. What differs most is found
    in the measurement view, at so many stops of ``exposure``.
    """
    pairs = found.pairs
    if not len(pairs) or pairs.reference not in stills:
        return []
    finder = Finder(found, stills[pairs.reference], stills[found.angle.name], exposure)
    chosen = list(_people(finder))
    # What a mark is on that contradicts the rest stands below the strips.
    left_out = {reason.label for reason in found.reasons if reason.code == Code.MARK_CONTRADICTED}
    chosen += _named(finder, chosen, left_out)
    everywhere = [one for one in finder.everywhere(moment) if one.alike >= ALIKE or one.detail < _PLAIN]
    good = [one for one in everywhere if one.alike >= ALIKE]
    chosen += _clothes(finder, chosen, good)
    ground = _ground(finder, chosen, everywhere)
    taken = [*chosen, *ground]
    off = _most_off(finder, taken, good)
    usual = max(_USUAL, min(MOST, len(taken) + 2)) - len(off)
    places = _spread(finder, [*taken, *off], good, usual - len(taken))
    # What is easiest to judge first.
    places.sort(key=lambda one: (not one.surface.alignment.affine, -_worth(one)))
    last = [*off, *ground]
    first = [*chosen, *places][: MOST - len(last)]
    if len(first) + len(last) < FEWEST:
        first = [*chosen, *_more_clothes(finder, [*first, *last], moment), *places]
    if len(first) + len(last) < FEWEST:
        first += _whatever_else(finder, [*first, *last], moment)
    return [one.surface for one in [*first, *last][:MOST]]


def _people(finder: Finder) -> Iterator[Candidate]:
    for label, moment, own in finder.labelled():
        if not is_skin(label):
            continue
        places, radius = finder.pairs.reference_xy[own], finder.pairs.radius[own]
        by_hand = bool(finder.pairs.by_hand[own].any())
        side = float(np.median(radius[:, 0])) * (4.0 if by_hand else _FACE)
        side = float(np.clip(side, 0.4 * finder.side, 3 * finder.side))
        # The finder of faces measured how large each is; what lies behind a head shifts against it.
        by = None if by_hand else own
        for smaller in (1.0, 0.75, 0.55, 0.4):
            found = finder.at(Kind.SKIN, places.mean(axis=0), smaller * side, moment, name=label, by=by)
            if found is not None:
                yield found
                break


def _named(finder: Finder, chosen: Sequence[Candidate], left_out: Collection[str]) -> list[Candidate]:
    out: list[Candidate] = []
    for label, moment, own in finder.labelled():
        if is_skin(label) or label in left_out:
            continue
        places = finder.pairs.reference_xy[own]
        found = finder.at(Kind.NAMED, places.mean(axis=0), finder.side, moment, name=label)
        if found is not None and _clear_of(found, [*chosen, *out]):
            out.append(found)
    return out[:3]


def _clothes(
    finder: Finder, taken: Sequence[Candidate], good: Sequence[Candidate], most: int = 1
) -> list[Candidate]:
    """Find what is worn below each face, and agrees best in its detail: so many squares of each person at most."""
    out: list[Candidate] = []
    for person in taken:
        if person.surface.kind is not Kind.SKIN:
            continue
        found: list[Candidate] = []
        for one in sorted(good, key=_worth, reverse=True):
            below = _is_below(one.surface.centre, person) and _clear_of(one, [*taken, *out, *found])
            if len(found) < most and below and finder.stands_apart(one):
                found.append(_as(Kind.CLOTHES, one, person.surface.name))
        out += found
    return out


def _is_below(places: Float, face: Candidate) -> Bool:
    """Say which places, (..., 2), lie where a face's own clothes do."""
    across, down = np.moveaxis((places - face.surface.centre) / face.surface.side, -1, 0)
    return np.asarray((np.abs(across) < 0.9) & (down > 0.6) & (down < 2.4))


def _more_clothes(finder: Finder, shown: Sequence[Candidate], moment: int) -> list[Candidate]:
    """Look more closely at what people wear: before a plain backdrop views share little else."""
    places = finder.pairs.reference_xy
    faces = [one for one in shown if one.surface.kind is Kind.SKIN and one.surface.moment == moment]
    worn = np.any([np.zeros(len(places), bool), *(_is_below(places, face) for face in faces)], axis=0)
    tried = finder.everywhere(moment, worn, _CLOSELY)
    return _clothes(finder, shown, [one for one in tried if one.alike >= ALIKE], _WORN)


def _whatever_else(finder: Finder, shown: Sequence[Candidate], moment: int) -> list[Candidate]:
    """Look more closely at all that is shared: plain clothes, and what is about a person."""
    tried = sorted(finder.everywhere(moment, cell=_CLOSELY), key=_worth, reverse=True)
    faces = [one for one in shown if one.surface.kind is Kind.SKIN and one.surface.moment == moment]
    out: list[Candidate] = []
    for one in tried:
        if len(shown) + len(out) == FEWEST or one.alike < _FAINTLY_ALIKE or not _clear_of(one, [*shown, *out]):
            continue
        wearer = next((face for face in faces if _is_below(one.surface.centre, face)), None)
        if wearer is not None and (finder.shows_plain_clothes(one) or _is_carried(finder, one, wearer)):
            out.append(_as(Kind.CLOTHES, one, wearer.surface.name))
        elif any(_is_about(one, face) for face in faces) and finder.stands_apart(one, _ABOUT):
            out.append(one)
    if len(shown) + len(out) < FEWEST and not any(one.surface.kind is Kind.GROUND for one in shown):
        out += _ground(finder, [*shown, *out], tried)
    return out


def _is_carried(finder: Finder, one: Candidate, face: Candidate) -> bool:
    """Say whether a square lies straight below a face and moves with it, as nothing that lies behind does."""
    surface, its = one.surface, face.surface
    across = abs(surface.centre[0] - its.centre[0]) / its.side
    linear = surface.alignment.to_angle[:, :2]
    apart = (surface.alignment.to_angle - its.alignment.to_angle) @ np.array([*surface.centre, 1.0])
    size = surface.side * float(np.sqrt(abs(np.linalg.det(linear))))
    return bool(across < _STRAIGHT and float(np.hypot(*apart)) < _CARRIED * size and finder.is_heard(one))


def _is_about(one: Candidate, face: Candidate) -> bool:
    """Say whether a square lies where a face's arms, lap and chair do."""
    across, down = (one.surface.centre - face.surface.centre) / face.surface.side
    return bool(abs(across) < 1.6 and 0.4 < down < 3.5)


def _ground(finder: Finder, chosen: Sequence[Candidate], everywhere: Sequence[Candidate]) -> list[Candidate]:
    """Find the plainest square that pairs agree on: a wall, a backdrop, a curtain."""
    plain = [one for one in everywhere if one.detail < _PLAIN]
    plain = [one for one in plain if one.surface.alignment.affine and _clear_of(one, chosen)]
    # A label or a socket on it is seen by both, or it is another part of the wall.
    plain = [one for one in plain if one.detail < _BARE or one.alike >= _FAINTLY_ALIKE]
    plain.sort(key=lambda one: one.detail / min(1.0, one.light / _DIM + 0.1))
    found = next((one for one in plain if finder.stands_apart(one, _AROUND)), None)
    return [] if found is None else [_as(Kind.GROUND, found)]


def _most_off(finder: Finder, chosen: Sequence[Candidate], good: Sequence[Candidate]) -> list[Candidate]:
    sure = [one for one in good if one.alike >= _SURE and _clear_of(one, chosen)]
    guesses = [(finder.roughly_off(one), one) for one in sure]
    guesses = sorted((each for each in guesses if np.isfinite(each[0])), key=lambda each: -each[0])
    measured = [(finder.error(one), one) for _, one in guesses[:_MEASURED]]
    measured = sorted((each for each in measured if np.isfinite(each[0])), key=lambda each: -each[0])
    # Whether one is believed takes far longer to find out than by what it differs.
    found = next((one for _, one in measured if finder.shows_one_place(one, _SURELY_OUT)), None)
    return [] if found is None else [_as(Kind.OFF, found)]


def _spread(finder: Finder, chosen: Sequence[Candidate], good: Sequence[Candidate], count: int) -> list[Candidate]:
    """Take the squares that lie furthest from all that are taken, those first whose detail agrees best."""
    out: list[Candidate] = []
    left = list(good)
    while len(out) < count:
        taken = [*chosen, *out]
        left = [one for one in left if _clear_of(one, taken)]
        if not left:
            break
        best = max(left, key=lambda one: _distance(one, taken) ** 0.5 * _worth(one))
        left.remove(best)
        if finder.shows_one_place(best):
            out.append(best)
    return out


def _distance(one: Candidate, taken: Sequence[Candidate]) -> float:
    far = [float(np.hypot(*(one.surface.centre - other.surface.centre))) for other in taken]
    return min(far, default=1.0)


def _worth(one: Candidate) -> float:
    """Return how well a square can be judged: alike, large, not in the dark and not clipped."""
    held = 1.0 - one.surface.clipped
    return float(one.alike * np.sqrt(one.surface.side) * min(1.0, one.light / _DIM + 0.1) * held)


def _clear_of(one: Candidate, taken: Sequence[Candidate]) -> bool:
    side = one.surface.side
    return all(
        one.surface.moment != other.surface.moment
        or float(np.abs(one.surface.centre - other.surface.centre).max())
        > _APART * (side + other.surface.side) / 2
        for other in taken
    )


def _as(kind: Kind, one: Candidate, name: str = "") -> Candidate:
    return replace(one, surface=replace(one.surface, kind=kind, name=name))
