"""Clips: the code that the encoder was given is the code that comes out, at the index that was asked for."""

from __future__ import annotations

import random
import shutil
import wave
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
import pytest

from huemend.errors import MediaError
from huemend.media.clips import open_clip
from huemend.media.planes import frame_to_rgb
from huemend.media.signal import signal_of
from tests.clipmaker import fill, moving_planes, probe_clip, write_clip

pytestmark = pytest.mark.slow

SIZE = (96, 128)


def truth(pix_fmt: str, planes: list[np.ndarray], clip_signal: object) -> np.ndarray:
    return frame_to_rgb(fill(av.VideoFrame(SIZE[1], SIZE[0], pix_fmt), planes), clip_signal)  # type: ignore[arg-type]


LOSSLESS = [
    ("ffv1", "mkv", "yuv420p", {}),
    ("ffv1", "mkv", "yuv422p", {}),
    ("ffv1", "mkv", "yuv420p10le", {}),
    ("ffv1", "mkv", "yuv422p10le", {}),
    ("ffv1", "mkv", "yuv444p10le", {}),
    ("ffv1", "mkv", "yuv420p12le", {}),
    ("ffv1", "mkv", "yuv422p12le", {}),
    ("ffv1", "mkv", "yuv444p12le", {}),
    ("ffv1", "mkv", "gbrp10le", {}),
    ("ffv1", "mkv", "gbrp12le", {}),
    ("ffv1", "mkv", "gbrp16le", {}),
    ("libx264", "mp4", "yuv420p", {"qp": "0"}),
    ("libx264", "mp4", "yuv444p", {"qp": "0"}),
    ("libx265", "mp4", "yuv420p10le", {"x265-params": "lossless=1:log-level=none"}),
    ("libx265", "mov", "yuv422p12le", {"x265-params": "lossless=1:log-level=none"}),
    ("rawvideo", "mov", "yuyv422", {}),
    ("v210", "mov", "yuv422p10le", {}),
]


@pytest.mark.parametrize(("codec", "suffix", "pix_fmt", "options"), LOSSLESS)
@pytest.mark.parametrize("smooth", [True, False])
def test_lossless_codecs_are_exact_to_the_code(
    codec: str, suffix: str, pix_fmt: str, options: dict[str, str], smooth: bool, tmp_path: Path
) -> None:
    twin = "yuv422p" if pix_fmt == "yuyv422" else pix_fmt
    planes = moving_planes(twin, SIZE, smooth=smooth)
    path = tmp_path / f"clip.{suffix}"
    if pix_fmt == "yuyv422":
        _write_yuyv(path, planes)
    else:
        write_clip(path, planes, frames=4, size=SIZE, codec=codec, pix_fmt=pix_fmt, options=options)
    with open_clip(path, matrix=None if pix_fmt.startswith("gbr") else "bt709", range="legal") as clip:
        assert clip.info.frames == 4
        for index, rgb in clip.read_frames(range(4)):
            assert np.array_equal(rgb, truth(twin, planes(index), clip.info.signal))


def _write_yuyv(path: Path, planes: object) -> None:
    with av.open(str(path), "w") as container:
        video = container.add_stream("rawvideo", rate=25)
        video.height, video.width, video.pix_fmt = SIZE[0], SIZE[1], "yuyv422"
        for index in range(4):
            y, cb, cr = planes(index)  # type: ignore[operator]
            packed = np.empty((SIZE[0], 2 * SIZE[1]), np.uint8)
            packed[:, 0::2], packed[:, 1::4], packed[:, 3::4] = y, cb, cr
            frame = av.VideoFrame(SIZE[1], SIZE[0], "yuyv422")
            frame.planes[0].update(packed.tobytes())
            frame.pts = index
            container.mux(video.encode(frame))
        container.mux(video.encode(None))


LOSSY = [
    # The codec's own error in 10-bit codes of luma, on smooth pictures, with room; measured by the test on planes.
    ("prores_ks", "mov", "yuv422p10le", {"profile": "3"}, SIZE),
    ("prores_ks", "mov", "yuv444p10le", {"profile": "4"}, SIZE),
    ("dnxhd", "mov", "yuv422p10le", {"profile": "dnxhr_hqx"}, (288, 320)),
    ("dnxhd", "mxf", "yuv422p10le", {"profile": "dnxhr_hqx"}, (288, 320)),
    ("dnxhd", "mov", "yuv444p10le", {"profile": "dnxhr_444"}, (288, 320)),
    ("libx264", "mp4", "yuv420p10le", {"crf": "8"}, SIZE),
    ("libx264", "mov", "yuv422p10le", {"crf": "8"}, SIZE),
    ("libx265", "mp4", "yuv420p10le", {"crf": "8", "x265-params": "log-level=none"}, SIZE),
    ("libx265", "mp4", "yuv422p12le", {"crf": "8", "x265-params": "log-level=none"}, SIZE),
    ("mjpeg", "mov", "yuvj422p", {"q": "2"}, SIZE),
]


@pytest.mark.parametrize(("codec", "suffix", "pix_fmt", "options", "size"), LOSSY)
def test_other_codecs_add_no_error_of_ours(
    codec: str, suffix: str, pix_fmt: str, options: dict[str, str], size: tuple[int, int], tmp_path: Path
) -> None:
    planes = moving_planes(pix_fmt, size)
    full = pix_fmt.startswith("yuvj")
    path = write_clip(
        tmp_path / f"clip.{suffix}", planes, frames=3, size=size, codec=codec, pix_fmt=pix_fmt, options=options,
        color_range=2 if full else 1, matrix=5 if full else 1,
    )  # fmt: skip
    with open_clip(path, matrix="bt601" if full else "bt709") as clip:
        signal = clip.info.signal
        assert signal.range == ("full" if full else "legal")
        given = signal_of(pix_fmt, size, matrix=signal.matrix, range=signal.range)
        decoded = list(av.open(str(path)).decode(video=0))
        for index, rgb in clip.read_frames(range(3)):
            # What the codec did to the planes, carried through the published matrix, is all there may be.
            # (4:4:4 ProRes comes back with 12 bits, whatever went in.)
            want = frame_to_rgb(fill(av.VideoFrame(size[1], size[0], pix_fmt), planes(index)), given)
            codec_error = np.abs(frame_to_rgb(decoded[index], signal) - want).max()
            assert np.abs(rgb - want).max() <= codec_error + 1e-6
            assert codec_error < 0.05  # the right picture at the right index, too


def test_what_general_readers_make_of_the_same_clip(tmp_path: Path) -> None:
    """The reason for our own matrix: next to swscale and OpenCV's reader on a clip whose codes are known."""
    planes = moving_planes("yuv422p10le", SIZE)
    bright = planes(0)
    bright[0][:8] = 1000  # above nominal white, as log highlights are
    path = write_clip(tmp_path / "clip.mkv", lambda _: bright, frames=2, size=SIZE)
    with open_clip(path) as clip:
        ((_, mine),) = list(clip.read_frames([0]))
        want = truth("yuv422p10le", bright, clip.info.signal)
    frame = next(av.open(str(path)).decode(video=0))
    scaled = frame.reformat(format="gbrp16le", src_colorspace="ITU709", dst_colorspace="ITU709")
    theirs = scaled.to_ndarray()
    if theirs.shape[0] == 3:
        theirs = np.moveaxis(theirs, 0, -1)
    theirs = theirs / 65535
    reader = cv2.VideoCapture(str(path))
    ok, bgr = reader.read()
    assert ok
    eight = bgr[..., ::-1] / 255.0
    rows = slice(16, None)
    codes = 876  # of 10-bit legal range
    assert np.abs(mine - want).max() * codes < 1e-3
    assert np.abs(theirs - want)[rows].max() * codes > 0.5
    assert np.abs(eight - want)[rows].max() * codes > 2
    # Superwhites: kept here, cut off there.
    assert mine[:4].max() > 1.05
    assert theirs.max() <= 1.0 and eight.max() <= 1.0


SEEKS = [
    ("prores_ks", "mov", "yuv422p10le", {}, 25),
    ("ffv1", "mkv", "yuv422p10le", {"g": "10"}, 25),
    ("libx264", "mp4", "yuv420p", {"bf": "3", "g": "12", "x264-params": "open-gop=1"}, Fraction(30000, 1001)),
    ("libx264", "mkv", "yuv420p", {"bf": "2", "g": "250"}, Fraction(24000, 1001)),
    ("libx264", "ts", "yuv420p", {"bf": "2", "g": "12"}, 25),
    ("libx265", "mp4", "yuv420p10le", {"x265-params": "log-level=none:keyint=10:open-gop=1"}, 50),
    ("mpeg4", "avi", "yuv420p", {"g": "12"}, 25),
    ("mpeg2video", "mxf", "yuv422p", {"g": "12", "bf": "2"}, 25),
]


@pytest.mark.parametrize(("codec", "suffix", "pix_fmt", "options", "rate"), SEEKS)
def test_any_order_gives_the_frames_of_reading_through(
    codec: str, suffix: str, pix_fmt: str, options: dict[str, str], rate: Fraction | int, tmp_path: Path
) -> None:
    planes = moving_planes(pix_fmt, SIZE)
    path = write_clip(
        tmp_path / f"clip.{suffix}", planes, frames=70, size=SIZE, codec=codec, pix_fmt=pix_fmt, options=options,
        rate=rate,
    )  # fmt: skip
    through = [frame.to_ndarray() for frame in av.open(str(path)).decode(video=0)]
    with open_clip(path) as clip:
        assert (clip.info.frames, clip.info.fps, clip.info.even) == (70, Fraction(rate), True)
        order = list(range(70))
        random.Random(4).shuffle(order)
        for index in order:
            ((got, frame),) = list(clip.frames([index]))
            assert got == index
            assert np.array_equal(frame.to_ndarray(), through[index]), index


def test_uneven_pace_is_found_and_still_exact(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    stamps = np.cumsum(rng.integers(20, 60, 60)).tolist()
    planes = moving_planes("yuv420p", SIZE)
    path = write_clip(
        tmp_path / "phone.mkv", planes, frames=60, size=SIZE, codec="libx264", pix_fmt="yuv420p", stamps=stamps,
        options={"g": "15"},
    )  # fmt: skip
    through = [frame.to_ndarray() for frame in av.open(str(path)).decode(video=0)]
    with open_clip(path) as clip:
        assert not clip.info.even and clip.info.frames == 60
        assert any("uneven pace" in note for note in clip.info.notes)
        for index in (47, 3, 59, 0, 20):
            ((_, frame),) = list(clip.frames([index]))
            assert np.array_equal(frame.to_ndarray(), through[index])


@pytest.mark.parametrize(
    ("suffix", "codec"), [("mov", "prores_ks"), ("mkv", "ffv1"), ("mxf", "dnxhd"), ("mp4", "libx264")]
)
def test_start_timecode(suffix: str, codec: str, tmp_path: Path) -> None:
    size = (288, 320)
    pix_fmt = "yuv420p" if codec == "libx264" else "yuv422p10le"
    options = {"profile": "dnxhr_hqx"} if codec == "dnxhd" else {}
    planes = moving_planes(pix_fmt, size)
    path = write_clip(
        tmp_path / f"a.{suffix}", planes, frames=3, size=size, codec=codec, pix_fmt=pix_fmt, options=options,
        rate=Fraction(30000, 1001), timecode="01:02:03;04",
    )  # fmt: skip
    assert str(probe_clip(path).timecode) == "01:02:03;04"


def test_an_mxf_without_timecode_reads_none(tmp_path: Path) -> None:
    size = (288, 320)
    path = write_clip(
        tmp_path / "a.mxf", moving_planes("yuv422p10le", size), frames=3, size=size, codec="dnxhd",
        options={"profile": "dnxhr_hqx"},
    )  # fmt: skip
    info = probe_clip(path)
    assert info.timecode is None
    assert any("MXF says so when there is none" in note for note in info.notes)


@pytest.mark.parametrize(("degrees", "clockwise"), [(-90, 90), (90, 270), (180, 180)])
def test_rotation_is_applied(degrees: int, clockwise: int, tmp_path: Path) -> None:
    planes = moving_planes("yuv420p", SIZE)
    path = write_clip(
        tmp_path / "turned.mp4", planes, frames=2, size=SIZE, codec="libx264", pix_fmt="yuv420p",
        options={"qp": "0"}, rotate=degrees,
    )  # fmt: skip
    with open_clip(path) as clip:
        assert clip.info.rotation == clockwise
        ((_, rgb),) = list(clip.read_frames([0]))
        stored = truth("yuv420p", planes(0), clip.info.signal)
        # np.rot90 turns counter-clockwise.
        assert np.array_equal(rgb, np.rot90(stored, -clockwise // 90))


def test_odd_sizes(tmp_path: Path) -> None:
    size = (45, 61)
    planes = moving_planes("yuv420p", size)
    path = write_clip(tmp_path / "odd.mkv", planes, frames=3, size=size, pix_fmt="yuv420p")
    with open_clip(path) as clip:
        rgb = dict(clip.read_frames([2]))[2]
        want = frame_to_rgb(fill(av.VideoFrame(61, 45, "yuv420p"), planes(2)), clip.info.signal)
        assert rgb.shape == (45, 61, 3) and np.array_equal(rgb, want)


# ------------------------------------------------------------------------------------------------ bad media


def good_mp4(path: Path, frames: int = 60) -> Path:
    return write_clip(
        path,
        moving_planes("yuv420p", SIZE, smooth=False),
        frames=frames,
        size=SIZE,
        codec="libx264",
        pix_fmt="yuv420p",
    )


def test_missing_empty_and_folder(tmp_path: Path) -> None:
    with pytest.raises(MediaError, match="there is no such file"):
        probe_clip(tmp_path / "none.mov")
    (tmp_path / "empty.mov").touch()
    with pytest.raises(MediaError, match=r"empty\.mov: is an empty file; export or copy it again"):
        probe_clip(tmp_path / "empty.mov")
    with pytest.raises(MediaError, match="is a folder"):
        probe_clip(tmp_path)


def test_truncated(tmp_path: Path) -> None:
    whole = good_mp4(tmp_path / "whole.mp4").read_bytes()
    cut = tmp_path / "cut.mp4"
    cut.write_bytes(whole[: len(whole) // 2])  # the index at the end is gone
    with pytest.raises(MediaError, match=r"cut\.mp4: is not a clip that can be read .*; copy or export"):
        probe_clip(cut)
    mkv = write_clip(
        tmp_path / "whole.mkv", moving_planes("yuv422p10le", SIZE, smooth=False), frames=40, size=SIZE
    )
    info = probe_clip(mkv)
    short = tmp_path / "short.mkv"
    short.write_bytes(mkv.read_bytes()[: mkv.stat().st_size // 2])
    with open_clip(short) as clip:
        # What is there can be read; what is not says so.
        assert 10 < clip.info.frames < info.frames
        list(clip.read_frames([clip.info.frames - 2]))
        with pytest.raises(MediaError, match=r"short\.mkv: has no frame 39"):
            list(clip.read_frames([39]))


def test_truncated_after_its_index(tmp_path: Path) -> None:
    fast = write_clip(
        tmp_path / "fast.mov", moving_planes("yuv422p10le", SIZE, smooth=False), frames=40, size=SIZE,
        codec="prores_ks",
    )  # fmt: skip
    moved = tmp_path / "moved.mov"
    with av.open(str(fast)) as source, av.open(str(moved), "w", options={"movflags": "faststart"}) as target:
        stream = target.add_stream_from_template(source.streams.video[0])
        for packet in source.demux(video=0):
            if packet.dts is not None:
                packet.stream = stream
                target.mux(packet)
    cut = tmp_path / "cut.mov"
    cut.write_bytes(moved.read_bytes()[: moved.stat().st_size // 2])
    with open_clip(cut) as clip, pytest.raises(MediaError, match=r"cut\.mov: .*frame 39"):
        list(clip.read_frames([39]))


def test_garbage_under_a_clip_name(tmp_path: Path) -> None:
    path = tmp_path / "noise.mov"
    path.write_bytes(np.random.default_rng(0).bytes(5000))
    with pytest.raises(MediaError, match=r"noise\.mov: is not a clip that can be read"):
        probe_clip(path)
    text = tmp_path / "notes.mp4"
    text.write_text("scene 4, take 2\n" * 50)
    with pytest.raises(MediaError, match=r"notes\.mp4: is not a clip"):
        probe_clip(text)


def test_a_still_under_a_clip_name(tmp_path: Path) -> None:
    cv2.imwrite(str(tmp_path / "x.png"), np.zeros((40, 40, 3), np.uint8))
    shutil.move(tmp_path / "x.png", tmp_path / "x.mov")
    with pytest.raises(MediaError, match=r"x\.mov: is a still picture, not a clip; give it the suffix"):
        probe_clip(tmp_path / "x.mov")


def test_a_clip_under_another_clip_name(tmp_path: Path) -> None:
    path = good_mp4(tmp_path / "a.mp4", 5).rename(tmp_path / "a.mxf")
    assert probe_clip(path).frames == 5  # the content is what counts


def test_sound_alone(tmp_path: Path) -> None:
    path = tmp_path / "sound.wav"
    with wave.open(str(path), "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(48000)
        sound.writeframes(np.zeros(4800, np.int16).tobytes())
    with pytest.raises(MediaError, match=r"sound\.wav: holds sound but no pictures"):
        probe_clip(path)


def test_no_video_stream(tmp_path: Path) -> None:
    path = tmp_path / "titles.mkv"
    (tmp_path / "t.srt").write_text("1\n00:00:00,000 --> 00:00:01,000\nhello\n\n")
    with av.open(str(tmp_path / "t.srt")) as source, av.open(str(path), "w") as target:
        stream = target.add_stream_from_template(source.streams[0])
        for packet in source.demux(source.streams[0]):
            if packet.dts is not None:
                packet.stream = stream
                target.mux(packet)
    with pytest.raises(MediaError, match=r"titles\.mkv: holds no video stream"):
        probe_clip(path)


def test_a_damaged_middle_is_told_or_survived(tmp_path: Path) -> None:
    data = bytearray(good_mp4(tmp_path / "a.mp4").read_bytes())
    middle = len(data) // 2
    data[middle : middle + 4000] = np.random.default_rng(1).bytes(4000)
    path = tmp_path / "bad.mp4"
    path.write_bytes(bytes(data))
    try:
        with open_clip(path) as clip:
            assert len(list(clip.glances(range(0, 60, 7), 4))) == 9
    except MediaError as error:
        assert "bad.mp4" in str(error) and "\n" not in str(error)


def test_no_timecode_is_none(tmp_path: Path) -> None:
    assert probe_clip(good_mp4(tmp_path / "a.mp4", 3)).timecode is None


@pytest.mark.parametrize("index", [-1, 5, 10_000])
def test_an_index_outside(index: int, tmp_path: Path) -> None:
    with (
        open_clip(good_mp4(tmp_path / "a.mp4", 5)) as clip,
        pytest.raises(MediaError, match=f"has no frame {index}"),
    ):
        list(clip.read_frames([index]))
