"""What pictures show beside the match, and no match can mend: found by modules of `huemend.validate`.

Flare from one side is found by the solve.
"""

from __future__ import annotations

from collections.abc import Mapping

from huemend.model.reason_texts.said import Said

_CHART = (
    "choose a moment at which both show it, whole and wider than a tenth of the picture, or leave "
    "chart out of the setup file"
)
_CORNERS = (
    "take the vignetting out of this angle's media and match again, or judge the match in the middle of the "
    "picture and treat the corners apart in the grade"
)
_SIDES = "look at both sides of the picture, and treat them apart in the grade"

PICTURES: Mapping[str, Said | Mapping[str, Said]] = {
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
    "not-followed": (
        "whether {camera} changes in exposure or balance is unknown for {ranges}: it shows something else there",
        "look at the match there",
    ),
    "rendered": (
        "this is a picture made for a display ({encoding}): the look and knee in it are not "
        "known, and a match cannot undo them",
        "compare skin and highlights with the hero on a calibrated display, or use the log recording",
    ),
    "clipped": {
        "": (
            "{share} of this angle is clipped at a brightness that the hero still holds: matched, it is a "
            "flat area, darker than on the hero, and no LUT brings detail or colour back",
            "take another exposure of this angle if there is one, or treat what clips apart in the grade; judge "
            "the match on what is not clipped",
        ),
        "hero": (
            "{share} of the hero is clipped at a brightness that this angle, once matched, goes beyond, by "
            "{off:.1f} CIEDE2000 on average over its whole picture: there is nothing there to match to",
            "judge the match on what the hero holds; roll the highlights of this angle off to those of the hero "
            "in the grade, or take another exposure of the hero",
        ),
    },
    "clips-early": (
        "{share} of this angle is clipped at a brightness that the hero still holds; a match may "
        "tint those highlights, and cannot bring them back",
        "look at windows and lamps first; roll its highlights off to neutral, in the grade or with "
        "--neutral-highlights",
    ),
    "hero-clips": (
        "{share} of the hero is clipped at a brightness that this angle still holds: there is nothing there "
        "to match to",
        "judge the match on what the hero holds; set the highlights of both by eye",
    ),
    "vignetting": {
        "loses": (
            "from its middle to the outermost that both show, this angle loses {seen:.2f} stop against the "
            "hero{corners}, as by a lens that falls off (vignetting) or by light that is not the same: one match "
            "cannot mend it",
            _CORNERS,
        ),
        "gains": (
            "from its middle to the outermost that both show, this angle gains {seen:.2f} stop against the "
            "hero{corners}, as by light that is not the same: one match cannot mend it",
            _CORNERS,
        ),
    },
    "colour-shading": {
        "across": (
            "from the leftmost to the rightmost that both show, this angle turns by {red} stop of red and {blue} "
            "of blue over green against the hero, as by flare or coloured light on one side of it: one match "
            "cannot mend it",
            _SIDES,
        ),
        "down": (
            "from the topmost to the lowest that both show, this angle turns by {red} stop of red and {blue} of "
            "blue over green against the hero, as by flare or coloured light on one side of it: one match cannot "
            "mend it",
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
        "surfaces better than even flare: one match cannot mend it",
        _SIDES,
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
    "saturated-light": (
        "{share} of this angle is {hue} light more saturated than a colour chart, such as a lamp or neon; {what}",
        "key the lamp or neon and treat it apart, or compress the gamut ahead of the grade; judge the match on "
        "skin and neutrals, not on it",
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
}
