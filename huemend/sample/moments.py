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
from numpy.typing import NDArray

from huemend.base.arrays import Float
from huemend.base.cv import import_cv2
from huemend.options import ClipOptions

#: Edges that tell focus are few: they are the top percent of all differences.
_EDGE_PERCENTILE = 99.0
#: A pixel differs from the median picture if it is this far off, in codes (about a stop of log).
_OTHER = 0.08
#: What a place of the picture must show to be called still: its mean over a box of this side...
_BOX = 9
#: ...within this many standard errors of the noise.
_ERRORS = 4.0


@dataclass(frozen=True, kw_only=True, eq=False)
class MomentStats:
    """What one angle looks like at one candidate moment."""

    #: (h, w) float32. Small luma picture, codes 0..1.
    proxy: Float
    #: Mean and standard deviation of luma.
    level: float
    spread: float
    #: Steepness of the picture's strongest edges.
    sharpness: float
    #: How far the mean level is off both neighbouring frames (0 if it lies between them, or they were not seen).
    jump: float
    #: Mean difference to the nearer neighbouring frame: noise and motion; NaN where none was seen.
    motion: float
    #: (h, w) float16 or None. Every second sample of luma both ways, kept only where no neighbouring frame was
    #: seen.
    thinned: NDArray[np.float16] | None = None


@dataclass(frozen=True, kw_only=True)
class Choice:
    """Which candidates were taken and why others were not."""

    #: In order of time.
    indices: tuple[int, ...]
    #: Mapping of rule to count. Candidates by the first rule that spoke against them.
    rejected: Mapping[str, int]
    #: No candidate was good in every angle: the least bad ones were taken.
    forced: bool


def measure_moment(before: Float | None, luma: Float, after: Float | None, options: ClipOptions) -> MomentStats:
    """Judge one frame next to its neighbours.

    Parameters
    ----------
    before, luma, after : (height, width) arrays
        Luma of three neighbouring frames, codes 0..1; None at the ends of a clip.
    """
    level, spread = (float(value[0, 0]) for value in import_cv2().meanStdDev(np.ascontiguousarray(luma)))
    around = [other[::2, ::2] for other in (before, after) if other is not None]
    jump, motion = _apart(luma[::2, ::2], around) if around else (0.0, float("nan"))
    return MomentStats(
        proxy=_shrink(luma, options.proxy_side),
        level=level,
        spread=spread,
        sharpness=_sharpness(luma),
        jump=jump,
        motion=motion,
        thinned=None if around else thinned(luma),
    )


def thinned(luma: Float) -> NDArray[np.float16]:
    """Return every second sample both ways: they say as well as all how far frames are apart."""
    return luma[::2, ::2].astype(np.float16)


def beside(looked: MomentStats, around: Sequence[NDArray[np.float16]]) -> MomentStats:
    """Judge a frame that was looked at alone next to the frames around it, `thinned` as it is."""
    if looked.thinned is None or not around:
        return looked
    here, *others = (picture.astype(np.float32) for picture in (looked.thinned, *around))
    jump, motion = _apart(here, others)
    return replace(looked, jump=jump, motion=motion, thinned=None)


def _apart(here: Float, around: Sequence[Float]) -> tuple[float, float]:
    """Return ``jump`` and ``motion`` of a frame among its neighbours."""
    shifts = [float(here.mean()) - float(other.mean()) for other in around]
    # A ramp or a pan lies between its neighbours; a flash stands out from both.
    lonely = min(shifts) > 0 or max(shifts) < 0
    jump = min(abs(shift) for shift in shifts) if lonely else 0.0
    return jump, min(float(np.abs(here - other).mean()) for other in around)


def _shrink(luma: Float, side: int) -> Float:
    """Average down so that the longer side is about ``side``."""
    step = max(1, round(max(luma.shape) / side))
    height, width = luma.shape[0] // step * step, luma.shape[1] // step * step
    cv2, whole = import_cv2(), np.ascontiguousarray(luma[:height, :width])
    small: Float = cv2.resize(whole, (width // step, height // step), interpolation=cv2.INTER_AREA)
    return small


def _sharpness(luma: Float) -> float:
    # Two by two pixels are averaged first, so that noise does not pass for focus.
    height, width = luma.shape[0] // 2 * 2, luma.shape[1] // 2 * 2
    if min(height, width) < 4:
        return 0.0
    quads = luma[:height, :width]
    quads = (quads[0::2, 0::2] + quads[1::2, 0::2] + quads[0::2, 1::2] + quads[1::2, 1::2]) * np.float32(0.25)
    # A quarter of them, evenly picked, has the same percentile.
    down, across = quads[1::2, ::2] - quads[:-1:2, ::2], quads[::2, 1::2] - quads[::2, :-1:2]
    edges = np.abs(np.concatenate([down.ravel(), across.ravel()]))
    return float(np.percentile(edges, _EDGE_PERCENTILE))


def choose_moments(
    stats: Mapping[str, Sequence[MomentStats]],
    times: Sequence[float],
    count: int,
    options: ClipOptions | None = None,
) -> Choice:
    """Choose moments that are good in every angle and differ from one another.

    Parameters
    ----------
    stats : mapping of angle to stats
        One look for each candidate time, all angles in the same order.
    times : sequence of float
        Seconds on the hero's clock, rising.
    count : int
        How many to take at most.
    """
    options = options or ClipOptions()
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
    middle = np.median([look.proxy for look in series], axis=0)
    middle = middle - np.median(middle)
    out = []
    for look in series:
        # Its own median goes first: a change of exposure is no change of picture.
        other = float((np.abs(look.proxy - np.median(look.proxy) - middle) > _OTHER).mean())
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


def steady_mean(frames: Sequence[Float], centre: int) -> tuple[NDArray[np.float32], float]:
    """Average neighbouring frames where nothing moves.

    Where the local mean of a neighbour differs from the centre's by more than its noise explains, that neighbour
    is left out there, so that motion is never smeared and a light that flickers is never mixed.

    Parameters
    ----------
    frames : sequence of (height, width, 3) arrays
    centre : int
        Which of them is the moment.

    Returns
    -------
    picture : (height, width, 3) float32
    gain : float
        Frames averaged in a pixel, on average over the picture.
    """
    from huemend.base.cv import import_cv2

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
        noise = 1.4826 * float(np.median(np.abs(change[::4, ::4])))
        if noise == 0.0 and not change.any():
            continue  # the same frame again brings nothing
        limit = _ERRORS * max(noise, 1e-6) / _BOX
        still = cv2.inRange(cv2.blur(change, (_BOX, _BOX)), (-limit,) * 3, (limit,) * 3)
        # A moving edge is found a little late by its mean: keep clear of it.
        still = cv2.erode(still, np.ones((_BOX, _BOX), np.uint8)).astype(np.float32) / np.float32(255)
        total += other * still[..., None]
        count += still
    return total / count[..., None], float(count.mean())
