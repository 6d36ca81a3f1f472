"""Measure delivered match LUTs on other frames of their setup.

The frames are matched anew, to learn which surfaces the views share; then each delivered LUT is applied to the
angle's colours there and measured against the hero, as the report measured it on its own frames. What a new match
would do differently is told beside it: a camera that was re-balanced, or light that changed, shows as drift.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from huemend.base.units import AP1_LUMINANCE
from huemend.encodings.registry import encoding_of
from huemend.errors import OutputError
from huemend.flow.delivered import MatchLut, check_hero, delivered_record, match_lut
from huemend.flow.match import match_setup
from huemend.model import AngleResult, ErrorSummary, HeldOut, Match, OnEvent, Reason, Setup, SetupResult, Verdict
from huemend.options import MatchOptions
from huemend.validate.decide import decide_delivered
from huemend.validate.proof import measure
from huemend.write.luts.cube import apply_cube
from huemend.write.luts.cube_file import parse_cube
from huemend.write.record import clips_record
from huemend.write.record_reading import RECORD, match_of

#: What a record says of a clip that tells it from another take of the same camera.
_OF_ONE_CLIP = ("source", "codec", "size", "fps", "frames", "start_timecode", "reel")


@dataclass(frozen=True, kw_only=True)
class Verified:
    """What other frames say of one delivered match LUT."""

    angle: str
    #: ``matched``: it holds on these frames. ``review``: it does not, or less well. ``unsolved``: these frames
    #: cannot say, or there is no LUT.
    verdict: Verdict
    reasons: tuple[Reason, ...]
    #: As shot, and through the LUT.
    held_out: HeldOut | None = None
    #: What a match of these frames would add to the delivered one, in stops.
    exposure_drift: float | None = None
    red_green_drift: float | None = None
    blue_green_drift: float | None = None
    #: What the match itself was found to be when it was made.
    match_verdict: Verdict | None = None
    #: True if the match was made on these very stills.
    same_stills: bool = False
    #: True if it was made on these very clips, which are too short for other frames.
    same_frames: bool = False

    def as_record(self) -> dict[str, Any]:
        """Return it ready for JSON; numbers that are none are null."""
        held = self.held_out
        errors = None if held is None else {"before": _errors(held.before), "after": _errors(held.after)}
        return {
            "verdict": str(self.verdict),
            "match_verdict": None if self.match_verdict is None else str(self.match_verdict),
            "same_stills": self.same_stills,
            "same_frames": self.same_frames,
            "reasons": [{"code": r.code, "text": r.text, "todo": r.todo} for r in self.reasons],
            "held_out": errors,
            "exposure_drift": _rounded(self.exposure_drift),
            "red_green_drift": _rounded(self.red_green_drift),
            "blue_green_drift": _rounded(self.blue_green_drift),
        }


def verify_setup(setup: Setup, delivered: Path, on_event: OnEvent | None = None) -> tuple[Verified, ...]:
    """Measure the match LUTs of an output folder on a setup's frames.

    The setup's media are the other frames; its angles are named as when the LUTs were made. Raises OutputError
    if the folder holds no record, or that of other angles, or of media in another encoding or range; LutError
    if a LUT cannot be read, or is not the one that was written with the record.
    """
    options = MatchOptions()
    record = delivered_record(delivered)
    missing = [angle.name for angle in setup.others if angle.name not in record["angles"]]
    if missing or record["hero"] != setup.hero:
        raise OutputError(
            f"these are the results of hero {record['hero']} and {', '.join(record['angles'])}",
            where=delivered / RECORD,
            todo=f"name hero and angles alike (not known there: {', '.join(missing) or setup.hero})",
        )
    check_hero(record, delivered, setup)
    luts = {angle.name: match_lut(record, delivered, setup, angle.name) for angle in setup.others}
    # The frames of the same clips that the match was made on would prove nothing.
    used = [
        Fraction(time).limit_denominator(1_000_000)
        for time in (record.get("clips") or {}).get("moments_seconds", ())
    ]
    result = match_setup(setup, options, on_event, avoid=used)
    known = {each["sha256"] for each in record["inputs"] if each["sha256"]}
    stills = {file.angle for file in result.inputs if file.sha256 in known}
    seen = stills | _looked_at_again(result, record)
    verified = []
    for found in result.angles:
        pair = {found.angle.name, setup.hero}
        verified.append(
            replace(
                _verify(found, result, record, luts[found.angle.name], options),
                match_verdict=Verdict(record["angles"][found.angle.name]["verdict"]),
                same_stills=pair <= stills,
                same_frames=pair <= seen and not pair <= stills,
            )
        )
    return tuple(verified)


def _looked_at_again(result: SetupResult, record: Mapping[str, Any]) -> set[str]:
    """Return the angles whose clips are those that were matched, and of which no other frames were looked at."""
    if result.clips is None or not result.clips.again:
        return set()
    now, then = clips_record(result.clips)["angles"], (record.get("clips") or {}).get("angles", {})
    return {name for name in now if all(now[name][key] == then.get(name, {}).get(key) for key in _OF_ONE_CLIP)}


def _verify(
    found: AngleResult, result: SetupResult, record: Mapping[str, Any], lut: MatchLut | None, options: MatchOptions
) -> Verified:
    name = found.angle.name
    fitted, made = found.match or found.candidate, record["angles"][name]
    if lut is None or fitted is None or not found.agrees.any():
        why = () if lut is None else found.reasons
        none = decide_delivered(None, found.pairs, options.validate, why_not=why)
        return Verified(angle=name, verdict=none.verdict, reasons=none.reasons)
    # What somebody wanted beyond the match is no error of it.
    matched = _through(lut, found, result) / _nudge_gains(made)
    held_out = measure(found.pairs, matched, found.agrees, options.validate, view_stops=result.view_stops)
    known_to = (made["uncertainty"] or {}).get("skin_error") or np.inf
    decision = decide_delivered(held_out, found.pairs, options.validate, skin_error=known_to)
    drift = _drift(made, fitted.combined)
    return Verified(
        angle=name,
        verdict=decision.verdict,
        reasons=decision.reasons,
        held_out=held_out,
        exposure_drift=drift[0],
        red_green_drift=drift[1],
        blue_green_drift=drift[2],
    )


def _through(
    lut: MatchLut, found: AngleResult, result: SetupResult
) -> np.ndarray[Any, np.dtype[np.floating[Any]]]:
    """Take the angle's colours through the LUT as a host would: camera codes in, codes out, then to light."""
    out = shot = encoding_of(found.angle.name, result.setup)
    if lut.entry["output"] != lut.entry["input"]:
        out = encoding_of(result.setup.hero, result.setup)
    cube = parse_cube(lut.data, str(lut.path))
    codes = shot.encode(found.pairs.angle_rgb, lut.entry["input_range"])
    return np.asarray(out.decode(apply_cube(cube, codes), lut.entry["output_range"]))


def _nudge_gains(entry: Mapping[str, Any]) -> np.ndarray[Any, np.dtype[np.floating[Any]]]:
    """Return the gains (3,) that a nudge puts on the matched light; ones where nobody nudged."""
    delivered, solved = match_of(entry), _solved(entry)
    if delivered is None or solved is None:
        return np.ones(3)
    return np.asarray((delivered.combined.sum(1) / solved.combined.sum(1)) ** solved.contrast)


def _solved(entry: Mapping[str, Any]) -> Match | None:
    return match_of(entry.get("solved") or entry)


def _drift(entry: Mapping[str, Any], fitted: Any) -> tuple[float, float, float]:
    """Return what a new match adds to the one that was solved, on a neutral: stops, red and blue against green."""
    solved = _solved(entry)
    if solved is None:
        return 0.0, 0.0, 0.0
    new, old = fitted @ np.ones(3), solved.combined @ np.ones(3)
    (red, green, blue), luminance = np.log2(new / old), np.log2(AP1_LUMINANCE @ new / (AP1_LUMINANCE @ old))
    return float(luminance), float(red - green), float(blue - green)


def _errors(found: ErrorSummary) -> dict[str, float | int | None]:
    return {"mean": _rounded(found.mean), "p95": _rounded(found.p95), "n": found.n}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4) + 0.0
