"""A shoulder that lets highlights run to neutral where the camera clips.

Clipped light has lost its colour: what the camera wrote there is its own white, and a balance or a channel mix
turns that into a tint. The shoulder takes the tint out near the clip, at the luminance that the match gives, and
leaves every other colour alone to the last bit (docs/maths.md, section 10).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from huemend.base.arrays import Float, Float64, three
from huemend.base.units import AP1_LUMINANCE, stops_to_gain
from huemend.encodings.registry import Encoding
from huemend.model import LinearStill


@dataclass(frozen=True, kw_only=True)
class NeutralShoulder:
    """Where one angle's highlights begin to run to neutral, and where they are neutral."""

    #: The camera's encoding.
    shot: Encoding
    #: Range of the codes, ``full`` or ``legal``.
    range: str
    #: Three float. Code of red, green and blue below which nothing is touched, and from which a channel counts as
    #: clipped.
    knee: tuple[float, float, float]
    top: tuple[float, float, float]
    #: True if the stills show where the camera clips; False if the top is the largest code.
    measured: bool

    @classmethod
    def of(
        cls, stills: Sequence[LinearStill], shot: Encoding, *, range: str, stops: float
    ) -> NeutralShoulder | None:
        """Place the shoulder where an angle's stills clip, or under the largest code where they do not.

        ``range`` is that of the codes that it will be given; from knee to clip it takes so many ``stops``. None if
        the camera clips above the largest code that a LUT takes and nothing can be said of it (scene-linear
        media).
        """
        found = [still.clip_light for still in stills if still.clip_light is not None]
        light = np.min(found, axis=0) if found else np.full(3, np.inf)
        known = np.isfinite(light)
        top = np.full(3, np.inf)
        if known.any():
            # A neutral of that light has the channel's clip in that channel.
            codes = shot.encode(np.repeat(light[known][:, None], 3, axis=1), range=range)
            top[known] = codes[np.arange(len(codes)), np.flatnonzero(known)]
        if shot.is_linear and (top > 1.0).any():
            return None
        # What lies above the largest code reaches no LUT: every reader clamps it there.
        measured = bool((top < 1.0 - 1.5 / 1023).any())
        top = np.minimum(top, 1.0)
        neutral = np.asarray(shot.decode(np.repeat(top[:, None], 3, axis=1), range=range), float).mean(axis=1)
        knee = shot.encode(np.repeat(neutral[:, None], 3, axis=1) * stops_to_gain(-stops), range=range)
        return cls(shot=shot, range=range, knee=three(np.diag(knee)), top=three(top), measured=measured)

    def weight(self, codes: Float) -> Float64:
        """Return how neutral a colour, (..., 3) as recorded, becomes: 0 below the knee, 1 where all channels clip.

        Equation 17 of docs/maths.md. The channel that is furthest from its clip decides: a window clips in all of
        them and loses its tint; a red lamp clips in one, and stays red.
        """
        knee, top = np.array(self.knee), np.array(self.top)
        rise = np.clip(((np.asarray(codes, float) - knee) / (top - knee)).min(axis=-1), 0.0, 1.0)
        return np.asarray(rise * rise * (3.0 - 2.0 * rise))

    def apply(self, codes: Float, matched: Float) -> Float:
        """Take the tint out of what lies above the knee (docs/maths.md, equation 19).

        Takes (..., 3) codes as recorded, and the same colours after the match, scene-linear ACEScg; returns these,
        of the same luminance, and below the knee the very same values.
        """
        weight = self.weight(codes)
        near = weight > 0.0
        out: Float = np.array(matched)
        if near.any():
            part, share = np.asarray(matched[near], float), weight[near][:, None]
            neutral = (part @ AP1_LUMINANCE)[:, None]
            out[near] = (1.0 - share) * part + share * neutral
        return out

    def over_light(self, light: Float, matched: Float) -> Float:
        """Do the same for light as shot, scene-linear ACEScg, for pictures."""
        return self.apply(self.shot.encode(light, range=self.range), matched)
