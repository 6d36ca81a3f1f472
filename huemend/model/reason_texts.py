"""What is said for each reason, and what to do about it, in a colorist's words; figures stand in braces.

One text for each code of `huemend.model.reasons`, and for each case of those that know several.
"""

from __future__ import annotations

from collections.abc import Mapping

#: The sentence, and what to do about it (may be empty).
Said = tuple[str, str]

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

_PRESET = (
    "ask what white balance this camera and the hero were set to; develop a raw recording anew; or look at strong "
    "reds and blues first when you compare it with the hero"
)

_KEPT = (
    "raise keep_limit, or leave {name} out of keep_as_shot, if the hero is to win; to have it match best, name it "
    "in least_error_on"
)

_CORNERS = (
    "take the vignetting out of this angle's media and match again, or judge the match in the middle of the "
    "picture and treat the corners apart in the grade"
)

_AS_IT_IS = "leave this angle as it is, or name pairs of areas by hand"

_SIDES = "look at both sides of the picture, and treat them apart in the grade"

_SAME_SURFACE = "mark the same surface under the same light on both, or leave that mark out"


#: Of each code: what is said, or what is said in each case.
TEXTS: Mapping[str, Said | Mapping[str, Said]] = {
    # What leaves no match, or makes it wrong.
    "no-lut": ("no match LUT was delivered for this angle", ""),
    "nothing-shared": {
        "nothing": (
            "no surface was found that this angle and the hero both show",
            f"check that both stand upright (rotate in the setup file) and show one set; or {_BY_HAND_OR_COLOURS}",
        ),
        "little": (
            "this angle and the hero share only {places}, too few to pin a match",
            _BY_HAND_OR_COLOURS,
        ),
        "unsure": (
            "this angle and the hero share {places}, too small or too unsure to pin a match: all of them together "
            "count for {worth:.1f} sure ones, and {fewest:.0f} are needed",
            _BY_HAND_OR_COLOURS,
        ),
        "by hand": (
            "{areas} named by hand {are} too few to pin a match",
            "name {fewest} or more, of different colours",
        ),
    },
    "broken-chain": (
        "it is to be matched through {name}, which was not matched itself",
        "see to {name} first, or name another angle in through",
    ),
    "ruled-out": (
        "the surfaces that seem to be shared ask for {stops} stop, and the colours of the whole pictures "
        "allow only {low} to {high}",
        f"make sure that both look at one set; {_OTHER_MOMENT}, or name pairs of areas by hand",
    ),
    "contradictory": (
        "only {share:.0%} of what the two views seem to share agrees on one match",
        "check that hero and angle show the same moment and the same set",
    ),
    "divided": (
        "only {share:.0%} of what the two views seem to share agrees with the match",
        f"{_LOOK}; look for coloured light that reaches one view only",
    ),
    "implausible": {
        "": (
            "the match would need a balance that no two cameras under one light have between them",
            "check the encoding, the range and the white balance of this angle and of the hero",
        ),
        "slope": (
            "a stop of light in this angle would be {slope:.1f} stops in the hero, further off than haze, "
            "a look or another curve is taken to explain (our judgement)",
            "check that hero and angle show the same set, and the encoding and range of both",
        ),
        "suspects": (
            "a stop of light in this angle would be {slope:.1f} stops in the hero: its encoding or range is not "
            "{encoding}, or little of what seems to be shared is",
            "ask what this camera recorded: {suspects} would fit the shared surfaces better",
        ),
    },
    "strange-mix": {
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
    "white-balance": {
        "bluer": (
            "this angle is about {mired:.0f} mired bluer than the hero, as if it was balanced for lamps and the "
            "hero for daylight (3200 and 5600 K are 134 mired apart)",
            _PRESET,
        ),
        "redder": (
            "this angle is about {mired:.0f} mired redder than the hero, as if it was balanced for daylight and "
            "the hero for lamps (3200 and 5600 K are 134 mired apart)",
            _PRESET,
        ),
    },
    "no-gain": {
        "": (
            "the best match does no better than the camera as shot ({after:.1f} against {before:.1f}) "
            "on samples that it did not use",
            _AS_IT_IS,
        ),
        "unsure": (
            "the best match does better than the camera as shot ({after:.1f} against {before:.1f}) on samples "
            "that it did not use, but so few places say so that it may as well do worse",
            _AS_IT_IS,
        ),
        "picture": (
            "by all that seems to be shared, the colours of this angle's picture would be off by {after:.1f} "
            "CIEDE2000 after the best match, more than the {before:.1f} as shot",
            _AS_IT_IS,
        ),
    },
    "too-thin": {
        "flare": (
            "half of what seems to be shared does not agree with the match, and flare lies on one side: which "
            "half is right cannot be told",
            f"{_OTHER_MOMENT}, or name pairs of areas by hand",
        ),
        "balance": (
            "what seems to be shared stands on too few surfaces to believe that these cameras were balanced for "
            "different lamps",
            f"{_OTHER_MOMENT}, or name pairs of areas by hand",
        ),
        "": (
            "what seems to be shared is little, at odds with itself, and leaves room for error",
            f"{_OTHER_MOMENT}, or name pairs of areas by hand",
        ),
        "may harm": (
            "what seems to be shared stands on too little: the match may be off by {error} CIEDE2000 on skin or "
            "neutrals, more than the {shot} by which the camera as shot is off what both show",
            f"{_OTHER_MOMENT}, or name pairs of areas by hand",
        ),
    },
    "slope": {
        "suspects": (
            "a stop of light in this angle is {slope:.2f} stops in the hero: its encoding or range may not "
            "be {encoding}",
            "ask what this camera recorded: {suspects} would fit the shared surfaces better; if that is "
            "so, put it into the setup file as the encoding of this angle and match again",
        ),
        "": (
            "a stop of light in this angle is {slope:.2f} stops in the hero, which no other encoding or range "
            "is proven to explain better than {encoding}: a look in the recording, or haze or flare in one "
            "view",
            "look at shadows and highlights first when you compare it with the hero",
        ),
    },
    "contrast": (
        "the colours agree only with a contrast of {contrast} about mid-grey, which cameras "
        "that are decoded rightly do not need",
        "find the cause first: a wrong encoding or range, a look recorded in the camera, or haze in one view",
    ),
    "drift": {
        "": (
            "one match does not fit {ranges}: {what}",
            "solve the ranges apart with --segments, or use the LUT outside of them only",
        ),
        "all stills": (
            "no one match fits all stills of {angle}: against {reference} it is left with {what}",
            "see what was changed between them on {angle} or on {reference}, and match each as a setup of its own",
        ),
        "stills": (
            "one match does not fit {which} of {angle}: against {reference} it is left with {what}",
            "see what was changed there on {angle} or on {reference}, and match {which} as a setup of their own",
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
    "few-colours": _COLOURS_ALONE,
    "colours-apart": _COLOURS_ALONE,
    "mark-contradicted": {
        "": (
            "the mark {label!r} was left out, because the other marks contradict it: "
            "alone it would give {alone}, the rest gives {others}",
            _SAME_SURFACE,
        ),
        "by pictures": (
            "the mark {label!r} was left out, because everything found without help contradicts it: "
            "alone it would give {alone}, the rest gives {others}",
            f"{_SAME_SURFACE}; if it is right and the rest is not, match by marks alone (--marks-only)",
        ),
    },
    # What limits where a match holds, or how far it can be trusted.
    "uncovered": (
        "{share:.0%} of this angle shows colours that it does not share with the hero "
        "(coloured light, or surfaces that only it sees); there the match is a guess",
        f"{_LOOK}; begin with what only this angle shows",
    ),
    "uncertain": (
        "what the views share does not rule out an error, in CIEDE2000, of {kinds} (our judgement)",
        f"{_LOOK}, or name pairs of areas that show the colours in doubt",
    ),
    "few-surfaces": {
        "": (
            "the match rests on only {surfaces} that both views show",
            f"{_LOOK}, or add a moment where they share more",
        ),
        "delivered": ("these frames show only {surfaces} that both views share", ""),
    },
    "saturated-light": (
        "{share} of this angle is {hue} light more saturated than a colour chart, such as a lamp or neon; {what}",
        "key the lamp or neon and treat it apart, or compress the gamut ahead of the grade; judge the match on "
        "skin and neutrals, not on it",
    ),
    "nothing-to-keep": (
        "{name} is to stay as shot, and this angle shows none that is known",
        "mark it: a [[pair]] named {name!r} with an area on this angle",
    ),
    "rendered": (
        "this is a picture made for a display ({encoding}): the look and knee in it are not "
        "known, and a match cannot undo them",
        "compare skin and highlights with the hero on a calibrated display, or use the log recording",
    ),
    "clipped": {
        "": (
            "{share:.0%} of this angle is clipped at a brightness that the hero still holds: matched, it is a "
            "flat area, darker than on the hero, and no LUT brings detail or colour back",
            "take another exposure of this angle if there is one, or treat what clips apart in the grade; judge "
            "the match on what is not clipped",
        ),
        "hero": (
            "{share:.0%} of the hero is clipped at a brightness that this angle, once matched, goes beyond, by "
            "{off:.1f} CIEDE2000 on average over its whole picture: there is nothing there to match to",
            "judge the match on what the hero holds; roll the highlights of this angle off to those of the hero "
            "in the grade, or take another exposure of the hero",
        ),
    },
    "vignetting": {
        "loses": (
            "from its middle to the outermost that both show, this angle loses {seen:.1f} stop against the hero, "
            "which comes to {stops:.1f} in the corners, as by a lens that falls off (vignetting) or by light that "
            "is not the same: one match cannot mend it",
            _CORNERS,
        ),
        "gains": (
            "from its middle to the outermost that both show, this angle gains {seen:.1f} stop against the hero, "
            "which comes to {stops:.1f} in the corners, as by light that is not the same: one match cannot mend "
            "it",
            _CORNERS,
        ),
    },
    "colour-shading": {
        "across": (
            "from its left edge to its right this angle turns by {red} stop of red and {blue} of blue over green "
            "against the hero, as by flare or coloured light on one side of it: one match cannot mend it",
            _SIDES,
        ),
        "down": (
            "from its top to its bottom this angle turns by {red} stop of red and {blue} of blue over green "
            "against the hero, as by flare or coloured light on one side of it: one match cannot mend it",
            _SIDES,
        ),
    },
    "second-exposure": {
        "": (
            "{share:.0%} of what both views share, {where} this angle, is {stops:.1f} stop {how} against the hero "
            "than the rest is, as by a flash or a lamp that one view alone has, or by a pattern that repeats: one "
            "match cannot mend it",
            "choose a moment without it, or look at that part, and treat it apart in the grade",
        ),
        "gradual": (
            "against the hero light runs over this angle by {stops:.1f} stop (most of it {where} it) "
            "and explains {share:.0%} of what places are off by, as under a lamp that one view alone has: one "
            "match cannot mend it",
            _SIDES,
        ),
    },
    "uneven-flare": (
        "flare that comes from the {side} of this angle's picture and dies out across it explains the shared "
        "surfaces better than even flare, by {gain:.2f} nats a pair: one match cannot mend it",
        _SIDES,
    ),
    "hero-clips": (
        "{share:.0%} of the hero is clipped at a brightness that this angle still holds: there is nothing there "
        "to match to",
        "judge the match on what the hero holds; set the highlights of both by eye",
    ),
    "clips-early": (
        "{share:.1%} of this angle is clipped at a brightness that the hero still holds; a match may "
        "tint those highlights, and cannot bring them back",
        "look at windows and lamps first; roll its highlights off to neutral, in the grade or with "
        "--neutral-highlights",
    ),
    "banding": {
        "": ("light that pulses: {what}", "look at flat areas in motion"),
        "still": (
            "bands across this angle are {stops:.2f} stop brighter and darker than the hero, about "
            "{count:.0f} from its top to its bottom, as of lamps that pulse under a rolling shutter: one match "
            "cannot mend them",
            "choose a moment without bands, or take the flicker out of this angle's media and match again",
        ),
    },
    "not-followed": (
        "whether {camera} changes in exposure or balance is unknown for {ranges}: it shows something else there",
        "look at the match there",
    ),
    "by-colours": (
        "exposure and balance are a guess from colours alone; {share:.0%} of this angle's colours are in the hero",
        "make sure that both look at one set, and judge it by eye against the hero before you build on it; "
        "another moment, or areas named by hand, would say more",
    ),
    "by-hand": (
        "the match rests on {areas} named by hand",
        "compare it with the hero on a calibrated display; every further area of another colour helps",
    ),
    "carried": (
        "between these two cameras {kinds} on {setups} of the day ({names})",
        "make sure that these are the same cameras with the same settings",
    ),
    "cameras-changed": (
        "what earlier setups of the day ({names}) learnt of these two cameras does not hold here and was left out",
        "see whether camera, lens, filter or look was changed on purpose since then",
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
    "kept-as-shot": (
        "the match would move {name} by {moved} CIEDE2000, where {limit} is allowed: {how} to that, and the rest "
        "is left with {rest_after:.1f} in place of {rest_before:.1f}",
        _KEPT,
    ),
    "stays-as-shot": (
        "{name} stays within {limit} CIEDE2000 of how it was shot, as the setup file asks, where the match would "
        "move it by {moved}; the rest is left with {rest_after:.1f} in place of {rest_before:.1f}",
        _KEPT,
    ),
    "least-error": {
        "": (
            "{names} came first, as the setup file asks: {before:.1f} -> {after:.1f} CIEDE2000 there against the "
            "plain match, {rest_before:.1f} -> {rest_after:.1f} elsewhere",
            "take least_error_on out if the rest is to win",
        ),
        "as close": (
            "{names} came first, as the setup file asks, and nothing that the rest allows brings it nearer than "
            "{before:.1f} CIEDE2000 by {gain:.2f} or more",
            "",
        ),
    },
    "mark-met": {
        "": (
            "the match meets {names} as nearly as two areas drawn by hand agree: marks there ask for nothing",
            "to match it closer all the same, name it under least_error_on",
        ),
        "in part": (
            "marks on {names} were followed in part: in full they would move what was found elsewhere too far",
            "to match it closer all the same, name it under least_error_on, or nudge the angle",
        ),
    },
    "not-seen": (
        "{name} is to match best, and this angle shows none that is known",
        "mark it: a [[pair]] named {name!r} with an area on this angle",
    ),
    "burn-ins": {
        "": (
            "{count} details stand at one place of both frames while all else does not: letters or marks that are "
            "burnt in, which were left out",
            "match clean files; or keep burn-ins out by crop, or by ignore in the setup file",
        ),
        "screen": (
            "{count} details of one view lie in a small picture of the whole other view, as on a monitor in "
            "frame: they were left out",
            "keep that screen out by ignore in the setup file",
        ),
    },
    "no-chart": {
        "": ("no colour chart was found in the two views", _CHART),
        "alone": ("a colour chart was found on {name} alone", _CHART),
    },
    # What speaks for it.
    "proven": {
        "": ("{count} surfaces that the match did not use agree to {after:.1f} CIEDE2000", _LOOK),
        "as shot": ("the camera as shot already agrees with the hero to {after:.1f} CIEDE2000", _LOOK),
    },
    "holds": (
        "on these frames {count} surfaces agree through the LUT to {after:.1f} CIEDE2000, as shot to {before:.1f}",
        "",
    ),
}
