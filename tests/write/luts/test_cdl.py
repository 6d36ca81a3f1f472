"""The closest CDL: against the published formula, against OpenColorIO, and how close it comes."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import astuple
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares

from huemend.base.units import acescct_decode, acescct_encode
from huemend.model import Match
from huemend.view import delta_e2000, measurement_lab
from huemend.write.luts.cdl import (
    Cdl,
    CdlEntry,
    _cdl,
    _least_squares,
    _metric,
    apply_cdl,
    ccc_text,
    closest_cdl,
    edl_comments,
)
from huemend.write.luts.cube import whole_cube_codes

SPACE = "{urn:ASC:CDL:v1.01}"
STRONG = Cdl(slope=(1.4, 0.7, 1.1), offset=(-0.1, 0.05, 0.02), power=(0.8, 1.3, 1.0), saturation=1.3)


def by_the_book(cdl: Cdl, code: np.ndarray) -> list[float]:
    """ASC CDL 1.2, sections on slope, offset, power and on saturation, one number at a time."""

    def clamp(value: float) -> float:
        return min(1.0, max(0.0, value))

    out = [
        clamp(value * slope + offset) ** power
        for value, slope, offset, power in zip(code, cdl.slope, cdl.offset, cdl.power, strict=True)
    ]
    luma = 0.2126 * out[0] + 0.7152 * out[1] + 0.0722 * out[2]
    return [clamp(luma + cdl.saturation * (value - luma)) for value in out]


numbers = st.floats(0.2, 3.0)


@given(
    st.lists(st.floats(-0.5, 1.5), min_size=3, max_size=3),
    st.tuples(numbers, numbers, numbers),
    st.tuples(*[st.floats(-0.5, 0.5)] * 3),
    st.tuples(numbers, numbers, numbers),
    st.floats(0, 3),
)
def test_the_published_formula(
    code: list[float],
    slope: tuple[float, float, float],
    offset: tuple[float, float, float],
    power: tuple[float, float, float],
    saturation: float,
) -> None:
    cdl = Cdl(slope=slope, offset=offset, power=power, saturation=saturation)
    np.testing.assert_allclose(apply_cdl(cdl, np.array(code)), by_the_book(cdl, np.array(code)), atol=1e-12)


def test_opencolorio_reads_the_collection_and_clamps_as_we_do(tmp_path: Path) -> None:
    import PyOpenColorIO as ocio

    entries = [
        CdlEntry(id="glaze_left", cdl=STRONG, input="ACEScct, full range", description="a < b", mean=0.5, p95=1.0),
        CdlEntry(id="glaze_right", cdl=Cdl(), input="ACEScct, full range", description="", mean=0.0, p95=0.0),
    ]
    path = tmp_path / "match.ccc"
    path.write_text(ccc_text(entries), encoding="utf-8")
    codes = whole_cube_codes(5000) * 1.4 - 0.2
    for entry in entries:
        transform = ocio.CDLTransform.CreateFromFile(str(path), entry.id)
        transform.setStyle(ocio.CDL_ASC)
        assert transform.getSlope() == pytest.approx(entry.cdl.slope)
        processor = ocio.Config.CreateRaw().getProcessor(transform)
        wanted = apply_cdl(entry.cdl, codes.astype(np.float32).astype(float))
        # OpenColorIO's fast power, which hosts leave on, is good to a seventieth of a 10-bit code.
        exact = processor.getOptimizedCPUProcessor(ocio.OPTIMIZATION_LOSSLESS)
        for reader, close in ((exact, 2e-6), (processor.getDefaultCPUProcessor(), 2e-5)):
            out = codes.astype(np.float32)
            reader.applyRGB(out)
            np.testing.assert_allclose(out, wanted, atol=close)


def test_the_collection_says_what_space_each_correction_works_in() -> None:
    entry = CdlEntry(id='a"<', cdl=STRONG, input="ACEScct, full range", description="<&>", mean=0.5, p95=1.0)
    root = ET.fromstring(ccc_text([entry]).encode())
    assert root.tag == f"{SPACE}ColorCorrectionCollection"
    correction = root[0]
    assert correction.get("id") == 'a"<'
    assert [child.tag.removeprefix(SPACE) for child in correction] == [
        "Description",
        "InputDescription",
        "SOPNode",
        "SatNode",
    ]
    assert correction.findtext(f"{SPACE}InputDescription") == "ACEScct, full range"
    assert correction.findtext(f"{SPACE}Description") == "<&>"
    assert correction.findtext(f"{SPACE}SOPNode/{SPACE}Slope") == "1.400000 0.700000 1.100000"


def difference(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return delta_e2000(measurement_lab(acescct_decode(one)), measurement_lab(acescct_decode(other)))


LIGHT = 0.02 * 40 ** whole_cube_codes(500)


def test_a_change_of_exposure_is_a_cdl() -> None:
    # Above ACEScct's toe a gain of light is an offset of code: log2(gain) / 17.52 (S-2016-001, 4.4).
    before = acescct_encode(LIGHT)
    found = closest_cdl(before, acescct_encode(LIGHT * 1.5), difference)
    assert difference(apply_cdl(found, before), acescct_encode(LIGHT * 1.5)).max() < 0.02


def test_an_identity_stays_one() -> None:
    codes = acescct_encode(LIGHT)
    assert closest_cdl(codes, codes, difference) == Cdl()
    assert closest_cdl(np.zeros((0, 3)), np.zeros((0, 3)), difference) == Cdl()


def test_a_cdl_is_found_again() -> None:
    before = acescct_encode(LIGHT)
    mild = Cdl(slope=(1.1, 0.95, 1.0), offset=(0.02, -0.01, 0.0), power=(1.05, 0.9, 1.1), saturation=0.9)
    after = apply_cdl(mild, before)
    assert difference(apply_cdl(closest_cdl(before, after, difference), before), after).max() < 0.02


def test_fitting_in_colour_difference_beats_fitting_in_codes_and_doing_nothing() -> None:
    match = Match.from_matrix(1.3 * np.array([[1.1, -0.08, 0.03], [0.05, 0.9, 0.05], [-0.03, 0.09, 0.95]]))
    before, after = acescct_encode(LIGHT), acescct_encode(match.apply(LIGHT))
    left = {
        name: np.sqrt(np.mean(difference(apply_cdl(cdl, before), after) ** 2))
        for name, cdl in {
            "colour": closest_cdl(before, after, difference),
            "codes": closest_cdl(before, after, lambda one, other: np.linalg.norm(one - other, axis=-1)),
            "nothing": Cdl(),
        }.items()
    }
    assert left["colour"] < left["codes"] < left["nothing"]
    # A CDL has no channel mix: it cannot be exact, and must not claim so.
    assert left["colour"] > 0.1


MIX = np.array([[1.1, -0.08, 0.03], [0.05, 0.9, 0.05], [-0.03, 0.09, 0.95]])


@pytest.mark.parametrize(
    ("gain", "mix"), [(1.3, MIX), (0.4, MIX.T), (3.0, np.linalg.inv(MIX)), (1.0, MIX @ MIX @ MIX), (12.0, MIX)]
)
def test_scipy_finds_no_closer_cdl(gain: float, mix: np.ndarray) -> None:
    # SciPy's `least_squares`, the reference library for this, started where ours starts.
    before, after = acescct_encode(LIGHT), acescct_encode(np.maximum(gain * LIGHT @ mix.T, 1e-4))
    metric = _metric(after, difference)

    def residual(numbers: np.ndarray) -> np.ndarray:
        return np.einsum("nij,nj->ni", metric, apply_cdl(_cdl(numbers), before) - after).ravel()

    theirs = least_squares(residual, np.zeros(10), method="lm", xtol=1e-12, ftol=1e-12).x
    ours = _least_squares(residual, np.zeros(10))
    # Clamped colours leave valleys that are level but for the last digits: what they leave is compared.
    assert np.sum(residual(ours) ** 2) == pytest.approx(np.sum(residual(theirs) ** 2), rel=1e-6)
    for one, other in zip(astuple(_cdl(ours)), astuple(_cdl(theirs)), strict=True):
        assert one == pytest.approx(other, abs=5e-4)


def test_the_comments_of_an_edl() -> None:
    sop, sat = edl_comments(STRONG)
    assert sop == (
        "*ASC_SOP (1.400000 0.700000 1.100000)(-0.100000 0.050000 0.020000)(0.800000 1.300000 1.000000)"
    )
    assert sat == "*ASC_SAT 1.300000"


def test_a_small_change_in_any_direction_is_as_large_as_ciede2000_says() -> None:
    # What the fit makes least stands in for CIEDE2000: along every direction, not along the three channels alone.
    rng = np.random.default_rng(3)
    codes = acescct_encode(LIGHT[:60])
    change = 2e-3 * rng.normal(size=codes.shape)
    told = np.linalg.norm(np.einsum("nij,nj->ni", _metric(codes, difference), change), axis=1)
    known = difference(codes, codes + change)
    assert np.median(np.abs(told / known - 1)) < 0.03
    assert np.quantile(np.abs(told / known - 1), 0.9) < 0.15
