"""What else an angle might have been recorded in."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from huemend.base.arrays import Float
from huemend.encodings.registry import Encoding, all_encodings


def alternatives(stated: Encoding, range: str) -> Iterator[tuple[str, Callable[[Float], Float]]]:
    """Yield every other encoding, and the stated one in the other range.

    PQ is what a display is sent: offered beside HLG alone, with which it shares a menu, and not to a camera log.

    Each comes with a function that turns colours decoded as stated (scene-linear ACEScg) into what they would be
    under that assumption: the codes are the same, only what they mean differs.
    """

    def again(other: Encoding, other_range: str) -> Callable[[Float], Float]:
        return lambda rgb: np.asarray(other.decode(stated.encode(rgb, range), other_range))

    for other in all_encodings():
        beside = other.curve.name != "PQ" or stated.curve.name == "HLG"
        if beside and other.name != stated.name and not (other.is_linear and stated.is_linear):
            yield other.name, again(other, range)
    for other_range in ("full", "legal"):
        if other_range != range and not stated.is_linear:
            yield f"{stated.name} in {other_range} range", again(stated, other_range)
