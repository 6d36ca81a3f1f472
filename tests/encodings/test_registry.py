"""Encodings by name, ranges, and the whole chain against OpenColorIO's builtin transforms."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from huemend.encodings.gamuts import GAMUTS, matrix_to_acescg
from huemend.encodings.registry import Encoding, all_encodings, find_encoding
from huemend.errors import EncodingError

# OpenColorIO 2.6, code values to ACES2065-1.
BUILTINS = {
    "S-Log3/S-Gamut3.Cine": "SONY_SLOG3-SGAMUT3.CINE_to_ACES2065-1",
    "S-Log3/S-Gamut3": "SONY_SLOG3-SGAMUT3_to_ACES2065-1",
    "S-Log3/Venice S-Gamut3.Cine": "SONY_SLOG3-SGAMUT3.CINE-VENICE_to_ACES2065-1",
    "S-Log3/Venice S-Gamut3": "SONY_SLOG3-SGAMUT3-VENICE_to_ACES2065-1",
    "V-Log/V-Gamut": "PANASONIC_VLOG-VGAMUT_to_ACES2065-1",
    "C-Log2/Cinema Gamut": "CANON_CLOG2-CGAMUT_to_ACES2065-1",
    "C-Log3/Cinema Gamut": "CANON_CLOG3-CGAMUT_to_ACES2065-1",
    "LogC3/AWG3": "ARRI_ALEXA-LOGC-EI800-AWG_to_ACES2065-1",
    "LogC4/AWG4": "ARRI_LOGC4_to_ACES2065-1",
    "Apple Log/BT.2020": "APPLE_LOG_to_ACES2065-1",
    "Apple Log/Apple Wide Gamut": "APPLE_LOG-APPLEWG_to_ACES2065-1",
    "Log3G10/REDWideGamutRGB": "RED_LOG3G10-RWG_to_ACES2065-1",
    "REDLogFilm/REDWideGamutRGB": "RED_REDLOGFILM-RWG_to_ACES2065-1",
    "ACEScct": "ACEScct_to_ACES2065-1",
    "ACEScc": "ACEScc_to_ACES2065-1",
    "ACEScg": "ACEScg_to_ACES2065-1",
}


def _builtin(style: str, values: np.ndarray, *, inverse: bool = False) -> np.ndarray:
    import PyOpenColorIO as ocio

    direction = ocio.TRANSFORM_DIR_INVERSE if inverse else ocio.TRANSFORM_DIR_FORWARD
    processor = ocio.Config.CreateRaw().getProcessor(ocio.BuiltinTransform(style, direction=direction))
    out = np.array(values, np.float32, order="C")
    # Without the fast, approximate logarithms.
    processor.getOptimizedCPUProcessor(ocio.OPTIMIZATION_LOSSLESS).applyRGB(out)
    return out.astype(float)


@pytest.mark.parametrize("name", BUILTINS)
def test_decoding_agrees_with_opencolorio(name: str) -> None:
    """To 1e-6 of code: their light, encoded exactly, is the code again (linear light: to 1e-6 of it)."""
    encoding = find_encoding(name)
    grey = np.linspace(0.0, 1.0, 1024)[:, None] * np.ones(3)
    # Neutrals and mild colours: a saturated one would test how single precision cancels in a matrix.
    mild = np.random.default_rng(7).uniform(0.3, 0.8, (3000, 1)) + np.random.default_rng(8).uniform(
        -0.03, 0.03, (3000, 3)
    )
    codes = np.vstack([grey, mild]).astype(np.float32).astype(float)
    theirs = _builtin(BUILTINS[name], codes) @ matrix_to_acescg(GAMUTS["AP0"]).T
    if encoding.is_linear:
        np.testing.assert_allclose(theirs, encoding.decode(codes), rtol=1e-6, atol=1e-6)
    else:
        assert np.abs(encoding.encode(theirs) - codes).max() < 1e-6


@pytest.mark.parametrize("name", BUILTINS)
def test_encoding_agrees_with_opencolorio(name: str) -> None:
    encoding = find_encoding(name)
    # From nine stops below mid-grey to where the brightest channel still has a code that their tables hold.
    grey = np.geomspace(3e-4, min(encoding.largest_linear / 1.7, 100.0), 3000)[:, None]
    mild = grey * np.random.default_rng(3).uniform(0.8, 1.25, (3000, 3))
    aces = mild.astype(np.float32).astype(float)
    ours = encoding.encode(aces @ matrix_to_acescg(GAMUTS["AP0"]).T)
    theirs = _builtin(BUILTINS[name], aces, inverse=True)
    if encoding.is_linear:
        np.testing.assert_allclose(ours, theirs, rtol=1e-6)
    else:
        assert np.abs(ours - theirs).max() < 1e-6


@pytest.mark.parametrize("range_", ["full", "legal"])
@pytest.mark.parametrize("encoding", all_encodings(), ids=lambda encoding: encoding.name)
def test_codes_come_back(encoding: Encoding, range_: str) -> None:
    codes = np.random.default_rng(5).uniform(0.1, 0.9, (2000, 3))
    np.testing.assert_allclose(encoding.encode(encoding.decode(codes, range_), range_), codes, atol=1e-10)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0.02, 0.98), min_size=3, max_size=3), st.sampled_from(all_encodings()))
def test_single_precision_is_as_good_as_double(codes: list[float], encoding: Encoding) -> None:
    values = np.array([codes], np.float32)
    fast = encoding.decode(values)
    exact = encoding.decode(values.astype(float))
    assert fast.dtype == np.float32
    # Matrices of wide gamuts have entries up to 2 with both signs.
    limit = 1e-5 * np.abs(encoding.to_light(values.astype(float))).max() + 2e-4 * 1e-2
    assert np.abs(fast - exact).max() < limit


def test_legal_range_stands_for_codes_64_to_940() -> None:
    """ITU-R BT.709-6, item 5.4: ten-bit codes 64 and 940. Read as full, 18 % is off by as much as known."""
    for name, stops in {
        # Measured beforehand with colour-science: what forgetting the range does to a grey card.
        "S-Log3/S-Gamut3.Cine": -0.06,
        "V-Log/V-Gamut": -0.03,
        "C-Log3/Cinema Gamut": -0.19,
        "LogC3/AWG3": -0.11,
        "LogC4/AWG4": -0.48,
        "N-Log/N-Gamut": -0.15,
        "Apple Log/BT.2020": 0.11,
    }.items():
        encoding = find_encoding(name)
        code = float(encoding.encode(np.full(3, 0.18))[0])
        legal = (code * 1023 - 64) / 876
        np.testing.assert_allclose(encoding.decode(np.full(3, legal), "legal"), 0.18, atol=1e-9)
        np.testing.assert_allclose(encoding.decode(np.full(3, legal), "narrow"), 0.18, atol=1e-9)
        assert np.log2(encoding.decode(np.full(3, legal))[1] / 0.18) == pytest.approx(stops, abs=0.006)


@pytest.mark.parametrize("name", ["BT.709 camera", "BT.709 display", "sRGB", "HLG", "PQ", "ACEScct", "ACEScg"])
def test_a_signal_reads_the_same_in_either_range(name: str) -> None:
    """0 and 1 of these are black and white, whatever codes they travelled in."""
    codes = np.random.default_rng(2).uniform(0.1, 0.9, (50, 3))
    encoding = find_encoding(name)
    np.testing.assert_array_equal(encoding.decode(codes, "legal"), encoding.decode(codes, "full"))


def test_unknown_range_is_refused() -> None:
    with pytest.raises(EncodingError, match=r'range "video".*full, legal or narrow'):
        find_encoding("ACEScg").decode(np.zeros(3), "video")


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("s-log3 / s-gamut3.cine", "S-Log3/S-Gamut3.Cine"),
        ("SLOG3/SGAMUT3CINE", "S-Log3/S-Gamut3.Cine"),
        ("slog3 sgamut3cine", "S-Log3/S-Gamut3.Cine"),
        ("acescg", "ACEScg"),
        ("ACEScct", "ACEScct"),
        ("ACES2065-1", "ACES2065-1"),
        ("srgb", "sRGB"),
        ("BT.709 camera", "BT.709 camera"),
        ("Rec. 709 display", "BT.709 display"),
        ("Apple Log/Rec.2020", "Apple Log/BT.2020"),
        ("HLG", "HLG/BT.2020"),
        ("PQ/BT.2100", "PQ/BT.2020"),
        ("linear/awg4", "Linear/AWG4"),
    ],
)
def test_usual_spellings_find_an_encoding(asked: str, found: str) -> None:
    assert find_encoding(asked).name == found


@pytest.mark.parametrize(
    ("asked", "advice"),
    [
        ("S-Log3/S-Gamut3.Cin", 'did you mean "S-Log3/S-Gamut3.Cine"?'),
        ("S-Log3/S-Gamut", 'did you mean "S-Log3/S-Gamut3"?'),
        ("C-Log3", "name its gamut too: C-Log3/Cinema Gamut"),
        ("Vlog/V-Gamutt", 'did you mean "V-Log/V-Gamut"?'),
        ("", "did you mean"),
    ],
)
def test_unknown_encoding_names_the_nearest(asked: str, advice: str) -> None:
    with pytest.raises(EncodingError) as caught:
        find_encoding(asked)
    assert advice in str(caught.value)
    assert f'"{asked}" is not known' in str(caught.value)


def test_names_are_unique_however_they_are_spelt() -> None:
    names = [encoding.name for encoding in all_encodings()]
    assert len({find_encoding(name).name for name in names}) == len(names) > 40


def test_logc3_depends_on_the_exposure_index() -> None:
    """A grey card keeps its code, the top of the curve moves (ALEXA Log C Curve, Usage in VFX)."""
    at_400, at_1600 = (find_encoding("LogC3/AWG3", exposure_index=index) for index in (400, 1600))
    assert at_400.mid_grey_code == pytest.approx(400, abs=1)
    assert at_1600.mid_grey_code == pytest.approx(400, abs=1)
    assert at_1600.largest_linear > 1.4 * at_400.largest_linear
    with pytest.raises(EncodingError, match=r"not published for exposure index 799; use one of 160"):
        find_encoding("LogC3/AWG3", exposure_index=799)


def test_exposure_index_means_nothing_to_other_curves() -> None:
    assert find_encoding("V-Log/V-Gamut", exposure_index=799) == find_encoding("V-Log/V-Gamut")


def test_every_encoding_says_where_it_comes_from() -> None:
    for encoding in all_encodings():
        assert len(encoding.curve.source) > 8
        assert len(encoding.gamut.source) > 8
        assert encoding.display_referred == (encoding.curve.name in ("BT.709 display", "sRGB", "PQ"))


def test_codes_of_whole_numbers_are_taken_as_exact() -> None:
    encoding: Any = find_encoding("V-Log/V-Gamut")
    assert encoding.decode(np.array([0, 1, 1])).dtype == np.float64
    assert encoding.decode(np.zeros((0, 3))).shape == (0, 3)
