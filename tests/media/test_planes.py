"""Planes to R'G'B' and back, against published numbers, a general library, and codes written by the test."""

from __future__ import annotations

import av
import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from huemend.errors import MediaError
from huemend.media.fill_frame import fill_frame
from huemend.media.planes import frame_to_planes, frame_to_rgb, luma_plane, small_rgb
from huemend.media.signal import LUMA_WEIGHTS, Signal, Tags, decode_matrix, encode_matrix, signal_of
from tests.clipmaker import moving_planes

SIZE = (46, 62)
ODD = (45, 61)


def planes_of(frame: av.VideoFrame) -> list[np.ndarray]:
    """The planes of a frame, copied out by way of bytes (apart from the code under test)."""
    out = []
    for plane in frame.planes:
        wide = frame.format.components[0].bits > 8
        rows = np.frombuffer(bytes(plane), np.uint16 if wide else np.uint8)
        rows = rows.reshape(-1, plane.line_size // (2 if wide else 1))
        out.append(rows[: plane.height, : plane.width].astype(int))
    return out


def frame_of(pix_fmt: str, planes: list[np.ndarray], size: tuple[int, int]) -> av.VideoFrame:
    """A frame with these codes."""
    frame = av.VideoFrame(size[1], size[0], pix_fmt)
    for plane, values in zip(frame.planes, planes, strict=False):
        kind = np.uint16 if frame.format.components[0].bits > 8 else np.uint8
        rows = np.zeros((plane.buffer_size // plane.line_size, plane.line_size // kind().itemsize), kind)
        rows[: values.shape[0], : values.shape[1]] = values
        buffer = np.zeros(plane.buffer_size, np.uint8)
        flat = rows.tobytes()
        buffer[: len(flat)] = np.frombuffer(flat, np.uint8)
        plane.update(buffer.tobytes())
    return frame


def random_frame(pix_fmt: str, size: tuple[int, int], seed: int = 1) -> av.VideoFrame:
    rng = np.random.default_rng(seed)
    blank = av.VideoFrame(size[1], size[0], pix_fmt)
    top = 1 << blank.format.components[0].bits
    return frame_of(pix_fmt, [rng.integers(0, top, (p.height, p.width)) for p in blank.planes], size)


# 75 % bars of 10-bit BT.709 (SMPTE RP 219-2002, table of the 75 % colour bars, values from memory).
BARS = {
    (0.75, 0.75, 0.75): (721, 512, 512),
    (0.75, 0.75, 0.0): (674, 176, 543),
    (0.0, 0.75, 0.75): (581, 589, 176),
    (0.0, 0.75, 0.0): (534, 253, 207),
    (0.75, 0.0, 0.75): (251, 771, 817),
    (0.75, 0.0, 0.0): (204, 435, 848),
    (0.0, 0.0, 0.75): (111, 848, 481),
}


def test_published_colour_bars() -> None:
    signal = Signal(kind="yuv", matrix="bt709", range="legal", bits=10)
    matrix, offset = encode_matrix(signal)
    for rgb, codes in BARS.items():
        assert np.rint(matrix @ rgb + offset).astype(int).tolist() == list(codes)
        back, shift = decode_matrix(signal)
        # Published codes are rounded: half a code of chroma moves blue by 1.8556 / 896 / 2.
        assert back @ np.array(codes) + shift == pytest.approx(rgb, abs=2e-3)


@pytest.mark.parametrize("legal", [True, False])
@pytest.mark.parametrize("bits", [8, 10, 12])
@pytest.mark.parametrize(("name", "standard"), [("bt601", "601"), ("bt709", "709"), ("bt2020", "2020")])
def test_the_matrix_agrees_with_a_general_library(name: str, standard: str, bits: int, legal: bool) -> None:
    # colour-science's YCbCr_to_RGB after Recommendations BT.601, BT.709 and BT.2020.
    weights = colour.WEIGHTS_YCBCR[f"ITU-R BT.{standard}"]
    assert LUMA_WEIGHTS[name] == pytest.approx((weights[0], weights[1]))
    codes = np.random.default_rng(3).integers(0, 1 << bits, (50, 3))
    signal = Signal(kind="yuv", matrix=name, range="legal" if legal else "full", bits=bits)
    matrix, offset = decode_matrix(signal)
    theirs = colour.YCbCr_to_RGB(
        codes,
        K=weights,
        in_bits=bits,
        in_legal=legal,
        in_int=True,
        out_bits=bits,
        out_legal=False,
        clamp_int=False,
    )
    assert codes @ matrix.T + offset == pytest.approx(theirs, abs=1e-9)


def upsampled(chroma: np.ndarray, size: tuple[int, int], signal: Signal) -> np.ndarray:
    """Chroma at every luma place, one sample at a time from the geometry of H.273 figures for siting."""
    factor_x, factor_y = 1 << signal.across, 1 << signal.down
    out = np.empty(size)
    for y in range(size[0]):
        v = y / factor_y if signal.siting == "topleft" else (y + 0.5) / factor_y - 0.5
        v = min(max(v, 0), chroma.shape[0] - 1)
        y0 = int(v)
        y1 = min(y0 + 1, chroma.shape[0] - 1)
        for x in range(size[1]):
            u = (x + 0.5) / factor_x - 0.5 if signal.siting == "centre" else x / factor_x
            u = min(max(u, 0), chroma.shape[1] - 1)
            x0 = int(u)
            x1 = min(x0 + 1, chroma.shape[1] - 1)
            top = chroma[y0, x0] * (1 - u + x0) + chroma[y0, x1] * (u - x0)
            low = chroma[y1, x0] * (1 - u + x0) + chroma[y1, x1] * (u - x0)
            out[y, x] = top * (1 - v + y0) + low * (v - y0)
    return out


LAYOUTS = [
    "yuv420p", "yuv422p", "yuv444p", "yuvj420p", "yuv411p", "yuv440p",
    "yuv420p10le", "yuv422p10le", "yuv444p10le", "yuva444p10le",
    "yuv420p12le", "yuv422p12le", "yuv444p12le", "yuv444p16le",
]  # fmt: skip


@pytest.mark.parametrize("size", [SIZE, ODD])
@pytest.mark.parametrize("siting", ["left", "centre", "topleft"])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_pixel_of_every_layout(layout: str, siting: str, size: tuple[int, int]) -> None:
    frame = random_frame(layout, size)
    signal = signal_of(layout, size, Tags(colorspace=9), siting=siting)
    y, cb, cr = planes_of(frame)[:3]
    bits = signal.bits
    kr, kb = 0.2627, 0.0593  # BT.2020-2, table 4
    kg = 1 - kr - kb
    unit = 2.0 ** (bits - 8)
    if "j" in layout:
        luma, blue, red = y / 255, (cb - 128) / 255, (cr - 128) / 255
    else:
        luma, blue, red = (y - 16 * unit) / (219 * unit), (cb / unit - 128) / 224, (cr / unit - 128) / 224
    blue, red = upsampled(blue, size, signal), upsampled(red, size, signal)
    r = luma + 2 * (1 - kr) * red
    b = luma + 2 * (1 - kb) * blue
    g = (luma - kr * r - kb * b) / kg
    assert frame_to_rgb(frame, signal) == pytest.approx(np.stack([r, g, b], axis=-1), abs=2e-6)


@pytest.mark.parametrize(("layout", "bits"), [("gbrp", 8), ("gbrp10le", 10), ("gbrp12le", 12), ("gbrp16le", 16)])
def test_rgb_planes_are_exact_to_the_code(layout: str, bits: int) -> None:
    frame = random_frame(layout, ODD)
    signal = signal_of(layout, ODD)
    g, b, r = planes_of(frame)
    rgb = frame_to_rgb(frame, signal)
    assert signal.range == "full" and "range full" in signal.assumed
    assert np.array_equal(np.rint(rgb.astype(float) * (2**bits - 1)).astype(int), np.stack([r, g, b], axis=-1))


def test_grey_gives_three_equal_channels() -> None:
    frame = random_frame("gray10le", SIZE)
    rgb = frame_to_rgb(frame, signal_of("gray10le", SIZE, Tags(color_range=1)))
    assert np.array_equal(rgb[..., 0], rgb[..., 1]) and np.array_equal(rgb[..., 0], rgb[..., 2])
    assert rgb[..., 1] == pytest.approx((planes_of(frame)[0] - 64) / 876, abs=1e-6)


def test_superwhites_and_sub_blacks_survive() -> None:
    codes = [np.full((2, 4), value) for value in (1019, 512, 512)]
    codes[0][0] = 4
    rgb = frame_to_rgb(
        frame_of("yuv444p10le", codes, (2, 4)), signal_of("yuv444p10le", (2, 4), Tags(colorspace=1))
    )
    assert rgb[1] == pytest.approx((1019 - 64) / 876, abs=1e-6)
    assert rgb[0] == pytest.approx((4 - 64) / 876, abs=1e-6)


@pytest.mark.parametrize("layout", ["yuv420p", "yuv422p10le", "yuv444p12le", "yuv420p10le", "gbrp10le"])
@pytest.mark.parametrize("range_", ["legal", "full"])
@pytest.mark.parametrize("size", [SIZE, ODD])
def test_encoding_undoes_decoding(layout: str, range_: str, size: tuple[int, int]) -> None:
    frame = random_frame(layout, size)
    signal = signal_of(layout, size, range=range_)
    # Colours that subsampled chroma can hold: the same everywhere.
    codes = planes_of(frame)
    guard = 1 << (signal.bits - 8)
    codes = [c.clip(guard, (1 << signal.bits) - 1 - guard) for c in codes]
    if signal.across:
        codes[1][...], codes[2][...] = codes[1][0, 0], codes[2][0, 0]
    frame = frame_of(layout, codes, size)
    rgb = frame_to_rgb(frame, signal)
    again = av.VideoFrame(size[1], size[0], layout)
    fill_frame(again, signal, [np.ascontiguousarray(rgb[..., c]) for c in range(3)])
    for mine, theirs in zip(planes_of(again), codes, strict=True):
        assert np.array_equal(mine, theirs)


@pytest.mark.parametrize("siting", ["left", "centre", "topleft"])
@pytest.mark.parametrize("size", [SIZE, ODD])
def test_a_chroma_slope_keeps_its_place(siting: str, size: tuple[int, int]) -> None:
    # Linear chroma is what linear interpolation and symmetrical averaging leave alone, if the siting is right.
    signal = signal_of("yuv420p12le", size, Tags(colorspace=1), siting=siting)
    y, x = np.mgrid[: size[0], : size[1]]
    slope = 0.2 * x / size[1] + 0.1 * y / size[0]
    rgb = [np.full(size, 0.4) + 0.2 * slope, np.full(size, 0.5), np.full(size, 0.4) + slope]
    frame = av.VideoFrame(size[1], size[0], "yuv420p12le")
    fill_frame(frame, signal, [plane.astype(np.float32) for plane in rgb])
    back = frame_to_rgb(frame, signal)
    inner = (slice(4, -4), slice(4, -4))
    for channel in range(3):
        assert back[..., channel][inner] == pytest.approx(rgb[channel][inner], abs=1.5 / 3504)


def test_gain_and_offset_reach_sixteen_bits() -> None:
    frame = random_frame("yuv422p10le", SIZE)
    signal = signal_of("yuv422p10le", SIZE, Tags(colorspace=1))
    plain = frame_to_rgb(frame, signal)
    out = [np.empty(SIZE, np.uint16) for _ in range(3)]
    frame_to_planes(frame, signal, out, gain=876 / 1023, offset=64 / 1023)
    want = np.rint(np.clip(plain * (876 / 1023) + 64 / 1023, 0, 1) * 65535)
    assert np.abs(np.stack(out, axis=-1) - want).max() <= 1


def test_gain_and_offset_on_the_way_back() -> None:
    size = SIZE
    signal = signal_of("yuv444p10le", size, Tags(colorspace=1))
    frame = random_frame("yuv444p10le", size)
    codes = [c.clip(4, 1019) for c in planes_of(frame)]
    frame = frame_of("yuv444p10le", codes, size)
    planes = [np.empty(size, np.float32) for _ in range(3)]
    frame_to_planes(frame, signal, planes, gain=876 / 1023, offset=64 / 1023)
    again = av.VideoFrame(size[1], size[0], "yuv444p10le")
    fill_frame(again, signal, planes, gain=1023 / 876, offset=-64 / 876)
    assert all(np.array_equal(a, b) for a, b in zip(planes_of(again), codes, strict=True))


PACKED = ["rgb24", "bgr24", "rgb48le", "yuyv422", "uyvy422", "nv12", "p010le", "rgba"]


@pytest.mark.parametrize("layout", PACKED)
def test_packed_layouts_are_only_shuffled(layout: str) -> None:
    height, width = SIZE
    rng = np.random.default_rng(8)
    frame = av.VideoFrame(width, height, layout)
    deep = layout in ("rgb48le", "p010le")
    kind = np.uint16 if deep else np.uint8
    raw = []
    for plane in frame.planes:
        rows = rng.integers(0, 65536 if deep else 256, (height, plane.line_size // kind().itemsize)).astype(kind)
        if layout == "p010le":
            rows &= 0xFFC0
        rows = rows[: plane.buffer_size // plane.line_size]
        raw.append(rows)
        plane.update(np.resize(rows, plane.buffer_size // kind().itemsize).tobytes())
    signal = signal_of(layout, SIZE, Tags(colorspace=1))
    rgb = frame_to_rgb(frame, signal)
    if layout in ("yuyv422", "uyvy422", "nv12", "p010le"):
        if layout in ("nv12", "p010le"):
            drop = 6 if deep else 0
            y, uv = raw[0][:, :width] >> drop, raw[1][: height // 2, :width] >> drop
            planes = [y, uv[:, 0::2], uv[:, 1::2]]
        else:
            packed = raw[0][:, : 2 * width]
            first = layout == "yuyv422"
            luma, chroma = (packed[:, 0::2], packed[:, 1::2]) if first else (packed[:, 1::2], packed[:, 0::2])
            planes = [luma, chroma[:, 0::2], chroma[:, 1::2]]
        twin = {"yuyv422": "yuv422p", "uyvy422": "yuv422p", "nv12": "yuv420p", "p010le": "yuv420p10le"}[layout]
        assert np.array_equal(rgb, frame_to_rgb(frame_of(twin, planes, SIZE), signal))
        return
    count = 4 if layout == "rgba" else 3
    pixels = raw[0][:, : count * width].reshape(height, width, count)[..., :3]
    if layout == "bgr24":
        pixels = pixels[..., ::-1]
    top = 65535 if deep else 255
    assert np.array_equal(np.rint(rgb.astype(float) * top).astype(int), pixels)


def test_tags_and_assumptions() -> None:
    assert signal_of("yuv420p", (1080, 1920)).assumed == ("matrix bt709", "range legal", "chroma siting left")
    assert signal_of("yuv420p", (576, 720)).matrix == "bt601"
    assert signal_of("yuv420p10le", (2160, 3840), Tags(primaries=9)).matrix == "bt2020"
    tagged = signal_of("yuv422p10le", (576, 720), Tags(colorspace=1, color_range=2))
    assert (tagged.matrix, tagged.range, tagged.assumed) == ("bt709", "full", ())
    assert signal_of("yuvj422p", (576, 720)).range == "full"
    stated = signal_of(
        "yuv422p10le", (576, 720), Tags(colorspace=1, color_range=2), matrix="bt2020", range="legal"
    )
    assert (stated.matrix, stated.range) == ("bt2020", "legal")


@pytest.mark.parametrize(
    ("layout", "more", "words"),
    [
        ("bayer_rggb16le", {}, "pixel layout bayer_rggb16le"),
        ("pal8", {}, "pixel layout pal8"),
        ("yuv420p", {"tags": Tags(colorspace=10)}, "tagged 10"),
        ("yuv420p", {"matrix": "bt708"}, "'bt708' is not known"),
        ("gbrpf16le", {}, "32-bit float"),
    ],
)
def test_what_stands_for_no_rgb_is_refused(layout: str, more: dict[str, object], words: str) -> None:
    with pytest.raises(MediaError, match=words):
        signal_of(layout, (1080, 1920), **more)  # type: ignore[arg-type]


def test_luma_plane_follows_the_range() -> None:
    frame = random_frame("yuv420p10le", SIZE)
    luma = luma_plane(frame, signal_of("yuv420p10le", SIZE), step=3)
    assert luma == pytest.approx((planes_of(frame)[0][::3, ::3] - 64) / 876, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(width=st.integers(2, 70), height=st.integers(2, 40), seed=st.integers(0, 99))
def test_strips_make_no_seam(width: int, height: int, seed: int) -> None:
    # A picture so wide that strips are four rows high, next to the same one in a single strip.
    from huemend.media import planes

    frame = random_frame("yuv420p", (height, width), seed)
    signal = signal_of("yuv420p", (height, width))
    whole = frame_to_rgb(frame, signal)
    before = planes._STRIP_PIXELS
    planes._STRIP_PIXELS = 1
    try:
        striped = frame_to_rgb(frame, signal)
        again = av.VideoFrame(width, height, "yuv420p")
        fill_frame(again, signal, [np.ascontiguousarray(striped[..., c]) for c in range(3)])
    finally:
        planes._STRIP_PIXELS = before
    once = av.VideoFrame(width, height, "yuv420p")
    fill_frame(once, signal, [np.ascontiguousarray(whole[..., c]) for c in range(3)])
    assert np.array_equal(whole, striped)
    assert all(np.array_equal(a, b) for a, b in zip(planes_of(once), planes_of(again), strict=True))


@pytest.mark.parametrize("pix_fmt", ["yuv422p10le", "yuv420p", "yuv444p12le", "gbrp10le", "gray10le"])
def test_small_pictures_are_means_of_the_large_one(pix_fmt: str) -> None:
    shape = (64, 96)
    frame = frame_of(pix_fmt, moving_planes(pix_fmt, shape)(3), shape)
    signal = signal_of(pix_fmt, shape)
    whole, small = frame_to_rgb(frame, signal), small_rgb(frame, signal, 16 * 24)
    assert small.shape == (16, 24, 3)
    means = whole.reshape(16, 4, 24, 4, 3).mean(axis=(1, 3))
    # Half a code of rounding, and chroma that is not shifted by its siting.
    assert np.abs(small - means).max() < 0.02
    assert np.abs((small - means).mean(axis=(0, 1))).max() < 2e-3
