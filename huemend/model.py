"""The values that travel between the stages.

Every class is frozen; arrays are copied on the way in and read-only afterwards. Colours are
scene-linear ACEScg (AP1 primaries, ACES white) unless a name says otherwise, and a matrix multiplies
column vectors from the left: ``out = matrix @ rgb``. Places are pixel centres ``(x, y)`` of the upright
picture in working resolution, the centre of the first pixel being (0, 0).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from huemend.model_arrays import Bool, Float, FrozenArrays
from huemend.model_carry import Carried, Learnt
from huemend.model_hero import HeroBalance
from huemend.model_match import Interval, Match, Rung, Uncertainty, pivot_contrast
from huemend.model_people import SkinCheck
from huemend.model_setup import (
    KNOWN_SURFACES,
    Angle,
    Area,
    EncodingSpec,
    MarkedArea,
    Marks,
    NamedPair,
    Setup,
)
from huemend.model_stills import LinearStill, Still

__all__ = [
    "KNOWN_SURFACES",
    "NO_LIGHT",
    "Angle",
    "AngleResult",
    "Area",
    "EncodingSpec",
    "ErrorSummary",
    "Event",
    "Fit",
    "HeldOut",
    "InputFile",
    "Interval",
    "LinearStill",
    "MarkedArea",
    "Marks",
    "Match",
    "NamedPair",
    "NoFit",
    "OnEvent",
    "PairSource",
    "PairedColours",
    "Place",
    "Reason",
    "Rung",
    "Setup",
    "SetupResult",
    "Still",
    "Uncertainty",
    "Verdict",
    "pivot_contrast",
]

# ------------------------------------------------------------------------------------------------ pairs

#: A pair with this spread of light (natural logarithm) or more speaks of balance alone.
NO_LIGHT = 1.0


@dataclass(frozen=True, kw_only=True)
class Place:
    """A spot on one picture of an angle, upright and cropped.

    Attributes
    ----------
    moment : int
        Which of the angle's pictures.
    x, y : float
        Its middle, in fractions of the picture's width and height.
    radius : float
        In fractions of the picture's width.
    """

    moment: int
    x: float
    y: float
    radius: float


@dataclass(frozen=True, kw_only=True)
class Reason:
    """Why something is as it is: a stable code for scripts, a sentence for people.

    ``text`` is one sentence in a colorist's words; ``todo`` says what to do about it (may be empty); ``place`` is
    where on the angle's picture it shows most, if it was found there.
    """

    code: str
    text: str
    todo: str = ""
    place: Place | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class PairedColours(FrozenArrays):
    """The same surfaces under the same light, as two angles show them.

    Attributes
    ----------
    reference, angle : str
        Names of the two angles. ``reference`` is usually the hero.
    source : str
        What found them: ``features``, ``areas``, ``faces``, ``chart`` ...
    reference_rgb, angle_rgb : (n, 3) float64, scene-linear ACEScg
        Mean colour of the surface patch in each view.
    weight : (n,) float64
        How much a pair counts, mean about 1.
    reference_xy, angle_xy : (n, 2) float64
        Where the patches lie, in pixels of each view's LinearStill.
    radius : (n, 2) float64
        Patch radius in pixels in the reference and in the angle.
    noise : (n, 2) float64
        Relative standard deviation of the patch mean in the reference and in the angle.
    moment : (n,) int
        Which moment each pair was seen at.
    group : (n,) int
        Pairs that lie together share a group; a proof must hold out whole groups.
    label : (n,) str
        What the surface is, where that is known: ``skin``, ``neutral``, the name of a marked area, or ``""``.
    found, matched : int
        How many candidates there were, and how many had a counterpart.
    rejected : mapping of rule to count
    by_hand : (n,) bool
        Areas that somebody marked; none where it is left out.
    light_spread : (n,) float64
        Standard deviation of the natural logarithm of luminance between the views, beyond noise and usual
        shading: above `NO_LIGHT` a pair says nothing about exposure. Zero where it is left out.
    """

    reference: str
    angle: str
    source: str
    reference_rgb: Float
    angle_rgb: Float
    weight: Float
    reference_xy: Float
    angle_xy: Float
    radius: Float
    noise: Float
    moment: NDArray[np.integer[Any]]
    group: NDArray[np.integer[Any]]
    label: NDArray[np.str_]
    found: int = 0
    matched: int = 0
    rejected: Mapping[str, int] = field(default_factory=dict)
    by_hand: Bool = field(default_factory=lambda: np.zeros(0, bool))
    light_spread: Float = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        for name in ("by_hand", "light_spread"):
            value = getattr(self, name)
            if not len(value) and len(self.weight):
                object.__setattr__(self, name, np.zeros(len(self.weight), value.dtype))
        super().__post_init__()

    def __len__(self) -> int:
        return len(self.weight)

    @property
    def says_light(self) -> Bool:
        """True for the pairs that say something about exposure, (n,): the others only speak of balance."""
        out: Bool = self.light_spread < NO_LIGHT
        return out


class PairSource(Protocol):
    """Anything that can say which colours two angles share: features, areas, faces, charts, chains."""

    def __call__(self, reference: tuple[LinearStill, ...], angle: tuple[LinearStill, ...]) -> PairedColours: ...


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


class Verdict(StrEnum):
    """What the evidence says of one angle."""

    MATCHED = "matched"
    REVIEW = "review"
    UNSOLVED = "unsolved"


@dataclass(frozen=True, kw_only=True)
class ErrorSummary:
    """CIEDE2000 in the measurement view over n samples: mean, and 95th percentile."""

    mean: float
    p95: float
    n: int


@dataclass(frozen=True, kw_only=True, eq=False)
class HeldOut(FrozenArrays):
    """The proof: colour difference on samples that the fit did not use.

    Attributes
    ----------
    before, after : ErrorSummary
        As shot, and after matches fitted without the samples they are judged on.
    upper : float
        Upper end (95th percentile) of the mean error after the match, over groups of samples.
    error_before, error_after : (n,) float64
        Per pair, in the pairs' order; NaN where the pair clips in the view.
    fold : (n,) int
        Which fold held the pair out.
    clipped_share : float
        Share of pairs left out because they clip in the measurement view.
    areas : mapping of label to (before, after)
        The same for labelled samples such as skin.
    """

    before: ErrorSummary
    after: ErrorSummary
    upper: float
    error_before: Float
    error_after: Float
    fold: NDArray[np.integer[Any]]
    clipped_share: float = 0.0
    areas: Mapping[str, tuple[ErrorSummary, ErrorSummary]] = field(default_factory=dict)


# ---------------------------------------------------------------------------------------------- results


@dataclass(frozen=True, kw_only=True)
class AngleResult:
    """All that is known of one angle.

    Attributes
    ----------
    match : Match or None
        None for an unsolved angle.
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
    used: Bool
    candidate: Match | None = None
    learnt: Learnt | None = None
    carried: Carried | None = None
    people: tuple[SkinCheck, ...] = ()

    @classmethod
    def unsolved(cls, angle: Angle, pairs: PairedColours, reasons: tuple[Reason, ...]) -> AngleResult:
        """Return the result of an angle for which nothing was fitted."""
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
            used=np.zeros(len(pairs), bool),
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
    ``drift`` say how clips were read and what moved in them, ready for JSON; None where there are only stills.
    ``hero_balance`` is what is suggested for the hero itself, None where nobody asked.
    """

    setup: Setup
    view_exposure_stops: float
    angles: tuple[AngleResult, ...]
    stills: Mapping[str, tuple[LinearStill, ...]]
    inputs: tuple[InputFile, ...] = ()
    clips: Mapping[str, Any] | None = None
    drift: Mapping[str, Any] | None = None
    hero_balance: HeroBalance | None = None

    def __getitem__(self, name: str) -> AngleResult:
        return next(result for result in self.angles if result.angle.name == name)

    def __iter__(self) -> Iterator[AngleResult]:
        return iter(self.angles)


# ----------------------------------------------------------------------------------------------- events


@dataclass(frozen=True, kw_only=True)
class Event:
    """Something worth telling while a run goes on.

    ``stage`` is the name of a pipeline stage, ``angle`` the angle it is about (or empty); ``done`` of
    ``total`` steps are behind us.
    """

    stage: str
    angle: str = ""
    text: str = ""
    done: int = 0
    total: int = 0


OnEvent = Callable[[Event], None]
