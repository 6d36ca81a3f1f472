"""Numbered pictures as a clip."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

import numpy as np

from huemend.base.arrays import Float32
from huemend.base.cv import import_cv2
from huemend.base.units import BT709_LUMA
from huemend.errors import MediaError
from huemend.media.clipinfo import ClipInfo
from huemend.media.clips import Clip, Decoded, Glance, open_clip
from huemend.media.pictures import STILL_SUFFIXES, read_picture
from huemend.media.signal import Signal
from huemend.options import SampleOptions

_NUMBER = re.compile(r"(.*?)(\d+)(\.[A-Za-z]+)$")
#: What "luma" is for pictures that come as R'G'B'.
_LUMA = BT709_LUMA.astype(np.float32)


def is_sequence(media: Sequence[Path], shortest: int) -> bool:
    """Tell whether files are the frames of one shot: same name, numbers that follow one another.

    >>> is_sequence([Path(f"shot.{n:04d}.exr") for n in range(1001, 1101)], 24)
    True
    """
    if len(media) < shortest:
        return False
    found = [_NUMBER.match(path.name) for path in media]
    if not all(found) or any(path.suffix.lower() not in STILL_SUFFIXES for path in media):
        return False
    stems = {(path.parent, match[1], match[3]) for path, match in zip(media, found, strict=True) if match}
    numbers = [int(match[2]) for match in found if match]
    return len(stems) == 1 and numbers == list(range(numbers[0], numbers[0] + len(numbers)))


class PictureSequence:
    """Numbered pictures, read like a clip. Frames are checked to be of one size as they are read."""

    #: Every picture is whole by itself.
    alone = True

    def __init__(self, media: Sequence[Path], options: SampleOptions, known: ClipInfo | None = None) -> None:
        self._media, self._options = tuple(media), options
        self.path = self._media[0]
        self.info = known or self._described()

    def _described(self) -> ClipInfo:
        picture, rate = read_picture(self.path, self._options), self._options.clips.sequence_rate
        return ClipInfo(
            path=self.path,
            size=(picture.codes.shape[0], picture.codes.shape[1]),
            fps=Fraction(rate),
            even=True,
            frames=len(self._media),
            codec=self.path.suffix[1:].lower(),
            pix_fmt="rgb",
            signal=Signal(
                kind="rgb", matrix="rgb", range="full", bits=picture.bit_depth, floating=picture.floating
            ),
            notes=(f"numbered pictures, {rate} a second assumed",),
        )

    def read_frames(self, indices: Iterable[int], decoded: Decoded | None = None) -> Iterator[tuple[int, Float32]]:
        """Yield ``(index, rgb)`` in rising order, as `Clip.read_frames` does."""
        for index in sorted(set(indices)):
            codes = read_picture(self._media[index], self._options).codes
            if codes.shape[:2] != self.info.size:
                height, width = self.info.size
                raise MediaError(
                    f"is {codes.shape[1]} x {codes.shape[0]} pixels, the sequence's first is {width} x {height}",
                    where=self._media[index],
                    todo="export all pictures of a sequence at one size",
                )
            yield index, codes

    def glances(
        self, indices: Iterable[int], step: int, *, thin: int = 1, pixels: int = 1, closely: Collection[int] = ()
    ) -> Iterator[Glance]:
        """Look at pictures, as `Clip.glances` does."""
        cv2 = import_cv2()
        for index, codes in self.read_frames(indices):
            height, width = codes.shape[:2]
            times = max(1, round((height * width / pixels) ** 0.5))
            size = max(1, width // times), max(1, height // times)
            near = index in closely
            every = step if near else step * thin
            picture = cv2.resize(codes, size, interpolation=cv2.INTER_AREA) if near else None
            yield Glance(index=index, luma=codes[::every, ::every] @ _LUMA, picture=picture, frame=None)


Footage = Clip | PictureSequence


@contextmanager
def open_footage(
    media: Sequence[Path],
    options: SampleOptions,
    *,
    matrix: str | None = None,
    range: str | None = None,
    known: ClipInfo | None = None,
) -> Iterator[Footage]:
    """Open a clip, or numbered pictures as if they were one; ``known`` is what an earlier opening found."""
    if len(media) == 1:
        with open_clip(media[0], matrix=matrix, range=range, known=known) as clip:
            yield clip
    else:
        yield PictureSequence(media, options, known)
