"""What figures of the proof say, and what speaks for a match: found by `huemend.validate.doubts` and `.decide`."""

from __future__ import annotations

from collections.abc import Mapping

from huemend.model.reason_texts.said import OTHER_MOMENT, Said

_LOOK = "compare it with the hero on a calibrated display"
_AS_IT_IS = "leave this angle as it is, or name pairs of areas by hand"

PROOF: Mapping[str, Said | Mapping[str, Said]] = {
    "no-lut": ("no match LUT was delivered for this angle", ""),
    "broken-chain": (
        "it is to be matched through {name}, which was not matched itself",
        "see to {name} first, or name another angle in through",
    ),
    "ruled-out": (
        "the surfaces that seem to be shared ask for {stops} stop, and the colours of the whole pictures "
        "allow only {low} to {high}",
        f"make sure that both look at one set; {OTHER_MOMENT}, or name pairs of areas by hand",
    ),
    "divided": (
        "only {share:.0%} of what the two views seem to share agrees with the match",
        f"{_LOOK}; look for coloured light that reaches one view only",
    ),
    "no-gain": {
        "": (
            "the best match does no better than the camera as shot ({after:.1f} against {before:.1f}) "
            "on samples that it did not use",
            _AS_IT_IS,
        ),
        "unsure": (
            "the best match is off by {after:.1f} where the camera as shot is off by {before:.1f}, on samples "
            "that it did not use, and so few places say so that it may as well do worse",
            _AS_IT_IS,
        ),
        "picture": (
            "by all that seems to be shared, the colours of this angle's picture would be further off after the "
            "best match ({after:.1f} CIEDE2000) than as shot ({before:.1f})",
            _AS_IT_IS,
        ),
    },
    "too-thin": {
        "flare": (
            "half of what seems to be shared does not agree with the match, and flare lies on one side: which "
            "half is right cannot be told",
            f"{OTHER_MOMENT}, or name pairs of areas by hand",
        ),
        "balance": (
            "what seems to be shared stands on too few surfaces to believe that these cameras were balanced for "
            "different lamps",
            f"{OTHER_MOMENT}, or name pairs of areas by hand",
        ),
        "": (
            "what seems to be shared is little, at odds with itself, and leaves room for error",
            f"{OTHER_MOMENT}, or name pairs of areas by hand",
        ),
        "may harm": (
            "what seems to be shared stands on too little: the match may be off by {error} CIEDE2000 on skin or "
            "neutrals, more than the {shot} by which the camera as shot is off what both show",
            f"{OTHER_MOMENT}, or name pairs of areas by hand",
        ),
    },
    "loose": {
        "": (
            "surfaces that the match did not use still differ by {after} CIEDE2000 on average "
            "({upper:.1f} at most, with 95 % confidence), more than the {limit} that passes as matched "
            "(our judgement)",
            _LOOK,
        ),
        "perhaps": (
            "surfaces that the match did not use agree to {after:.1f} CIEDE2000, but too few places say so to "
            "rule out {upper}, more than the {limit} that passes as matched (our judgement)",
            _LOOK,
        ),
        "delivered": (
            "through the LUT the views differ by {after:.1f} CIEDE2000 (up to {upper}), as "
            "shot by {before:.1f}; {limit} passes as matched (our judgement)",
            "match these frames anew if camera or light changed since",
        ),
    },
    "area": {
        "": (
            "{label} still differs by {error} CIEDE2000 after the match, more than the "
            "{limit} that passes on an area (our judgement; what its patches scatter by is apart)",
            "look at {label} first when you compare it on a calibrated display",
        ),
        "delivered": (
            "through the LUT {label} differs by {error} CIEDE2000, where {limit} passes (our judgement)",
            "look at {label}",
        ),
    },
    "uncovered": (
        "{share:.0%} of this angle shows colours that it does not share with the hero "
        "(coloured light, or surfaces that only it sees); there the match is a guess",
        f"{_LOOK}; begin with what only this angle shows",
    ),
    "uncertain": (
        "as far as what both show can tell, the match may still be off: {kinds} (CIEDE2000; our judgement)",
        f"{_LOOK}, or name pairs of areas that show the colours in doubt",
    ),
    "few-surfaces": {
        "": (
            "the match rests on only {surfaces} that both views show",
            f"{_LOOK}, or add a moment where they share more",
        ),
        "delivered": ("these frames show only {surfaces} that both views share", ""),
    },
    "by-colours": (
        "exposure and balance are a guess from colours alone; {share:.0%} of this angle's colours are in the hero",
        "make sure that both look at one set, and judge it by eye against the hero before you build on it; "
        "another moment, or areas named by hand, would say more",
    ),
    "carried": (
        "between these two cameras {kinds} on {setups} of the day ({names})",
        "make sure that these are the same cameras with the same settings",
    ),
    "chained": {
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
    "proven": {
        "": ("{count} surfaces that the match did not use agree to {after:.1f} CIEDE2000", _LOOK),
        "as shot": ("the camera as shot already agrees with the hero to {after:.1f} CIEDE2000", _LOOK),
    },
    "holds": (
        "on these frames {count} surfaces agree through the LUT to {after:.1f} CIEDE2000, as shot to {before:.1f}",
        "",
    ),
}
