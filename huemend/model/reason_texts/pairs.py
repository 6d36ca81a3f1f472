"""What pairs and colours ask for, and why they ask for nothing: found by `huemend.solve`."""

from __future__ import annotations

from collections.abc import Mapping

from huemend.model.reason_texts.said import OTHER_MOMENT, Said

_BY_HAND_OR_COLOURS = (
    f"{OTHER_MOMENT}, name a pair of areas by hand, or ask for a guess by colours alone (--by-colours)"
)
_COLOURS_ALONE = (
    "colours alone do not say more: {why}",
    f"{OTHER_MOMENT}, or name areas by hand that show one surface on both",
)
_PRESET = (
    "ask what white balance this camera and the hero were set to; develop a raw recording anew; or look at strong "
    "reds and blues first when you compare it with the hero"
)

PAIRS: Mapping[str, Said | Mapping[str, Said]] = {
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
            "{areas} named by hand {are} all that this angle and the hero are known to share, too few to pin a "
            "match",
            "name {fewest} or more, of different colours",
        ),
    },
    "contradictory": (
        "only {share:.0%} of what the two views seem to share agrees on one match",
        "check that hero and angle show the same moment and the same set",
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
    "contrast": (
        "the colours agree only with a contrast of {contrast} about mid-grey, which cameras "
        "that are decoded rightly do not need",
        "find the cause first: a wrong encoding or range, a look recorded in the camera, or haze in one view",
    ),
    "by-hand": (
        "the match rests on {areas} named by hand",
        "compare it with the hero on a calibrated display; every further area of another colour helps",
    ),
    "cameras-changed": (
        "what earlier setups of the day ({names}) learnt of these two cameras does not hold here and was left out",
        "see whether camera, lens, filter or look was changed on purpose since then",
    ),
    "few-colours": _COLOURS_ALONE,
    "colours-apart": _COLOURS_ALONE,
}
