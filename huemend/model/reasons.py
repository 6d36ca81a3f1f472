"""Every reason that is given for a verdict: its code, what it does, its sentence, and what to do about it.

Codes are for scripts and stay as they are; docs/reasons.md is made from this module. To add a reason, add a member
where its gravity belongs, and say in `huemend.validate.decide` what it does to a verdict.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from huemend.model.verdict import Place, Reason

__all__ = ["Code", "Effect"]

_LOOK = "compare it with the hero on a calibrated display"
_OTHER_MOMENT = "choose another moment where both see the same things"
_BY_HAND_OR_COLOURS = (
    f"{_OTHER_MOMENT}, name a pair of areas by hand, or ask for a guess by colours alone (--by-colours)"
)
_COLOURS_ALONE = (
    "colours alone do not say more: {why}",
    f"{_OTHER_MOMENT}, or name areas by hand that show one surface on both",
)
_CHART = (
    "choose a moment at which both show it, whole and wider than a tenth of the picture, or leave "
    "chart out of the setup file"
)

_SAME_SURFACE = "mark the same surface under the same light on both, or leave that mark out"


class Effect(StrEnum):
    """What a reason does to the verdict of an angle."""

    UNSOLVED = "no match"
    REVIEW = "review"
    NOTE = "told beside it"
    PROOF = "speaks for it"


class Code(StrEnum):
    """What a reason is known by, the gravest first.

    Attributes
    ----------
    effect : Effect
    said : mapping of case to (text, todo)
        In a colorist's words, with figures in braces; most reasons know one case, which is called ``""``.
    """

    effect: Effect
    said: Mapping[str, tuple[str, str]]

    def __new__(cls, code: str, effect: Effect, said: Mapping[str, tuple[str, str]] | tuple[str, str]) -> Code:
        """Make a member of its code, effect and sentences."""
        member = str.__new__(cls, code)
        member._value_ = code
        member.effect = effect
        member.said = said if isinstance(said, Mapping) else {"": said}
        return member

    def because(
        self,
        case: str = "",
        *,
        place: Place | None = None,
        reference_place: Place | None = None,
        **figures: object,
    ) -> Reason:
        """Return the reason with its figures filled in.

        Raises
        ------
        KeyError
            There is no such case, or a figure is missing.
        """
        text, todo = self.said[case]
        text, todo = text.format(**figures), todo.format(**figures)
        return Reason(code=self, text=text, todo=todo, place=place, reference_place=reference_place)

    # What leaves no match, or makes it wrong.
    NO_LUT = "no-lut", Effect.UNSOLVED, ("no match LUT was delivered for this angle", "")
    NOTHING_SHARED = (
        "nothing-shared",
        Effect.UNSOLVED,
        {
            "nothing": (
                "no surface was found that this angle and the hero both show",
                _BY_HAND_OR_COLOURS,
            ),
            "little": (
                "this angle and the hero share only {places}, too few to pin a match",
                _BY_HAND_OR_COLOURS,
            ),
            "by hand": (
                "{areas} named by hand {are} too few to pin a match",
                "name {fewest} or more, of different colours",
            ),
        },
    )
    BROKEN_CHAIN = (
        "broken-chain",
        Effect.UNSOLVED,
        (
            "it is to be matched through {name}, which was not matched itself",
            "see to {name} first, or name another angle in through",
        ),
    )
    RULED_OUT = (
        "ruled-out",
        Effect.UNSOLVED,
        (
            "the surfaces that seem to be shared ask for {stops:+.2f} stop, and the colours of the whole pictures "
            "allow only {low:+.2f} to {high:+.2f}",
            f"make sure that both look at one set; {_OTHER_MOMENT}, or name pairs of areas by hand",
        ),
    )
    CONTRADICTORY = (
        "contradictory",
        Effect.UNSOLVED,
        (
            "only {share:.0%} of what the two views seem to share agrees on one match",
            "check that hero and angle show the same moment and the same set",
        ),
    )
    DIVIDED = (
        "divided",
        Effect.REVIEW,
        (
            "only {share:.0%} of what the two views seem to share agrees with the match",
            f"{_LOOK}; look for coloured light that reaches one view only",
        ),
    )
    IMPLAUSIBLE = (
        "implausible",
        Effect.UNSOLVED,
        {
            "": (
                "the match would need a balance that no two cameras under one light have between them",
                "check the encoding, the range and the white balance of this angle and of the hero",
            ),
            "slope": (
                "a stop of light in this angle would be {slope:.1f} stops in the hero, which neither haze "
                "nor a look nor another curve explains",
                "check that hero and angle show the same set, and the encoding and range of both",
            ),
        },
    )
    STRANGE_MIX = (
        "strange-mix",
        Effect.REVIEW,
        {
            "": (
                "the shared surfaces ask for a channel mix that no two cameras have between them, and prove it",
                "check the encoding and the range, and whether one camera recorded with a look",
            ),
            "not taken": (
                "the shared surfaces ask for a channel mix that no two cameras have between them, and hardly "
                "prove it, so that {matched} matched",
                "check the encoding and the range, and whether one camera recorded with a look",
            ),
        },
    )
    NO_GAIN = (
        "no-gain",
        Effect.UNSOLVED,
        (
            "the best match does no better than the camera as shot ({after:.1f} against {before:.1f}) "
            "on samples that it did not use",
            "leave this angle as it is, or name pairs of areas by hand",
        ),
    )
    TOO_THIN = (
        "too-thin",
        Effect.UNSOLVED,
        (
            "what seems to be shared is little, at odds with itself, and leaves room for error",
            f"{_OTHER_MOMENT}, or name pairs of areas by hand",
        ),
    )
    SLOPE = (
        "slope",
        Effect.REVIEW,
        {
            "suspects": (
                "a stop of light in this angle is {slope:.2f} stops in the hero: its encoding or range may not "
                "be {encoding}",
                "check it against {suspects}, which the shared surfaces fit better",
            ),
            "": (
                "a stop of light in this angle is {slope:.2f} stops in the hero, which no other encoding or range "
                "is proven to explain better than {encoding}: a look in the recording, or haze or flare in one "
                "view",
                "look at shadows and highlights first when you compare it with the hero",
            ),
        },
    )
    CONTRAST = (
        "contrast",
        Effect.REVIEW,
        (
            "the colours agree only with a contrast of {contrast:.2f} about mid-grey, which cameras "
            "that are decoded rightly do not need",
            "find the cause first: a wrong encoding or range, a look recorded in the camera, or haze in one view",
        ),
    )
    DRIFT = (
        "drift",
        Effect.REVIEW,
        {
            "": (
                "one match does not fit {ranges}: {what}",
                "solve the ranges apart with --segments, or use the LUT outside of them only",
            ),
            "stills": (
                "one match does not fit {which} of {angle}: against {reference} it is left with {what}",
                "see what was changed there on {angle} or on {reference}, and match {which} as a setup of their "
                "own",
            ),
        },
    )
    LOOSE = (
        "loose",
        Effect.REVIEW,
        {
            "": (
                "colours that the match did not use still differ by {after} CIEDE2000 "
                "(up to {upper:.1f}), more than the {limit} that we let pass (a judgement)",
                _LOOK,
            ),
            "perhaps": (
                "colours that the match did not use agree to {after:.1f} CIEDE2000, but too few places say so to "
                "rule out {upper}, more than the {limit} that we let pass (a judgement)",
                _LOOK,
            ),
            "delivered": (
                "through the LUT the views differ by {after:.1f} CIEDE2000 (up to {upper:.1f}), as "
                "shot by {before:.1f}; we let {limit:.1f} pass (a judgement)",
                "match these frames anew if camera or light changed since",
            ),
        },
    )
    AREA = (
        "area",
        Effect.REVIEW,
        {
            "": (
                "{label} still differs by {error} CIEDE2000 after the match, more than the "
                "{limit} that we let pass on an area (a judgement)",
                "look at {label} first when you compare it on a calibrated display",
            ),
            "delivered": ("{label} differs by {error:.1f} CIEDE2000", "look at {label}"),
        },
    )
    FEW_COLOURS = "few-colours", Effect.UNSOLVED, _COLOURS_ALONE
    COLOURS_APART = "colours-apart", Effect.UNSOLVED, _COLOURS_ALONE

    MARK_CONTRADICTED = (
        "mark-contradicted",
        Effect.REVIEW,
        {
            "": (
                "the marked {label} was left out, because the other marks contradict it: "
                "alone it would give {alone}, the rest gives {others}",
                _SAME_SURFACE,
            ),
            "by pictures": (
                "the marked {label} was left out, because everything found without help contradicts it: "
                "alone it would give {alone}, the rest gives {others}",
                f"{_SAME_SURFACE}; if it is right and the rest is not, match by marks alone (--marks-only)",
            ),
        },
    )

    # What limits where a match holds, or how far it can be trusted.
    UNCOVERED = (
        "uncovered",
        Effect.REVIEW,
        (
            "{share:.0%} of this angle shows colours that it does not share with the hero "
            "(coloured light, or surfaces that only it sees); there the match is a guess",
            f"{_LOOK}; begin with what only this angle shows",
        ),
    )
    UNCERTAIN = (
        "uncertain",
        Effect.REVIEW,
        (
            "what the views share leaves room for error: {kinds} CIEDE2000",
            f"{_LOOK}, or name pairs of areas that show those colours",
        ),
    )
    FEW_SURFACES = (
        "few-surfaces",
        Effect.REVIEW,
        {
            "": (
                "the match rests on only {count} colours that both views show",
                f"{_LOOK}, or add a moment where they share more",
            ),
            "delivered": ("these frames show only {count} shared surfaces", ""),
        },
    )
    SATURATED_LIGHT = (
        "saturated-light",
        Effect.NOTE,
        (
            "{share:.1%} of this angle is {hue} light more saturated than a colour chart, such "
            "as a lamp or neon; {what}",
            "key that light and treat it apart, or compress the gamut ahead of the grade; judge the match on "
            "skin and neutrals, not on it",
        ),
    )
    UNPROTECTED = (
        "unprotected",
        Effect.REVIEW,
        (
            "{name} is to stay as shot, and this angle shows none that is known",
            "mark it: a [[pair]] named {name!r} with an area on this angle",
        ),
    )
    RENDERED = (
        "rendered",
        Effect.REVIEW,
        (
            "this is a picture made for a display ({encoding}): the look and knee in it are not "
            "known, and a match cannot undo them",
            "compare skin and highlights with the hero on a calibrated display, or use the log recording",
        ),
    )
    CLIPS_EARLY = (
        "clips-early",
        Effect.NOTE,
        (
            "{share:.1%} of this angle is clipped at a brightness that the hero still holds; a match may "
            "tint those highlights, and cannot bring them back",
            "look at windows and lamps first; roll its highlights off to neutral, in the grade or with "
            "--neutral-highlights",
        ),
    )
    BANDING = "banding", Effect.REVIEW, ("light that pulses: {what}", "look at flat areas in motion")
    BY_COLOURS = (
        "by-colours",
        Effect.REVIEW,
        (
            "exposure and balance are a guess from colours alone; "
            "{share:.0%} of this angle's colours are in the hero",
            "make sure that both look at one set, and judge it by eye against the hero before you build on it; "
            "another moment, or areas named by hand, would say more",
        ),
    )
    BY_HAND = (
        "by-hand",
        Effect.REVIEW,
        (
            "the match rests on {areas} named by hand",
            "compare it with the hero on a calibrated display; every further area of another colour helps",
        ),
    )
    CARRIED = (
        "carried",
        Effect.NOTE,
        (
            "{kinds} between these two cameras lean on {setups} of the day ({names})",
            "make sure that these are the same cameras with the same settings",
        ),
    )
    CAMERAS_CHANGED = (
        "cameras-changed",
        Effect.NOTE,
        ("what earlier setups learnt of these cameras does not hold here", ""),
    )
    CHAINED = (
        "chained",
        Effect.REVIEW,
        {
            "": (
                "matched through {name}, not to the hero itself: its own error of up to {own:.1f} CIEDE2000 and "
                "that of {name}, up to {before:.1f}, come to {both:.1f}",
                "compare it with the hero, not only with that angle, on a calibrated display",
            ),
            "unproven": (
                "matched through {name}, whose own match nothing has proven",
                "compare both with the hero on a calibrated display",
            ),
        },
    )
    PROTECTED = (
        "protected",
        Effect.REVIEW,
        (
            "the match would move {name} by {moved:.1f} CIEDE2000 and was faded to the {limit:.1f} that the "
            "setup file allows",
            "raise keep_limit, or leave {name} out of keep_as_shot, if the hero is to win; to have it match "
            "best, mark it as a [[pair]]",
        ),
    )
    NO_CHART = (
        "no-chart",
        Effect.NOTE,
        {
            "": ("no colour chart was found in the two views", _CHART),
            "alone": ("a colour chart was found on {name} alone", _CHART),
        },
    )

    # What speaks for it.
    PROVEN = (
        "proven",
        Effect.PROOF,
        {
            "": ("{count} colours that the match did not use agree to {after:.1f} CIEDE2000", _LOOK),
            "as shot": ("the camera as shot already agrees with the hero to {after:.1f} CIEDE2000", _LOOK),
        },
    )
    HOLDS = (
        "holds",
        Effect.PROOF,
        (
            "on these frames {count} surfaces agree through the LUT to {after:.1f} CIEDE2000, "
            "as shot to {before:.1f}",
            "",
        ),
    )
