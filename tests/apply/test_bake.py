"""Baking: every pixel through the LUT and nothing else, everything carried over, no half files."""

from __future__ import annotations

import hashlib
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from huemend.apply import clips
from huemend.apply import stills as pictures
from huemend.apply.job import Baked, Job, Target
from huemend.apply.lut import LAYOUT, DeliveredLut, LutFilter, line_between
from huemend.base.kept import LEDGER
from huemend.errors import LutError, MediaError, OutputError
from huemend.media.clips import open_clip
from huemend.media.encode import FORMATS
from huemend.media.pictures import read_picture, write_picture
from huemend.media.planes import float_planes
from huemend.model import Angle, Event
from huemend.options import WriteOptions
from huemend.write.luts.cube import Cube, apply_cube, make_cube
from huemend.write.luts.cube_file import write_cube
from tests.clipmaker import moving_planes, probe_clip, write_clip
from tests.write.small_setup import ENCODINGS, a_result, hand_over

pytestmark = pytest.mark.slow

SIZE = (144, 256)


def mild(codes: np.ndarray) -> np.ndarray:
    """What a match does: a little exposure, a little mixing, smooth."""
    mix = np.array([[0.95, 0.04, 0.01], [0.02, 0.96, 0.02], [0.0, 0.03, 0.97]])
    return (codes @ mix.T) ** 0.93 * 0.97


@pytest.fixture
def cube() -> Cube:
    return make_cube(mild, 33, "test")


@pytest.fixture
def lut(cube: Cube, tmp_path: Path) -> DeliveredLut:
    return delivered(cube, tmp_path / "lut.cube")


def delivered(cube: Cube, path: Path, range_: str = "legal") -> DeliveredLut:
    path.write_text(write_cube(cube), encoding="ascii")
    return DeliveredLut(path=path, input_range=range_, output_range=range_)


def bake(
    work: Callable[[Job], Baked],
    source: Path | Sequence[Path],
    angle: Angle,
    lut: DeliveredLut,
    out: Path,
    **options: Any,
) -> Baked:
    """Bake to a target: a format, and whether to overwrite."""
    target = Target(path=out, **{key: options.pop(key) for key in ("format", "overwrite") if key in options})
    media = (source,) if isinstance(source, Path) else tuple(source)
    return work(Job(media=media, angle=angle, lut=lut, target=target, **options))


bake_clip = partial(bake, clips.bake_clip)
bake_pictures = partial(bake, pictures.bake_pictures)
bake_clip_to_pictures = partial(bake, pictures.bake_clip_to_pictures)


def angle_of(path: Path, **more: object) -> Angle:
    return Angle(name="left", media=(path,), encoding="S-Log3/S-Gamut3.Cine", **more)  # type: ignore[arg-type]


def source_clip(path: Path, frames: int = 6, **more: object) -> Path:
    planes = moving_planes(str(more.get("pix_fmt", "yuv422p10le")), SIZE)
    return write_clip(path, planes, frames=frames, size=SIZE, **more)  # type: ignore[arg-type]


def rgb_of(path: Path, **how: str) -> dict[int, np.ndarray]:
    with open_clip(path, **how) as clip:  # type: ignore[arg-type]
        return dict(clip.read_frames(range(clip.info.frames)))


def test_a_lossless_bake_is_the_lut_and_nothing_else(cube: Cube, lut: DeliveredLut, tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mkv", pix_fmt="yuv444p12le")
    out = tmp_path / "b.mkv"
    done = bake_clip(source, angle_of(source), lut, out, format="ffv1")
    assert (done.frames, done.range) == (6, "legal")
    before, after = rgb_of(source), rgb_of(out)
    for index in range(6):
        inside = np.clip(before[index], 0, 1)
        # Our own tetrahedral look-up, in float64, is the outside check on the filter.
        want = apply_cube(cube, inside) + (before[index] - inside)
        # Rounded to 12-bit Y'CbCr: half a code of luma, and 1.86 halves of chroma in blue.
        assert np.abs(after[index] - want).max() < 1.5 / 3504


def test_an_identity_leaves_every_code(tmp_path: Path) -> None:
    lut = delivered(make_cube(lambda codes: codes, 17, "identity"), tmp_path / "same.cube")
    source = source_clip(tmp_path / "a.mkv", pix_fmt="yuv444p12le")
    bake_clip(source, angle_of(source), lut, tmp_path / "b.mkv", format="ffv1")
    for one, two in zip(*(_frames(path) for path in (source, tmp_path / "b.mkv")), strict=True):
        assert np.array_equal(one, two)


def _frames(path: Path) -> list[np.ndarray]:
    """Every code of every plane, one flat array a frame."""
    out = []
    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            kind = np.uint16 if frame.format.components[0].bits > 8 else np.uint8
            parts = []
            for plane in frame.planes:
                rows = np.frombuffer(bytes(plane), kind).reshape(-1, plane.line_size // kind().itemsize)
                parts.append(rows[: plane.height, : plane.width].ravel())
            out.append(np.concatenate(parts))
    return out


@pytest.mark.parametrize("range_", ["legal", "full"])
def test_superwhites_go_through(range_: str, tmp_path: Path) -> None:
    def bright(_: int) -> list[np.ndarray]:
        luma = np.linspace(500, 1015, SIZE[1]).round().astype(int)[None].repeat(SIZE[0], axis=0)
        return [luma, np.full(SIZE, 512), np.full(SIZE, 512)]

    lut = delivered(make_cube(lambda codes: codes * 0.9 + 0.05, 17, "down"), tmp_path / "x.cube", range_)
    source = write_clip(tmp_path / "a.mkv", bright, frames=2, size=SIZE, pix_fmt="yuv444p10le")
    bake_clip(source, angle_of(source), lut, tmp_path / "b.mkv", format="ffv1")
    after = rgb_of(tmp_path / "b.mkv")[0][0, :, 1]
    assert after.max() > 1.02
    assert (np.diff(after[:: SIZE[1] // 32]) > 0).all()  # no two highlights became one


def test_the_stated_range_of_the_lut_counts(tmp_path: Path) -> None:
    # A LUT that moves one code of ten bits, 420, and its neighbours: where it acts tells how it was entered.
    def bump(codes: np.ndarray) -> np.ndarray:
        return codes + 0.05 * np.exp(-(((codes - 420 / 1023) / 0.02) ** 2))

    lut = delivered(make_cube(bump, 129, "bump"), tmp_path / "bump.cube", "full")
    ramp = np.linspace(64, 940, SIZE[1]).round().astype(int)[None].repeat(SIZE[0], axis=0)
    grey = np.full(SIZE, 512)
    source = write_clip(
        tmp_path / "a.mkv", lambda _: [ramp, grey, grey], frames=1, size=SIZE, pix_fmt="yuv444p10le"
    )
    bake_clip(source, angle_of(source), lut, tmp_path / "b.mkv", format="ffv1")
    change = rgb_of(tmp_path / "b.mkv")[0][0, :, 1] - rgb_of(source)[0][0, :, 1]
    assert abs(ramp[0][int(change.argmax())] - 420) <= 4


@pytest.mark.parametrize(
    ("format_", "suffix", "limit"),
    [
        # 10-bit codes, on smooth pictures: the encoder's own error and rounding, nothing of ours.
        ("prores-4444", ".mov", 8),
        ("prores-422hq", ".mov", 10),
        ("dnxhr-444", ".mov", 8),
        ("dnxhr-hqx", ".mov", 10),
        ("dnxhr-hqx", ".mxf", 10),
        ("h264", ".mov", 14),
        ("h264", ".mp4", 14),
        ("hevc", ".mov", 14),
        ("ffv1", ".mkv", 1),
    ],
)
def test_every_format_carries_everything_over(
    format_: str, suffix: str, limit: float, cube: Cube, lut: DeliveredLut, tmp_path: Path
) -> None:
    rate = Fraction(24000, 1001)
    sound = (0.3 * np.sin(np.arange(48000) * 0.05)).astype(np.float32)
    source = source_clip(
        tmp_path / "a.mov", frames=12, codec="prores_ks", rate=rate, timecode="14:03:27:09", audio=sound[:24000]
    )
    out = tmp_path / f"b{suffix}"
    bake_clip(source, angle_of(source), lut, out, format=format_)
    was, now = probe_clip(source), probe_clip(out)
    assert (now.fps, now.frames, str(now.timecode)) == (rate, 12, "14:03:27:09")
    assert (now.signal.matrix, now.signal.range, now.size) == ("bt709", "legal", was.size)
    assert now.signal.bits >= 10 and now.audio
    with av.open(str(out)) as container:
        seconds = sum(frame.samples for frame in container.decode(audio=0)) / 48000
    assert seconds == pytest.approx(0.5, abs=0.03)
    before, after = rgb_of(source), rgb_of(out)
    for index in (0, 11):
        inside = np.clip(before[index], 0, 1)
        error = (after[index] - apply_cube(cube, inside) - (before[index] - inside)) * 876
        assert np.percentile(np.abs(error), 99) < limit


def test_colour_tags_come_along(lut: DeliveredLut, tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mov", codec="prores_ks", matrix=9)
    out = tmp_path / "b.mov"
    bake_clip(source, angle_of(source), lut, out, format="prores-422hq")
    assert probe_clip(out).tags.colorspace == 9
    assert probe_clip(out).tags.color_range == 1


def test_full_range_stays_where_the_format_can_say_so(lut: DeliveredLut, tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mp4", codec="libx264", pix_fmt="yuv420p", color_range=2)
    kept = bake_clip(source, angle_of(source), lut, tmp_path / "b.mov", format="h264")
    assert kept.range == "full" and probe_clip(tmp_path / "b.mov").signal.range == "full"
    changed = bake_clip(source, angle_of(source), lut, tmp_path / "c.mov", format="prores-422hq")
    assert changed.range == "legal" and "written in legal range" in changed.notes[0]
    # The same picture either way.
    one, two = rgb_of(tmp_path / "b.mov")[0], rgb_of(tmp_path / "c.mov")[0]
    assert np.abs(one - two).mean() < 0.004


def test_an_uneven_pace_is_kept(lut: DeliveredLut, tmp_path: Path) -> None:
    stamps = [0, 30, 75, 90, 150, 190, 260, 280, 330, 400, 420, 470]
    source = source_clip(
        tmp_path / "a.mkv", frames=12, codec="libx264", pix_fmt="yuv420p", stamps=stamps, options={"bf": "0"}
    )
    out = tmp_path / "b.mov"
    bake_clip(source, angle_of(source), lut, out, format="prores-422hq")
    with av.open(str(out)) as container:
        times = [float(frame.pts * frame.time_base) for frame in container.decode(video=0)]
    assert np.array(times) - times[0] == pytest.approx(np.array(stamps) / 1000, abs=0.002)


def test_a_turned_clip_stays_turned(lut: DeliveredLut, tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mp4", codec="libx264", pix_fmt="yuv420p", rotate=-90)
    bake_clip(source, angle_of(source), lut, tmp_path / "b.mov", format="prores-422hq")
    assert probe_clip(tmp_path / "b.mov").rotation == probe_clip(source).rotation == 90


def test_a_lut_path_with_filter_syntax_in_it(cube: Cube, tmp_path: Path) -> None:
    folder = tmp_path / "a:b,c [d]'e=f;g\\h"
    folder.mkdir()
    lut = delivered(cube, folder / "it's:a lut.cube")
    source = source_clip(tmp_path / "a.mkv", frames=1)
    assert bake_clip(source, angle_of(source), lut, tmp_path / "b.mov", format="prores-422hq").frames == 1


# ------------------------------------------------------------------------------------------------- refusals


def test_nothing_is_left_of_a_clip_that_ends_early(lut: DeliveredLut, tmp_path: Path) -> None:
    whole = write_clip(
        tmp_path / "whole.mov", moving_planes("yuv422p10le", SIZE, smooth=False), frames=30, size=SIZE,
        codec="prores_ks",
    )  # fmt: skip
    moved = tmp_path / "moved.mov"
    with av.open(str(whole)) as source, av.open(str(moved), "w", options={"movflags": "faststart"}) as target:
        stream = target.add_stream_from_template(source.streams.video[0])
        for packet in source.demux(video=0):
            if packet.dts is not None:
                packet.stream = stream
                target.mux(packet)
    cut = tmp_path / "cut.mov"
    cut.write_bytes(moved.read_bytes()[: moved.stat().st_size // 2])
    folder = tmp_path / "out"
    folder.mkdir()
    with pytest.raises(MediaError, match=r"cut\.mov"):
        bake_clip(cut, angle_of(cut), lut, folder / "b.mov", format="prores-422hq")
    assert list(folder.iterdir()) == []


def test_an_existing_file_stays(lut: DeliveredLut, tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mkv", frames=1)
    out = tmp_path / "b.mov"
    out.write_text("mine")
    with pytest.raises(OutputError, match=r"b\.mov"):
        bake_clip(source, angle_of(source), lut, out, format="prores-422hq")
    with pytest.raises(OutputError, match="is not as huemend left it"):
        bake_clip(source, angle_of(source), lut, out, format="prores-422hq", overwrite=True)
    assert out.read_text() == "mine"
    assert os.listdir(tmp_path) and not [name for name in os.listdir(tmp_path) if name.startswith(".")]


def test_only_what_a_bake_left_is_replaced(lut: DeliveredLut, tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mkv", frames=1)
    out = tmp_path / "b.mov"
    bake_clip(source, angle_of(source), lut, out, format="prores-422hq")
    with pytest.raises(OutputError, match="is there already"):
        bake_clip(source, angle_of(source), lut, out, format="prores-422hq")
    bake_clip(source, angle_of(source), lut, out, format="prores-4444", overwrite=True)
    assert probe_clip(out).pix_fmt.startswith("yuv444")
    out.write_bytes(out.read_bytes() + b"somebody's edit")
    with pytest.raises(OutputError, match="is not as huemend left it"):
        bake_clip(source, angle_of(source), lut, out, format="prores-422hq", overwrite=True)


def test_odd_sizes_where_the_codec_refuses_them(lut: DeliveredLut, tmp_path: Path) -> None:
    size = (45, 61)
    source = write_clip(
        tmp_path / "odd.mkv", moving_planes("yuv420p", size), frames=2, size=size, pix_fmt="yuv420p"
    )
    with pytest.raises(MediaError, match="needs an even width and height, this is 61 x 45; choose"):
        bake_clip(source, angle_of(source), lut, tmp_path / "b.mov", format="h264")
    assert bake_clip(source, angle_of(source), lut, tmp_path / "c.mkv", format="ffv1").frames == 2


def test_a_size_that_an_encoder_refuses(lut: DeliveredLut, tmp_path: Path) -> None:
    size = (48, 64)
    source = write_clip(
        tmp_path / "small.mkv", moving_planes("yuv420p", size), frames=2, size=size, pix_fmt="yuv420p"
    )
    with pytest.raises(MediaError, match=r"small\.mkv: cannot be written as DNxHR"):
        bake_clip(source, angle_of(source), lut, tmp_path / "b.mov", format="dnxhr-hqx")
    assert not (tmp_path / "b.mov").exists() and not list(tmp_path.glob(".b*"))


def test_a_lut_that_is_gone(tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mkv", frames=1)
    gone = DeliveredLut(path=tmp_path / "gone.cube", input_range="full", output_range="full")
    with pytest.raises(LutError, match=r"gone\.cube: cannot be applied"):
        bake_clip(source, angle_of(source), gone, tmp_path / "b.mov", format="prores-422hq")
    assert not (tmp_path / "b.mov").exists()


def test_ctrl_c_leaves_no_half_file(lut: DeliveredLut, tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mkv", frames=200)
    out = tmp_path / "out"
    out.mkdir()
    # Slowed down, so that a busy machine cannot finish before it is told to stop.
    code = f"""
import time
from pathlib import Path
from huemend.apply.clips import bake_clip
from huemend.apply.job import Job, Target
from huemend.apply.lut import DeliveredLut
from huemend.model import Angle
from huemend.options import BakeOptions
source = Path({str(source)!r})
bake_clip(Job(media=(source,), angle=Angle(name="a", media=(source,), encoding="x"),
              lut=DeliveredLut(path=Path({str(lut.path)!r}), input_range="legal", output_range="legal"),
              target=Target(path=Path({str(out / "b.mkv")!r}), format="ffv1"),
              options=BakeOptions(report_every=0.0),
              on_event=lambda event: (print(event.done, flush=True), time.sleep(0.1))))
"""
    process = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None
    process.stdout.readline()
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert b"KeyboardInterrupt" in err
    assert list(out.iterdir()) == []


def test_progress_tells_frames_a_second(lut: DeliveredLut, tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mkv", frames=5)
    told: list[Event] = []
    bake_clip(source, angle_of(source), lut, tmp_path / "b.mkv", format="ffv1", on_event=told.append)
    assert told[-1].total == 5 and told[-1].done == 4 and told[-1].text.endswith("frames/s")


def test_the_same_bake_gives_the_same_pixels(lut: DeliveredLut, tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mkv", frames=4)
    sums = []
    for name in ("b.mov", "c.mov"):
        bake_clip(source, angle_of(source), lut, tmp_path / name, format="prores-4444")
        sums.append(hashlib.sha256(b"".join(f.tobytes() for f in _frames(tmp_path / name))).hexdigest())
    assert sums[0] == sums[1]


# ------------------------------------------------------------------------------------------------- pictures


def stills(folder: Path, count: int = 5) -> list[Path]:
    rng = np.random.default_rng(3)
    folder.mkdir()
    paths = [folder / f"shot.{index:04d}.tif" for index in range(count)]
    for path in paths:
        write_picture(path, rng.uniform(0, 1, (40, 64, 3)).astype(np.float32), 16)
    return paths


@pytest.mark.parametrize("range_", ["full", "legal"])
def test_stills(range_: str, cube: Cube, tmp_path: Path) -> None:
    media = stills(tmp_path / "in")
    lut = delivered(cube, tmp_path / "x.cube", "full")
    angle = Angle(name="left", media=tuple(media), encoding="x", range=range_)
    done = bake_pictures(media, angle, lut, tmp_path / "out", format="tiff")
    assert (done.frames, done.range, [p.name for p in done.paths]) == (5, range_, [p.name for p in media])
    gain, offset = line_between(range_, "full")
    for before, after in zip(media, done.paths, strict=True):
        want = (apply_cube(cube, read_picture(before).codes * gain + offset) - offset) / gain
        assert read_picture(after).codes == pytest.approx(np.clip(want, 0, 1), abs=1.1 / 65535 + 1e-6)


def test_float_stills_keep_what_is_above_one(tmp_path: Path) -> None:
    path = tmp_path / "a.exr"
    codes = np.full((40, 64, 3), 0.5, np.float32)
    codes[0, 0] = 1.75
    write_picture(path, codes, 16, floating=True)
    lut = delivered(make_cube(lambda c: c, 9, "same"), tmp_path / "x.cube", "full")
    done = bake_pictures([path], angle_of(path), lut, tmp_path / "out", format="exr")
    assert np.array_equal(read_picture(done.paths[0]).codes, codes)


def test_an_interrupted_sequence_goes_on(lut: DeliveredLut, tmp_path: Path) -> None:
    media = stills(tmp_path / "in")
    angle = Angle(name="left", media=tuple(media), encoding="x")
    out = tmp_path / "out"
    whole = bake_pictures(media, angle, lut, out, format="tiff")
    sums = {path.name: path.read_bytes() for path in whole.paths}
    for path in whole.paths[2:]:
        path.unlink()
    kept = whole.paths[0].stat().st_mtime_ns
    again = bake_pictures(media, angle, lut, out, format="tiff")
    assert (again.frames, again.skipped) == (3, 2)
    assert whole.paths[0].stat().st_mtime_ns == kept
    assert {path.name: path.read_bytes() for path in again.paths} == sums
    # Another LUT is another job: what is there is not taken for its result.
    other = delivered(make_cube(lambda c: c, 9, "same"), tmp_path / "other.cube")
    with pytest.raises(OutputError, match="another match or another source left there"):
        bake_pictures(media, angle, other, out, format="tiff")
    assert bake_pictures(media, angle, other, out, format="tiff", overwrite=True).frames == 5


def test_a_clip_into_pictures_goes_on_too(cube: Cube, lut: DeliveredLut, tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mkv", frames=7, pix_fmt="yuv444p12le")
    out = tmp_path / "out"
    first = bake_clip_to_pictures(source, angle_of(source), lut, out, format="tiff")
    assert first.frames == 7 and first.range == "full"
    before = rgb_of(source)
    for index, path in enumerate(first.paths):
        inside = np.clip(before[index], 0, 1)
        want = (apply_cube(cube, inside) + before[index] - inside) * (876 / 1023) + 64 / 1023
        assert read_picture(path).codes == pytest.approx(want, abs=1.1 / 65535 + 2e-6)
    first.paths[3].unlink()
    again = bake_clip_to_pictures(source, angle_of(source), lut, out, format="tiff")
    assert (again.frames, again.skipped) == (1, 6)
    inside = np.clip(before[3], 0, 1)
    want = (apply_cube(cube, inside) + before[3] - inside) * (876 / 1023) + 64 / 1023
    assert read_picture(first.paths[3]).codes == pytest.approx(want, abs=1.1 / 65535 + 2e-6)


def test_stills_are_never_written_over_themselves(lut: DeliveredLut, tmp_path: Path) -> None:
    media = stills(tmp_path / "in")
    sums = [path.read_bytes() for path in media]
    angle = Angle(name="left", media=tuple(media), encoding="x")
    with pytest.raises(OutputError, match="is a source of this setup"):
        bake_pictures(media, angle, lut, tmp_path / "in", format="tiff", overwrite=True)
    linked = tmp_path / "linked"
    linked.mkdir()
    os.symlink(media[0], linked / media[0].name)
    with pytest.raises(OutputError, match="is a source of this setup"):
        bake_pictures(media, angle, lut, linked, format="tiff", overwrite=True)
    assert [path.read_bytes() for path in media] == sums
    assert not (tmp_path / "in" / LEDGER).exists()


def test_formats_tell_what_they_are() -> None:
    assert {"prores-4444", "prores-422hq", "dnxhr-hqx", "h264", "hevc", "ffv1", "tiff", "exr"} <= set(FORMATS)
    for format_ in FORMATS.values():
        assert format_.about and (format_.is_clip or format_.bit_depth == 16)
        if format_.is_clip:
            assert av.codec.Codec(format_.encoder, "w")


# ---------------------------------------------------------------------------------------------- the command


@pytest.fixture
def matched(tmp_path: Path) -> Path:
    """A setup of two clips, and an output folder as a match leaves it."""
    folder = tmp_path / "show"
    folder.mkdir()
    for name in ("wide", "left"):
        source_clip(folder / f"{name}.mov", codec="prores_ks", timecode="01:00:00:00")
    setup = folder / "setup.toml"
    angles = "".join(
        f'[angle.{name}]\nmedia = ["{name}.mov"]\nencoding = "{ENCODINGS[name]}"\n' for name in ("wide", "left")
    )
    setup.write_text(f'[setup]\nname = "show"\nhero = "wide"\n{angles}')
    result = a_result(folder, name="show", range="legal")
    hand_over(result, folder / "match", WriteOptions(lut_size=33, cdl=False))
    return setup


def huemend(*arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "huemend", *map(str, arguments)], capture_output=True, text=True, check=False
    )


def test_the_command(matched: Path) -> None:
    done = huemend("bake", matched, "left")
    assert done.returncode == 0, done.stderr
    out = matched.parent / "baked" / "show_left_matched.mov"
    assert "6 frames" in done.stdout and probe_clip(out).frames == 6
    again = huemend("bake", matched, "left")
    assert again.returncode == 3 and "show_left_matched.mov" in again.stderr and "Traceback" not in again.stderr


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["nobody"], 2, "'nobody' is none of wide, left"),
        (["wide"], 3, "wide is the hero"),
        (["left", "--format", "betamax"], 2, "'betamax' is none of prores-4444"),
        (["left", "--match", "nowhere"], 3, "there is no report.json"),
        (["left", "--out", "SOURCE", "--overwrite"], 3, "is a source of this setup"),
    ],
)
def test_the_command_says_what_is_wrong(matched: Path, arguments: list[str], code: int, words: str) -> None:
    source = matched.parent / "left.mov"
    before = source.read_bytes()
    told = [str(source) if each == "SOURCE" else each for each in arguments]
    done = huemend("bake", matched, *told)
    assert done.returncode == code and words in done.stderr and "Traceback" not in done.stderr
    assert source.read_bytes() == before and not (matched.parent / "baked").exists()


def test_a_damaged_lut_is_refused(matched: Path) -> None:
    path = matched.parent / "match" / "luts" / "show_left_match.cube"
    path.write_text(path.read_text()[:2000])
    done = huemend("bake", matched, "left")
    assert done.returncode == 3 and "show_left_match.cube" in done.stderr
    assert not (matched.parent / "baked").exists()


def test_memory_stays_flat(lut: DeliveredLut, tmp_path: Path) -> None:
    """Ten times the frames take no more memory (the long form is in the benchmarks)."""
    peaks = []
    for frames in (20, 200):
        source = source_clip(tmp_path / f"{frames}.mkv", frames=frames)
        code = f"""
import resource
from pathlib import Path
from huemend.apply.clips import bake_clip
from huemend.apply.job import Job, Target
from huemend.apply.lut import DeliveredLut
from huemend.model import Angle
source = Path({str(source)!r})
bake_clip(Job(media=(source,), angle=Angle(name="a", media=(source,), encoding="x"),
              lut=DeliveredLut(path=Path({str(lut.path)!r}), input_range="legal", output_range="legal"),
              target=Target(path=Path({str(tmp_path / f"out{frames}.mkv")!r}), format="ffv1")))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        peaks.append(int(done.stdout))
    assert peaks[1] < peaks[0] + 12_000  # kilobytes; 180 frames of 256 x 144 in float would be 80,000


def test_leftovers_of_a_killed_run_are_hidden(lut: DeliveredLut, tmp_path: Path) -> None:
    source = source_clip(tmp_path / "a.mkv", frames=400)
    out = tmp_path / "out"
    out.mkdir()
    shutil.copy(lut.path, tmp_path / "k.cube")
    code = f"""
from pathlib import Path
from huemend.apply.clips import bake_clip
from huemend.apply.job import Job, Target
from huemend.apply.lut import DeliveredLut
from huemend.model import Angle
source = Path({str(source)!r})
print("ready", flush=True)
bake_clip(Job(media=(source,), angle=Angle(name="a", media=(source,), encoding="x"),
              lut=DeliveredLut(path=Path({str(tmp_path / "k.cube")!r}), input_range="legal", output_range="legal"),
              target=Target(path=Path({str(out / "b.mkv")!r}), format="ffv1")))
"""
    process = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE)
    assert process.stdout is not None
    process.stdout.readline()
    deadline = time.monotonic() + 30
    while not list(out.iterdir()) and time.monotonic() < deadline:
        time.sleep(0.01)
    process.kill()
    process.wait()
    process.stdout.close()
    assert not (out / "b.mkv").exists()
    assert all(path.name.startswith(".") for path in out.iterdir())


@pytest.mark.parametrize("width", [61, 64, 65, 68])
def test_rows_that_the_filter_sees_end_with_a_whole_vector(lut: DeliveredLut, width: int) -> None:
    """Else the last one reads on behind the picture: a crash now and then, where what lies there is a NaN."""
    look_up = LutFilter(lut.path, (3, width))
    pushed: list[av.VideoFrame] = []
    graph = look_up._graph

    class Watched:
        def push(self, frame: av.VideoFrame) -> None:
            pushed.append(frame)
            graph.push(frame)

        def pull(self) -> Any:
            return graph.pull()

    look_up._graph = Watched()
    frame = av.VideoFrame(width, 3, LAYOUT)
    codes = np.random.default_rng(width).random((3, width, 3), np.float32)
    for plane, values in zip(float_planes(frame), np.moveaxis(codes, -1, 0), strict=True):
        plane[...] = values
    out = look_up(frame)
    assert all(plane.line_size % 32 == 0 for plane in pushed[0].planes)
    assert (out.width, out.height) == (width, 3)
    # A row of one pixel at a time: what stands beside a pixel is nothing to it.
    alone = LutFilter(lut.path, (1, 8))
    for x in (0, width - 1):
        one = av.VideoFrame(8, 1, LAYOUT)
        for plane, value in zip(float_planes(one), codes[1, x], strict=True):
            plane[...] = value
        for got, want in zip(float_planes(out), float_planes(alone(one)), strict=True):
            assert got[1, x] == want[0, 0]


# A NaN that reaches lut3d kills the whole process, so the witness is a process of its own.
@pytest.mark.parametrize("width", [61, 64, 65])
def test_nothing_beside_or_in_a_picture_kills_the_process(lut: DeliveredLut, width: int) -> None:
    script = """
import sys
import av, numpy as np
from pathlib import Path
from huemend.apply.lut import LAYOUT, LutFilter
width, inside = int(sys.argv[2]), float(sys.argv[3])
look_up = LutFilter(Path(sys.argv[1]), (45, width))
for _ in range(4):
    frame = av.VideoFrame(width, 45, LAYOUT)
    for plane in frame.planes:
        rows = np.frombuffer(plane, np.float32).reshape(45, -1)
        rows[:] = np.nan
        rows[:, :width] = inside
    out = np.frombuffer(look_up(frame).planes[0], np.float32).reshape(45, -1)[:, :width]
    assert np.isfinite(out).all() and np.ptp(out) < 1e-6
"""
    for inside in ("0.5", "inf"):
        ended = subprocess.run(
            [sys.executable, "-c", script, str(lut.path), str(width), inside], capture_output=True, text=True
        )
        assert ended.returncode == 0, ended.stderr
