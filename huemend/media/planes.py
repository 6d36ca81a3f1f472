"""Y'CbCr planes of a decoded frame to R'G'B', with our own matrix; `huemend.media.fill_frame` goes back.

A general scaler rounds to 8 bits, clips what lies above nominal white and guesses matrices. Here nothing is
rounded: the integer codes become float32 R'G'B' through one affine map (`huemend.media.signal`), so that what a
camera recorded above nominal white stays, and chroma is brought to full size by linear interpolation between the
places where the standard says it was sampled. Work goes by strips of rows, which keeps it in a core's cache.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float32, Float64
from huemend.base.cv import import_cv2
from huemend.media.signal import REPACK, Signal, decode_matrix, scales

if TYPE_CHECKING:
    import av

#: Rows of one strip hold about this many pixels: a few float32 planes of it stay in a core's cache.
_STRIP_PIXELS = 1 << 16


#: A side of so many samples to a pixel is many.
_MANY_SAMPLES = 8

#: The largest half float (IEEE 754-2019, binary16).
LARGEST_HALF = 65504.0


class Tamed:
    """Makes samples numbers that a filter can take, and counts those it changed so far in ``samples``.

    NaN becomes 0; what no half float can hold, infinities among it, becomes the largest that there is. A dead
    pixel or an overflow of a renderer is then one black or white pixel, and none of its neighbours suffers.
    """

    def __init__(self) -> None:
        self.samples = 0

    def __call__(self, values: Float32) -> Float32:
        """Return the values, or a copy with those changed that must be."""
        # Comparisons with NaN are false: one pass over sound values, which nearly all are.
        sound = np.abs(values) <= LARGEST_HALF
        if sound.all():
            return values
        self.samples += int(sound.size - np.count_nonzero(sound))
        out: Float32 = np.nan_to_num(values, nan=0.0, posinf=LARGEST_HALF, neginf=-LARGEST_HALF)
        return np.clip(out, -LARGEST_HALF, LARGEST_HALF, out=out)


def frame_to_rgb(frame: av.VideoFrame, signal: Signal) -> Float32:
    """Decode a frame to R'G'B', (height, width, 3): 0 and 1 as the module says, values outside are kept."""
    out = np.empty((frame.height, frame.width, 3), np.float32)
    frame_to_planes(frame, signal, [out[..., channel] for channel in range(3)])
    return out


def frame_to_planes(
    frame: av.VideoFrame,
    signal: Signal,
    out: list[Float32],
    *,
    gain: float = 1.0,
    offset: float = 0.0,
    tamed: Tamed | None = None,
) -> None:
    """Write ``gain * rgb + offset`` of a frame into three (height, width) planes: R, G, B.

    The planes may be float32, or uint16 for values of 0..1 in 65535 steps (rounded, clipped). Floating-point
    samples go through ``tamed`` first, if it is given.
    """
    frame = _planar(frame)
    matrix, shift = decode_matrix(signal)
    integer = out[0].dtype == np.uint16
    scale = 65535.0 if integer else 1.0
    matrix, shift = matrix * gain * scale, (shift * gain + offset) * scale
    if integer:
        shift = shift + 0.5  # the cast to integer cuts off
    planes = [plane_samples(frame, index) for index in plane_order(signal)]
    height, width = out[0].shape
    for rows in row_strips(height, width):
        if signal.matrix == "rgb":
            sources = planes if signal.kind == "rgb" else planes * 3
            for channel in range(3):
                samples = sources[channel][rows]
                if tamed is not None and signal.floating:
                    samples = tamed(samples)
                value = samples * np.float32(matrix[channel, channel])
                value += np.float32(shift[channel])
                _store(out[channel][rows], value, integer)
            continue
        luma = planes[0][rows] * np.float32(matrix[0, 0])  # the luma column is one number
        colour = _chroma(planes[1], planes[2], matrix, shift, signal, rows, (height, width))
        for channel in range(3):
            value = colour[channel]
            value += luma
            _store(out[channel][rows], value, integer)


def _store(target: NDArray[Any], value: Float32, integer: bool) -> None:
    if integer:
        np.clip(value, 0.0, 65535.0, out=value)
        np.copyto(target, value, casting="unsafe")
    else:
        target[...] = value


def copy_of(frame: av.VideoFrame) -> av.VideoFrame:
    """Return a frame of the same samples in memory of its own: a decoder lets go of all of its frames at once."""
    frame = _planar(frame)
    own = type(frame)(frame.width, frame.height, frame.format.name)
    for index in range(len(frame.planes)):
        plane_samples(own, index)[...] = plane_samples(frame, index)
    return own


def row_strips(height: int, width: int) -> Iterator[slice]:
    rows = max(4, _STRIP_PIXELS // width // 4 * 4)
    for top in range(0, height, rows):
        yield slice(top, min(top + rows, height))


def plane_order(signal: Signal) -> tuple[int, ...]:
    return {"yuv": (0, 1, 2), "rgb": (2, 0, 1), "gray": (0,)}[signal.kind]


def _planar(frame: av.VideoFrame) -> av.VideoFrame:
    name = frame.format.name
    if name in REPACK:
        return frame.reformat(format=REPACK[name])
    return frame


def plane_samples(frame: av.VideoFrame, index: int) -> NDArray[Any]:
    """A plane of the frame as a 2D view of its memory."""
    plane = frame.planes[index]
    bits = frame.format.components[0].bits
    kind = np.dtype(np.float32 if bits == 32 else np.uint16 if bits > 8 else np.uint8)
    flat = np.frombuffer(plane, kind)  # type: ignore[call-overload]
    stride = plane.line_size // kind.itemsize
    # The last row of a buffer may end with its last sample.
    view = np.lib.stride_tricks.as_strided(
        flat, (plane.height, plane.width), (stride * kind.itemsize, kind.itemsize), writeable=flat.flags.writeable
    )
    return view


def _chroma(
    cb: NDArray[Any],
    cr: NDArray[Any],
    matrix: Float64,
    shift: Float64,
    signal: Signal,
    rows: slice,
    size: tuple[int, int],
) -> list[Float32]:
    """What chroma adds to R, G and B over the luma rows ``rows``, at full size."""
    step = 1 << signal.down
    margin = 1 if signal.down else 0
    first = max(rows.start // step - margin, 0)
    last = min((rows.stop - 1) // step + 1 + margin, cb.shape[0])
    # The mix is done on the small planes, and then brought to full size: interpolation is linear as well.
    blue, red = cb[first:last].astype(np.float32), cr[first:last].astype(np.float32)
    mixed: list[Float32] = [
        red * np.float32(matrix[0, 2]),
        blue * np.float32(matrix[1, 1]) + red * np.float32(matrix[1, 2]),
        blue * np.float32(matrix[2, 1]),
    ]
    out = []
    for channel, part in enumerate(mixed):
        part += np.float32(shift[channel])
        if signal.down:
            part = _grow_rows(part, rows, first, cb.shape[0], signal)
        if signal.across:
            part = _grow_columns(part, size[1], signal)
        out.append(part)
    return out


@lru_cache(maxsize=64)
def _taps(start: int, stop: int, factor: int, cosited: bool, count: int) -> tuple[NDArray[Any], ...]:
    """Indices and weight of linear interpolation from ``count`` chroma samples, ends repeated."""
    luma = np.arange(start, stop)
    place = np.clip(luma / factor if cosited else (luma + 0.5) / factor - 0.5, 0, count - 1)
    low = np.minimum(place.astype(int), max(count - 2, 0))
    high = np.minimum(low + 1, count - 1)
    return low, high, (place - low).astype(np.float32)


def _grow_rows(part: Float32, rows: slice, first: int, count: int, signal: Signal) -> Float32:
    low, high, weight = _taps(rows.start, rows.stop, 1 << signal.down, signal.siting == "topleft", count)
    below: Float32 = part[high - first]
    below -= part[low - first]
    below *= weight[:, None]
    below += part[low - first]
    return below


def _grow_columns(part: Float32, width: int, signal: Signal) -> Float32:
    if signal.across != 1:
        low, high, weight = _taps(0, width, 1 << signal.across, signal.siting != "centre", part.shape[1])
        grown: Float32 = part[:, low] + (part[:, high] - part[:, low]) * weight
        return grown
    # Twofold is what nearly every camera writes: slices instead of gathers make it several times quicker.
    out = np.empty((part.shape[0], 2 * part.shape[1]), np.float32)
    even, odd = out[:, 0::2], out[:, 1::2]
    if signal.siting == "centre":
        even[:, 0], odd[:, -1] = part[:, 0], part[:, -1]
        third = part * np.float32(0.75)
        fourth = part * np.float32(0.25)
        np.add(third[:, 1:], fourth[:, :-1], out=even[:, 1:])
        np.add(third[:, :-1], fourth[:, 1:], out=odd[:, :-1])
    else:
        even[...] = part
        odd[:, -1] = part[:, -1]
        np.add(part[:, :-1], part[:, 1:], out=odd[:, :-1])
        odd[:, :-1] *= np.float32(0.5)
    return out[:, :width]


def small_rgb(frame: av.VideoFrame, signal: Signal, pixels: int) -> Float32:
    """Return R'G'B' of a frame averaged down to about so many pixels, (height, width, 3).

    The planes are averaged as the integers they are, which rounds by half a code and takes a tenth of the time: to
    follow exposure over areas, not to match colours.
    """
    frame = _planar(frame)
    matrix, shift = decode_matrix(signal)
    step = max(1, round((frame.height * frame.width / pixels) ** 0.5))
    size = max(1, frame.width // step), max(1, frame.height // step)
    cv2 = import_cv2()
    # Of many samples to a pixel a quarter, evenly picked, has nearly the same mean, and the rest is never touched.
    thin = 2 if step >= _MANY_SAMPLES else 1
    planes = [
        cv2.resize(
            np.ascontiguousarray(plane_samples(frame, index)[::thin, ::thin]), size, interpolation=cv2.INTER_AREA
        )
        for index in plane_order(signal)
    ]
    stacked = np.stack([plane.astype(np.float32) for plane in (planes * 3)[:3]], axis=-1)
    if signal.matrix == "rgb":
        matrix = np.diag(np.diag(matrix))
    out: Float32 = stacked @ matrix.T.astype(np.float32) + shift.astype(np.float32)
    return out


def float_planes(frame: av.VideoFrame) -> list[Float32]:
    """Return the planes of a float R'G'B' frame as R, G, B views of its memory, to read or to fill."""
    return [plane_samples(frame, index) for index in (2, 0, 1)]


def luma_plane(frame: av.VideoFrame, signal: Signal, *, step: int = 1) -> Float32:
    """Luma alone, every ``step``-th sample, scaled as R'G'B' is; green stands in for it in an R'G'B' signal.

    Enough to judge sharpness, flashes and motion, at a fraction of the cost of colour.
    """
    frame = _planar(frame)
    y_steps, y_zero, _, _ = scales(signal.range, signal.bits, signal.floating)
    codes = plane_samples(frame, 0)[::step, ::step]
    if codes.dtype != np.uint8:
        return _scaled(codes, y_zero, y_steps)
    # One pass, where the arithmetic takes three.
    luma: Float32 = import_cv2().LUT(codes, _scaled(np.arange(256), y_zero, y_steps))
    return luma


def _scaled(codes: NDArray[Any], zero: float, steps: float) -> Float32:
    luma: Float32 = codes.astype(np.float32)
    luma -= np.float32(zero)
    luma /= np.float32(steps)
    return luma
