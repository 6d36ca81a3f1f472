"""One picture: code values to scene-linear light at working resolution, with what can be trusted in it.

Light is averaged after decoding, never before: the mean of two codes is not the code of the mean light.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Bool, Float, Float32
from huemend.base.cv import import_cv2
from huemend.base.units import MID_GREY, acescct_decode, acescct_encode
from huemend.encodings.registry import Encoding
from huemend.errors import MediaError
from huemend.linearise.noise import noise_at_mid_grey
from huemend.model import LinearStill, Still
from huemend.options import LineariseOptions

_STRIP = 16  # rows per go
_MANY = 256  # rows of a look for what is no number
_LARGE = 40_000_000  # pixels
_SAMPLE = 600_000  # pixels that a histogram needs at most
_LARGEST_HALF = float(np.finfo(np.float16).max)


def linearise(
    still: Still,
    encoding: Encoding,
    *,
    range: str,
    pixel_aspect: float,
    options: LineariseOptions,
    size: tuple[int, int] | None = None,
    noise: float | None = None,
) -> LinearStill:
    """Decode a still to scene-linear ACEScg with square pixels, at working resolution.

    ``range`` is full or legal, as the still holds its codes; ``pixel_aspect`` is the width of its pixels over
    their height. A ``size`` (height, width) below working resolution is averaged down to at once. ``noise``
    that another frame of the clip has told of is not measured again. Raises MediaError if the still holds NaN
    or infinity, or nothing between black and clipped.
    """
    where = f"{still.angle}: {still.source}"
    _refuse_non_finite(still.codes, where)
    levels = clip_levels(still, encoding, range=range, options=options)
    full = (still.codes.shape[0], still.codes.shape[1])
    working = working_size(full, pixel_aspect, options.working_width)
    size = working if size is None else size
    light = np.empty((*size, 3), np.float32)
    over = np.empty(size, np.float32)
    for rows, into in _strips(full[0], size[0]):
        codes = still.codes[rows]
        part = into.stop - into.start, size[1]
        # One strip of a picture that is too large to be held as light is made narrow piece by piece: the mean over
        # an area is one across and one down.
        across = size[1] if codes.shape[0] * codes.shape[1] > _LARGE else None
        light[into] = _area_mean(_in_pieces(codes, lambda part: encoding.to_light(part, range), across), part)
        reaching = _in_pieces(codes, lambda part: _reaches(part, levels), across)
        over[into] = _area_mean(reaching, part) if reaching.any() else 0
    # The matrix is linear, as the mean is: it comes cheaper after it.
    rgb = encoding.light_to_acescg(light)
    del light
    # One clipped pixel spoils the mean of all that fall into one working pixel.
    clipped = over > 1e-6
    noise = noise_at_mid_grey(rgb, ~clipped) if noise is None else noise
    floor = MID_GREY * max(2.0**options.floor_stops, (noise / options.floor_noise) ** 2)
    # Judged pixel by pixel, noise itself would choose which dark pixels stay: the bright ones, so that the mean of
    # what stays would be too bright.
    cv2 = import_cv2()
    red, green, blue = cv2.split(cv2.blur(rgb, (5, 5)))
    # Planes that lie together take a fifth of the time.
    valid = (np.minimum(np.minimum(red, green), blue) > np.float32(floor)) & ~_grown(clipped)
    if valid.mean() < options.least_valid:
        raise _nothing_to_measure(clipped, where)
    for fresh in (rgb, valid, clipped):
        fresh.setflags(write=False)  # frozen as they are, not copied
    return LinearStill(
        rgb=rgb,
        valid=valid,
        clipped=clipped,
        angle=still.angle,
        moment=still.moment,
        source=still.source,
        full_size=full,
        noise=noise,
        frame=still.frame,
        clip_light=_clip_light(levels, encoding, range),
        reduced=working[1] / size[1],
    )


def shrunk(still: LinearStill, size: tuple[int, int]) -> LinearStill:
    """Return a picture averaged down to (height, width), its light as half floats: steps of a two-thousandth."""

    def share(mask: Bool) -> Float32:
        return _area_mean(mask.astype(np.float32), size)

    light = _area_mean(np.asarray(still.rgb, np.float32), size)
    return replace(
        still,
        rgb=np.clip(light, -_LARGEST_HALF, _LARGEST_HALF).astype(np.float16),
        valid=share(still.valid) > 0.5,
        clipped=share(still.clipped) > 0,
        ignored=None if still.ignored is None else share(still.ignored) > 0,
        reduced=still.reduced * still.rgb.shape[1] / size[1],
    )


def _refuse_non_finite(codes: Float, where: str) -> None:
    count, first = 0, (0, 0)
    for top in range(0, len(codes), _MANY):
        finite = np.isfinite(codes[top : top + _MANY])
        if finite.all():
            continue
        broken = ~finite.all(axis=-1)
        if not count:
            row, column = (int(place) for place in np.argwhere(broken)[0])
            first = (column, top + row)
        count += int(broken.sum())
    if not count:
        return
    raise MediaError(
        f"{count} pixels hold no number (NaN or infinity), the first at {first[0]}, {first[1]}",
        where=where,
        todo="export it again",
    )


def _nothing_to_measure(clipped: Bool, where: str) -> MediaError:
    if clipped.mean() > 0.5:
        return MediaError("is clipped all over", where=where, todo="choose a moment or a take with exposed detail")
    return MediaError(
        "is black all over: nothing is above the noise floor",
        where=where,
        todo="check its encoding and range, or choose another moment",
    )


def working_size(full: tuple[int, int], pixel_aspect: float, working_width: int) -> tuple[int, int]:
    """Return (height, width) of the working picture: square pixels, and none made up.

    >>> working_size((2160, 3840), 1.0, 1920)
    (1080, 1920)
    >>> working_size((2160, 2880), 2.0, 1920)  # 2x anamorphic
    (720, 1920)
    >>> working_size((1080, 1440), 4 / 3, 1920)  # the rows give way, so that no column is invented
    (810, 1440)
    """
    height, width = full
    wide = width * pixel_aspect
    scale = min(1.0, working_width / wide, 1 / pixel_aspect)
    return max(1, round(height * scale)), max(1, round(wide * scale))


def _strips(height: int, lower: int) -> Iterator[tuple[slice, slice]]:
    """Yield rows of a picture, and the rows of its smaller version that they become.

    Strips stay in the processor's cache, and a large picture is never held as light. Where rows do not fall whole
    into smaller ones there is one strip.
    """
    times = height // lower
    if height != times * lower:
        yield slice(0, height), slice(0, lower)
        return
    step = max(1, _STRIP // times)
    for first in range(0, lower, step):
        last = min(first + step, lower)
        yield slice(times * first, times * last), slice(first, last)


def _in_pieces(codes: Float, made: Callable[[Float], NDArray[Any]], across: int | None) -> Float32:
    """Return what is made of a picture's rows, averaged to so many columns if they are told."""
    out: Float32 | None = None
    for first in range(0, len(codes), _STRIP):
        piece = np.asarray(made(codes[first : first + _STRIP]), np.float32)
        if across is not None:
            piece = _area_mean(piece, (len(piece), across))
        if len(piece) == len(codes):
            return piece
        if out is None:
            out = np.empty((len(codes), *piece.shape[1:]), np.float32)
        out[first : first + len(piece)] = piece
    if out is None:
        raise ValueError("there are no rows")
    return out


def _area_mean(values: Float32, size: tuple[int, int]) -> Float32:
    """Return the means over the area of each working pixel, of a picture with or without channels."""
    if values.shape[:2] == size:
        return values
    cv2 = import_cv2()
    return np.asarray(cv2.resize(values, size[::-1], interpolation=cv2.INTER_AREA), np.float32)


def _reaches(codes: Float, levels: Float32) -> Bool:
    # A channel at a time: numpy is slow along an axis of three.
    mask: Bool = codes[..., 0] >= levels[0]
    mask |= codes[..., 1] >= levels[1]
    mask |= codes[..., 2] >= levels[2]
    return mask


def _grown(mask: Bool) -> Bool:
    """Return a mask with its neighbours: demosaicing and sharpening spread a clipped pixel."""
    out = mask.copy()
    out[1:] |= mask[:-1]
    out[:-1] |= mask[1:]
    sideways = out.copy()
    sideways[:, 1:] |= out[:, :-1]
    sideways[:, :-1] |= out[:, 1:]
    return sideways


# ----------------------------------------------------------------------------------------------- clipping


def clip_levels(still: Still, encoding: Encoding, *, range: str, options: LineariseOptions) -> Float32:
    """Return the code of each channel from which it counts as clipped, (3,); inf where nothing clips.

    An integer file clips at its largest code. A sensor may saturate well below that (a log curve leaves room
    for other exposure indices): it shows as a pile of pixels in the topmost codes of a channel, with next to
    nothing in the codes below, at a level where no diffuse surface is expected.
    """
    height, width, _ = still.codes.shape
    stride = max(1, int(np.sqrt(height * width / _SAMPLE)))
    sample = still.codes[::stride, ::stride].reshape(-1, 3)
    quantum = 1.0 / (2 ** min(still.bit_depth, 16) - 1)
    # Values above 1 (a clip's super-whites, float files) say that the file does not end at 1.
    ends_at_one = not still.floating and not encoding.is_linear and float(sample.max()) <= 1.0 + quantum / 2
    ceiling = 1.0 - quantum / 2 if ends_at_one else np.inf
    # A plain video signal ends at white, and what lies well below that is paper.
    least = min(options.clip_from, 0.95 * encoding.largest_linear)
    step = max(1.0 / 1023, quantum)
    levels = np.full(3, ceiling)
    for channel in (0, 1, 2):
        values = sample[:, channel]
        if encoding.is_linear:
            values = acescct_encode(values.astype(float))
        top = _pile(values, step, options.clip_share)
        if top is None:
            continue
        if encoding.is_linear:
            top = float(acescct_decode(np.array(top)))
        if float(encoding.decode(np.full(3, top), range).mean()) >= least:
            levels[channel] = min(ceiling, top)
    return levels.astype(np.float32)


def _pile(values: Float, step: float, share: float) -> float | None:
    """Return the bottom of a pile of values within a step of their largest, or None where there is no pile."""
    top = float(values.max()) - 0.75 * step
    piled = _count_from(values, top)
    if piled < max(20.0, share * len(values)):
        return None
    # A highlight that rolls off thins out towards its top; a clipped one ends in a wall.
    below = _count_from(values, top - 8 * step) - piled
    return None if piled < 4 * below / 8 else top


def _count_from(values: Float, least: float) -> int:
    # The smallest number of their kind that is not below the limit.
    limit = values.dtype.type(least)
    limit = limit if limit >= least else np.nextafter(limit, values.dtype.type(np.inf))
    return int(np.count_nonzero(values >= limit))


def _clip_light(levels: Float, encoding: Encoding, range: str) -> tuple[float, float, float]:
    """Return the light of each channel's clip level, in the camera's gamut; inf where a channel does not clip."""
    known = np.isfinite(levels)
    light = np.asarray(encoding.to_light(np.where(known, levels, 0.0).astype(float), range), float)
    red, green, blue = (float(value) if is_known else np.inf for value, is_known in zip(light, known, strict=True))
    return red, green, blue
