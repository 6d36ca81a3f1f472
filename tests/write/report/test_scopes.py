"""Scopes against signals whose place on a scope is published."""

from __future__ import annotations

import base64
import re

import numpy as np
import pytest

from huemend.view import measurement_signal
from huemend.write.report import scopes
from huemend.write.report.traces import Series, chroma_frame, chroma_ground, parade, vectorscope, waveform

# 75 % bars of SMPTE RP 219 as 10-bit Y', C'B, C'R of BT.709 (from memory; the next test has libavfilter's own).
RP_219 = {
    "white": ((0.75, 0.75, 0.75), (721, 512, 512)),
    "yellow": ((0.75, 0.75, 0.0), (674, 176, 543)),
    "cyan": ((0.0, 0.75, 0.75), (581, 589, 176)),
    "green": ((0.0, 0.75, 0.0), (534, 253, 207)),
    "magenta": ((0.75, 0.0, 0.75), (251, 771, 817)),
    "red": ((0.75, 0.0, 0.0), (204, 435, 848)),
    "blue": ((0.0, 0.0, 0.75), (111, 848, 481)),
}


@pytest.mark.parametrize("name", RP_219)
def test_bars_have_the_codes_of_the_standard(name):
    signal, codes = RP_219[name]
    # BT.709-6, item 3.5: Y' spans 64 to 940, the colour differences 512 +- 448.
    assert 64 + 876 * scopes.luma(np.array(signal)) == pytest.approx(codes[0], abs=0.5)
    assert 512 + 896 * scopes.chroma(np.array(signal)) == pytest.approx(codes[1:], abs=0.5)
    if name != "white":
        assert scopes.BARS_75[name] == signal


def test_bars_agree_with_libavfilter():
    """libavfilter draws RP 219 bars (its source ``smptehdbars``) in 8-bit 4:2:0; it knows nothing of us."""
    av = pytest.importorskip("av")
    graph = av.filter.Graph()
    source, sink = graph.add("smptehdbars", "size=1920x1080"), graph.add("buffersink")
    source.link_to(sink)
    graph.configure()
    frame = graph.pull()
    y, cb, cr = (np.frombuffer(bytes(p), np.uint8).reshape(p.height, p.line_size) for p in frame.planes)
    # The seven bars lie between two of 40 % grey, an eighth of the width each (RP 219, pattern 1).
    for place, (signal, _) in enumerate(RP_219.values()):
        x = round(240 + 1440 / 7 * (place + 0.5))
        assert 16 + 219 * scopes.luma(np.array(signal)) == pytest.approx(int(y[100, x]), abs=0.51)
        drawn = int(cb[50, x // 2]), int(cr[50, x // 2])
        assert 128 + 224 * scopes.chroma(np.array(signal)) == pytest.approx(drawn, abs=0.51)


def scene_of(signal):
    """Return the scene-linear ACEScg that the measurement view shows as a signal, by colour-science's matrix."""
    colour = pytest.importorskip("colour")
    spaces = colour.RGB_COLOURSPACES
    matrix = colour.matrix_RGB_to_RGB(spaces["ITU-R BT.709"], spaces["ACEScg"], "CAT02")
    return np.asarray(signal) ** 2.4 @ matrix.T


def ink_of(svg):
    """Return where each picture of a drawing lies, (left, top, right, bottom), with its ink, 0..255."""
    import cv2

    out = []
    for image in re.findall(r"<image [^>]*>", svg):
        read = dict(re.findall(r'([a-zA-Z]+)="([^"]*)"', image))
        data = base64.b64decode(read["href"].split(",", 1)[1])
        alpha = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)[..., 3]
        left, top, width, height = (float(read[key]) for key in ("x", "y", "width", "height"))
        out.append(((left, top, left + width, top + height), alpha))
    return out


@pytest.fixture(scope="module")
def bars():
    """Bars as a scene, 20 patches a bar: the measurement view shows them as the standard's signals."""
    signal = np.repeat(np.array([signal for signal, _ in RP_219.values()]), 20, axis=0)
    picture = np.broadcast_to(scene_of(signal), (60, 140, 3)).astype(np.float32)
    assert measurement_signal(picture)[0] == pytest.approx(signal, abs=1e-3)
    return Series.of("hero", picture, picture[0, 10::20], 0.0)


def test_waveform_of_bars(bars):
    ((_, top, _, bottom), ink) = ink_of(waveform(bars, bars))[0]
    for place, (_, codes) in enumerate(RP_219.values()):
        column = ink[:, 10 + 20 * place]
        rows = np.flatnonzero(column)
        assert len(rows) == 1, "a flat bar is one line"
        percent = 104 * (1 - (rows[0] + 0.5) / len(column))
        assert percent == pytest.approx((codes[0] - 64) / 8.76, abs=104 / len(column) / 2 + 0.06)
    # The axis says the same as the picture: 100 % lies where its label does.
    (label,) = re.findall(r'<text x="[^"]*" y="([^"]*)"[^>]*>100</text>', waveform(bars, bars))
    assert float(label) - 3.5 == pytest.approx(top + (bottom - top) * 4 / 104, abs=0.1)


def test_parade_of_bars(bars):
    for channel, name in enumerate(("red", "green", "blue")):
        ink = ink_of(parade(channel, [bars]))[0][1]
        for place, (signal, _) in enumerate(RP_219.values()):
            rows = np.flatnonzero(ink[:, 10 + 20 * place])
            percent = 104 * (1 - (rows + 0.5) / len(ink))
            assert percent == pytest.approx([100 * signal[channel]], abs=104 / len(ink)), (name, place)


def test_vectorscope_of_bars(bars):
    ((left, top, right, bottom), ink) = ink_of(vectorscope(bars, 0.5))[0]
    rows, columns = np.nonzero(ink)
    cb = (left + (columns + 0.5) / ink.shape[1] * (right - left) - (left + right) / 2) / (right - left)
    cr = -(top + (rows + 0.5) / ink.shape[0] * (bottom - top) - (top + bottom) / 2) / (bottom - top)
    assert len(rows) == 7
    for _, codes in RP_219.values():
        wanted = (np.array(codes[1:]) - 512) / 896
        assert np.hypot(cb - wanted[0], cr - wanted[1]).min() < 0.006


def test_marks_of_the_bars_lie_where_the_standard_says():
    frame = chroma_frame(0.5)
    drawn = dict(re.findall(r'd="M([^"]+)h10m-5 -5v10"[^>]*data-bar="(\w+)"', chroma_ground(frame)))
    assert len(drawn) == 6
    for place, name in drawn.items():
        x, y = (float(v) for v in place.split())
        cb = (x + 5 - frame.x.start) / (frame.x.end - frame.x.start) - 0.5
        cr = (y - frame.y.start) / (frame.y.end - frame.y.start) - 0.5
        # 0.1 drawing units of 228 is how finely coordinates are written.
        assert (512 + 896 * cb, 512 + 896 * cr) == pytest.approx(RP_219[name][1][1:], abs=0.8)


def test_enlarged_the_hues_of_the_bars_stand_at_the_edge_in_their_directions():
    frame = chroma_frame(0.125)
    ground = chroma_ground(frame)
    assert "data-bar" not in ground
    named = re.findall(r'<text x="([^"]+)" y="([^"]+)" text-anchor="(\w+)" class="target-name">(\w+)<', ground)
    assert len(named) == 6
    for x, y, anchor, name in named:
        # A name stands 7 beside and 4 above its place.
        across, up = float(x) + (-7 if anchor == "start" else 7) - frame.x(0), frame.y(0) - float(y) - 4
        wanted = np.subtract(RP_219[name][1][1:], 512)
        alike = (across * wanted[0] + up * wanted[1]) / np.hypot(across, up) / np.hypot(*wanted)
        assert np.degrees(np.arccos(min(alike, 1.0))) < 0.5, name


def test_waveform_of_a_ramp_is_a_diagonal():
    ramp = np.repeat(np.linspace(0, 1, 128)[None, :, None], 3, axis=2)
    ink = scopes.column_density(scopes.luma(np.broadcast_to(ramp, (40, 128, 3))), 1.0, rows=128)
    assert (ink > 0).sum() == 128
    rows = np.argmax(ink, axis=0)
    assert rows == pytest.approx(127 - np.arange(128), abs=1)


def test_levels_outside_lie_on_the_edge():
    ink = scopes.column_density(np.array([[-0.5, 9.0]]), 1.0, rows=10)
    assert (np.argmax(ink, axis=0) == [9, 0]).all()


def test_patches_hide_noise_but_not_balance():
    rng = np.random.default_rng(3)
    flat = np.full((540, 960, 3), 0.18) * [1.1, 1.0, 0.9]
    noisy = flat * (1 + rng.normal(0, 0.1, flat.shape))
    averaged = scopes.patch_average(noisy)
    assert averaged.shape == (90, 160, 3)
    assert averaged.mean(axis=(0, 1)) == pytest.approx(flat[0, 0], rel=0.002)
    # 36 pixels a patch: a sixth of the noise.
    assert averaged.std(axis=(0, 1)) / flat[0, 0] == pytest.approx(0.1 / 6, rel=0.1)


def test_skin_guide_holds_the_skin_patches_of_the_chart():
    """The two skin patches of the published 24-patch chart, as colour-science carries it, lie inside."""
    colour = pytest.importorskip("colour")
    chart = colour.CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"]
    low, high = scopes.SKIN_GUIDE_DEGREES
    for name in ("dark skin", "light skin"):
        xyz = colour.xyY_to_XYZ(chart.data[name])
        signal = colour.XYZ_to_RGB(xyz, "ITU-R BT.709", chart.illuminant, "CAT02") ** (1 / 2.4)
        assert low < scopes.hue_degrees(scopes.chroma(signal)) < high
    # The line of common practice: the +I axis of composite video, at 123 degrees (no source but practice).
    assert low < 123 < high


def test_the_wedge_is_drawn_at_its_angles():
    frame = chroma_frame(0.25)
    (path,) = re.findall(r'<path d="M([^"]*)" class="guide">', chroma_ground(frame))
    ends = np.array([[float(v) for v in point.split()] for point in path.split("L")])
    offs = (ends - ends[1])[[0, 2]] * [1, -1]
    assert np.degrees(np.arctan2(offs[:, 1], offs[:, 0])) == pytest.approx(scopes.SKIN_GUIDE_DEGREES, abs=0.1)


def test_hue_of_the_bars():
    # On a vectorscope red lies at about 100 degrees, blue near 355 and green near 230 (BT.709 colour differences).
    red, blue = (float(scopes.hue_degrees(scopes.chroma(np.array(scopes.BARS_75[n])))) for n in ("red", "blue"))
    assert red == pytest.approx(np.degrees(np.arctan2(336, -77)), abs=0.2)
    assert blue == pytest.approx(360 + np.degrees(np.arctan2(-31, 336)), abs=0.2)
    assert scopes.turn_degrees(red, red + 350) == pytest.approx(-10)
