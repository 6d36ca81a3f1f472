"""All that is known of an angle and of a setup, for report and record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from huemend.base.arrays import Bool, Float, FrozenArrays, Int
from huemend.model.clips import SampledClips
from huemend.model.drift import Drift
from huemend.model.fit import LeastErrorTrade
from huemend.model.hero import HeroBalance
from huemend.model.learnt import Carried, Learnt
from huemend.model.match import Match, Rung, Uncertainty
from huemend.model.pairs import PairedColours
from huemend.model.people import SkinCheck
from huemend.model.setup import Angle, Setup, by_name
from huemend.model.stills import LinearStill
from huemend.model.verdict import Reason, Verdict


@dataclass(frozen=True, kw_only=True)
class ErrorSummary:
    """CIEDE2000 in the measurement view over n colours (docs/maths.md, section 7): mean, and 95th percentile."""

    mean: float
    p95: float
    n: int


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class HeldOut(FrozenArrays):
    """The proof: colour difference on samples that the fit did not use.

    Attributes
    ----------
    before, after : ErrorSummary
        Of colours, each pooled over its pairs: as shot, and after matches fitted without the pairs they are judged
        on.
    upper : float
        Upper end (95th percentile) of the mean error after the match, over groups of samples.
    least_gain : float
        Lower end (5th percentile) of what the match takes off the mean error, over the same; infinite where it was
        not asked.
    error_before, error_after : (n,) float64
        Per pair, in the pairs' order; NaN where the pair clips in the view.
    fold : (n,) int
        Which fold held the pair out.
    clipped_share : float
        Share of pairs left out because they clip in the measurement view.
    areas : mapping of label to (before, after)
        The same for labelled samples such as skin.
    areas_off : mapping of label to float
        What the match is shown to leave on each: CIEDE2000 of its mean colour, less what single pairs scatter by.
    """

    before: ErrorSummary
    after: ErrorSummary
    upper: float
    error_before: Float
    error_after: Float
    fold: Int
    clipped_share: float = 0.0
    least_gain: float = float("inf")
    areas: Mapping[str, tuple[ErrorSummary, ErrorSummary]] = field(default_factory=dict)
    areas_off: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class AngleResult:
    """All that is known of one angle.

    Attributes
    ----------
    match : Match or None
        As solved; None for an unsolved angle. What is written and shown is `delivered`.
    candidate : Match or None
        What an unsolved angle's evidence would have said, for the report only; never written as a match LUT.
    held_out : HeldOut or None
        None where there was nothing to hold out.
    learnt : Learnt or None
        What this setup's own pairs say of the two cameras.
    carried : Carried or None
        What earlier setups of the day lent to the match.
    people : tuple of SkinCheck
        Each person whose skin both views show, compared with themselves.
    least_error : LeastErrorTrade or None
        What came of areas that were to match best, where the setup file names some.
    """

    angle: Angle
    verdict: Verdict
    reasons: tuple[Reason, ...]
    match: Match | None
    rung: Rung
    explained: str
    uncertainty: Uncertainty | None
    held_out: HeldOut | None
    pairs: PairedColours
    #: (n,) bool. As `Fit.agrees` says.
    agrees: Bool
    candidate: Match | None = None
    learnt: Learnt | None = None
    carried: Carried | None = None
    people: tuple[SkinCheck, ...] = ()
    least_error: LeastErrorTrade | None = None

    @property
    def delivered(self) -> Match | None:
        """The match that LUTs, CDLs and pictures carry: the solved one with the angle's nudge after it."""
        return None if self.match is None else self.match.nudged(self.angle.nudge)

    def __repr__(self) -> str:
        """Return name, verdict and the two numbers that a colorist asks for first."""
        parts = [f"{self.angle.name}: {self.verdict}"]
        if self.match is not None:
            parts.append(f"{self.match.exposure_stops:+.2f} stop")
        if self.held_out is not None:
            parts.append(f"{self.held_out.before.mean:.1f} -> {self.held_out.after.mean:.1f}")
        return f"<{', '.join(parts)}>"

    @classmethod
    def without_match(cls, angle: Angle, pairs: PairedColours, reasons: tuple[Reason, ...]) -> AngleResult:
        """Return the result of an angle as it is before any match is put into it."""
        return cls(
            angle=angle,
            verdict=Verdict.UNSOLVED,
            reasons=reasons,
            match=None,
            rung=Rung.NONE,
            explained="",
            uncertainty=None,
            held_out=None,
            pairs=pairs,
            agrees=np.zeros(len(pairs), bool),
        )


@dataclass(frozen=True, kw_only=True)
class InputFile:
    """One file that went into a result, so that a record can say what it rests on.

    ``size`` is (height, width) of the upright, cropped picture; ``sha256`` is empty for a clip, whose
    ``bytes`` and modification time stand in for it. ``range`` is the one that it was decoded with.
    """

    angle: str
    moment: int
    source: str
    sha256: str
    bit_depth: int
    size: tuple[int, int]
    range: str = ""


@dataclass(frozen=True, kw_only=True)
class SetupResult:
    """All that is known of one setup; ``angles`` leaves the hero out and keeps the setup's order.

    ``stills`` holds every angle's pictures at working resolution, by angle name, for the report. ``clips`` and
    ``drift`` say how clips were read and what moved in them; None where there are only stills.
    ``hero_balance`` is what is suggested for the hero itself, None where nobody asked.
    """

    setup: Setup
    view_stops: float
    angles: tuple[AngleResult, ...]
    stills: Mapping[str, tuple[LinearStill, ...]]
    inputs: tuple[InputFile, ...] = ()
    clips: SampledClips | None = None
    drift: Drift | None = None
    hero_balance: HeroBalance | None = None

    def __repr__(self) -> str:
        """Return the setup's name, its hero and every angle's verdict."""
        angles = ", ".join(f"{found.angle.name} {found.verdict}" for found in self.angles)
        return f"<{self.setup.name}, hero {self.setup.hero}: {angles}>"

    def __getitem__(self, name: str) -> AngleResult:
        return by_name(name, {result.angle.name: result for result in self.angles})

    def __iter__(self) -> Iterator[AngleResult]:
        return iter(self.angles)
