"""What the solve gives: a match that the pairs support, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass

from huemend.base.arrays import Bool, Int
from huemend.model.learnt import Learnt
from huemend.model.match import Match, Rung, Uncertainty
from huemend.model.verdict import Reason


@dataclass(frozen=True, kw_only=True)
class LeastErrorTrade:
    """What it gained, and what it cost, that some areas were to match best."""

    #: Of those that the angle shows.
    names: tuple[str, ...]
    #: (before, after). Mean CIEDE2000 of their colours and of all others, held out, by the match without that wish
    #: and with it; NaN where there is nothing to measure it by.
    there: tuple[float, float]
    elsewhere: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Fit:
    """A match that the pairs support."""

    match: Match
    rung: Rung
    uncertainty: Uncertainty
    #: (n,) bool. The pairs that agree with the match (``SolveOptions.agreeing``), found or marked: they show
    #: the same surface. The fit was given all pairs.
    agrees: Bool
    #: (n,) int. Which fold held each pair out; -1 for pairs that took no part in the proof.
    fold: Int
    #: (folds, n) bool. The pairs that the fit of each fold did not see: those that it is judged by, and of clips
    #: also what other moments show of the same places.
    hidden: Bool
    #: For each fold the match of the same rung that was fitted without it.
    fold_matches: tuple[Match, ...]
    #: What was found without help says by itself, where areas were marked beside it: a fit of the same pairs, of
    #: the same rung and folds, that did not see those areas. Whether there is a match rests on it.
    alone: Fit | None = None
    #: Why this rung was chosen.
    explained: str = ""
    #: What the fit itself found that speaks against trusting it unseen.
    doubts: tuple[Reason, ...] = ()
    #: What is worth knowing of it, and speaks neither for nor against it.
    notes: tuple[Reason, ...] = ()
    #: What these pairs say of the two cameras; None where that is not believed.
    learnt: Learnt | None = None
    #: What came of areas that were to match best, where somebody named some.
    least_error: LeastErrorTrade | None = None

    def __bool__(self) -> bool:
        return True


@dataclass(frozen=True, kw_only=True)
class NoFit:
    """The pairs do not pin a match; falsy, with the reasons."""

    reasons: tuple[Reason, ...]

    def __bool__(self) -> bool:
        return False


@dataclass(frozen=True, kw_only=True, eq=False)
class ColourFit:
    """A cautious match by colours alone."""

    #: Exposure and balance part of the way to what the colours say; the channel mix is the one that such a balance
    #: usually comes with.
    match: Match
    uncertainty: Uncertainty
    #: Share of the angle's colours that the hero shows, the whole way there.
    found: float
    #: What it is, in words.
    explained: str = ""
