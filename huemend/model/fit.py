"""What the solve gives: a match that the pairs support, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool
from huemend.model.learnt import Learnt
from huemend.model.match import Match, Rung, Uncertainty
from huemend.model.verdict import Reason

__all__ = ["Fit", "NoFit"]


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
    fold_matches : tuple of Match
        For each fold the match of the same rung that was fitted without it.
    explained : str
        Why this rung was chosen.
    doubts : tuple of Reason
        What the fit itself found that speaks against trusting it unseen.
    learnt : Learnt or None
        What these pairs alone say of the two cameras; None where that is not believed.
    """

    match: Match
    rung: Rung
    uncertainty: Uncertainty
    used: Bool
    fold: NDArray[np.integer[Any]]
    fold_matches: tuple[Match, ...]
    explained: str = ""
    doubts: tuple[Reason, ...] = ()
    learnt: Learnt | None = None

    def __bool__(self) -> bool:
        return True


@dataclass(frozen=True, kw_only=True)
class NoFit:
    """The pairs do not pin a match; falsy, with the reasons."""

    reasons: tuple[Reason, ...]

    def __bool__(self) -> bool:
        return False
