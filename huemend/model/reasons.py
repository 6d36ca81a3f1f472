"""Every reason that is given for a verdict: its code, and what it does to the verdict.

Codes are for scripts and stay as they are; docs/reasons.md is made from them. A member stands where its gravity
belongs; its text is in `huemend.model.reason_texts`. Who finds it out: `huemend.validate.doubts` says it for all.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from enum import StrEnum
from operator import attrgetter
from typing import TypeVar

from huemend.model.reason_texts import TEXTS
from huemend.model.reason_texts.said import Said
from huemend.model.verdict import Place, Reason

_One = TypeVar("_One")


class Effect(StrEnum):
    """What a reason does to the verdict of an angle: `huemend.validate.decide` makes the verdict of these."""

    UNSOLVED = "no match"
    REVIEW = "review"
    UNLESS_PROVEN = "review, unless something speaks for the match"
    NOTE = "told beside the verdict"
    PROOF = "speaks for the match"


class Code(StrEnum):
    """What a reason is known by, the gravest first.

    Attributes
    ----------
    said : mapping of case to (text, todo)
        In a colorist's words, with figures in braces; most reasons know one case, which is called ``""``.
    """

    effect: Effect
    said: Mapping[str, Said]

    def __new__(cls, code: str, effect: Effect) -> Code:
        """Make a member of its code and effect, with its texts."""
        member = str.__new__(cls, code)
        member._value_ = code
        member.effect = effect
        texts = TEXTS[code]
        member.said = texts if isinstance(texts, Mapping) else {"": texts}
        return member

    def because(
        self,
        case: str = "",
        *,
        place: Place | None = None,
        reference_place: Place | None = None,
        **figures: object,
    ) -> Reason:
        """Return the reason with its figures filled in; raises KeyError without that case or a figure."""
        text, todo = self.said[case]
        return Reason(
            code=self,
            text=text.format(**figures),
            todo=todo.format(**figures),
            place=place,
            reference_place=reference_place,
            label=str(figures.get("label", "")),
        )

    # What leaves no match, or makes it wrong.
    NO_LUT = "no-lut", Effect.UNSOLVED
    NOTHING_SHARED = "nothing-shared", Effect.UNSOLVED
    BROKEN_CHAIN = "broken-chain", Effect.UNSOLVED
    RULED_OUT = "ruled-out", Effect.UNSOLVED
    CONTRADICTORY = "contradictory", Effect.UNSOLVED
    DIVIDED = "divided", Effect.REVIEW
    IMPLAUSIBLE = "implausible", Effect.UNSOLVED
    STRANGE_MIX = "strange-mix", Effect.REVIEW
    WHITE_BALANCE = "white-balance", Effect.REVIEW
    NO_GAIN = "no-gain", Effect.UNSOLVED
    TOO_THIN = "too-thin", Effect.UNSOLVED
    # Somebody who marked an area that does not fit wants to know before what is doubted for itself.
    MARK_CONTRADICTED = "mark-contradicted", Effect.REVIEW
    SLOPE = "slope", Effect.REVIEW
    CONTRAST = "contrast", Effect.REVIEW
    DRIFT = "drift", Effect.REVIEW
    LOOSE = "loose", Effect.REVIEW
    AREA = "area", Effect.REVIEW
    FEW_COLOURS = "few-colours", Effect.UNSOLVED
    COLOURS_APART = "colours-apart", Effect.UNSOLVED

    # What limits where a match holds, or how far it can be trusted.
    CLIPPED = "clipped", Effect.REVIEW
    VIGNETTING = "vignetting", Effect.REVIEW
    COLOUR_SHADING = "colour-shading", Effect.REVIEW
    SECOND_EXPOSURE = "second-exposure", Effect.REVIEW
    UNEVEN_FLARE = "uneven-flare", Effect.REVIEW
    UNCOVERED = "uncovered", Effect.REVIEW
    UNCERTAIN = "uncertain", Effect.REVIEW
    FEW_SURFACES = "few-surfaces", Effect.REVIEW
    SATURATED_LIGHT = "saturated-light", Effect.NOTE
    NOTHING_TO_KEEP = "nothing-to-keep", Effect.REVIEW
    RENDERED = "rendered", Effect.REVIEW
    CLIPS_EARLY = "clips-early", Effect.NOTE
    HERO_CLIPS = "hero-clips", Effect.NOTE
    BANDING = "banding", Effect.REVIEW
    NOT_FOLLOWED = "not-followed", Effect.NOTE
    BY_COLOURS = "by-colours", Effect.REVIEW
    BY_HAND = "by-hand", Effect.REVIEW
    CARRIED = "carried", Effect.NOTE
    CAMERAS_CHANGED = "cameras-changed", Effect.NOTE
    CHAINED = "chained", Effect.UNLESS_PROVEN
    KEPT_AS_SHOT = "kept-as-shot", Effect.REVIEW
    STAYS_AS_SHOT = "stays-as-shot", Effect.NOTE
    LEAST_ERROR = "least-error", Effect.NOTE
    MARK_MET = "mark-met", Effect.NOTE
    NOT_SEEN = "not-seen", Effect.NOTE
    BURN_INS = "burn-ins", Effect.NOTE
    NO_CHART = "no-chart", Effect.NOTE

    # What speaks for it.
    PROVEN = "proven", Effect.PROOF
    HOLDS = "holds", Effect.PROOF


#: A code that is not known is of middling gravity, among what limits where a match holds.
_GRAVITY = {str(code): place for place, code in enumerate(Code)}
_MIDDLING = _GRAVITY[Code.UNCOVERED]


def gravity(code: str) -> int:
    """Return the place of a reason's code among all: what speaks most against using a match first.

    >>> gravity("nothing-shared") < gravity("of-next-year") < gravity("proven")
    True
    """
    return _GRAVITY.get(code, _MIDDLING)


def by_gravity(reasons: Sequence[_One], code: Callable[[_One], str] = attrgetter("code")) -> list[_One]:
    """Return reasons, the gravest first; equals keep their order. ``code`` reads the code of one."""
    return sorted(reasons, key=lambda reason: gravity(code(reason)))
