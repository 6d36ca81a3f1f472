"""Encodings that a setup file defines: the table read, the errors told, the numbers honoured."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from huemend.encodings.gamuts import GAMUTS
from huemend.encodings.registry import find_encoding
from huemend.errors import EncodingError, SetupFileError
from huemend.sample.encoding_table import parse_encoding_spec

SOURCE = Path("setup.toml")

# V-Log as CLF would write it (V-Log/V-Gamut Reference Manual Rev. 1.0).
V_LOG: dict[str, Any] = {
    "form": "camera-log",
    "log_side_slope": 0.241514,
    "log_side_offset": 0.598206,
    "lin_side_slope": 1.0,
    "lin_side_offset": 0.00873,
    "lin_side_break": 0.01,
    "linear_slope": 5.6,
    "linear_offset": 0.125,
    "primaries": [[0.730, 0.280], [0.165, 0.840], [0.100, -0.030]],
    "mid_grey_code": 433,
}


def test_a_published_curve_spelt_out_is_that_curve() -> None:
    mine = find_encoding("HOUSE log", custom=[parse_encoding_spec("House Log", V_LOG, SOURCE)])
    published = find_encoding("V-Log/V-Gamut")
    codes = np.random.default_rng(0).random((500, 3))
    np.testing.assert_array_equal(mine.decode(codes, "legal"), published.decode(codes, "legal"))
    assert mine.name == "House Log"


def test_a_published_curve_in_another_gamut() -> None:
    spec = parse_encoding_spec("C-Log3/BT.2020", {"curve": "C-Log3", "gamut": "BT.2020"}, SOURCE)
    mine = find_encoding("c-log3/bt.2020", custom=[spec])
    assert mine.gamut == GAMUTS["BT.2020"]
    assert mine.mid_grey_code == find_encoding("C-Log3/Cinema Gamut").mid_grey_code


def test_a_table_from_the_setup_file_or_from_a_file(tmp_path: Path) -> None:
    light = find_encoding("S-Log3/S-Gamut3").curve.form.decode(np.linspace(0, 1, 1024))
    (tmp_path / "curve.txt").write_text("# measured\n" + "\n".join(f"{value:.9g}" for value in light) + "\n")
    inline = parse_encoding_spec(
        "Mine", {"table": light.tolist(), "gamut": "S-Gamut3", "mid_grey_code": 420}, SOURCE
    )
    in_file = parse_encoding_spec("Mine", {"table": "curve.txt", "gamut": "S-Gamut3"}, tmp_path / "setup.toml")
    codes = np.random.default_rng(0).uniform(0.1, 0.9, (500, 3))
    want = find_encoding("S-Log3/S-Gamut3").decode(codes)
    for spec in (inline, in_file):
        mine = find_encoding("Mine", custom=[spec])
        np.testing.assert_allclose(mine.decode(codes), want, rtol=3e-5, atol=3e-5)
        np.testing.assert_allclose(mine.encode(mine.decode(codes)), codes, atol=1e-9)


def test_a_signal_ignores_the_range() -> None:
    spec = parse_encoding_spec(
        "Gamma", {"form": "power", "gamma": 2.2, "gamut": "BT.709", "defined_in": "signal"}, SOURCE
    )
    mine = find_encoding("Gamma", custom=[spec])
    np.testing.assert_allclose(mine.decode(np.full(3, 0.5), "legal"), 0.5**2.2)


def test_a_custom_name_comes_before_a_published_one() -> None:
    spec = parse_encoding_spec("sRGB", {"form": "power", "gamma": 2.2, "gamut": "BT.709"}, SOURCE)
    assert find_encoding("srgb", custom=[spec]).curve.source == "setup file"


def test_white_and_adaptation_are_honoured() -> None:
    table = {"curve": "linear", "primaries": [[0.64, 0.33], [0.3, 0.6], [0.15, 0.06]], "white": [0.3457, 0.3585]}
    bradford = find_encoding("A", custom=[parse_encoding_spec("A", table, SOURCE)])
    cat02 = find_encoding("B", custom=[parse_encoding_spec("B", {**table, "adaptation": "CAT02"}, SOURCE)])
    for encoding in (bradford, cat02):
        np.testing.assert_allclose(encoding.decode(np.ones(3)), 1.0)
    red = np.array([1.0, 0.0, 0.0])
    assert np.abs(bradford.decode(red) - cat02.decode(red)).max() > 5e-4


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ({"curve": "S-Log3"}, r"encoding\.X: does not say which light.*gamut, primaries"),
        ({"gamut": "AWG3"}, r"encoding\.X: does not say how light becomes code.*curve, form, table"),
        ({"curve": "S-Log3", "table": [0, 1], "gamut": "AWG3"}, "says twice how"),
        ({"curve": "S-Log3", "gamut": "AWG3", "primaries": []}, "says twice which"),
        ({"curve": "S-Log3", "gamutt": "AWG3"}, r"encoding\.X\.gamutt: is not a known key; did you mean gamut\?"),
        ({"curve": "S-Log3", "gamut": "AWG3", "gamma": 2.0}, r"encoding\.X\.gamma: belongs to a form"),
        ({"curve": 3, "gamut": "AWG3"}, "curve: must be a text"),
        ({"form": "power", "gamma": "2.2", "gamut": "AWG3"}, "gamma: cannot be"),
        ({"form": "power", "gamma": True, "gamut": "AWG3"}, "gamma: cannot be"),
        ({"form": "power", "gamma": float("nan"), "gamut": "AWG3"}, "gamma: cannot be"),
        ({"curve": "S-Log3", "primaries": [[0.6, 0.3]]}, "must hold three chromaticities"),
        (
            {"curve": "S-Log3", "primaries": [[0.6, 0.3, 1], [0, 1], [0, 0]]},
            r"primaries\.red: must be a list of 2 numbers",
        ),
        ({"curve": "S-Log3", "gamut": "AWG3", "white": [0.3, 0.3]}, "white: is that of the named gamut already"),
        ({"curve": "S-Log3", "gamut": "AWG3", "adaptation": "CAT02"}, "adaptation: is that of the named gamut"),
        ({"curve": "S-Log3", "gamut": "AWG3", "defined_in": "codes"}, "defined_in: is that of the named curve"),
        ({"form": "power", "gamma": 2, "gamut": "AWG3", "defined_in": "film"}, "use one of: codes, signal"),
        ({"curve": "S-Log3", "primaries": [[0.6, 0.3]] * 3, "white": [0, 0]}, "white: cannot be 0"),
        ({"table": [1.0], "gamut": "AWG3"}, "must hold 2 to 131072 numbers"),
        ({"table": "nowhere.txt", "gamut": "AWG3"}, r"nowhere\.txt cannot be read \(No such file"),
    ],
)
def test_a_faulty_table_is_told_where_and_why(table: dict[str, Any], message: str) -> None:
    with pytest.raises(SetupFileError, match=message):
        parse_encoding_spec("X", table, SOURCE)


def test_a_file_with_words_in_it_is_told_with_its_line(tmp_path: Path) -> None:
    (tmp_path / "curve.txt").write_text("0.0\n0,5\n")
    with pytest.raises(SetupFileError, match=r"line 2 of .*curve\.txt is not a number"):
        parse_encoding_spec("X", {"table": "curve.txt", "gamut": "AWG3"}, tmp_path / "setup.toml")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"mid_grey_code": 420}, r"encoding\.X: an 18 % grey has code 433\.0 by this definition, not 420"),
        ({"linear_offset": 0.2}, "its pieces do not meet|does not rise"),
        ({"linear_slope": -5.6}, "does not rise"),
        ({"linear_slope": 0.0}, "give no curve"),
        ({"base": -10}, "give no curve"),
        ({"log_side_slope": 0.0}, "give no curve"),
        ({"sigma": 1.0}, 'form "camera-log" has no parameter "sigma"'),
        ({"form": "camera-logg"}, 'form "camera-logg" is not known; use one of camera-log'),
        ({"primaries": [[0.1, 0.1], [0.2, 0.2], [0.3, 0.3]]}, "on one line"),
    ],
)
def test_numbers_that_make_no_encoding_are_refused(change: dict[str, Any], message: str) -> None:
    table = {**V_LOG, **change}
    if "mid_grey_code" not in change:
        del table["mid_grey_code"]
    with pytest.raises(EncodingError, match=message):
        find_encoding("X", custom=[parse_encoding_spec("X", table, SOURCE)])


def test_a_missing_number_of_a_form_is_named() -> None:
    table = {key: value for key, value in V_LOG.items() if key != "linear_slope"}
    with pytest.raises(EncodingError, match='needs the parameter "linear_slope"'):
        find_encoding("X", custom=[parse_encoding_spec("X", table, SOURCE)])


@pytest.mark.parametrize("table", [{"curve": "S-Log4", "gamut": "AWG3"}, {"curve": "S-Log3", "gamut": "AWG5"}])
def test_unknown_published_names_are_refused(table: dict[str, Any]) -> None:
    with pytest.raises(EncodingError, match=r"encoding\.X: (curve|gamut) .* is not known"):
        find_encoding("X", custom=[parse_encoding_spec("X", table, SOURCE)])
