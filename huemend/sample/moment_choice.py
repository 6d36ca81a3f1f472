"""Which moments of a setup to sample, and how to quieten them.

Moments are judged on luma alone, on small pictures of a few frames around each candidate. A moment must be good in
every angle, since all angles are compared at the same moments; among the good ones those are taken that lie apart
in time and show people in different poses.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from huemend.base.arrays import Float, Float32
from huemend.base.cv import import_cv2
from huemend.base.units import FROM_MAD
from huemend.options import ClipOptions

#: Frames that are only held against their neighbours are looked at in every so-manieth sample both ways.
THIN = 4
#: Edges that tell focus are few: this share of all differences.
_STEEPEST = 0.01
#: A pixel differs from the median picture if it is this far off, in codes (about a stop of log).
_OTHER = 0.08
#: A level (median, codes) that is this far off the usual one is another exposure: a third of a stop of log.
_OTHER_LEVEL = 0.025
#: What a place of the picture must show to be called still: its mean over a box of this side...
_BOX = 9
#: ...within this many standard errors of the noise.
_ERRORS = 4.0


@dataclass(frozen=True, kw_only=True, eq=False)
class MomentStats:
    """What one angle looks like at one candidate moment."""

    #: (h, w) float32. Small luma picture, codes 0..1.
    proxy: Float
    #: Standard deviation of luma.
    spread: float
    #: Steepness of the picture's strongest edges.
    sharpness: float
    #: How far the mean level is off both neighbouring frames (0 if it lies between them, or they were not seen).
    jump: float = 0.0
    #: Mean difference to the nearer neighbouring frame: noise and motion; NaN where none was seen.
    motion: float = float("nan")
    #: (h, w) float32 or None. Every `THIN`-th sample of luma both ways, kept until neighbouring frames were seen.
    thinned: Float | None = None


@dataclass(frozen=True, kw_only=True)
class Choice:
    """Which candidates were taken and why others were not."""

    #: In order of time.
    indices: tuple[int, ...]
    #: Mapping of rule to count. Candidates by the first rule that spoke against them.
    rejected: Mapping[str, int]
    #: No candidate was good in every angle: the least bad ones were taken.
    forced: bool


def measure_moment(luma: Float, options: ClipOptions) -> MomentStats:
    """Judge one frame by itself: (height, width) of luma, codes 0..1."""
    cv2, luma = import_cv2(), np.ascontiguousarray(luma)
    # Averaged down so that the longer side is about what is asked for.
    step = max(1, round(max(luma.shape) / options.proxy_side))
    height, width = luma.shape[0] // step, luma.shape[1] // step
    whole = luma[: height * step, : width * step]
    spread = cv2.meanStdDev(np.ascontiguousarray(luma[::2, ::2]))[1]
    return MomentStats(
        proxy=cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA),
        spread=float(spread[0, 0]),
        sharpness=_sharpness(luma),
        thinned=thinned(luma),
    )


def thinned(luma: Float) -> Float:
    """Return some of the samples: they say as well as all how far frames are apart."""
    return luma[::THIN, ::THIN].copy()


def beside(looked: MomentStats, around: Sequence[Float]) -> MomentStats:
    """Judge a frame next to those around it as well, `thinned` as it is; none is around at the ends of a clip."""
    if looked.thinned is None or not around:
        return looked
    here, others = looked.thinned, around
    shifts = [float(here.mean()) - float(other.mean()) for other in others]
    # A ramp or a pan lies between its neighbours; a flash stands out from both.
    lonely = min(shifts) > 0 or max(shifts) < 0
    jump = min(abs(shift) for shift in shifts) if lonely else 0.0
    motion = min(float(np.abs(here - other).mean()) for other in others)
    return replace(looked, jump=jump, motion=motion, thinned=None)


def _sharpness(luma: Float) -> float:
    # Two by two pixels are averaged first, so that noise does not pass for focus.
    height, width = luma.shape[0] // 2, luma.shape[1] // 2
    if min(height, width) < 2:
        return 0.0
    cv2 = import_cv2()
    quads = cv2.resize(luma[: 2 * height, : 2 * width], (width, height), interpolation=cv2.INTER_AREA)
    # A quarter of them, evenly picked, has the same percentile.
    down, across = quads[1::2, ::2] - quads[:-1:2, ::2], quads[::2, 1::2] - quads[::2, :-1:2]
    edges = np.abs(np.concatenate([down.ravel(), across.ravel()]))
    # A few of them tell which need not be put in order: of those the number is enough.
    steep = edges[edges >= np.quantile(edges[::16], 1 - 3 * _STEEPEST)]
    share = _STEEPEST * (len(edges) - 1) / max(len(steep) - 1, 1)
    return float(np.quantile(edges, 1 - _STEEPEST) if share > 1 else np.quantile(steep, 1 - share))


def choose_moments(
    stats: Mapping[str, Sequence[MomentStats]],
    times: Sequence[float],
    count: int,
    options: ClipOptions,
) -> Choice:
    """Choose at most ``count`` moments that are good in every angle and differ from one another.

    ``stats`` hold one look of each angle for each candidate; ``times`` are theirs, in seconds, rising.
    """
    faults: list[list[str]] = [[] for _ in times]
    for series in stats.values():
        for index, fault in enumerate(_faults(series, options)):
            if fault:
                faults[index].append(fault)
    good = [index for index, fault in enumerate(faults) if not fault]
    forced = not good
    if forced:
        fewest = min(len(fault) for fault in faults)
        good = [index for index, fault in enumerate(faults) if len(fault) == fewest]
    rejected = Counter(fault[0] for index, fault in enumerate(faults) if fault and index not in good)
    taken = _spread_out(good, stats, times, count)
    return Choice(indices=tuple(taken), rejected=dict(sorted(rejected.items())), forced=forced)


def _faults(series: Sequence[MomentStats], options: ClipOptions) -> list[str]:
    """The first rule that speaks against each candidate, or an empty string."""
    sharp = float(np.median([look.sharpness for look in series]))
    spread = float(np.median([look.spread for look in series]))
    known = [look.motion for look in series if np.isfinite(look.motion)]
    motion = float(np.median(known)) if known else 0.0
    out = []
    for look, other in zip(series, _others(series), strict=True):
        if look.spread < options.flat_share * spread:
            out.append("black or fade")
        elif look.jump > options.flash:
            out.append("flash")
        elif look.sharpness < options.blur_share * sharp:
            out.append("blurred")
        elif other > options.other_share:
            out.append("another picture")
        elif look.motion < options.frozen_share * motion:
            out.append("frozen")
        else:
            out.append("")
    return out


def _others(series: Sequence[MomentStats]) -> list[float]:
    """Return the share of each picture that differs from the median picture of all."""
    middle = np.median([look.proxy for look in series], axis=0)
    middle = middle - np.median(middle)
    # Its own median goes first: a change of exposure is no change of picture.
    return [float((np.abs(look.proxy - np.median(look.proxy) - middle) > _OTHER).mean()) for look in series]


def clearest(stats: Mapping[str, Sequence[MomentStats]], indices: Sequence[int]) -> int:
    """Return which of some candidates shows most of what all of them do: there people hide least of the set.

    One at which an iris or a light stands as it does at most of all is preferred: a match is made of those.
    """
    hidden = np.sum([_others(series) for series in stats.values()], axis=0)
    levels = np.array([[float(np.median(look.proxy)) for look in series] for series in stats.values()])
    off = np.abs(levels - np.median(levels, axis=1, keepdims=True)).max(axis=0)
    usual = [index for index in indices if off[index] < _OTHER_LEVEL]
    return min(usual or indices, key=lambda index: float(hidden[index]))


def _spread_out(
    good: Sequence[int], stats: Mapping[str, Sequence[MomentStats]], times: Sequence[float], count: int
) -> list[int]:
    """Take the candidate farthest from those taken, in time and in pose, again and again."""
    if len(good) <= count:
        return list(good)
    at = np.array([times[index] for index in good])
    gap = np.abs(at[:, None] - at[None, :]) / max(float(at[-1] - at[0]) / count, 1e-9)
    # Beyond the even spacing, more time between two moments is worth no more.
    distance = np.minimum(gap, 1.0)
    for series in stats.values():
        flat = np.stack([series[index].proxy.ravel() for index in good])
        pose = np.array([np.abs(flat - one).mean(axis=1) for one in flat])
        distance = distance + pose / max(float(np.median(pose)), 1e-6) / (2 * len(stats))
    sharp = np.sum([[series[index].sharpness for index in good] for series in stats.values()], axis=0)
    taken = [int(np.argmax(sharp))]
    nearest = distance[taken[0]].copy()
    while len(taken) < count:
        nearest[taken] = -1.0
        best = int(np.argmax(nearest))
        taken.append(best)
        nearest = np.minimum(nearest, distance[best])
    return [good[index] for index in sorted(taken)]


def steady_mean(frames: Sequence[Float], centre: int) -> tuple[Float32, float]:
    """Average neighbouring frames where nothing moves.

    Where the local mean of a neighbour differs from the centre's by more than its noise explains, that neighbour
    is left out there, so that motion is never smeared and a light that flickers is never mixed. With the picture,
    (height, width, 3), comes how many frames were averaged in a pixel, on average.
    """
    cv2 = import_cv2()
    base = np.asarray(frames[centre], np.float32)
    total = base.copy()
    count = np.ones(base.shape[:2], np.float32)
    for index, frame in enumerate(frames):
        if index == centre:
            continue
        other = np.asarray(frame, np.float32)
        change = other - base
        # Median absolute deviation: motion in less than half of the picture does not count as noise. One pixel in
        # sixteen tells it as well as all.
        noise = FROM_MAD * float(np.median(np.abs(change[::4, ::4])))
        if noise == 0.0 and not change.any():
            continue  # the same frame again brings nothing
        limit = _ERRORS * max(noise, 1e-6) / _BOX
        still = cv2.inRange(cv2.blur(change, (_BOX, _BOX)), (-limit,) * 3, (limit,) * 3)
        # A moving edge is found a little late by its mean: keep clear of it.
        still = cv2.erode(still, np.ones((_BOX, _BOX), np.uint8)).astype(np.float32) / np.float32(255)
        total += other * still[..., None]
        count += still
    return total / count[..., None], float(count.mean())
