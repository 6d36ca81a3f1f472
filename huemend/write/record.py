"""The record of one setup, ``report.json``: everything found, in a versioned schema.

The schema is record.schema.json beside this module. The same input, versions and platform give the same bytes:
there are no times, hosts or absolute paths in it, and numbers are rounded well below what the evidence supports.
Where `_plain` is given a dataclass, the names of its fields are keys of the record: whoever renames one changes
the schema.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

import numpy as np

from huemend.model import (
    AngleResult,
    HeldOut,
    Interval,
    LeastErrorTrade,
    Match,
    Reason,
    SetupResult,
    Verdict,
)
from huemend.model.clips import SampledClip, SampledClips
from huemend.model.drift import Drift, Track
from huemend.model.verdict import WORST_FIRST
from huemend.options import MatchOptions
from huemend.write.luts.cdl import CdlEntry
from huemend.write.luts.hues import beyond_matrix
from huemend.write.luts.kinds import LutFile
from huemend.write.outputs import Output, file_name
from huemend.write.versions import versions

# What a record takes from a clip under the same name.
_OF_CLIPS = ("matrix", "range", "assumed", "tagged_transfer", "tagged_primaries", "reel", "notes")

#: Grows by one when a script that reads the record would have to change.
SCHEMA = "huemend-record/2"


def make_record(
    result: SetupResult,
    *,
    luts: Mapping[str, Sequence[LutFile]],
    cdls: Mapping[str, CdlEntry],
    options: MatchOptions,
) -> dict[str, Any]:
    """Return the record of a setup, ready for JSON: all but ``files``, which the output folder adds.

    LUTs go by the angles' names, the hero's among them, and so do the closest CDLs. The options say, with the
    inputs, whether another run would come out the same.
    """
    setup = result.setup
    verdicts = [found.verdict for found in result.angles]
    return {
        "schema": SCHEMA,
        **versions(),
        "setup": setup.name,
        "hero": setup.hero,
        "verdict": str(next((worst for worst in WORST_FIRST if worst in verdicts), Verdict.MATCHED)),
        "working_space": "ACEScg",
        "view_exposure_stops": _number(result.view_stops),
        "hero_balance": _plain(result.hero_balance),
        "hero_luts": [_lut(file) for file in luts.get(setup.hero, ())],
        "ccc": Output.CDLS.of(file_name(setup.name)) if cdls else None,
        "angles": {
            found.angle.name: _angle(found, luts.get(found.angle.name, ()), cdls.get(found.angle.name))
            for found in result.angles
        },
        "inputs": [{**_plain(file), "source": portable(file.source)} for file in result.inputs],
        "clips": None if result.clips is None else clips_record(result.clips),
        "drift": None if result.drift is None else drift_record(result.drift),
        "options": options_record(options),
    }


def options_record(options: MatchOptions) -> dict[str, Any]:
    """Return options as a record holds them."""
    return {name: _plain(value, 12) for name, value in dataclasses.asdict(options).items()}


def clips_record(clips: SampledClips) -> dict[str, Any]:
    """Return how clips were read as a record tells it."""
    return {
        "span_seconds": [_number(edge) for edge in clips.span],
        "moments_seconds": [_number(time) for time in clips.moments],
        "moments_rejected": _plain(clips.rejected),
        "moments_forced": clips.forced,
        "notes": list(clips.notes),
        "angles": {name: _clip(clip) for name, clip in clips.angles.items()},
    }


def _clip(clip: SampledClip) -> dict[str, Any]:
    frames, sync = clip.frames, clip.frames.sync
    return {
        "source": clip.source,
        "codec": clip.codec,
        "pixel_layout": clip.pixel_layout,
        "size": list(clip.size),
        "fps": str(frames.fps),
        "frames": frames.count,
        "start_timecode": None if frames.timecode is None else str(frames.timecode),
        **{name: _plain(getattr(clip, name)) for name in _OF_CLIPS},
        "sync": {
            "how": sync.how,
            "start_seconds": _number(sync.start),
            "confidence": _number(sync.confidence, 3),
            "text": sync.text,
        },
        "moments": [{"frame": frame, "timecode": frames.label(frame)} for frame in clip.moments],
    }


def drift_record(drift: Drift) -> dict[str, Any]:
    """Return what moved as a record tells it: where to cut, the series for a plot, and the table of changes."""
    return {
        "segments": _plain(drift.segments, 3),
        "times": _plain(drift.times, 3),
        "cameras": {name: _track(track) for name, track in drift.tracks.items()},
        "light": _track(drift.common),
        "changes": [{**_plain(change, 3), "camera": change.camera or None} for change in drift.changes],
    }


def _track(track: Track) -> dict[str, Any]:
    """Return the series; a picture that says nothing is null."""
    return dict(zip(("exposure", "red_green", "blue_green"), _plain(track.stops, 4), strict=True))


def _angle(found: AngleResult, luts: Sequence[LutFile], cdl: CdlEntry | None) -> dict[str, Any]:
    lent = found.carried
    return {
        "verdict": str(found.verdict),
        "reasons": [_reason(reason) for reason in found.reasons],
        "model": str(found.rung),
        "explained": found.explained,
        **_match(found.delivered),
        **_nudge(found),
        "candidate": None if found.candidate is None else _match(found.candidate),
        "uncertainty": _plain(found.uncertainty),
        "held_out": _held_out(found.held_out),
        "samples": {
            "source": found.pairs.source,
            "found": int(found.pairs.found),
            "matched": int(found.pairs.matched),
            "rejected": {str(rule): int(count) for rule, count in sorted(found.pairs.rejected.items())},
            "pairs": len(found.pairs),
            "used": int(np.count_nonzero(found.agrees)),
        },
        # What earlier setups of the day lent is in their own records.
        "carried": None if lent is None else {"balance": list(lent.balance), "mix": list(lent.mix)},
        "people": _plain(found.people),
        "least_error_on": _least_error(found.least_error),
        **{name: getattr(found.angle, name) for name in ("encoding", "range", "exposure_index")},
        "luts": [_lut(file) for file in luts],
        "cdl": _cdl(cdl),
    }


def _nudge(found: AngleResult) -> dict[str, Any]:
    """Keep a nudge and the match as solved apart from what is delivered; both null where nobody nudged."""
    nudge = found.angle.nudge
    if not nudge or found.match is None:
        return {"nudge": None, "solved": None}
    return {"nudge": _plain(nudge), "solved": _match(found.match)}


def _least_error(told: LeastErrorTrade | None) -> dict[str, Any] | None:
    """Say what came of areas that were to match best; null where nobody named any, or the angle shows none."""
    if told is None:
        return None
    sides = {"there": told.there, "elsewhere": told.elsewhere}
    return {
        "names": list(told.names),
        **{side: {"before": _number(before), "after": _number(after)} for side, (before, after) in sides.items()},
    }


def _match(match: Match | None) -> dict[str, Any]:
    if match is None:
        return {"exposure_stops": None, "matrix": None, "flare": None, "contrast": None}
    said: dict[str, Any] = {
        "exposure_stops": _number(match.exposure_stops, 8),
        "matrix": [[_number(x, 8) for x in row] for row in match.matrix.tolist()],
        "flare": [_number(x, 8) for x in match.flare.tolist()],
        "contrast": _number(match.contrast, 8),
    }
    if match.roots.any():
        said["roots"] = [[_number(x, 8) for x in row] for row in match.roots.tolist()]
        said["beyond_matrix"] = {name: _number(moved) for name, moved in beyond_matrix(match).items()}
    return said


def _reason(reason: Reason) -> dict[str, Any]:
    said: dict[str, Any] = {"code": reason.code, "text": reason.text, "todo": reason.todo}
    places = {name: getattr(reason, name) for name in ("place", "reference_place")}
    return said | {name: _plain(place) for name, place in places.items() if place is not None}


def _held_out(found: HeldOut | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "before": _plain(found.before),
        "after": _plain(found.after),
        "upper": _number(found.upper),
        "clipped_share": _number(found.clipped_share),
        "areas": {
            str(label): {"before": _plain(before), "after": _plain(after)}
            for label, (before, after) in sorted(found.areas.items())
        },
    }


def _lut(file: LutFile) -> dict[str, Any]:
    said = {"error_codes" if name == "error" else name: value for name, value in _plain(file).items()}
    return {**said, "size": file.size or None}


def _cdl(entry: CdlEntry | None) -> dict[str, Any] | None:
    if entry is None:
        return None
    return {
        "id": entry.id,
        "input": entry.input,
        **{name: list(getattr(entry.cdl, name)) for name in ("slope", "offset", "power")},
        "saturation": entry.cdl.saturation,
        "residual": {"mean": _number(entry.mean), "p95": _number(entry.p95)},
    }


def portable(source: str) -> str:
    """Keep a relative name; of an absolute path keep the file name alone, so that no machine shows."""
    if PurePosixPath(source).is_absolute() or PureWindowsPath(source).is_absolute():
        return PureWindowsPath(source).name
    return source.replace("\\", "/")


def _number(value: float | Fraction, digits: int = 6) -> float | None:
    """Round; None where there is no number, because JSON has none for it either."""
    value = float(value)
    # Adding zero turns -0.0 into 0.0.
    return round(value, digits) + 0.0 if math.isfinite(value) else None


def _plain(value: Any, digits: int = 6) -> Any:
    """Turn a dataclass, or what one holds, into what JSON holds, numbers rounded; an interval is two of them."""
    if isinstance(value, Interval):
        return [_number(value.low, digits), _number(value.high, digits)]
    if dataclasses.is_dataclass(value):
        value = {field.name: getattr(value, field.name) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(item, digits) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item, digits) for item in value]
    if isinstance(value, (np.ndarray, np.generic)):
        return _plain(value.tolist(), digits)
    if isinstance(value, float):
        return _number(value, digits)
    if value is None or isinstance(value, (bool, int, str)):
        return value
    # Where a file lay is this machine's business.
    return value.name if isinstance(value, Path) else str(value)
