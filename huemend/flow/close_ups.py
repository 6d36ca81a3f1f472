"""What the report shows large, read once more at the resolution that it was recorded in.

A match is found on averaged pictures; an eye that compares a face in a wide wants every pixel there is. Only the
parts that are shown are decoded, and only where they hold more than the averaged picture does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from huemend.base.arrays import Float
from huemend.encodings.registry import encoding_of
from huemend.errors import MediaError
from huemend.model import SetupResult, Still
from huemend.options import MatchOptions
from huemend.sample.stills import sample_again
from huemend.write.report.alignment import UNMOVED, outer_square
from huemend.write.report.crops import CloseUp, Side
from huemend.write.report.pictures import still_at
from huemend.write.report.surfaces import Surface

#: An angle's name, the number of one of its surfaces, and on which side.
Key = tuple[str, int, Side]

# Less than this is no gain that an eye would see.
_WORTH = 1.2


def close_ups(
    result: SetupResult, surfaces: Mapping[str, Sequence[Surface]], options: MatchOptions
) -> dict[Key, CloseUp]:
    """Decode what stills hold of each surface, by angle; nothing of clips, or that was as large already."""
    wanted: dict[str, dict[int, list[tuple[Key, Float]]]] = {}
    for name, own in surfaces.items():
        reference = result[name].pairs.reference
        for number, surface in enumerate(own):
            for side, view, to_view in (
                (Side.REFERENCE, reference, UNMOVED),
                (Side.ANGLE, name, surface.alignment.to_angle),
            ):
                corners = outer_square(to_view, surface.centre, surface.side)
                if _holds_more(result, view, surface.moment, corners, options.report.crop_pixels):
                    moments = wanted.setdefault(view, {})
                    moments.setdefault(surface.moment, []).append(((name, number, side), corners))
    found: dict[Key, CloseUp] = {}
    for view, moments in wanted.items():
        try:
            for still in sample_again(result.setup[view], moments, options.sample):
                found |= {key: _close_up(result, still, corners) for key, corners in moments[still.moment]}
                # Let go before the next one is read: of the largest, two at a time are more than may be taken.
                del still
        except MediaError:
            # The match stands without it: a file that is gone by now costs the report its sharpness only.
            continue
    return found


def _holds_more(result: SetupResult, view: str, moment: int, corners: Float, pixels: int) -> bool:
    still = still_at(result.stills[view], moment)
    if still.moment != moment:
        return False  # another picture stands in for that moment, and what was recorded then has moved on
    across = float(np.hypot(*(corners[1] - corners[0])))
    return still.full_size[1] > _WORTH * still.rgb.shape[1] and across < pixels


def _close_up(result: SetupResult, still: Still, corners: Float) -> CloseUp:
    """Decode the part of a still that lies about a square, given in pixels of its averaged picture."""
    angle = result.setup[still.angle]
    averaged = still_at(result.stills[still.angle], still.moment).rgb
    full = np.array(still.codes.shape[1::-1], float)
    grown = full / np.array(averaged.shape[1::-1])
    # Centres of pixels lie on whole numbers in both.
    places = (corners + 0.5) * grown - 0.5
    low = np.clip(np.floor(places.min(axis=0)).astype(int) - 4, 0, full - 1).astype(int)
    high = np.clip(np.ceil(places.max(axis=0)).astype(int) + 5, low + 1, full).astype(int)
    codes = still.codes[low[1] : high[1], low[0] : high[0]]
    rgb = np.asarray(encoding_of(angle.name, result.setup).decode(codes, still.range or angle.range), np.float32)
    shift = 0.5 * grown - 0.5 - low
    return CloseUp(rgb=rgb, from_still=np.column_stack([np.diag(grown), shift]))
