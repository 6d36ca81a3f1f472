"""Clips against single stills: what do eight moments cost, and are they right?

``python -m tests.bench.clips --work FOLDER`` makes the demo's setup into clips (once) in which two people walk
through every view, matches them and the same setup as one still an angle in turn, and prints wall and processor
time, memory, and CIEDE2000 to the truth; then what becomes of cameras that are bumped, panned and zoomed, and of
light and irises that change, as verdicts with their reasons.

The pictures are the demo's, enlarged; the people are photographs of scikit-image that each camera records as the
truth of the demo says that it records that light. Nothing here decodes with huemend: codes are made by
`tests.bench.accuracy.codes`, the planes by the equations of ITU-R BT.709-6 (items 3.2 to 3.5).
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import cv2
import numpy as np
from skimage import data

from tests.bench.accuracy import codes
from tests.bench.accuracy.score import as_shot, by_cube, differences
from tests.clipmaker import write_clip

HERO = "wide"
ENCODINGS = {"wide": "C-Log3/Cinema Gamut", "left": "V-Log/V-Gamut", "right": "S-Log3/S-Gamut3.Cine"}
#: How large a person is in each view, as a share of the picture's height.
TALL = {"wide": 0.5, "left": 1.2, "right": 1.2}
PACE = 24
#: Megabytes that a day on two workers may take.
MOST_OF_A_DAY = 2500


_Value = TypeVar("_Value")


@dataclass(frozen=True, kw_only=True)
class Take:
    """What happens in a take.

    ``move`` gives the affine map of an angle's picture (2, 3), and ``gain`` what its iris or light multiplies,
    both by angle and by the share of the take that has passed, 0 to 1.
    """

    move: Callable[[str, float], np.ndarray] = lambda angle, at: np.eye(2, 3)
    gain: Callable[[str, float], float] = lambda angle, at: 1.0
    people: bool = True
    size: tuple[int, int] = (1080, 1920)
    frames: int = 48
    angles: tuple[str, ...] = field(default=("wide", "left", "right"))


def _zoomed(scale: float, shift: tuple[float, float] = (0.0, 0.0)) -> np.ndarray:
    """Map a picture whose sides are 1 about its middle; shifts are shares of the width."""
    return np.array([[scale, 0.0, 0.5 * (1 - scale) + shift[0]], [0.0, scale, 0.5 * (1 - scale) + shift[1]]])


def _only(name: str, value: Callable[[float], _Value], other: _Value) -> Callable[[str, float], _Value]:
    return lambda angle, at: value(at) if angle == name else other


STILL = np.eye(2, 3)
#: By name; the UHD take is the one that is timed.
TAKES: dict[str, Take] = {
    "uhd": Take(size=(2160, 3840)),
    "bump": Take(move=_only("left", lambda at: _zoomed(1.0, (0.02 * (at > 0.5), 0.012 * (at > 0.5))), STILL)),
    "pan": Take(move=_only("left", lambda at: _zoomed(1.0, (0.12 * at, 0.0)), STILL)),
    "zoom": Take(move=_only("left", lambda at: _zoomed(1.0 + 0.3 * at), STILL)),
    "hero bump": Take(move=_only("wide", lambda at: _zoomed(1.0, (0.015 * (at > 0.4), 0.0)), STILL)),
    "breathing": Take(move=_only("left", lambda at: _zoomed(1.0 + 0.004 * np.sin(6.3 * at)), STILL)),
    "flicker": Take(gain=_only("left", lambda at: 1.0 + 0.2 * float(np.sin(2 * np.pi * 10.3 * at)), 1.0)),
    "cloud": Take(gain=lambda angle, at: 1.0 - 0.5 * np.exp(-(((at - 0.5) / 0.15) ** 2))),
    "iris": Take(gain=_only("left", lambda at: 2.0 ** (-0.5 * (at > 0.6)), 1.0)),
    "push in": Take(move=_only("wide", lambda at: _zoomed(1.0 + 0.15 * at), STILL)),
    # Its exposure hunts in steps, as people in dark and light clothes walk by.
    "auto exposure": Take(gain=_only("left", lambda at: 2.0 ** (0.3 * np.round(2 * np.sin(7 * at)) / 2), 1.0)),
}


@cache
def light_of(demo: Path, angle: str) -> np.ndarray:
    """Scene-linear ACEScg of one of the demo's pictures."""
    picture: Any = cv2.imread(str(demo / f"{angle}.png"), cv2.IMREAD_UNCHANGED)
    return codes.decode(picture[..., ::-1] / 65535, ENCODINGS[angle])


@cache
def hero_to(demo: Path, angle: str) -> np.ndarray:
    """The 3x3 from what the hero records to what an angle does, on column vectors."""
    if angle == HERO:
        return np.eye(3)
    truth = np.load(demo / f"truth_{angle}.npz")
    lit = truth["truth"].reshape(-1, 3).astype(float)
    shot = truth["shot"].reshape(-1, 3).astype(float)
    keep = (lit.min(1) > 0.01) & (lit.max(1) < 1)
    return np.asarray(np.linalg.lstsq(lit[keep], shot[keep], rcond=None)[0].T)


@cache
def person(number: int) -> tuple[np.ndarray, np.ndarray]:
    """Somebody's light (scene-linear, as the hero would record it) and how much they cover, (400, 200)."""
    photo = (data.astronaut()[20:420, 130:330], np.ascontiguousarray(data.coffee()[:400, 150:350]))[number] / 255
    y, x = np.mgrid[-1:1:400j, -1:1:200j]
    cover = (np.hypot(x / 0.95, (y - 0.2) / 1.1) < 1) | (np.hypot(x / 0.5, (y + 0.75) / 0.25) < 1)
    return 0.5 * photo**2.2, cv2.GaussianBlur(cover.astype(np.float64), (0, 0), 2.0)


def _paste(light: np.ndarray, angle: str, number: int, middle: float, mix: np.ndarray) -> None:
    height, width = light.shape[:2]
    tall = int(TALL[angle] * height)
    rgb, cover = (cv2.resize(part, (tall // 2, tall)) for part in person(number))
    left, top = int(middle * width - tall / 4), height - int(0.8 * tall)
    x0, x1 = max(left, 0), min(left + tall // 2, width)
    if x1 <= x0:
        return
    part = cover[: height - top, x0 - left : x1 - left, None]
    shown = rgb[: height - top, x0 - left : x1 - left] @ mix.T
    target = light[top:, x0:x1]
    target += part * (shown - target)


def codes_at(demo: Path, take: Take, angle: str, at: float) -> np.ndarray:
    """Code values (R'G'B' of a legal signal) of one frame at the demo's size, without noise."""
    light = light_of(demo, angle).copy()
    if take.people:
        _paste(light, angle, 0, 0.15 + 0.5 * at, hero_to(demo, angle))
        _paste(light, angle, 1, 0.95 - 0.35 * np.sin(3 * at), hero_to(demo, angle))
    height, width = light.shape[:2]
    move = np.array(take.move(angle, at))
    sides = np.array([width, height])
    move = np.column_stack([move[:, :2], move[:, 2] * sides])
    move[0, 1], move[1, 0] = move[0, 1] * width / height, move[1, 0] * height / width
    if not np.allclose(move, STILL):
        light = cv2.warpAffine(light, move, (width, height), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    return codes.encode(take.gain(angle, at) * np.maximum(light, 0), ENCODINGS[angle], legal=True)


def frame_codes(demo: Path, take: Take, angle: str, index: int) -> np.ndarray:
    """One frame at full size with noise of its own."""
    small = codes_at(demo, take, angle, index / max(take.frames - 1, 1)).astype(np.float32)
    large = cv2.resize(small, take.size[::-1], interpolation=cv2.INTER_CUBIC)
    rng = np.random.default_rng([7, index, sorted(ENCODINGS).index(angle)])
    noise = rng.normal(0, 0.004, (512, 512, 3)).astype(np.float32)
    rows, columns = -(-take.size[0] // 512), -(-take.size[1] // 512)
    return np.asarray(np.clip(large + np.tile(noise, (rows, columns, 1))[: take.size[0], : take.size[1]], 0, 1))


def planes_of(rgb: np.ndarray) -> list[np.ndarray]:
    """Y', Cb and Cr of a 10-bit 4:2:2 signal (BT.709-6, items 3.2 to 3.5)."""
    luma = rgb @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    blue, red = (rgb[..., 2] - luma) / 1.8556, (rgb[..., 0] - luma) / 1.5748
    # Co-sited with every other luma sample: weights 1-2-1.
    kernel = np.array([[0.25, 0.5, 0.25]], np.float32)
    chroma = [cv2.filter2D(part, -1, kernel, borderType=cv2.BORDER_REPLICATE)[:, ::2] for part in (blue, red)]
    return [np.rint(64 + 876 * luma).astype(int), *(np.rint(512 + 896 * part).astype(int) for part in chroma)]


def make_take(work: Path, demo: Path, name: str) -> None:
    """Write the clips of a take and its setup file, and the same as one still an angle."""
    take = TAKES[name]
    for kind, suffix in (("clip", "mov"), ("still", "png")):
        folder = work / name.replace(" ", "-") / kind
        if (folder / "setup.toml").exists():
            continue
        folder.mkdir(parents=True, exist_ok=True)
        said = f'[setup]\nname = "{kind}"\nhero = "{HERO}"\n'
        for angle in take.angles:
            said += f'[angle.{angle}]\nmedia = ["{angle}.{suffix}"]\nrange = "legal"\n'
            said += f'encoding = "{ENCODINGS[angle]}"\n'
            if kind == "still":
                first = frame_codes(demo, take, angle, take.frames // 2)
                picture = np.rint(first[..., ::-1] * 65535).astype(np.uint16)
                cv2.imwrite(str(folder / f"{angle}.png"), picture, [cv2.IMWRITE_PNG_COMPRESSION, 1])
                continue
            write_clip(
                folder / f"{angle}.mov",
                lambda index, angle=angle: planes_of(frame_codes(demo, take, angle, index)),  # type: ignore[misc]
                frames=take.frames,
                size=take.size,
                codec="prores_ks",
                rate=PACE,
                options={"profile": "3"},
                timecode="10:00:00:00",
            )
        (folder / "setup.toml").write_text(said)


def run(setup: Path, out: Path, threads: int) -> dict[str, float]:
    """Match a setup in a process of its own; return wall and processor seconds, and megabytes."""
    command = [sys.executable, "-m", "huemend", "match", str(setup), "--out", str(out)]
    began = time.perf_counter()
    process = subprocess.Popen([*command, "--threads", str(threads)], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    wall = time.perf_counter() - began
    if os.waitstatus_to_exitcode(status) not in (0, 4, 5):
        raise SystemExit(f"{setup}: ended with {os.waitstatus_to_exitcode(status)}")
    return {"wall": wall, "processor": used.ru_utime + used.ru_stime, "memory": used.ru_maxrss / 1024}


def errors(demo: Path, out: Path) -> dict[str, float]:
    """Mean CIEDE2000 to the truth of every angle; as shot where there is no match."""
    found = {}
    for angle in ("left", "right"):
        truth = np.load(demo / f"truth_{angle}.npz")
        cubes = sorted(out.glob(f"luts/*_{angle}_match.cube"))
        apply = by_cube(cubes[0], ENCODINGS[angle], legal=True) if cubes else as_shot
        error = differences(apply(truth["shot"].astype(float)), truth["truth"].astype(float))
        found[angle] = float(error.mean())
    return found


def told(out: Path) -> str:
    record = json.loads((out / "report.json").read_text())
    return "; ".join(
        f"{name} {angle['verdict']} ({', '.join(reason['code'] for reason in angle['reasons'])})"
        for name, angle in record["angles"].items()
    )


def run_day(take: Path, day: Path, count: int, jobs: int) -> tuple[str, float]:
    """Run a day of copies of a take; return what it took, and the peak memory of all its processes in MB."""
    for number in range(count):
        place = day / f"{number:02}"
        place.mkdir(parents=True, exist_ok=True)
        for file in take.iterdir():
            target = place / file.name
            if file.suffix == ".mov" and not target.exists():
                os.link(file, target)
        (place / "setup.toml").write_text(
            (take / "setup.toml").read_text().replace('"clip"', f'"take{number:02}"')
        )
    command = [
        sys.executable,
        "-m",
        "huemend",
        "day",
        str(day),
        "--jobs",
        str(jobs),
        "--quiet",
        "--fail-on",
        "never",
    ]
    shutil.rmtree(day / "match", ignore_errors=True)
    began, peak = time.perf_counter(), 0.0
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    while process.poll() is None:
        peak = max(peak, sum(map(_resident, _family(process.pid))))
        time.sleep(0.1)
    done = sum(1 for record in (day / "match").glob("*/report.json"))
    took = f"{done} of {count} setups done in {time.perf_counter() - began:.0f} s, exit code {process.returncode}"
    return took, peak if done == count else float("inf")


def _family(process: int) -> list[int]:
    """Return a process and all that came of it (Linux)."""
    out = [process]
    with suppress(OSError):
        for thread in Path(f"/proc/{process}/task").iterdir():
            for child in (thread / "children").read_text().split():
                out += _family(int(child))
    return out


def _resident(process: int) -> float:
    """Return a process's memory in MB; what several share is divided among them."""
    with suppress(OSError):
        for line in Path(f"/proc/{process}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return int(line.split()[1]) / 1024
    return 0.0


def main() -> int:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.clips", description=(__doc__ or "").split("\n\n")[0]
    )
    parser.add_argument("--work", type=Path, required=True, metavar="FOLDER")
    parser.add_argument("--only", nargs="*", metavar="TAKE", help=f"of {', '.join(TAKES)}")
    parser.add_argument("--rounds", type=int, default=1, help="how often each is timed, in turn")
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument(
        "--day", type=int, metavar="N", help="run a day of N copies of a take on two workers instead"
    )
    args = parser.parse_args()
    work: Path = args.work
    demo = work / "demo"
    if not (demo / "setup.toml").exists():
        subprocess.run([sys.executable, "-m", "huemend", "demo", str(demo)], check=True, stdout=subprocess.DEVNULL)
    if args.day:
        name = (args.only or ["cloud"])[0]
        make_take(work, demo, name)
        took, peak = run_day(work / name.replace(" ", "-") / "clip", work / "day", args.day, jobs=2)
        print(f"{took}; peak memory of all processes {peak:.0f} MB (asked: {MOST_OF_A_DAY})")
        return int(peak > MOST_OF_A_DAY)
    for name in args.only or TAKES:
        make_take(work, demo, name)
        folder = work / name.replace(" ", "-")
        for number in range(args.rounds):
            for kind in ("still", "clip"):
                out = folder / f"{kind}-out"
                cost = run(folder / kind / "setup.toml", out, args.threads)
                off = ", ".join(f"{angle} {value:.2f}" for angle, value in errors(demo, out).items())
                print(
                    f"{name} {kind} {number}: wall {cost['wall']:.1f} s, processor {cost['processor']:.1f} s, "
                    f"{cost['memory']:.0f} MB; off by {off}; {told(out)}",
                    flush=True,
                )
    return 0


if __name__ == "__main__":
    sys.exit(main())
