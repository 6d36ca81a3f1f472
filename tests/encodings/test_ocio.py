"""Encodings as OpenColorIO transforms: equal to our own chain, through a CLF file and back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import PyOpenColorIO as ocio
import pytest

from huemend.encodings.ocio import decode_transform, encode_transform
from huemend.encodings.registry import Encoding, all_encodings, find_encoding
from huemend.sample.encoding_table import parse_encoding_spec
from tests.luts import is_exact

SOURCE = Path("setup.toml")
CONFIG = ocio.Config.CreateRaw()
ENCODINGS = [encoding for encoding in all_encodings() if not encoding.name.startswith("Linear/")]


def run(transform: Any, values: np.ndarray) -> np.ndarray:
    out = np.array(values, np.float32, order="C")
    # Without the fast, approximate logarithms.
    CONFIG.getProcessor(transform).getOptimizedCPUProcessor(ocio.OPTIMIZATION_LOSSLESS).applyRGB(out)
    return out.astype(float)


def codes_of(encoding: Encoding) -> np.ndarray:
    """Neutral and mild colours: a saturated one would test how single precision cancels in a matrix."""
    grey = np.linspace(0.0, 1.0, 1024)[:, None] * np.ones(3)
    rng = np.random.default_rng(7)
    mild = rng.uniform(0.3, 0.8, (2000, 1)) + rng.uniform(-0.03, 0.03, (2000, 3))
    codes = np.vstack([grey, mild]).astype(np.float32).astype(float)
    if encoding.curve.name in ("Apple Log", "Mi-Log"):
        # The root at their darkest light is too steep for a table.
        return codes[4:]
    return codes


@pytest.mark.parametrize("range_", ["full", "legal"])
@pytest.mark.parametrize("encoding", ENCODINGS, ids=lambda encoding: encoding.name)
def test_decoding_is_ours(encoding: Encoding, range_: str) -> None:
    codes = codes_of(encoding)
    light = run(decode_transform(encoding, range_), codes)
    want = encoding.decode(codes, range_)
    # Single precision; printed pieces of a curve that miss each other (BT.709: 1.3e-4 of light) are joined
    # over one step of the table or, in the toe of a log, brought together.
    near_join = {"BT.709 camera": 6e-5, "N-Log": 3e-4}.get(encoding.curve.name, 2e-6)
    np.testing.assert_allclose(light, want, rtol=1e-5, atol=near_join)


@pytest.mark.parametrize("range_", ["full", "legal"])
@pytest.mark.parametrize("encoding", ENCODINGS, ids=lambda encoding: encoding.name)
def test_encoding_is_ours(encoding: Encoding, range_: str) -> None:
    rng = np.random.default_rng(9)
    top = min(encoding.largest_linear, 50.0)
    light = np.geomspace(1e-4, top / 1.3, 2000)[:, None] * rng.uniform(0.9, 1.1, (2000, 3))
    light = light.astype(np.float32).astype(float)
    codes = run(encode_transform(encoding, range_), light)
    want = encoding.encode(light, range_)
    # The table's one step at the joins of printed pieces.
    atol = {"BT.709 camera": 1.3e-4, "F-Log": 2e-5, "N-Log": 2e-5}.get(encoding.curve.name, 6e-6)
    np.testing.assert_allclose(codes, want, rtol=2e-6, atol=atol)


@pytest.mark.parametrize("name", ["V-Log/V-Gamut", "C-Log3/Cinema Gamut", "N-Log/N-Gamut", "HLG", "LogC4/AWG4"])
def test_a_clf_carries_it(name: str, tmp_path: Path) -> None:
    """SMPTE ST 2136-1 through OpenColorIO: written, read back, the same numbers."""
    encoding = find_encoding(name)
    chain = ocio.GroupTransform([decode_transform(encoding, "legal"), encode_transform(encoding, "full")])
    path = tmp_path / "chain.clf"
    path.write_text(chain.write("Academy/ASC Common LUT Format", config=CONFIG), encoding="utf-8")
    codes = codes_of(encoding)
    through_file = run(ocio.FileTransform(str(path)), codes)
    np.testing.assert_allclose(through_file, run(chain, codes), atol=1e-6)
    np.testing.assert_allclose(through_file, encoding.encode(encoding.decode(codes, "legal")), atol=3e-5)


@pytest.mark.parametrize(
    "table",
    [
        {"table": [0.0, 0.02, 0.1, 0.4, 1.3, 4.0], "gamut": "V-Gamut"},
        {
            "form": "toed-power",
            "exponent": 0.45,
            "offset": 0.0993,
            "break": 0.01806,
            "slope": 4.5,
            "gamut": "BT.2020",
        },
    ],
)
def test_an_encoding_of_the_setup_files_own(table: dict[str, Any]) -> None:
    encoding = find_encoding("Own", custom=[parse_encoding_spec("Own", table, SOURCE)])
    codes = codes_of(encoding)
    light = run(decode_transform(encoding, "legal"), codes)
    np.testing.assert_allclose(light, encoding.decode(codes, "legal"), rtol=1e-5, atol=1e-4)
    back = run(encode_transform(encoding, "legal"), encoding.decode(codes, "legal"))
    np.testing.assert_allclose(back, codes, atol=2e-4)


def test_light_below_black_and_above_one_is_not_clamped() -> None:
    for name in ("S-Log3/S-Gamut3.Cine", "C-Log2/Cinema Gamut", "BT.709 camera"):
        encoding = find_encoding(name)
        light = np.array([[-0.004, -0.004, -0.004], [3.0, 3.0, 3.0]])
        codes = run(encode_transform(encoding), light)
        np.testing.assert_allclose(codes, encoding.encode(light), atol=3e-6)


def test_what_is_exact_says_so() -> None:
    exact = {encoding.curve.name for encoding in ENCODINGS if is_exact(encoding)}
    assert {"S-Log3", "V-Log", "LogC3", "LogC4", "Log3G10", "D-Log", "ACEScct", "linear"} <= exact
    assert not {"C-Log2", "Apple Log", "N-Log", "PQ", "HLG", "F-Log"} & exact


def test_linear_acescg_is_no_transform_at_all() -> None:
    assert len(decode_transform(find_encoding("ACEScg"))) == 0
