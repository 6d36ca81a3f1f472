"""Measure how far each file that huemend writes lies from what an outside reader makes of it.

Run from the root of the repository: ``python -m tests.bench.standards``. It prints the figures of
docs/standards.md; the tests hold bounds on the same things, this says the largest difference that was found.
"""

from __future__ import annotations

import csv
import tempfile
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from huemend.base.units import acescct_decode, acescct_encode
from huemend.encodings.curves import CURVES
from huemend.encodings.gamuts import GAMUTS, matrix_to_acescg
from huemend.encodings.ocio import decode_transform, encode_transform
from huemend.encodings.registry import Encoding, all_encodings, find_encoding
from huemend.model import Match
from huemend.view import delta_e2000, measurement_lab
from huemend.write.luts.cdl import Cdl, CdlEntry, apply_cdl, ccc_text, closest_cdl
from huemend.write.luts.clf import exact_chain, write_clf
from huemend.write.luts.cube import Cube, apply_cube, make_cube, whole_cube_codes
from huemend.write.luts.cube_file import parse_cube, write_cube
from tests.encodings.test_curves import published_codes
from tests.encodings.test_registry import BUILTINS
from tests.encodings.test_registry import _builtin as builtin
from tests.luts import is_exact
from tests.test_view import SHARMA
from tests.write.luts.test_clf import read_back, recorded
from tests.write.luts.test_cube import nodes, through_lut3d

#: A strong but ordinary match: a stop of light, a third of a stop of balance, a channel mix.
MATCH = Match.from_matrix(1.6 * np.array([[1.12, -0.06, 0.02], [0.03, 0.94, 0.05], [-0.02, 0.07, 0.86]]))
FLARED = Match.from_matrix(MATCH.combined, flare=np.array([0.003, 0.002, 0.001]), contrast=1.06)
CAMERAS = [
    "S-Log3/S-Gamut3.Cine",
    "V-Log/V-Gamut",
    "C-Log3/Cinema Gamut",
    "LogC3/AWG3",
    "LogC4/AWG4",
    "Log3G10/REDWideGamutRGB",
]


def match_cube(encoding: Encoding, size: int) -> Cube:
    return make_cube(lambda codes: encoding.encode(MATCH.apply(encoding.decode(codes))), size, encoding.name)


def largest(got: np.ndarray, wanted: np.ndarray) -> float:
    """Largest difference, relative where the numbers exceed 1: single precision has seven digits."""
    return float((np.abs(got - wanted) / np.maximum(1.0, np.abs(wanted))).max())


def cube_readers(folder: Path) -> Iterator[tuple[str, float, float]]:
    """Yield reader, largest difference at the nodes, largest difference at other codes."""
    import PyOpenColorIO as ocio

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    found: dict[str, list[tuple[float, float]]] = {}
    for number, name in enumerate(CAMERAS):
        for size in (17, 33, 65):
            cube = match_cube(find_encoding(name), size)
            text = write_cube(cube)
            path = folder / f"{number}-{size}.cube"
            path.write_text(text, encoding="utf-8")
            at, between = nodes(size), whole_cube_codes(20_000).astype(np.float32).astype(float)
            own = parse_cube(text.encode(), "")
            found.setdefault("own reader", []).append((largest(own.table, cube.table), 0.0))
            transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_TETRAHEDRAL)
            reader = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
            row = []
            for codes in (at, between):
                got = codes.astype(np.float32)
                reader.applyRGB(got)
                row.append(largest(got, apply_cube(cube, codes)))
            found.setdefault("OpenColorIO, tetrahedral", []).append((row[0], row[1]))
            lut = colour.io.read_LUT_IridasCube(str(path))
            table = largest(np.transpose(lut.table, (2, 1, 0, 3)), cube.table)
            got = lut.apply(between[:2000], interpolator=colour.algebra.table_interpolation_tetrahedral)
            found.setdefault("colour-science, tetrahedral", []).append(
                (table, largest(got, apply_cube(cube, between[:2000])))
            )
            if size == 17:
                for format, kind in (("gbrpf32le", np.float32), ("gbrp16le", np.uint16)):
                    got, codes = through_lut3d(path, format, kind)
                    wanted = apply_cube(cube, codes)
                    wanted = wanted if kind is np.float32 else np.clip(wanted, 0, 1)
                    split = 17**3
                    found.setdefault(f"libavfilter lut3d, {format}", []).append(
                        (largest(got[:split], wanted[:split]), largest(got[split:], wanted[split:]))
                    )
    for reader, rows in found.items():
        yield reader, max(row[0] for row in rows), max(row[1] for row in rows)


def clf_readers(folder: Path) -> Iterator[tuple[str, float, float, float]]:
    """Yield kind of curve; p99 and largest with exact mathematics, largest with fast; in 10-bit codes."""
    found: dict[str, list[tuple[float, float, float]]] = {}
    for number, encoding in enumerate(all_encodings()):
        if encoding.is_linear:
            continue
        for kind, match in enumerate((MATCH, FLARED)):
            chain = exact_chain(decode_transform(encoding), match, encode_transform(encoding))
            path = folder / f"{number}-{kind}.clf"
            path.write_text(write_clf(chain, name="x", description="", input="", output=""), encoding="utf-8")
            codes = recorded(encoding)
            if not len(codes):
                continue
            wanted = encoding.encode(match.apply(encoding.decode(codes)))
            # What a camera could record again: elsewhere codes of a log curve run away below black.
            inside = ((wanted > 0) & (wanted < 1)).all(axis=1)
            got = read_back(path, codes)
            exact, fast = (np.abs(got[each] - wanted)[inside].max(axis=1) * 1023 for each in ("exact", "fast"))
            what = "curve as a formula" if is_exact(encoding) else "curve as a 1D LUT"
            found.setdefault(what, []).append(
                (float(np.percentile(exact, 99)), float(exact.max()), float(fast.max()))
            )
    for what, rows in found.items():
        p99, exact, fast = (max(row[i] for row in rows) for i in range(3))
        yield f"{what} ({len(rows) // 2} encodings)", p99, exact, fast


def cdl_readers(folder: Path) -> Iterator[tuple[str, float]]:
    """Yield reader and largest difference in code."""
    import PyOpenColorIO as ocio

    strong = Cdl(slope=(1.4, 0.7, 1.1), offset=(-0.1, 0.05, 0.02), power=(0.8, 1.3, 1.0), saturation=1.3)
    path = folder / "match.ccc"
    path.write_text(ccc_text([CdlEntry(id="a", cdl=strong, input="", description="", mean=0, p95=0)]))
    transform = ocio.CDLTransform.CreateFromFile(str(path), "a")
    transform.setStyle(ocio.CDL_ASC)
    processor = ocio.Config.CreateRaw().getProcessor(transform)
    codes = (whole_cube_codes(100_000) * 1.4 - 0.2).astype(np.float32)
    wanted = apply_cdl(strong, codes.astype(float))
    for name, reader in (
        ("exact powers", processor.getOptimizedCPUProcessor(ocio.OPTIMIZATION_LOSSLESS)),
        ("fast powers", processor.getDefaultCPUProcessor()),
    ):
        out = codes.copy()
        reader.applyRGB(out)
        yield f"OpenColorIO, ASC style, {name}", float(np.abs(out - wanted).max())


def cdl_residual() -> tuple[float, float]:
    """Return what the closest CDL misses of the match above, CIEDE2000 mean and p95."""
    light = 0.02 * 40 ** whole_cube_codes(600)
    before, after = acescct_encode(light), acescct_encode(MATCH.apply(light))

    def difference(one: np.ndarray, other: np.ndarray) -> np.ndarray:
        return delta_e2000(measurement_lab(acescct_decode(one)), measurement_lab(acescct_decode(other)))

    left = difference(apply_cdl(closest_cdl(before, after, difference), before), after)
    return float(left.mean()), float(np.percentile(left, 95))


def curves() -> Iterator[tuple[str, float]]:
    """Yield what was compared and the largest difference."""
    published = [row for row in published_codes() if int(row["bits"])]
    codes = [float(CURVES[row["curve"]].form.encode(np.array(float(row["light"])))) for row in published]
    misses = [
        abs(code * (2 ** int(row["bits"]) - 1) - float(row["code"]))
        for code, row in zip(codes, published, strict=True)
    ]
    yield f"{len(published)} published integer codes, in codes", max(misses)
    neutral = np.linspace(0.0, 1.0, 1024)[:, None] * np.ones(3)
    neutral = neutral.astype(np.float32).astype(float)
    errors = []
    for name, style in BUILTINS.items():
        encoding = find_encoding(name)
        if not encoding.is_linear:
            theirs = builtin(style, neutral) @ matrix_to_acescg(GAMUTS["AP0"]).T
            errors.append(float(np.abs(encoding.encode(theirs) - neutral).max()))
    yield f"{len(errors)} encodings of OpenColorIO, in code", max(errors)
    lines = [line for line in SHARMA.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = np.array([list(map(float, row.values())) for row in csv.DictReader(lines)])
    yield (
        "34 published pairs of CIEDE2000",
        float(np.abs(delta_e2000(rows[:, 1:4], rows[:, 4:7]) - rows[:, 7]).max()),
    )


def main(say: Callable[[str], None] = print) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        say(".cube: reader; largest difference at the nodes; between them")
        for reader, at, between in cube_readers(folder):
            say(f"  {reader:34} {at:.1e}  {between:.1e}")
        say(".clf, OpenColorIO, 10-bit codes: p99 and largest with exact logarithms; largest with fast ones")
        for what, p99, exact, fast in clf_readers(folder):
            say(f"  {what:34} {p99:.4f}  {exact:.4f}  {fast:.4f}")
        say(".ccc: reader; largest difference in code")
        for reader, error in cdl_readers(folder):
            say(f"  {reader:34} {error:.1e}")
        mean, p95 = cdl_residual()
        say(f"  closest CDL to a match with a channel mix: misses it by {mean:.2f} CIEDE2000 (p95 {p95:.2f})")
        say("curves and colour differences")
        for what, error in curves():
            say(f"  {what:40} {error:.1e}")


if __name__ == "__main__":
    main()
