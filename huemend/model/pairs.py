"""Paired colours: the same surfaces, as two angles show them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, FrozenArrays, Int, Rows, numbered
from huemend.model.people import is_skin
from huemend.model.stills import LinearStill

#: The columns of the table, a row for each pair, with what one row holds and its kind.
_COLUMNS: dict[str, tuple[tuple[int, ...], str]] = {
    "reference_rgb": ((3,), "f8"),
    "angle_rgb": ((3,), "f8"),
    "weight": ((), "f8"),
    "reference_xy": ((2,), "f8"),
    "angle_xy": ((2,), "f8"),
    "radius": ((2,), "f8"),
    "noise": ((2,), "f8"),
    "moment": ((), "i8"),
    "group": ((), "i8"),
    "label": ((), "<U32"),
    "by_hand": ((), "?"),
    "light_spread": ((), "f8"),
    "marked_beside": ((), "?"),
}

#: Rules of ``PairedColours.rejected`` that reasons ask for: what stands at one place of both frames; and moments
#: at which neither view shows a chart (`chart_alone`: only one does).
BURNT_IN, ON_SCREEN, NO_CHART = "burnt in", "on a screen", "no chart"

#: A pair with this spread of light (natural logarithm) or more speaks of balance alone.
NO_LIGHT = 1.0


def chart_alone(name: str) -> str:
    """Return the rule of ``PairedColours.rejected`` that of two angles this one alone shows a chart."""
    return f"chart on {name} alone"


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PairedColours(Rows, FrozenArrays):
    """The same surfaces under the same light, as two angles show them: a table with a row for each pair."""

    #: Names of the two angles. ``reference`` is usually the hero.
    reference: str
    angle: str
    #: What found them: ``features``, ``areas``, ``faces``, ``chart`` ...
    source: str
    #: (n, 3) float64, scene-linear ACEScg. Mean colour of the surface patch in each view.
    reference_rgb: Float
    angle_rgb: Float
    #: (n,) float64. How much a pair counts; they sum up to about as many as independent pairs would tell as much.
    weight: Float
    #: (n, 2) float64. Where the patches lie, in pixels of each view's LinearStill.
    reference_xy: Float
    angle_xy: Float
    #: (n, 2) float64. Patch radius in pixels in the reference and in the angle.
    radius: Float
    #: (n, 2) float64. Relative standard deviation of the patch mean in the reference and in the angle.
    noise: Float
    #: (n,) int. Which moment each pair was seen at.
    moment: Int
    #: (n,) int. Pairs that lie together share a group; a proof must hold out whole groups.
    group: Int
    #: (n,) str. What the surface is, where that is known: ``skin``, ``neutral``, the name of a marked area, or
    #: ``""``.
    label: NDArray[np.str_]
    #: How many candidates there were, and how many had a counterpart.
    found: int = 0
    matched: int = 0
    #: Mapping of rule to count.
    rejected: Mapping[str, int] = field(default_factory=dict)
    #: (n,) bool. Areas that somebody marked; none where it is left out.
    by_hand: Bool = field(default_factory=lambda: np.zeros(0, bool))
    #: (n,) float64. Standard deviation of the natural logarithm of luminance between the views, beyond noise and
    #: usual shading. From `NO_LIGHT` on a pair says nothing about exposure (`says_light`); the slope of the
    #: encoding asks for less (``ValidateOptions.slope_light``). Zero where it is left out.
    light_spread: Float = field(default_factory=lambda: np.zeros(0))
    #: (n,) bool. Areas that somebody marked beside what pins a match without help (`huemend.solve.marks` says
    #: which): they are fitted to as far as found pairs leave open what they ask for, and judge nothing but
    #: themselves. None where it is left out.
    marked_beside: Bool = field(default_factory=lambda: np.zeros(0, bool))

    def __post_init__(self) -> None:
        for name in ("by_hand", "light_spread", "marked_beside"):
            value = getattr(self, name)
            if not len(value) and len(self.weight):
                object.__setattr__(self, name, np.zeros(len(self.weight), value.dtype))
        super().__post_init__()

    def __len__(self) -> int:
        return len(self.weight)

    @property
    def skin(self) -> Bool:
        """(n,) bool. Pairs whose label speaks of skin."""
        names, which = np.unique(self.label, return_inverse=True)
        return np.array([is_skin(name) for name in names.tolist()], bool)[which]

    @classmethod
    def empty(
        cls, reference: str, angle: str, source: str, *, found: int = 0, rejected: Mapping[str, int] | None = None
    ) -> PairedColours:
        """Return no pairs, with what is known of why."""
        columns: dict[str, Any] = {name: np.zeros((0, *row), kind) for name, (row, kind) in _COLUMNS.items()}
        return cls(
            reference=reference, angle=angle, source=source, found=found, rejected=rejected or {}, **columns
        )

    @classmethod
    def concat(cls, parts: Sequence[PairedColours], *, apart: bool = False) -> PairedColours:
        """Put the pairs of one or more parts about the same two angles below one another.

        What was found, matched and rejected is added up; the source names once those of parts with any pairs. With
        ``apart``, groups of different parts that have the same number stay different groups.
        """
        columns: dict[str, Any] = {
            name: np.concatenate([getattr(part, name) for part in parts]) for name in _COLUMNS
        }
        if apart:
            columns["group"] = np.concatenate(_renumbered([part.group for part in parts]))
        rejected: dict[str, int] = {}
        for part in parts:
            for rule, count in part.rejected.items():
                rejected[rule] = rejected.get(rule, 0) + count
        return cls(
            reference=parts[0].reference,
            angle=parts[0].angle,
            source=" ".join(dict.fromkeys(part.source for part in parts if len(part))) or parts[0].source,
            found=sum(part.found for part in parts),
            matched=sum(part.matched for part in parts),
            rejected=rejected,
            **columns,
        )

    def check(self) -> None:
        """Check that the table is one: as many rows in every column, each of the right shape, all numbers finite.

        Raises ValueError, which names the column.
        """
        n = len(self)
        for name, (row, _) in _COLUMNS.items():
            value = getattr(self, name)
            if len(value) != n:
                raise ValueError(f"{name} has {len(value)} rows, weight has {n}")
            if value.shape[1:] != row:
                raise ValueError(f"a row of {name} has the shape {value.shape[1:]}, not {row}")
            if value.dtype.kind == "f" and not np.isfinite(value).all():
                raise ValueError(f"{name} holds values that are not finite")

    @property
    def says_light(self) -> Bool:
        """True for the pairs that say something about exposure, (n,): the others only speak of balance."""
        out: Bool = self.light_spread < NO_LIGHT
        return out


def _renumbered(groups: Sequence[Int]) -> list[Int]:
    """Number the groups of several parts on from one part to the next."""
    out: list[Int] = []
    first = 0
    for group in groups:
        own = numbered(group)
        out.append(own + first)
        first += int(own.max(initial=-1)) + 1
    return out


class PairSource(Protocol):
    """Anything that can say which colours two angles share: features, areas, faces, charts, chains."""

    def __call__(self, reference: tuple[LinearStill, ...], angle: tuple[LinearStill, ...]) -> PairedColours: ...
