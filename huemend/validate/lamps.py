"""Coloured lamps and neon: light more saturated than any surface, which a 3x3 takes too far."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from huemend.base.arrays import Bool, Float, Float32
from huemend.base.text import percent
from huemend.base.units import stops_to_gain
from huemend.model import Fit, LinearStill, PairedColours, Reason
from huemend.model.reasons import Code
from huemend.options import ValidateOptions
from huemend.validate.coverage import uncovered_colours
from huemend.validate.places import areas_of, place_of, reduced

# Which channels shine, as red, green, blue, to the word for it.
_HUES = {
    (True, False, False): "red",
    (False, True, False): "green",
    (False, False, True): "blue",
    (True, True, False): "yellow",
    (False, True, True): "cyan",
    (True, False, True): "magenta",
}


def lamp_notes(
    angles: Sequence[LinearStill],
    pairs: PairedColours,
    fitted: Fit,
    options: ValidateOptions,
    *,
    view_stops: float,
) -> tuple[Reason, ...]:
    """Return a note where an angle shows bright light that lies out of gamut after the match, or nearly.

    The match is a mix of channels learnt on surfaces. Where one channel holds nearly all the light, each error
    of that mix stands alone; the result can fall below zero, and a LUT or a gamut then cuts it off with a hard
    edge. Light counts that is out of ACEScg after the match, or brighter than any paint, more saturated than
    any patch of the 24-patch chart and with no pair of the match near its colour; in areas large enough to
    see. Of several pictures the one that shows most of it counts.
    """
    worst = max(
        ((*_lamps(still, pairs, fitted, options, view_stops), still) for still in angles),
        key=lambda found: int(found[0].sum()) / found[0].size,
        default=None,
    )
    if worst is None or not worst[0].any():
        return ()
    mask, after, still = worst
    place = place_of(still, mask)
    colour = np.asarray(after[mask].astype(float).mean(axis=0))
    outside = float((_distance(after[mask]) > options.lamp_outside).any(axis=1).mean())
    red, green, blue = (bool(shines) for shines in colour > 0.5 * colour.max())
    hue = _HUES.get((red, green, blue), "coloured")
    what = (
        f"and after the match {outside:.0%} of it lies outside ACEScg, where a channel falls below zero"
        if outside >= 0.005
        else "nothing that both views share vouches for the match there, and most displays cannot show it"
    )
    return (Code.SATURATED_LIGHT.because(share=percent(float(mask.mean())), hue=hue, what=what, place=place),)


def _lamps(
    still: LinearStill,
    pairs: PairedColours,
    fitted: Fit,
    options: ValidateOptions,
    view_stops: float,
) -> tuple[Bool, Float32]:
    """Return where such light is, and the matched picture, both small."""
    before = reduced(still.rgb)
    after = np.asarray(fitted.match.apply(before), np.float32)
    bright = after.max(axis=-1) * stops_to_gain(view_stops)
    if still.ignored is not None:
        bright = np.where(reduced(still.ignored) < 0.5, bright, 0.0)
    away = _distance(after)
    outside = (away > options.lamp_outside).any(axis=-1)
    beyond = (away > np.array(options.lamp_reach, np.float32)).any(axis=-1)
    beyond &= ~outside & (bright >= options.lamp_white)
    lamps = outside & (bright >= options.lamp_level)
    if beyond.any():
        lamps[beyond] = uncovered_colours(before[beyond].astype(float), pairs, fitted, options)
    return areas_of(lamps, options.lamp_share), after


def _distance(rgb: Float) -> Float:
    """Return how far each channel lies from neutral, as the ACES 1.3 reference gamut compression has it, (..., 3).

    0 is neutral, 1 the border of the gamut, and more lies outside.
    """
    largest = np.maximum(rgb.max(axis=-1, keepdims=True), 1e-6)
    out: Float = (largest - rgb) / largest
    return out
