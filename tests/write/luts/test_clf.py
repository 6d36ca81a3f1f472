"""The exact chain as CLF: OpenColorIO reads it and gives our own result."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest

from huemend.encodings.ocio import decode_transform, encode_transform
from huemend.encodings.registry import find_encoding
from huemend.model import Match
from huemend.write.luts.clf import exact_chain, match_transform, run_chain, write_clf
from huemend.write.luts.cube import whole_cube_codes
from tests.luts import is_exact

MIX = np.array([[1.06, -0.05, 0.02], [0.03, 0.93, 0.04], [-0.02, 0.05, 1.12]])
MATCHES = {
    "identity": Match(),
    "matrix": Match.from_matrix(1.4 * MIX),
    "flare": Match.from_matrix(0.8 * MIX, flare=np.array([0.004, 0.002, -0.001])),
    "contrast": Match.from_matrix(1.1 * MIX, flare=np.array([0.001, 0.0, 0.0]), contrast=1.08),
}
ENCODINGS = [
    "S-Log3/S-Gamut3.Cine",
    "V-Log/V-Gamut",
    "C-Log3/Cinema Gamut",
    "LogC3/AWG3",
    "LogC4/AWG4",
    "N-Log/N-Gamut",
]
CODE = 1 / 1023


def read_back(path: Path, codes: np.ndarray) -> dict[str, np.ndarray]:
    """Run codes through a file as a host of OpenColorIO would: exactly, and with the fast mathematics it likes."""
    import PyOpenColorIO as ocio

    processor = ocio.Config.CreateRaw().getProcessor(ocio.FileTransform(str(path)))
    readers = {
        "exact": processor.getOptimizedCPUProcessor(ocio.OPTIMIZATION_LOSSLESS),
        "fast": processor.getDefaultCPUProcessor(),
    }
    results = {}
    for name, reader in readers.items():
        results[name] = np.ascontiguousarray(codes, np.float32).copy()
        reader.applyRGB(results[name])
    return results


def recorded(encoding: object) -> np.ndarray:
    """Codes of colours that a camera can record: light from deep shadow to three stops above white."""
    light = 2.0 ** (whole_cube_codes(4000) * 10 - 7)
    codes = encoding.encode(light)  # type: ignore[attr-defined]
    codes = codes[((codes > 0) & (codes < 1)).all(axis=1)]
    return codes.astype(np.float32).astype(float)


@pytest.mark.parametrize("kind", list(MATCHES))
def test_the_match_alone_is_the_same_in_opencolorio(kind: str) -> None:
    light = 2.0 ** (whole_cube_codes(4000) * 12 - 8) - 0.001
    got = run_chain(match_transform(MATCHES[kind]), light) if kind != "identity" else light
    np.testing.assert_allclose(got, MATCHES[kind].apply(light), rtol=2e-5, atol=1e-6)


@pytest.mark.parametrize("range", ["full", "legal"])
@pytest.mark.parametrize("name", ENCODINGS)
def test_the_file_read_by_opencolorio_gives_our_own_result(tmp_path: Path, name: str, range: str) -> None:
    encoding = find_encoding(name)
    match = MATCHES["contrast"]
    chain = exact_chain(decode_transform(encoding, range), match, encode_transform(encoding, range))
    path = tmp_path / "match.clf"
    path.write_text(write_clf(chain, name="match", description="bench", input=name, output=name), encoding="utf-8")
    codes = recorded(encoding)
    if range == "legal":
        codes = (codes * 1023 - 64) / 876
        codes = codes[(codes > 0).all(axis=1)]
        codes = codes.astype(np.float32).astype(float)
    got, wanted = read_back(path, codes), encoding.encode(match.apply(encoding.decode(codes, range)), range)
    # A 1D LUT is written with six digits or so; formulas come back bit by bit.
    np.testing.assert_allclose(
        got["exact"], run_chain(chain, codes), atol=0 if is_exact(encoding) else 1e-6, rtol=0
    )
    # Formulas differ by the toe's offset at most, tables by straight lines between their entries.
    np.testing.assert_allclose(got["exact"], wanted, atol=(0.01 if is_exact(encoding) else 0.1) * CODE)
    np.testing.assert_allclose(got["fast"], wanted, atol=0.3 * CODE)


def test_a_match_into_another_encoding(tmp_path: Path) -> None:
    shot, hero = find_encoding("V-Log/V-Gamut"), find_encoding("LogC4/AWG4")
    match = MATCHES["matrix"]
    chain = exact_chain(decode_transform(shot), match, encode_transform(hero))
    codes = recorded(shot)
    np.testing.assert_allclose(
        run_chain(chain, codes), hero.encode(match.apply(shot.decode(codes))), atol=0.01 * CODE
    )


def test_the_chain_clamps_nothing() -> None:
    encoding = find_encoding("S-Log3/S-Gamut3.Cine")
    chain = exact_chain(decode_transform(encoding), Match(), encode_transform(encoding))
    codes = np.array([[-0.2, 0.5, 1.3], [1.2, -0.05, 0.0]])
    np.testing.assert_allclose(run_chain(chain, codes), codes, atol=1e-4)


def test_the_file_is_a_clf_that_says_what_it_is() -> None:
    # SMPTE ST 2136-1:2024: ProcessList with compCLFversion and id; Description, InputDescriptor, OutputDescriptor.
    encoding = find_encoding("S-Log3/S-Gamut3.Cine")

    def text() -> str:
        chain = exact_chain(decode_transform(encoding), MATCHES["flare"], encode_transform(encoding))
        return write_clf(chain, name='a<b&"', description="büro ]]> <x>", input="in", output="out")

    root = ET.fromstring(text().encode())
    space = "{http://www.smpte-ra.org/ns/2136-1/2024}"
    assert root.tag == f"{space}ProcessList"
    assert root.get("compCLFversion") == "3"
    assert root.get("name") == 'a<b&"'
    assert root.get("id", "").startswith("urn:uuid:")
    assert root.findtext(f"{space}Description") == "büro ]]> <x>"
    assert root.findtext(f"{space}InputDescriptor") == "in"
    assert root.findtext(f"{space}OutputDescriptor") == "out"
    assert [part.get("style") for part in root.iter(f"{space}Log")] == ["cameraLogToLin", "cameraLinToLog"]
    assert text() == text()


def test_flare_is_the_fourth_column_of_the_match() -> None:
    text = write_clf(match_transform(MATCHES["flare"]), name="", description="", input="", output="")
    root = ET.fromstring(text.encode())
    array = next(part for part in root.iter() if part.tag.endswith("Array"))
    assert array.get("dim") == "3 4"
    rows = np.array((array.text or "").split(), float).reshape(3, 4)
    match = MATCHES["flare"]
    np.testing.assert_allclose(rows[:, :3], match.combined, atol=1e-14)
    np.testing.assert_allclose(rows[:, 3], -match.combined @ match.flare, atol=1e-14)
