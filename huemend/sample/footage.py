"""Which media are moving pictures, and an angle's opened as the setup states them."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager
from pathlib import Path

from huemend.media.clipinfo import ClipInfo
from huemend.media.clips import CLIP_SUFFIXES
from huemend.media.sequences import Footage, is_sequence, open_footage
from huemend.model import Angle
from huemend.options import SampleOptions


def is_clip_file(path: Path) -> bool:
    """Tell by its suffix whether a file is a clip."""
    return path.suffix.lower() in CLIP_SUFFIXES


def is_clip(media: Sequence[Path], options: SampleOptions | None = None) -> bool:
    """Tell whether an angle's media are a clip, or numbered pictures that are sampled like one."""
    options = options or SampleOptions()
    if len(media) == 1:
        return is_clip_file(media[0])
    return is_sequence(media, options.clips.sequence_length)


def open_angle(
    angle: Angle, options: SampleOptions, known: ClipInfo | None = None
) -> AbstractContextManager[Footage]:
    """Open the clip or the numbered pictures of an angle; ``known`` spares looking at them again."""
    return open_footage(
        angle.media,
        options,
        matrix=angle.matrix,
        range=angle.range if angle.range_stated else None,
        known=known,
    )
