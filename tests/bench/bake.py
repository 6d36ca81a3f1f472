"""How fast baking is against a bare chain of the same parts and a general scaler, and what memory it takes.

    python tests/bench/bake.py [--frames 100] [--format prores-422hq] [--long 1000]

Three chains take the same 1080p clip to the same encoder, one after another in each round:

* bare: one loop of decode, our matrix, lut3d, our matrix back, encode; nothing carried over, nothing checked;
* bake: `huemend.apply.clips.bake_clip`;
* scaler: libavfilter alone, with libswscale to 16-bit RGB and back (quick to write; 4 codes off, highlights cut).

The best of the rounds counts, since other work on the machine only ever slows a round down.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import av
import numpy as np

from huemend.apply.clips import bake_clip
from huemend.apply.job import Job, Target
from huemend.apply.lut import LAYOUT, DeliveredLut, LutFilter
from huemend.media.clips import open_clip
from huemend.media.encode import FORMATS, Format, output_signal
from huemend.media.fill_frame import fill_frame
from huemend.media.planes import float_planes, frame_to_planes
from huemend.model import Angle
from huemend.write.luts.cube import make_cube
from huemend.write.luts.cube_file import write_cube

SIZE = (1080, 1920)


def source_clip(path: Path, frames: int, codec: str) -> Path:
    """A 1080p clip of moving waves and grain, as hard to encode as camera pictures are."""
    height, width = SIZE
    rng = np.random.default_rng(0)
    y, x = np.mgrid[:height, :width].astype(np.float32)
    grain = [rng.normal(0, 6, SIZE).astype(np.float32) for _ in range(4)]
    options = {"profile": "3"} if codec.startswith("prores") else {"crf": "14", "preset": "veryfast"}
    pix_fmt = "yuv422p10le" if codec.startswith("prores") else "yuv420p10le"
    rows = height if codec.startswith("prores") else height // 2
    with av.open(str(path), "w") as container:
        video: Any = container.add_stream(codec, rate=25, options=options)
        video.height, video.width, video.pix_fmt = height, width, pix_fmt
        video.thread_type = "AUTO"
        for index in range(frames):
            frame = av.VideoFrame(width, height, pix_fmt)
            luma = 450 + 250 * np.sin(x / 90 + index / 9) * np.cos(y / 70 - index / 11) + grain[index % 4]
            chroma = 512 + 60 * np.sin(x[:rows, ::2] / 130 - index / 7)
            for plane, values in zip(frame.planes, (luma, chroma, 1024 - chroma), strict=True):
                out = np.zeros((plane.height, plane.line_size // 2), np.uint16)
                out[:, : plane.width] = values
                plane.update(out.tobytes())
            frame.pts, frame.color_range, frame.colorspace = index, 1, 1
            container.mux(video.encode(frame))
        container.mux(video.encode(None))
    return path


def encoder(container: av.container.OutputContainer, format_: Format) -> Any:
    video: Any = container.add_stream(format_.encoder, rate=25, options=dict(format_.options))
    video.height, video.width, video.pix_fmt = SIZE[0], SIZE[1], format_.pix_fmt
    video.thread_type = "AUTO"
    return video


def bare(source: Path, out: Path, lut: DeliveredLut, format_: Format) -> int:
    look_up = LutFilter(lut.path, SIZE)
    count = 0
    with open_clip(source) as clip, av.open(str(out), "w") as container:
        video = encoder(container, format_)
        signal = output_signal(format_, clip.info.signal, SIZE)
        for frame in clip.decode_all():
            linear = av.VideoFrame(SIZE[1], SIZE[0], LAYOUT)
            frame_to_planes(frame, clip.info.signal, float_planes(linear))
            done = av.VideoFrame(SIZE[1], SIZE[0], format_.pix_fmt)
            fill_frame(done, signal, float_planes(look_up(linear)))
            done.pts, done.time_base = count, Fraction(1, 25)
            container.mux(video.encode(done))
            count += 1
        container.mux(video.encode(None))
    return count


def scaler(source: Path, out: Path, lut: DeliveredLut, format_: Format) -> int:
    count = 0
    with av.open(str(source)) as reader, av.open(str(out), "w") as container:
        stream = reader.streams.video[0]
        stream.thread_type = "AUTO"
        video = encoder(container, format_)
        graph = av.filter.Graph()
        nodes = [
            graph.add_buffer(template=stream),
            graph.add("format", pix_fmts="gbrp16le"),
            graph.add("lut3d", file=str(lut.path), interp="tetrahedral"),
            graph.add("format", pix_fmts=format_.pix_fmt),
            graph.add("buffersink"),
        ]
        for one, two in pairwise(nodes):
            one.link_to(two)
        graph.configure()
        for frame in reader.decode(stream):
            graph.push(frame)
            done = graph.pull()
            done.pts, done.time_base = count, Fraction(1, 25)
            container.mux(video.encode(done))
            count += 1
        container.mux(video.encode(None))
    return count


def ours(source: Path, out: Path, lut: DeliveredLut, name: str) -> int:
    angle = Angle(name="left", media=(source,), encoding="S-Log3/S-Gamut3.Cine")
    target = Target(path=out, format=name, overwrite=True)
    return bake_clip(Job(media=(source,), angle=angle, lut=lut, target=target)).frames


def peak_memory(source: Path, lut: DeliveredLut, out: Path, name: str) -> float:
    """Megabytes that a process of its own takes to bake a clip."""
    code = "import sys; from tests.bench.bake import memory_job; memory_job(*sys.argv[1:])"
    done = subprocess.run(
        [sys.executable, "-c", code, str(source), str(lut.path), str(out), name],
        capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2],
    )  # fmt: skip
    return int(done.stdout) / 1024


def memory_job(source: str, lut: str, out: str, name: str) -> None:
    ours(Path(source), Path(out), DeliveredLut(path=Path(lut), input_range="legal", output_range="legal"), name)
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--frames", type=int, default=100)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--format", default="prores-422hq")
    parser.add_argument("--codec", default="prores_aw", help="of the source: prores_aw or libx264")
    parser.add_argument("--long", type=int, default=0, help="frames of the long clip whose memory is measured")
    told = parser.parse_args()
    format_ = FORMATS[told.format]
    mix = np.array([[0.95, 0.04, 0.01], [0.02, 0.96, 0.02], [0.0, 0.03, 0.97]])
    with tempfile.TemporaryDirectory() as folder:
        where = Path(folder)
        lut = DeliveredLut(path=where / "match.cube", input_range="legal", output_range="legal")
        lut.path.write_text(write_cube(make_cube(lambda codes: (codes @ mix.T) ** 0.95, 33, "bench")))
        source = source_clip(where / "source.mov", told.frames, told.codec)
        best: dict[str, float] = {}
        for _ in range(told.rounds):
            for name in ("bare", "bake", "scaler"):
                start = time.perf_counter()
                if name == "bake":
                    count = ours(source, where / f"{name}.mov", lut, told.format)
                else:
                    count = {"bare": bare, "scaler": scaler}[name](source, where / f"{name}.mov", lut, format_)
                fps = count / (time.perf_counter() - start)
                best[name] = max(best.get(name, 0.0), fps)
        for name, fps in best.items():
            print(f"{name:7s} {fps:6.1f} frames/s  {100 * fps / best['bare']:5.0f} % of bare")
        if told.long:
            for frames in (10, told.long):
                clip = source_clip(where / f"{frames}.mov", frames, told.codec)
                peak = peak_memory(clip, lut, where / "memory.mov", told.format)
                print(f"{frames:5d} frames: {peak:.0f} MB at most")
                clip.unlink()


if __name__ == "__main__":
    main()
