"""Options of turning a picture into light: working resolution, and which pixels are too dark or clipped."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class LineariseOptions:
    """Decoding to scene-linear light.

    ``working_width`` is the width that pictures are averaged down to before surfaces are looked for: patches
    average many pixels anyway, and a colour match does not ask for more. The matching itself is done on smaller
    ones (``CorrespondOptions.width``).

    ``floor_stops`` below mid-grey a channel is taken for black, and sooner where its noise is more than
    ``floor_noise`` of it. A camera may clip below its largest code: what piles up at the top of a channel is taken
    for clipped from ``clip_from`` up (scene-linear; the brightest paper at nominal exposure is 1) if it holds
    ``clip_share`` of the picture. A picture with less than ``least_valid`` of its pixels usable is refused.
    """

    working_width: int = 1920
    floor_stops: float = -8.0
    floor_noise: float = 0.5
    clip_from: float = 3.0
    clip_share: float = 2e-4
    least_valid: float = 1e-3
