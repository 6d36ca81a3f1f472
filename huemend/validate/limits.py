"""What no exposure and channel mix can mend, said before somebody finds it on a cut; and what was not found."""

from __future__ import annotations

import numpy as np

from huemend.base.arrays import Bool, Float
from huemend.base.text import percent
from huemend.base.units import AP1_LUMINANCE
from huemend.model import LinearStill, Match, PairedColours, Reason
from huemend.model.pairs import BURNT_IN, NO_CHART, ON_SCREEN, chart_alone
from huemend.model.reasons import Code
from huemend.options import ValidateOptions
from huemend.validate.places import place_of
from huemend.view import delta_e2000, measurement_lab

# The brightest part of a picture, where a camera's knee bends it most.
_HIGHLIGHTS = 0.98
# Of a mean over the picture every so many pixels tell enough.
_STRIDE = 6
# A channel may clip in light that is darker than a white that clips, but hardly in light that is much darker.
_NEAR_CLIP = 0.8


def rendered_doubts(encoding: str, rendered: bool, still: LinearStill | None = None) -> tuple[Reason, ...]:
    """Return the doubt that a display-referred picture brings with it.

    Its light went through a look and a knee that nobody published, which bend every colour that a matrix is
    proven on only where both views share it. The place is that of the brightest area of the still that is not
    clipped: a knee shows there first.
    """
    if not rendered:
        return ()
    place = None
    if still is not None and still.valid.any():
        light = still.rgb @ AP1_LUMINANCE
        place = place_of(still, still.valid & (light >= np.quantile(light[still.valid], _HIGHLIGHTS)))
    return (Code.RENDERED.because(encoding=encoding, place=place),)


def clipping_notes(
    hero: LinearStill,
    angle: LinearStill,
    match: Match,
    options: ValidateOptions,
    *,
    view_stops: float,
) -> tuple[Reason, ...]:
    """Say where one of two views clips at a brightness that the other, once matched, still holds.

    Clipped light has lost its colour; a channel mix and a balance then tint what should be neutral or bright, and
    much of it on an angle stays flat and dull beside the hero. What a hero clips an angle goes on beyond, which no
    pair shows: the proof leaves clipped colours out.
    """
    here, there = angle.without_detail, hero.without_detail
    if not (here.any() or there.any()):
        return ()
    matched = np.asarray(match.apply(angle.rgb), float)
    shot, wanted = matched @ AP1_LUMINANCE, hero.rgb @ AP1_LUMINANCE
    share, beyond = _clips_below(shot, here, wanted, there)
    if min(share, beyond) >= options.most_clipped:
        return (Code.CLIPPED.because(share=percent(share), place=place_of(angle, here)),)
    if min(share, beyond) >= options.clipped_share:
        return (Code.CLIPS_EARLY.because(share=percent(share), place=place_of(angle, here)),)
    share, beyond = _clips_below(wanted, there, shot, here)
    if share:
        # Each channel clips where it does: light that has a colour turns, too.
        bright = (shot > _NEAR_CLIP * np.median(wanted[there])) & ~here
        few = np.s_[::_STRIDE, ::_STRIDE]
        held = np.minimum(matched[few], np.quantile(hero.rgb[there], 0.9, axis=0))
        labs = (measurement_lab(rgb, view_stops) for rgb in (matched[few], held))
        off = float(np.where(bright[few], delta_e2000(*labs), 0.0).mean())
        if off > options.most_beyond_clip:
            return (Code.CLIPPED.because("hero", share=percent(share), off=off, place=place_of(angle, bright)),)
    if min(share, beyond) >= options.most_clipped:
        return (Code.HERO_CLIPS.because(share=percent(share)),)
    return ()


def _clips_below(light: Float, clipped: Bool, other: Float, other_clipped: Bool) -> tuple[float, float]:
    """Return the share of a view that is clipped, and the share of the other that is brighter and is not."""
    if not clipped.any():
        return 0.0, 0.0
    ceiling = float(np.quantile(light[clipped], 0.05))
    return float(clipped.mean()), float(((other > ceiling) & ~other_clipped).mean())


def burn_in_notes(pairs: PairedColours) -> tuple[Reason, ...]:
    """Return notes that what is burnt into both frames, or on a screen, was left out; ``rejected`` counts it."""
    counts = ((case, pairs.rejected.get(rule, 0)) for case, rule in (("", BURNT_IN), ("screen", ON_SCREEN)))
    return tuple(Code.BURN_INS.because(case, count=count) for case, count in counts if count)


def chart_notes(pairs: PairedColours) -> tuple[Reason, ...]:
    """Return a note where a chart was to be looked for, and not both views show one, as ``rejected`` tells."""
    if len(pairs) and "chart" in pairs.source.split():
        return ()
    names = sorted((pairs.reference, pairs.angle))
    found = next((name for name in names if pairs.rejected.get(chart_alone(name))), "")
    if not found and NO_CHART not in pairs.rejected:
        return ()
    return (Code.NO_CHART.because("alone" if found else "", name=found),)
