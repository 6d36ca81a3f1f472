"""Which camera moved, and when.

Every camera is followed against its own first pictures (`huemend.validate.track`). Then cameras are compared with
one another: what moves all of them alike is the light; what moves one is that camera, the hero included.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np

from huemend.base.arrays import Bool
from huemend.model import Reason
from huemend.model.drift import Change, Drift, Series, Track
from huemend.model.reasons import Code
from huemend.options import DriftOptions

#: A jump between neighbouring pictures that holds this share of the whole change is a step.
_STEP_SHARE = 0.7
#: Turning back and forth at more than this share of the pictures makes flicker.
_TURN_SHARE = 0.4
#: Unevenness from row to row, in stops, beyond that from column to column, which a rolling shutter turns a
#: flickering lamp into.
_BAND_STOPS = 0.06
#: So many pictures in turn must say nothing before it is told: one or two are a slate, or somebody who walks by.
_UNKNOWN_PICTURES = 3


def compare_cameras(tracks: Mapping[str, Track], times: Sequence[float], options: DriftOptions) -> Drift:
    """Name what moves in cameras, the hero included, that were followed at the same times, in seconds."""
    common = _common(np.stack([track.stops for track in tracks.values()]))
    changes = _describe("", common, np.zeros(len(times)), times, options)
    for name, track in tracks.items():
        changes += _describe(name, track.stops - common, track.banding, times, options)
    return Drift(
        times=tuple(times),
        tracks=tracks,
        common=Track(stops=common, banding=np.zeros(len(times))),
        changes=tuple(changes),
    )


def _common(stops: Series) -> Series:
    """What all cameras, (cameras, 3, n), do alike, (3, n).

    With three or more it is the middle one; with two, the smaller move if both go the same way. With one there is
    nobody to compare it with, so that every move is the camera's own.
    """
    known = np.isfinite(stops)
    if len(stops) < 2:
        return np.zeros(stops.shape[1:])
    if len(stops) > 2:
        return np.asarray(np.nanmedian(np.where(known.any(axis=0), stops, 0.0), axis=0))
    filled = np.where(known, stops, 0.0)
    together = (filled > 0).all(axis=0) | (filled < 0).all(axis=0)
    return np.where(together, np.sign(filled[0]) * np.abs(filled).min(axis=0), 0.0)


def _describe(
    camera: str, stops: Series, banding: Series, times: Sequence[float], options: DriftOptions
) -> list[Change]:
    """Name what one camera (or the light) does beyond the limits."""
    out = []
    exposure, red_green, blue_green = stops
    if _largest(exposure) > options.exposure_limit:
        out.append(_change(camera, "exposure", exposure, times, options.exposure_limit))
    red, blue = _largest(red_green), _largest(blue_green)
    if max(red, blue) > options.balance_limit:
        series = red_green if red >= blue else blue_green
        out.append(_change(camera, "balance", series, times, options.balance_limit, red >= blue))
    banded = np.flatnonzero(banding > _BAND_STOPS)
    if len(banded):
        worst = float(np.nanmax(banding))
        start, end = float(times[banded[0]]), float(times[banded[-1]])
        text = f"{camera} shows bands of {worst:.2f} stop across the picture, as lamps that pulse do"
        out.append(
            Change(camera=camera, what="banding", how="flicker", stops=worst, start=start, end=end, text=text)
        )
    return out


def _largest(series: Series) -> float:
    known = series[np.isfinite(series)]
    return float(np.abs(known).max()) if known.size else 0.0


def _change(
    camera: str, what: str, series: Series, times: Sequence[float], limit: float, red: bool = True
) -> Change:
    known = np.flatnonzero(np.isfinite(series))
    values, at = series[known], np.asarray(times, float)[known]
    peak = int(np.argmax(np.abs(values)))
    stops = float(values[peak])
    steps = np.diff(values)
    how = _shape(values, steps, limit)
    if how == "step":
        jump = int(np.argmax(np.abs(steps)))
        start, end = float(at[jump]), float(at[jump + 1])
    elif how == "ramp":
        # From where it leaves a tenth of the way to where it has gone nine tenths.
        way = (values - values[0]) / (stops - values[0])
        start = float(at[max(int(np.argmax(way > 0.1)) - 1, 0)])
        end = float(at[int(np.argmax(way >= 0.9))])
    else:
        beyond = np.flatnonzero(np.abs(values) > limit)
        start, end = float(at[beyond[0]]), float(at[beyond[-1]])
    subject = f"{camera}'s {what}" if camera else f"the light's {what}"
    amount = f"{stops:+.2f} stop"
    if what == "balance":
        amount = f"{'red' if red else 'blue'} {amount} against green"
    verb = {"step": "jumps by", "ramp": "ramps by", "flicker": "flickers by up to", "wander": "wanders by up to"}[
        how
    ]
    text = f"{subject} {verb} {amount} from {_clock(start)} to {_clock(end)}{_cause(camera, what, how)}"
    return Change(camera=camera, what=what, how=how, stops=stops, start=start, end=end, text=text)


def _shape(values: Series, steps: Series, limit: float) -> str:
    span = float(values.max() - values.min())
    if len(steps) and float(np.abs(steps).max()) >= _STEP_SHARE * span:
        # One jump there and one back is flicker unless it stays for a while on either side.
        large = np.flatnonzero(np.abs(steps) >= 0.5 * span)
        if len(large) == 1:
            return "step"
    way = float(np.abs(steps).sum())
    if way > 0 and abs(float(values[-1] - values[0])) >= _STEP_SHARE * way:
        return "ramp"
    turns = np.sign(steps[1:]) * np.sign(steps[:-1]) < 0
    big = np.minimum(np.abs(steps[1:]), np.abs(steps[:-1])) > 0.5 * limit
    if len(turns) and float((turns & big).mean()) > _TURN_SHARE:
        return "flicker"
    return "wander"


def _cause(camera: str, what: str, how: str) -> str:
    if not camera:
        return ": all cameras see it, as with a cloud or a dimmer"
    if what == "balance":
        return ": white balance was set again, or sets itself"
    return {
        "step": ": iris, filter or sensitivity was changed",
        "ramp": ": iris or exposure follows the light",
        "flicker": ": lamps that pulse, or a shutter that does not fit them",
        "wander": ": exposure sets itself",
    }[how]


def _clock(seconds: float) -> str:
    minutes, rest = divmod(max(seconds, 0.0), 60)
    return f"{int(minutes):02d}:{rest:05.2f}"


def drift_reasons(drift: Drift, angle: str, hero: str, options: DriftOptions) -> tuple[Reason, ...]:
    """Say why an angle's one match may not hold over the whole range; empty if it does.

    What angle and hero do together a single match follows by itself; what one does against the other it cannot. It
    is made for how they stand to one another most of the time (`moments_apart`).
    """
    if not drift.follows(angle, hero):
        return ()
    between = drift.against(angle, hero)
    off = _unusual(between, options)
    reasons = []
    if off.any():
        named = [change.text for change in drift.changes if change.camera in (angle, hero)]
        ranges = _clocked(_runs(off, drift.times))
        what = "; ".join(named) or f"{angle} and {hero} part by up to {_largest(between.stops):.2f} stop"
        reasons.append(Code.DRIFT.because(ranges=ranges, what=what))
    for change in drift.changes:
        if change.what == "banding" and change.camera in (angle, hero):
            reasons.append(Code.BANDING.because(what=change.text))
    for camera in (angle, hero):
        unknown = _clocked(_runs(np.isnan(drift.tracks[camera].exposure), drift.times, _UNKNOWN_PICTURES))
        if unknown:
            reasons.append(Code.NOT_FOLLOWED.because(camera=camera, ranges=unknown))
    return tuple(reasons)


def moments_apart(
    drift: Drift, angle: str, hero: str, times: Sequence[Fraction], options: DriftOptions
) -> frozenset[int]:
    """Return at which of some moments an angle stands to the hero otherwise than most of the time.

    One match holds for the others: what `drift_reasons` names is the ranges that these lie in.
    """
    if angle not in drift.tracks or hero not in drift.tracks:
        return frozenset()
    off, at = _unusual(drift.against(angle, hero), options), np.asarray(drift.times)
    return frozenset(n for n, time in enumerate(times) if off[np.abs(at - float(time)).argmin()])


def _unusual(track: Track, options: DriftOptions) -> Bool:
    """Return when a track is beyond the limits of where it is most of the time; unknown is not beyond."""
    series = _in_limits(track, options)
    off: Bool = np.abs(series[:, :, None] - series[:, None, :]).max(axis=0) > 1
    agreeing = np.where(np.isfinite(series).all(axis=0), (~off).sum(axis=1), 0)
    return np.asarray(off[int(agreeing.argmax())])


def _in_limits(track: Track, options: DriftOptions) -> Series:
    """Return exposure and both balances, each in units of how far it may go, (3, n)."""
    limits = np.array([options.exposure_limit, options.balance_limit, options.balance_limit])
    return np.asarray(track.stops / limits[:, None])


def _runs(where: Bool, times: Sequence[float], fewest: int = 1) -> list[tuple[float, float]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], where, [False]]).astype(int)))
    runs = zip(edges[::2], edges[1::2], strict=True)
    return [(times[start], times[stop - 1]) for start, stop in runs if stop - start >= fewest]


def _clocked(runs: Sequence[tuple[float, float]]) -> str:
    return ", ".join(f"{_clock(start)} to {_clock(end)}" for start, end in runs)


def with_segments(drift: Drift, hero: str, options: DriftOptions) -> Drift:
    """Say of every angle that was followed beside the hero where its range would be cut."""
    angles = [name for name in drift.tracks if name != hero and hero in drift.tracks]
    return replace(drift, segments={name: segments(drift, name, hero, options) for name in angles})


def segments(drift: Drift, angle: str, hero: str, options: DriftOptions) -> tuple[tuple[float, float], ...]:
    """Cut the common range where one match would no longer hold, without gaps, (start, end) in seconds.

    Each segment is as long as angle and hero stay within the limits of the segment's middle; its ends lie
    halfway between the pictures on either side of a cut.
    """
    between = drift.against(angle, hero)
    series = _in_limits(between, options)
    times = drift.times
    cuts, start = [], 0
    for index in range(1, len(times)):
        part = series[:, start : index + 1]
        known = part[:, np.isfinite(part).all(axis=0)]
        # The middle of a segment may lie one limit from either end.
        if known.size and float((known.max(axis=1) - known.min(axis=1)).max()) > 2.0:
            cuts.append((times[index - 1] + times[index]) / 2)
            start = index
    # What is too short to be cut apart goes with its neighbour.
    kept: list[float] = []
    for cut in cuts:
        if cut - (kept[-1] if kept else times[0]) >= options.shortest_segment:
            kept.append(cut)
    if kept and times[-1] - kept[-1] < options.shortest_segment:
        kept.pop()
    edges = [times[0], *kept, times[-1]]
    return tuple(pairwise(edges))
