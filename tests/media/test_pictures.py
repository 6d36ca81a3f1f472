"""Stills in and out, against pictures that other libraries and the formats' own documents make.

Pillow and tifffile come with scikit-image; the DPX is laid out by hand after SMPTE ST 268:2014, the PNG chunks
after ISO/IEC 15948 (PNG specification, 2nd edition).
"""

from __future__ import annotations

import hashlib
import os
import struct
import zlib
from pathlib import Path

import numpy as np
import OpenImageIO as oiio
import pytest
import tifffile
from PIL import Image, ImageOps

from huemend.errors import MediaError
from huemend.media.pictures import read_picture, write_picture
from huemend.options import SampleOptions

HEIGHT, WIDTH = 40, 56


@pytest.fixture
def codes() -> np.ndarray:
    """Codes of 16 bits that reach both ends."""
    rng = np.random.default_rng(1)
    values = rng.integers(0, 65536, (HEIGHT, WIDTH, 3)).astype(np.uint16)
    values[0, 0], values[0, 1] = 0, 65535
    return values


def png(pixels: np.ndarray, *extra: tuple[bytes, bytes]) -> bytes:
    """Lay out an RGB or RGBA PNG of 8 or 16 bits, with extra chunks after the header."""
    depth = pixels.dtype.itemsize * 8
    height, width, channels = pixels.shape
    rows = pixels.astype(f">u{pixels.dtype.itemsize}").reshape(height, -1)
    data = b"".join(b"\0" + row.tobytes() for row in rows)
    header = struct.pack(">IIBBBBB", width, height, depth, {3: 2, 4: 6}[channels], 0, 0, 0)
    chunks = [(b"IHDR", header), *extra, (b"IDAT", zlib.compress(data)), (b"IEND", b"")]
    body = b"".join(
        struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
        for kind, content in chunks
    )
    return b"\x89PNG\r\n\x1a\n" + body


def dpx_10_bit(pixels: np.ndarray) -> bytes:
    """Lay out a big-endian 10-bit RGB DPX, filled to 32-bit words by method A (SMPTE ST 268, table 1 ff.)."""
    height, width, _ = pixels.shape
    header = bytearray(b"\xff" * 2048)
    header[0:4] = b"SDPX"
    struct.pack_into(">I8s", header, 4, 2048, b"V1.0\0\0\0\0")
    words = (pixels[..., 0].astype(">u4") << 22) | (pixels[..., 1].astype(">u4") << 12)
    words = (words | (pixels[..., 2].astype(">u4") << 2)).astype(">u4")
    struct.pack_into(">I", header, 16, 2048 + words.nbytes)
    struct.pack_into(">III", header, 20, 1, 1664, 384)
    header[36:660] = bytes(624)
    struct.pack_into(">HHII", header, 768, 0, 1, width, height)
    # One image element: unsigned, descriptor 50 (RGB), transfer and colour undefined, 10 bits, packing 1.
    struct.pack_into(">IIfIfBBBBHHIII", header, 780, 0, 0, 0.0, 1023, 2.0, 50, 0, 0, 10, 1, 0, 2048, 0, 0)
    header[820:852] = bytes(32)
    return bytes(header) + words.tobytes()


@pytest.mark.parametrize("bits", [8, 16])
def test_png_codes_are_raw(tmp_path: Path, codes: np.ndarray, bits: int) -> None:
    pixels = codes if bits == 16 else (codes >> 8).astype(np.uint8)
    (tmp_path / "still.png").write_bytes(png(pixels))
    picture = read_picture(tmp_path / "still.png")
    np.testing.assert_array_equal(np.rint(picture.codes * (2**bits - 1)), pixels)
    assert (picture.bit_depth, picture.floating) == (bits, False)
    assert picture.codes.dtype == np.float32 and picture.codes.max() == 1.0 and picture.codes.min() == 0.0
    assert picture.sha256 == hashlib.sha256((tmp_path / "still.png").read_bytes()).hexdigest()


@pytest.mark.parametrize(
    "chunk",
    [(b"gAMA", struct.pack(">I", 45455)), (b"gAMA", struct.pack(">I", 100000)), (b"sRGB", b"\0")],
    ids=["gamma 2.2", "gamma 1", "sRGB"],
)
def test_png_colour_tags_convert_nothing(tmp_path: Path, codes: np.ndarray, chunk: tuple[bytes, bytes]) -> None:
    """Camera log in a PNG is not what its colour tags say; the tags must not touch the codes."""
    (tmp_path / "still.png").write_bytes(png(codes, chunk))
    np.testing.assert_array_equal(np.rint(read_picture(tmp_path / "still.png").codes * 65535), codes)


def test_alpha_is_dropped_not_multiplied(tmp_path: Path, codes: np.ndarray) -> None:
    alpha = np.full((HEIGHT, WIDTH, 1), 1000, np.uint16)
    (tmp_path / "still.png").write_bytes(png(np.concatenate([codes, alpha], axis=2)))
    tifffile.imwrite(
        tmp_path / "still.tif",
        np.concatenate([codes, alpha], axis=2),
        photometric="rgb",
        extrasamples=["unassalpha"],
    )
    for name in ("still.png", "still.tif"):
        np.testing.assert_array_equal(np.rint(read_picture(tmp_path / name).codes * 65535), codes)


def test_grey_becomes_three_equal_channels(tmp_path: Path, codes: np.ndarray) -> None:
    tifffile.imwrite(tmp_path / "grey.tif", codes[..., 0], photometric="minisblack")
    picture = read_picture(tmp_path / "grey.tif")
    np.testing.assert_array_equal(np.rint(picture.codes * 65535), np.repeat(codes[..., :1], 3, axis=2))


@pytest.mark.parametrize("kind", ["uint8", "uint16", "uint32", "float32"])
def test_tiff(tmp_path: Path, codes: np.ndarray, kind: str) -> None:
    pixels: np.ndarray = {
        "uint8": (codes >> 8).astype(np.uint8),
        "uint16": codes,
        "uint32": codes.astype(np.uint32) * 65537,
        "float32": (codes.astype(np.float32) / 60000 - 0.05),
    }[kind]
    tifffile.imwrite(tmp_path / "still.tif", pixels, photometric="rgb")
    picture = read_picture(tmp_path / "still.tif")
    top = 1.0 if kind == "float32" else float(np.iinfo(kind).max)
    np.testing.assert_allclose(picture.codes, pixels.astype(np.float64) / top, rtol=0, atol=1e-7)
    assert picture.floating == (kind == "float32")
    assert picture.bit_depth == pixels.dtype.itemsize * 8


def test_dpx_of_10_bits_keeps_its_codes(tmp_path: Path, codes: np.ndarray) -> None:
    tens = codes >> 6
    (tmp_path / "still.dpx").write_bytes(dpx_10_bit(tens))
    picture = read_picture(tmp_path / "still.dpx")
    assert picture.bit_depth == 10
    np.testing.assert_array_equal(np.rint(picture.codes.astype(float) * 1023), tens)
    # Not only to the nearest: code / 1023, whatever the library widened it to on the way.
    np.testing.assert_allclose(picture.codes, tens / 1023, rtol=1e-7)


def test_jpeg_agrees_with_pillow(tmp_path: Path) -> None:
    ramp = np.linspace(0, 255, WIDTH)[None, :, None] * np.array([1.0, 0.8, 0.6])
    pixels = np.broadcast_to(ramp, (HEIGHT, WIDTH, 3)).astype(np.uint8)
    Image.fromarray(pixels).save(tmp_path / "still.jpg", quality=95)
    theirs = np.asarray(Image.open(tmp_path / "still.jpg"))
    assert np.abs(read_picture(tmp_path / "still.jpg").codes * 255 - theirs).max() <= 1


@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_tag_agrees_with_pillow(tmp_path: Path, codes: np.ndarray, orientation: int) -> None:
    image = Image.fromarray((codes >> 8).astype(np.uint8))
    exif = Image.Exif()
    exif[274] = orientation
    image.save(tmp_path / "still.tif", exif=exif)
    upright = np.asarray(ImageOps.exif_transpose(Image.open(tmp_path / "still.tif")))
    np.testing.assert_array_equal(np.rint(read_picture(tmp_path / "still.tif").codes * 255), upright)


@pytest.mark.parametrize(("suffix", "bits"), [(".exr", 16), (".exr", 32), (".tif", 32)])
def test_float_files_keep_what_lies_outside_0_to_1(tmp_path: Path, suffix: str, bits: int) -> None:
    values = np.linspace(-0.25, 40.0, HEIGHT * WIDTH * 3).reshape(HEIGHT, WIDTH, 3).astype(np.float32)
    if bits == 16:
        values = values.astype(np.float16).astype(np.float32)
    path = tmp_path / f"still{suffix}"
    write_picture(path, values, bits, floating=True)
    picture = read_picture(path)
    np.testing.assert_array_equal(picture.codes, values)
    assert (picture.bit_depth, picture.floating) == (bits, True)


def test_exr_data_window_is_laid_into_the_display_window(tmp_path: Path) -> None:
    spec = oiio.ImageSpec(50, 40, 3, oiio.FLOAT)
    spec.x, spec.y, spec.full_width, spec.full_height = 5, -2, 60, 48
    output = oiio.ImageOutput.create(str(tmp_path / "still.exr"))
    assert output.open(str(tmp_path / "still.exr"), spec)
    assert output.write_image(np.full((40, 50, 3), 0.5, np.float32))
    output.close()
    codes = read_picture(tmp_path / "still.exr").codes
    assert codes.shape == (48, 60, 3)
    expected = np.zeros((48, 60, 3), np.float32)
    expected[0:38, 5:55] = 0.5
    np.testing.assert_array_equal(codes, expected)


def test_exr_channels_are_found_by_name(tmp_path: Path) -> None:
    """Layers carry a prefix, and the file sorts channels by name: Z and blue come before green and red."""
    spec = oiio.ImageSpec(WIDTH, HEIGHT, 4, oiio.FLOAT)
    spec.channelnames = ("A.Z", "beauty.B", "beauty.G", "beauty.R")
    output = oiio.ImageOutput.create(str(tmp_path / "still.exr"))
    assert output.open(str(tmp_path / "still.exr"), spec)
    assert output.write_image(np.broadcast_to(np.float32([9, 3, 2, 1]), (HEIGHT, WIDTH, 4)).copy())
    output.close()
    np.testing.assert_array_equal(read_picture(tmp_path / "still.exr").codes[0, 0], [1, 2, 3])


@pytest.mark.parametrize(
    ("name", "bits", "floating"),
    [
        ("a.png", 8, False),
        ("a.png", 16, False),
        ("a.tif", 8, False),
        ("a.tiff", 16, False),
        ("a.dpx", 10, False),
        ("a.dpx", 12, False),
        ("a.dpx", 16, False),
    ],
)
def test_integers_round_to_the_nearest_code(tmp_path: Path, name: str, bits: int, floating: bool) -> None:
    """The library's own 10-bit DPX is off by up to half a code; ours is the rounded code."""
    rng = np.random.default_rng(2)
    values = rng.uniform(-0.1, 1.1, (HEIGHT, WIDTH, 3))
    write_picture(tmp_path / name, values, bits, floating)
    picture = read_picture(tmp_path / name)
    top = 2**bits - 1
    np.testing.assert_array_equal(np.rint(picture.codes.astype(float) * top), np.rint(values.clip(0, 1) * top))
    assert os.listdir(tmp_path) == [name]


def test_pillow_reads_what_we_write(tmp_path: Path, codes: np.ndarray) -> None:
    write_picture(tmp_path / "a.png", codes / 65535, 8)
    expected = np.rint(codes / 65535 * 255).astype(np.uint8)
    np.testing.assert_array_equal(np.asarray(Image.open(tmp_path / "a.png")), expected)
    write_picture(tmp_path / "a.tif", codes / 65535, 16)
    np.testing.assert_array_equal(tifffile.imread(tmp_path / "a.tif"), codes)
    with tifffile.TiffFile(tmp_path / "a.tif") as tiff:
        # Tag 306 (TIFF 6.0, DateTime) would make every run's bytes differ; the library leaves it empty.
        assert not tiff.pages[0].tags.valueof(306)


def test_a_failed_write_leaves_what_was_there(tmp_path: Path) -> None:
    write_picture(tmp_path / "a.png", np.zeros((HEIGHT, WIDTH, 3)), 8)
    before = (tmp_path / "a.png").read_bytes()
    with pytest.raises(ValueError, match="finite"):
        write_picture(tmp_path / "a.png", np.full((HEIGHT, WIDTH, 3), np.nan), 8)
    with pytest.raises(ValueError, match="does not hold"):
        write_picture(tmp_path / "a.png", np.zeros((HEIGHT, WIDTH, 3)), 10)
    assert (tmp_path / "a.png").read_bytes() == before and os.listdir(tmp_path) == ["a.png"]
    with pytest.raises(OSError, match="Could not open file"):
        write_picture(tmp_path / "no such folder" / "a.png", np.zeros((HEIGHT, WIDTH, 3)), 8)


# ------------------------------------------------------------------------------------------- bad input


def write_all_kinds(folder: Path) -> list[Path]:
    values = np.random.default_rng(3).random((200, 300, 3))
    kinds = [("a.png", 16), ("a.tif", 16), ("a.dpx", 10), ("a.jpg", 8)]
    for name, bits in kinds:
        write_picture(folder / name, values, bits)
    write_picture(folder / "a.exr", values, 16, floating=True)
    return sorted(folder.iterdir())


@pytest.mark.parametrize("share", [0.0, 0.0003, 0.02, 0.5, 0.97])
def test_a_file_cut_short_is_told(tmp_path: Path, share: float, capfd: pytest.CaptureFixture[str]) -> None:
    """At every share of every format; a JPEG comes back whole from the library and only its message tells."""
    for path in write_all_kinds(tmp_path):
        data = path.read_bytes()
        path.write_bytes(data[: int(len(data) * share)])
        with pytest.raises(MediaError) as caught:
            read_picture(path)
        assert str(path) in str(caught.value) and "\n" not in str(caught.value)
    # Libraries that talk to the terminal behind our back would break "one clear line".
    assert capfd.readouterr() == ("", "")


def test_garbled_files_are_read_or_told(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """A few bytes of the header changed at random, in every format: a picture, or one line of ours."""
    rng = np.random.default_rng(4)
    told = 0
    for path in write_all_kinds(tmp_path):
        whole = path.read_bytes()
        for _ in range(60):
            data = bytearray(whole)
            for place in rng.integers(0, 400, rng.integers(1, 8)):
                data[place] = rng.integers(0, 256)
            path.write_bytes(bytes(data))
            try:
                read_picture(path)
            except MediaError as error:
                told += 1
                assert "\n" not in str(error)
    assert told > 100
    assert capfd.readouterr() == ("", "")


def test_a_flipped_bit_in_a_png_is_told(tmp_path: Path, codes: np.ndarray) -> None:
    data = bytearray(png(codes))
    data[len(data) // 2] ^= 1
    (tmp_path / "still.png").write_bytes(bytes(data))
    with pytest.raises(MediaError, match="checksum"):
        read_picture(tmp_path / "still.png")


def test_wrong_type(tmp_path: Path, codes: np.ndarray) -> None:
    (tmp_path / "notes.png").write_text("call the rental house about the second body\n")
    with pytest.raises(MediaError, match="is not a picture"):
        read_picture(tmp_path / "notes.png")
    Image.fromarray((codes >> 8).astype(np.uint8)).save(tmp_path / "still.gif")
    (tmp_path / "still.gif").rename(tmp_path / "still.tif")
    with pytest.raises(MediaError, match=r"still\.tif"):
        read_picture(tmp_path / "still.tif")
    with pytest.raises(MediaError, match="is a folder"):
        read_picture(tmp_path)
    with pytest.raises(MediaError, match="no such file"):
        read_picture(tmp_path / "missing.png")


def test_a_true_picture_under_a_wrong_suffix_is_read(tmp_path: Path, codes: np.ndarray) -> None:
    (tmp_path / "still.jpg").write_bytes(png(codes))
    np.testing.assert_array_equal(np.rint(read_picture(tmp_path / "still.jpg").codes * 65535), codes)


def test_two_pixels(tmp_path: Path) -> None:
    (tmp_path / "still.png").write_bytes(png(np.zeros((1, 2, 3), np.uint8)))
    with pytest.raises(MediaError, match="only 2 x 1 pixels"):
        read_picture(tmp_path / "still.png")


def test_a_hostile_size_is_refused_before_memory_is_taken(tmp_path: Path) -> None:
    data = bytearray(png(np.zeros((4, 4, 3), np.uint8)))
    struct.pack_into(">II", data, 16, 2**31 - 1, 2**31 - 1)
    struct.pack_into(">I", data, 29, zlib.crc32(data[12:29]))
    (tmp_path / "huge.png").write_bytes(bytes(data))
    with pytest.raises(MediaError, match=r"huge\.png"):
        read_picture(tmp_path / "huge.png")
    write_picture(tmp_path / "wide.png", np.zeros((HEIGHT, 1200, 3)), 8)
    with pytest.raises(MediaError, match="claims to be 1200 x 40 pixels"):
        read_picture(tmp_path / "wide.png", SampleOptions(largest_side=1000))


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_values_that_are_no_numbers(tmp_path: Path, bad: float) -> None:
    values = np.full((HEIGHT, WIDTH, 3), 0.5, np.float32)
    values[7, 11, 1] = bad
    spec = oiio.ImageSpec(WIDTH, HEIGHT, 3, oiio.FLOAT)
    output = oiio.ImageOutput.create(str(tmp_path / "still.exr"))
    assert output.open(str(tmp_path / "still.exr"), spec) and output.write_image(values)
    output.close()
    with pytest.raises(MediaError, match=r"in 1 pixel \(the first at x 11, y 7\)"):
        read_picture(tmp_path / "still.exr")
