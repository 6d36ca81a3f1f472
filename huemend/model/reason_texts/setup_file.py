"""What came of areas and wishes of a setup file: found by `huemend.flow.wishes`, and for marks by the solve."""

from __future__ import annotations

from collections.abc import Mapping

from huemend.model.reason_texts.said import Said

_KEPT = (
    "raise keep_limit, or leave {name} out of keep_as_shot, if the hero is to win; to have it match best, name it "
    "in least_error_on"
)
_LEFT_OUT = "{remark}, or leave that mark out"

SETUP_FILE: Mapping[str, Said | Mapping[str, Said]] = {
    "mark-contradicted": {
        "": (
            "the mark {label!r} was left out{wish} because the other marks contradict it: "
            "alone it would give {alone}, the rest gives {others}",
            _LEFT_OUT,
        ),
        "by pictures": (
            "the mark {label!r} was left out{wish} because everything found without help contradicts it: "
            "alone it would give {alone}, the rest gives {others}",
            f"{_LEFT_OUT}; if it is right and the rest is not, match by marks alone (--marks-only)",
        ),
    },
    "mark-met": {
        "": (
            "the match meets {names} as nearly as two areas drawn by hand agree: marks there ask for nothing",
            "to match it closer all the same, name it under least_error_on",
        ),
        "in part": (
            "marks on {names} were followed only as far as that moves what was found elsewhere by {most} "
            "CIEDE2000 or less: in full they would move it farther",
            "to match it closer all the same, name it under least_error_on, or nudge the angle",
        ),
    },
    "nothing-to-keep": (
        "{name} is to stay as shot, and this angle shows none that is known",
        "mark it: a [[pair]] named {name!r} with an area on this angle",
    ),
    "kept-as-shot": (
        "the match would move {name} by {moved} CIEDE2000, where {limit} is allowed: {how} to that{rest}",
        _KEPT,
    ),
    "stays-as-shot": (
        "{name} stays within {limit} CIEDE2000 of how it was shot, as the setup file asks, where the match would "
        "move it by {moved}{rest}",
        _KEPT,
    ),
    "least-error": {
        "": (
            "{names} came first, as the setup file asks: {before:.1f} -> {after:.1f} CIEDE2000 there against the "
            "plain match{rest}",
            "take least_error_on out if the rest is to win",
        ),
        "held": (
            "{names} was to come first, as the setup file asks, and what is to stay as shot stood against that: "
            "{before:.1f} -> {after:.1f} CIEDE2000 there against the plain match{rest}",
            "take one of least_error_on and keep_as_shot out",
        ),
        "as close": (
            "{names} came first, as the setup file asks, and nothing that the rest allows brings it nearer than "
            "{before:.1f} CIEDE2000 by {gain:.2f} or more",
            "",
        ),
    },
    "not-seen": (
        "{name} is to match best, and this angle shows none that is known",
        "mark it: a [[pair]] named {name!r} with an area on this angle",
    ),
}
