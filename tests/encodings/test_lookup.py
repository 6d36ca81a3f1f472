"""The float32 table against the exact curve, with the error that it states."""

from __future__ import annotations

import numpy as np
import pytest

from huemend.encodings.curves import CURVES
from huemend.encodings.lookup import ABSOLUTE_ERROR, RELATIVE_ERROR, decode_fast

# Apple Log and Mi-Log: the root at their darkest light is too steep for any table; four 10-bit codes of it.
ROOT_ENDS = {"Apple Log": 0.004, "Mi-Log": 0.004}
# Where the pieces of a curve as printed do not meet, the table crosses the gap within one of its steps.
GAPS = {"BT.709 camera": 0.081, "F-Log": 0.1006, "N-Log": 0.4415, "D-Log": 0.1399}


@pytest.mark.parametrize("name", list(CURVES))
def test_table_keeps_to_its_error(name: str) -> None:
    curve = CURVES[name].form
    codes = np.random.default_rng(1).uniform(-0.1, 1.1, 200_000).astype(np.float32)
    if name in ROOT_ENDS:
        codes = codes[np.abs(codes) > ROOT_ENDS[name]]
    if name in GAPS:
        codes = codes[np.abs(codes - GAPS[name]) > 2 / 16_384]
    exact = curve.decode(codes.astype(float))
    error = np.abs(decode_fast(curve, codes) - exact)
    assert (error <= np.abs(exact) * RELATIVE_ERROR + ABSOLUTE_ERROR).all()


def test_integer_codes_of_ten_bits_are_hit_within_single_precision() -> None:
    curve = CURVES["S-Log3"].form
    codes = (np.arange(1024) / 1023).astype(np.float32)
    np.testing.assert_allclose(decode_fast(curve, codes), curve.decode(codes.astype(float)), rtol=1e-6, atol=1e-8)


def test_codes_outside_the_table_take_the_exact_path() -> None:
    curve = CURVES["LogC4"].form
    codes = np.array([[-3.0, -0.2, 0.5], [1.2, 1.9, 0.1]], np.float32)
    np.testing.assert_allclose(decode_fast(curve, codes), curve.decode(codes.astype(float)), rtol=2e-6)


def test_no_number_stays_no_number() -> None:
    codes = np.array([np.nan, np.inf, 0.5, -np.inf], np.float32)
    light = decode_fast(CURVES["V-Log"].form, codes)
    assert np.isnan(light[0])
    assert np.isfinite(light[1:]).all()


def test_shape_and_memory_layout_do_not_matter() -> None:
    codes = np.random.default_rng(1).random((40, 30, 6)).astype(np.float32)
    curve = CURVES["C-Log3"].form
    np.testing.assert_array_equal(decode_fast(curve, codes[::2, :, ::2]), decode_fast(curve, codes)[::2, :, ::2])
    assert decode_fast(curve, codes[:0]).shape == (0, 30, 6)
