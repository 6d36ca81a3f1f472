"""LUTs: against three outside readers, against the specification, and fuzzed."""

from __future__ import annotations

import math
import re
import warnings
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from huemend.base.units import acescct_decode, acescct_encode
from huemend.errors import HuemendError, LutError
from huemend.write.luts.cube import Cube, apply_cube, make_cube, size_by_error, whole_cube_codes
from huemend.write.luts.cube_file import ascii_title, parse_cube, write_cube

MIX = 1.3 * np.array([[1.06, -0.09, 0.02], [0.03, 0.93, 0.04], [-0.02, 0.05, 1.12]])


def match_in_log(codes: np.ndarray) -> np.ndarray:
    """A channel mix in scene-linear light between a log curve and its inverse: what a match LUT holds.

    Where one channel is far above the others the mix turns them negative, and the codes with them, to -200.
    """
    return acescct_encode(acescct_decode(codes) @ MIX.T)


def smooth_in_log(codes: np.ndarray) -> np.ndarray:
    """The same without negative light."""
    return acescct_encode(acescct_decode(codes) @ np.abs(MIX).T)


#: To 1e-5 of a code; where codes run into the hundreds, to what 32-bit floats hold.
CLOSE = {"atol": 1e-5, "rtol": 1e-6}


@pytest.fixture(scope="module")
def cube() -> Cube:
    return make_cube(match_in_log, 17, "bench wide match: full range in")


@pytest.fixture(scope="module")
def path(cube: Cube, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("cube") / "match.cube"
    path.write_text(write_cube(cube))
    return path


def nodes(size: int) -> np.ndarray:
    axis = np.linspace(0, 1, size)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
    return np.stack([red, green, blue], axis=-1).reshape(-1, 3)


# ----------------------------------------------------------------------------------- outside readers


def test_nodes_hold_the_function_itself(cube: Cube) -> None:
    np.testing.assert_allclose(cube.table.reshape(-1, 3), match_in_log(nodes(17)), atol=1e-15)
    np.testing.assert_allclose(apply_cube(cube, nodes(17)), match_in_log(nodes(17)), atol=1e-12)


def test_opencolorio_reads_the_same_lut(cube: Cube, path: Path) -> None:
    # OpenColorIO's FileTransform, tetrahedral, 32-bit float.
    import PyOpenColorIO as ocio

    transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_TETRAHEDRAL)
    reader = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    for codes in (nodes(17), whole_cube_codes(20_000)):
        got = codes.astype(np.float32)
        wanted = apply_cube(cube, got.astype(float))
        reader.applyRGB(got)
        np.testing.assert_allclose(got, wanted, **CLOSE)


def test_libavfilter_reads_the_same_lut(cube: Cube, path: Path) -> None:
    # libavfilter's lut3d, tetrahedral, on planar float RGB.
    got, codes = through_lut3d(path, "gbrpf32le", np.float32)
    np.testing.assert_allclose(got, apply_cube(cube, codes), **CLOSE)


def test_libavfilter_reads_the_same_lut_for_integers(cube: Cube, path: Path) -> None:
    # On 16-bit integers the answer comes as an integer too: cut or rounded to a step, and clamped to 0..1.
    got, codes = through_lut3d(path, "gbrp16le", np.uint16)
    np.testing.assert_allclose(got, np.clip(apply_cube(cube, codes), 0, 1), atol=1.01 / 65535)


def through_lut3d(path: Path, format: str, kind: type) -> tuple[np.ndarray, np.ndarray]:
    """Run every node and many codes between through libavfilter's lut3d."""
    import av
    from av.filter import Graph

    top = 1.0 if kind is np.float32 else 65535.0
    codes = np.concatenate([nodes(17), whole_cube_codes(128 * 128 - 17**3)])
    stored = (codes * top).astype(kind) if top == 1.0 else np.rint(codes * top).astype(kind)
    codes = stored.astype(float) / top
    picture = np.ascontiguousarray(stored.reshape(128, 128, 3))
    frame = av.VideoFrame(128, 128, format)
    for plane, channel in zip(frame.planes, (1, 2, 0), strict=True):
        row = plane.line_size // picture.dtype.itemsize
        padded = np.zeros((128, row), kind)
        padded[:, :128] = picture[:, :, channel]
        plane.update(padded.tobytes())
    frame.pts, frame.time_base = 0, Fraction(1, 25)
    graph = Graph()
    source = graph.add_buffer(width=128, height=128, format=format, time_base=Fraction(1, 25))
    lut = graph.add("lut3d", file=str(path), interp="tetrahedral")
    sink = graph.add("buffersink")
    source.link_to(lut)
    lut.link_to(sink)
    graph.configure()
    graph.push(frame)
    out = graph.pull()
    assert out.format.name == format
    got = np.empty((128, 128, 3))
    for plane, channel in zip(out.planes, (1, 2, 0), strict=True):
        row = plane.line_size // picture.dtype.itemsize
        got[:, :, channel] = np.frombuffer(bytes(plane), kind).reshape(-1, row)[:128, :128] / top
    return got.reshape(-1, 3), codes


def test_colour_science_reads_the_same_lut(cube: Cube, path: Path) -> None:
    # colour-science's read_LUT, which indexes its table by red, green, blue.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # colour-science warns of optional packages while it loads
        import colour
    lut = colour.io.read_LUT_IridasCube(str(path))
    assert lut.size == 17
    np.testing.assert_allclose(np.transpose(lut.table, (2, 1, 0, 3)), cube.table, atol=1e-7)
    np.testing.assert_array_equal(lut.domain, [[0, 0, 0], [1, 1, 1]])
    got = lut.apply(nodes(17), interpolator=colour.algebra.table_interpolation_tetrahedral)
    np.testing.assert_allclose(got, match_in_log(nodes(17)), **CLOSE)


# ------------------------------------------------------------------------------------------ the file


def test_the_file_follows_the_specification(path: Path) -> None:
    # Cube LUT Specification 1.0: TITLE in quotes, LUT_3D_SIZE, then size**3 rows of three numbers; LF; ASCII.
    data = path.read_bytes()
    assert data.isascii() and b"\r" not in data and data.endswith(b"\n")
    lines = data.decode().splitlines()
    assert lines[0] == 'TITLE "bench wide match: full range in"'
    assert lines[1] == "LUT_3D_SIZE 17"
    assert len(lines) == 2 + 17**3
    assert all(re.fullmatch(r"-?\d+\.\d{7} -?\d+\.\d{7} -?\d+\.\d{7}", line) for line in lines[2:])
    assert "-0.0000000" not in data.decode()


def test_red_changes_fastest() -> None:
    rows = write_cube(make_cube(lambda codes: codes, 2, "")).splitlines()
    assert rows[1:4] == [
        "0.0000000 0.0000000 0.0000000",
        "1.0000000 0.0000000 0.0000000",
        "0.0000000 1.0000000 0.0000000",
    ]


# Floats of every size that a log space gives for light that is none, and where rounding carries over a digit.
_NUMBERS = st.one_of(
    st.floats(-12, 12, allow_subnormal=False),
    st.floats(-2e3, 2e3, allow_subnormal=False),
    st.sampled_from([0.0, -0.0, 1 - 4e-8, 9.99999996, -9.99999994, 99.99999996, -999.99999996]),
)


@given(st.lists(_NUMBERS, min_size=24, max_size=24))
def test_digits_are_those_that_python_writes(values: list[float]) -> None:
    cube = Cube(table=np.array(values).reshape(2, 2, 2, 3))
    written = [float(word) for row in write_cube(cube).splitlines()[1:] for word in row.split()]
    np.testing.assert_allclose(written, values, atol=0.500001e-7)
    expected = [f"{np.rint(value * 1e7) / 1e7 + 0.0:.7f}" for value in values]
    assert " ".join(write_cube(cube).split()[2:]) == " ".join(expected)


def test_the_same_lut_is_the_same_text_and_comes_back_the_same(cube: Cube) -> None:
    text = write_cube(cube)
    again = parse_cube(text.encode(), "again")
    assert again.title == cube.title
    np.testing.assert_allclose(again.table, cube.table, atol=0.5000001e-7)
    assert write_cube(again) == text == write_cube(make_cube(match_in_log, 17, cube.title))


def test_what_lies_outside_0_and_1_is_neither_clamped_nor_lost() -> None:
    cube = make_cube(lambda codes: codes * 30 - 15, 3, "wide")
    np.testing.assert_allclose(parse_cube(write_cube(cube).encode(), "").table, cube.table, atol=1e-7)


def test_a_function_without_a_value_is_refused() -> None:
    with pytest.raises(HuemendError, match="no value"):
        make_cube(lambda codes: np.where(codes > 0.5, np.nan, codes), 5, "hole")


@pytest.mark.parametrize("title", ['Büro "Süd"', "舞台\n1", "x" * 400, "\0\x1b[31m", "é" * 300])
def test_any_name_makes_a_title_that_can_be_read(title: str) -> None:
    text = write_cube(Cube(table=np.zeros((2, 2, 2, 3)), title=title))
    first = text.splitlines()[0]
    assert first.isascii() and len(first) < 250
    assert parse_cube(text.encode(), "").title == ascii_title(title)


# ------------------------------------------------------------------------------------- reading again

ROW = "0.0000000 0.0000000 0.0000000\n"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "LUT_3D_SIZE 2\n" + 7 * ROW,
        "LUT_3D_SIZE 2\n" + 9 * ROW,
        "LUT_3D_SIZE 2\n" + 8 * ROW.replace("0.0", "1e9", 1),
        "LUT_3D_SIZE 2\n" + 7 * ROW + "0.0000000 nan 0.0000000\n",
        "LUT_3D_SIZE 2\n" + 7 * ROW + "0.0000000 0.0000000\n",
        "LUT_3D_SIZE 2\n" + 7 * ROW + "0.0000000 0.0000000 -.\n",
        "LUT_3D_SIZE 2\n" + 7 * ROW + "0.0000000 0.0000000 " + 400 * "9" + ".0\n",
        "LUT_3D_SIZE 1\n" + ROW,
        "LUT_3D_SIZE 2\nDOMAIN_MAX 2 2 2\n" + 8 * ROW,
        "LUT_1D_SIZE 8\n" + 8 * ROW,
        'TITLE "\u00e9"\nLUT_3D_SIZE 2\n' + 8 * ROW,
    ],
)
def test_what_was_not_written_here_is_refused(text: str) -> None:
    with pytest.raises(LutError, match=r"any\.cube: is no LUT that huemend wrote"):
        parse_cube(text.encode(), "any.cube")


@settings(max_examples=300)
@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    try:
        parse_cube(data, "fuzz")
    except LutError as error:
        assert "\n" not in str(error)


@settings(max_examples=60)
@given(st.data())
def test_one_changed_byte_never_makes_another_table_of_the_wrong_size(data: st.DataObject) -> None:
    text = bytearray(write_cube(make_cube(lambda codes: codes, 2, "x")).encode())
    place = data.draw(st.integers(0, len(text) - 1))
    text[place] = data.draw(st.integers(0, 255))
    try:
        assert parse_cube(bytes(text), "fuzz").size == 2
    except LutError:
        pass


# ------------------------------------------------------------------------------------- interpolation


def test_tetrahedra_hold_anything_linear_and_greys_from_greys_alone() -> None:
    # Kasson, Plouffe & Nin 1993: exact for a linear function; the grey diagonal is an edge of all six tetrahedra.
    linear = make_cube(lambda codes: codes @ MIX.T + 0.1, 5, "")
    codes = whole_cube_codes(2000)
    np.testing.assert_allclose(apply_cube(linear, codes), codes @ MIX.T + 0.1, atol=1e-12)
    table = np.random.default_rng(1).random((9, 9, 9, 3))
    for i in range(9):
        table[i, i, i] = i / 8
    greys = np.linspace(0, 1, 101)[:, None] * np.ones(3)
    np.testing.assert_allclose(apply_cube(Cube(table=table), greys), greys, atol=1e-12)


def test_codes_outside_are_clamped() -> None:
    identity = make_cube(lambda codes: codes, 4, "")
    np.testing.assert_allclose(apply_cube(identity, np.array([[-1.0, 0.5, 7.0]])), [[0.0, 0.5, 1.0]])


def error_of(size: int, codes: np.ndarray) -> float:
    """Return the 99th percentile of what a LUT of a smooth function misses, in 10-bit codes."""
    got = apply_cube(make_cube(smooth_in_log, size, ""), codes)
    return float(np.percentile(np.abs(got - smooth_in_log(codes)).max(axis=1) * 1023, 99))


def test_the_error_falls_with_the_square_of_the_size_where_all_is_smooth() -> None:
    # Piecewise linear interpolation of a smooth function: halving the step quarters the error.
    smooth = whole_cube_codes(20_000) * 0.4 + 0.4
    errors = [error_of(size, smooth) for size in (17, 33, 65)]
    assert 3 < errors[0] / errors[1] < 5
    assert 3 < errors[1] / errors[2] < 5


def test_the_smallest_size_that_is_good_enough_is_chosen() -> None:
    codes = whole_cube_codes(2000) * 0.4 + 0.4
    errors = {size: error_of(size, codes) for size in (17, 33, 65)}

    def chosen(p99: float, sizes: tuple[int, ...] = (17, 33, 65)) -> int:
        cube, error = size_by_error(smooth_in_log, codes, "", sizes=sizes, p99=p99)
        assert error.p99 == pytest.approx(errors[cube.size])
        assert math.isnan(error.real_p99) and error.outside == 0
        assert error.whole_largest >= error.whole_p99
        return cube.size

    assert chosen(errors[17] * 1.01) == 17
    assert chosen(errors[17] * 0.99) == 33
    assert chosen(errors[33] * 0.99) == 65
    assert chosen(0.0) == 65
    assert chosen(0.0, sizes=(17,)) == 17


def test_real_light_can_ask_for_a_larger_size() -> None:
    codes = np.full((10, 3), 0.5)
    _, small = size_by_error(smooth_in_log, codes, "", sizes=(17,), p99=1e9)
    cube, error = size_by_error(
        smooth_in_log, codes, "", sizes=(17, 33), p99=1e9, real_p99=1e-9, real=lambda c: c.min(axis=1) > 0.4
    )
    assert cube.size == 33 and math.isnan(small.real_p99) and error.real_p99 > 1e-9


def test_colours_that_no_lut_can_hold_are_counted() -> None:
    codes = np.array([[0.5, 0.5, 0.5], [0.5, 0.5, 1.2], [-0.1, 0.5, 0.5], [0.1, 0.2, 0.3]])
    _, error = size_by_error(smooth_in_log, codes, "", sizes=(17,), p99=1.0)
    assert error.outside == 0.5
    _, error = size_by_error(smooth_in_log, np.zeros((0, 3)), "", sizes=(17,), p99=1.0)
    assert (error.outside, error.p99) == (0.0, 0.0)


def test_codes_over_the_whole_cube_are_spread_evenly() -> None:
    codes = whole_cube_codes(8000)
    counts, _ = np.histogramdd(codes, bins=(10, 10, 10), range=[(0, 1)] * 3)
    # Random codes would scatter by sqrt(8) = 2.8 about 8 a cell.
    assert counts.std() < 2 and counts.min() >= 3
