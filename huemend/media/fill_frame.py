"""R'G'B' into the planes of a Y'CbCr or R'G'B' frame, rounded to its codes: the way back from planes.py."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float32, Float64
from huemend.media.planes import plane_order, plane_samples, row_strips
from huemend.media.signal import Signal, encode_matrix

if TYPE_CHECKING:
    import av


def fill_frame(
    frame: av.VideoFrame, signal: Signal, rgb: list[Float32], *, gain: float = 1.0, offset: float = 0.0
) -> None:
    """Write ``gain * rgb + offset`` into the planes of a Y'CbCr or R'G'B' frame, rounded to its codes.

    Of R'G'B' come three (height, width) planes: float32, or uint16 for 0..1 in 65535 steps. Chroma that is
    subsampled is averaged over the luma samples that it stands for (weights 1-2-1 where it is co-sited, 1-1 where
    it lies midway). Legal range is held to the codes that BT.709 allows for video data (4 to 1019 in 10 bits), so
    superwhites stay.
    """
    matrix, shift = encode_matrix(signal)
    scale = 1 / 65535.0 if rgb[0].dtype == np.uint16 else 1.0
    # The grey axis carries the offset: luma weights sum to one, colour differences to nought.
    shift = shift + matrix @ np.full(3, offset)
    matrix = matrix * gain * scale
    guard = 2.0 ** (signal.bits - 8) if signal.range == "legal" else 0.0
    limits = (guard, 2.0**signal.bits - 1 - guard)
    planes = [plane_samples(frame, index) for index in plane_order(signal)]
    height, width = rgb[0].shape
    for rows in row_strips(height, width):
        parts = [plane[rows].astype(np.float32, copy=False) for plane in rgb]
        if signal.matrix == "rgb":
            for channel in range(3):
                value = parts[channel] * np.float32(matrix[channel, channel])
                _round_into(planes[channel][rows], value, shift[channel], limits, signal.floating)
            continue
        for channel in range(3):
            if channel == 0:
                value = _mix(parts, matrix[0])
                _round_into(planes[0][rows], value, shift[0], limits, False)
                continue
            value, target = _shrunk(rgb, matrix[channel], signal, rows, (height, width), parts)
            _round_into(planes[channel][target], value, shift[channel], limits, False)


def _mix(parts: list[Float32], weights: Float64) -> Float32:
    value = parts[0] * np.float32(weights[0])
    value += parts[1] * np.float32(weights[1])
    value += parts[2] * np.float32(weights[2])
    return value


def _shrunk(
    rgb: list[Float32],
    weights: Float64,
    signal: Signal,
    rows: slice,
    size: tuple[int, int],
    parts: list[Float32],
) -> tuple[Float32, slice]:
    """One colour difference at the size of its plane, and the rows of that plane."""
    if not signal.down:
        return _shrink_columns(_mix(parts, weights), signal), rows
    step = 1 << signal.down
    target = slice(rows.start // step, -(-rows.stop // step))
    if signal.siting != "topleft":
        value = _shrink_columns(_mix(parts, weights), signal)
        pad = (-value.shape[0]) % step
        if pad:
            value = np.concatenate([value, np.repeat(value[-1:], pad, axis=0)])
        small: Float32 = value.reshape(-1, step, value.shape[1]).mean(axis=1, dtype=np.float32)
        return small, target
    reach = np.arange(rows.start - 1, rows.stop + 1).clip(0, size[0] - 1)
    value = _shrink_columns(_mix([plane[reach].astype(np.float32) for plane in rgb], weights), signal)
    middle = value[1:-1:step]
    count = middle.shape[0]
    above, below = value[0::step][:count], value[2::step][:count]
    return middle * np.float32(0.5) + (above + below) * np.float32(0.25), target


def _shrink_columns(value: Float32, signal: Signal) -> Float32:
    if not signal.across:
        return value
    step = 1 << signal.across
    pad = (-value.shape[1]) % step
    if pad:
        value = np.concatenate([value, np.repeat(value[:, -1:], pad, axis=1)], axis=1)
    if signal.siting == "centre" or signal.across != 1:
        small: Float32 = value.reshape(value.shape[0], -1, step).mean(axis=2, dtype=np.float32)
        return small
    even, odd = value[:, 0::2], value[:, 1::2]
    out = odd * np.float32(0.25)
    out[:, 1:] += out[:, :-1].copy()
    out[:, 0] += value[:, 0] * np.float32(0.25)  # the edge repeats
    out += even * np.float32(0.5)
    return out


def _round_into(
    target: NDArray[Any], value: Float32, shift: float, limits: tuple[float, float], floating: bool
) -> None:
    if floating:
        np.add(value, np.float32(shift), out=target)
        return
    value += np.float32(shift + 0.5)  # the cast to integer cuts off
    np.clip(value, limits[0], limits[1] + 0.5, out=value)
    np.copyto(target, value, casting="unsafe")
