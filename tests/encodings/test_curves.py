"""Transfer curves against what their makers printed, and against two general libraries."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from huemend.encodings.curves import CURVES, LOGC3_EXPOSURE_INDICES, logc3
from huemend.encodings.forms import CODE_LIMIT, Table

DATA = Path(__file__).parents[1] / "data" / "curve_codes.csv"
LOGS = [name for name, curve in CURVES.items() if curve.defined_in == "codes"]

# Names of the same curves in colour-science, and the light of ours that theirs calls 1.
COLOUR_LOGS = {
    "S-Log3": "S-Log3",
    "S-Log2": "S-Log2",
    "S-Log": "S-Log",
    "V-Log": "V-Log",
    "C-Log": "Canon Log",
    "C-Log2": "Canon Log 2",
    "C-Log3": "Canon Log 3",
    "LogC3": "ARRI LogC3",
    "LogC4": "ARRI LogC4",
    "F-Log": "F-Log",
    "F-Log2": "F-Log2",
    "N-Log": "N-Log",
    "D-Log": "D-Log",
    "Apple Log": "Apple Log Profile",
    "Mi-Log": "Mi-Log",
    "Log3G10": "Log3G10",
    "REDLogFilm": "REDLogFilm",
    "ACEScct": "ACEScct",
    "ACEScc": "ACEScc",
}


def published_codes() -> list[dict[str, str]]:
    lines = [line for line in DATA.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


@pytest.mark.parametrize("row", published_codes(), ids=lambda row: f"{row['curve']}-{row['light']}")
def test_code_is_the_published_one(row: dict[str, str]) -> None:
    code = float(CURVES[row["curve"]].form.encode(np.array(float(row["light"]))))
    scale = 2 ** int(row["bits"]) - 1 if int(row["bits"]) else 1
    assert code * scale == pytest.approx(float(row["code"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("name", COLOUR_LOGS)
def test_curve_agrees_with_colour_science(name: str) -> None:
    """colour-science 0.4.7, both directions, over all codes that are not below black."""
    import colour

    curve = CURVES[name].form
    black = max(0.0, float(curve.encode(np.array(0.0))))
    code = np.linspace(black + 1e-9, 1.0, 4001)
    light = curve.decode(code)
    # Three makers print a rounded code at which decoding changes its piece; ours changes where encoding does, so
    # that every light comes back as itself.
    gap = {"D-Log": 3e-6, "F-Log": 1.3e-5, "N-Log": 3e-4}.get(name, 1e-9)
    # The library evaluates both pieces everywhere, so that its logarithm may see what it then drops.
    with np.errstate(invalid="ignore"):
        decoded = colour.log_decoding(code, function=COLOUR_LOGS[name])
        theirs = colour.log_encoding(light, function=COLOUR_LOGS[name])
    np.testing.assert_allclose(light, decoded, rtol=1e-9, atol=gap)
    np.testing.assert_allclose(curve.encode(light), theirs, rtol=0, atol=1.1e-4 if name == "F-Log" else 1e-6)


@pytest.mark.parametrize("exposure_index", LOGC3_EXPOSURE_INDICES)
def test_logc3_of_every_exposure_index_agrees_with_colour_science(exposure_index: int) -> None:
    import colour

    light = np.geomspace(1e-4, 40, 500)
    theirs = colour.log_encoding(light, function="ARRI LogC3", EI=exposure_index)
    np.testing.assert_allclose(logc3(exposure_index).encode(light), theirs, atol=1e-12)


def test_signal_curves_agree_with_colour_science() -> None:
    import colour

    signal = np.linspace(0, 1, 1001)
    np.testing.assert_allclose(
        CURVES["BT.709 display"].form.decode(signal), colour.eotf(signal, function="ITU-R BT.1886"), atol=1e-12
    )
    np.testing.assert_allclose(
        CURVES["sRGB"].form.decode(signal), colour.eotf(signal, function="sRGB"), atol=1e-9, rtol=1e-7
    )
    light = np.linspace(0, 1, 1001)
    np.testing.assert_allclose(
        CURVES["BT.709 camera"].form.encode(light), colour.oetf(light, function="ITU-R BT.709"), atol=1e-12
    )
    np.testing.assert_allclose(
        CURVES["PQ"].form.decode(signal) * 203,
        colour.eotf(signal, function="ITU-R BT.2100 PQ"),
        rtol=1e-9,
        atol=1e-9,
    )
    hlg = colour.models.oetf_inverse_BT2100_HLG(signal)
    # The constants of BT.2100 are printed to eight decimals, ours are worked out from the first of them.
    np.testing.assert_allclose(
        CURVES["HLG"].form.decode(signal), hlg / colour.models.oetf_inverse_BT2100_HLG(0.75), atol=1e-7
    )


@pytest.mark.parametrize("name", list(CURVES))
def test_code_to_light_and_back(name: str) -> None:
    curve = CURVES[name].form
    code = np.linspace(0.0, 1.0, 4097)
    if name == "BT.709 camera":
        # BT.709 prints 1.099 and 0.018: no light has a code between 0.0810 and 0.0813, where they do not meet.
        code = code[(code < 0.0810) | (code > 0.0813)]
    if name == "PQ":
        # Its black has code 7e-7 (BT.2100-2, table 4).
        code = code[1:]
    np.testing.assert_allclose(curve.encode(curve.decode(code)), code, atol=2e-11)


@pytest.mark.parametrize("name", LOGS)
def test_light_to_code_and_back(name: str) -> None:
    curve = CURVES[name].form
    light = np.geomspace(1e-4, float(curve.decode(np.array(1.0))), 3000)
    # F-Log: the printed line lies 1e-4 of code above the printed logarithm where they should meet.
    np.testing.assert_allclose(
        curve.decode(curve.encode(light)), light, rtol=1e-9, atol=1.3e-5 if name == "F-Log" else 1e-6
    )


@pytest.mark.parametrize("name", list(CURVES))
def test_light_rises_with_code(name: str) -> None:
    code = np.linspace(0.0, 1.0, 1024)
    rise = np.diff(CURVES[name].form.decode(code))
    # ACEScc and PQ begin with codes that all stand for black.
    assert (rise >= 0).all() if name == "PQ" else (rise > 0).all()


@pytest.mark.parametrize("name", list(CURVES))
def test_no_code_and_no_light_upsets_a_curve(name: str) -> None:
    """Warnings are errors here: neither negatives nor a half-float's largest number may raise one."""
    curve = CURVES[name].form
    extreme = np.array([-65504.0, -1.0, -1e-9, 0.0, 1e-9, 1.0, CODE_LIMIT, 65504.0])
    assert np.isfinite(curve.decode(extreme)).all()
    assert np.isfinite(curve.encode(extreme)).all()
    assert np.isnan(curve.decode(np.array([np.nan]))).all()


def test_exposure_is_one_gain_in_scene_linear_light() -> None:
    """One stop more of exposure is twice the light, at every level (common practice, no source)."""
    for name in LOGS:
        curve = CURVES[name].form
        light = np.geomspace(0.01, float(curve.decode(np.array(1.0))) / 2, 50)
        np.testing.assert_allclose(curve.decode(curve.encode(2 * light)), 2 * light, rtol=1e-9)


def test_table_runs_straight_between_and_beyond_its_entries() -> None:
    table = Table(light=(0.0, 1.0, 3.0))
    np.testing.assert_allclose(table.decode(np.array([-0.5, 0.0, 0.25, 0.75, 1.0, 1.5])), [-1, 0, 0.5, 2, 3, 5])
    np.testing.assert_allclose(table.encode(np.array([-1, 0, 0.5, 2, 3, 5])), [-0.5, 0.0, 0.25, 0.75, 1.0, 1.5])


@pytest.mark.parametrize("light", [(1.0,), (0.0, 0.0), (1.0, 0.5), (0.0, float("nan"))])
def test_table_that_does_not_rise_is_refused(light: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="larger than the one before"):
        Table(light=light)


def test_acescc_bends_below_its_last_stop() -> None:
    # S-2014-003, section 4.4, by colour-science: below 2**-15 a line leads to black, which has a code.
    import colour

    light = np.array([0.0, 2.0**-17, 2.0**-16, 2.0**-15, 2.0**-14])
    with np.errstate(divide="ignore"):  # it also takes the logarithm that it does not use
        known = colour.models.log_encoding_ACEScc(light)
    np.testing.assert_allclose(CURVES["ACEScc"].form.encode(light), known, atol=1e-9)
    np.testing.assert_allclose(CURVES["ACEScc"].form.decode(known), light, atol=1e-9)
