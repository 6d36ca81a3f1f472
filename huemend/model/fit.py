"""What the solve gives: a match that the pairs support, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, FrozenArrays
from huemend.model.learnt import Learnt
from huemend.model.match import Match, Rung, Uncertainty
from huemend.model.verdict import Reason


@dataclass(frozen=True, kw_only=True)
class LeastError:
    """What it gained, and what it cost, that some areas were to match best.

    Attributes
    ----------
    names : tuple of str
        Of those that the angle shows.
    there, elsewhere : (before, after)
        Mean CIEDE2000 of their colours and of all others, held out, by the match without that wish and with it.
    """

    names: tuple[str, ...]
    there: tuple[float, float]
    elsewhere: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Fit:
    """A match that the pairs support.

    Attributes
    ----------
    match : Match
    rung : Rung
    uncertainty : Uncertainty
    used : (n,) bool
        The pairs that the robust loss kept (weight above one half).
    fold : (n,) int
        Which fold held each pair out; -1 for pairs that took no part in the proof.
    hidden : (folds, n) bool
        The pairs that the fit of each fold did not see: those that it is judged by, and of clips also what other
        moments show of the same places.
    fold_matches : tuple of Match
        For each fold the match of the same rung that was fitted without it.
    explained : str
        Why this rung was chosen.
    doubts : tuple of Reason
        What the fit itself found that speaks against trusting it unseen.
    notes : tuple of Reason
        What is worth knowing of it, and speaks neither for nor against it.
    learnt : Learnt or None
        What these pairs alone say of the two cameras; None where that is not believed.
    least_error : LeastError or None
        What came of areas that were to match best, where somebody named some.
    """

    match: Match
    rung: Rung
    uncertainty: Uncertainty
    used: Bool
    fold: NDArray[np.integer[Any]]
    hidden: Bool
    fold_matches: tuple[Match, ...]
    explained: str = ""
    doubts: tuple[Reason, ...] = ()
    notes: tuple[Reason, ...] = ()
    learnt: Learnt | None = None
    least_error: LeastError | None = None

    def __bool__(self) -> bool:
        return True


@dataclass(frozen=True, kw_only=True)
class NoFit:
    """The pairs do not pin a match; falsy, with the reasons."""

    reasons: tuple[Reason, ...]

    def __bool__(self) -> bool:
        return False


@dataclass(frozen=True, kw_only=True, eq=False)
class Contradiction(FrozenArrays):
    """A marked area that does not show on the angle what it shows on the hero, whatever the match.

    Attributes
    ----------
    label : str
        The name that the area was given.
    moment : int
    reference_xy, angle_xy : (2,) float64
        Its middle, in pixels of each view's LinearStill.
    radius : (2,) float64
        Of a circle of its size, pixels of the reference's still and of the angle's.
    pictures : bool
        True if found pairs contradict it, False if other marks do.
    alone, others : (3,) float64
        Exposure, and red and blue against green, in stops: what the area asks for, and what all else does.
    off : float
        Squared distance of the two, 1 being the most that is believed.
    """

    label: str
    moment: int
    reference_xy: Float
    angle_xy: Float
    radius: Float
    pictures: bool
    alone: Float
    others: Float
    off: float


@dataclass(frozen=True, kw_only=True, eq=False)
class ColourFit:
    """A cautious match by colours alone.

    Attributes
    ----------
    match : Match
        Exposure and balance part of the way to what the colours say; the channel mix is the one that such a
        balance usually comes with.
    uncertainty : Uncertainty
    found : float
        Share of the angle's colours that the hero shows, the whole way there.
    explained : str
        What it is, in words.
    """

    match: Match
    uncertainty: Uncertainty
    found: float
    explained: str = ""
