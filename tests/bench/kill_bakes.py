"""Bakes that are killed: is every picture whole or absent, and is the next run right?

``python -m tests.bench.kill_bakes --kills 50`` bakes a clip and a sequence of pictures, each with and without
``--overwrite``, and kills (SIGKILL) each kind so many times, half of them at any moment, half after the first file
of its own has appeared. With ``--overwrite`` the place holds what another match was baked to. The same input gives
the same bytes, so every file must be that of one of two undisturbed bakes. It returns 1 if

- a file is neither, or what is another match's passes for this one's,
- the next run fails, leaves anything else than its undisturbed result, or leaves a file behind.
"""

from __future__ import annotations

import argparse
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from huemend.media.pictures import read_picture, write_picture
from tests.clipmaker import moving_planes, write_clip
from tests.day.days import files_of
from tests.hardening.places import made, match
from tests.tally import Tally

_HUEMEND = str(Path(sys.executable).with_name("huemend"))
_PATIENCE = 300.0
#: Of LUT: two matches that are baked over one another.
_SIZES = (5, 9)
_SIZE = (180, 320)


@dataclass(frozen=True)
class Bake:
    """A kind of bake: where from, where to, and whether over another's result."""

    what: str
    setup: Path
    out: Path
    overwrite: bool

    @property
    def name(self) -> str:
        """As it is told."""
        return f"{self.what}{', --overwrite' if self.overwrite else ''}"

    def start(self, size: int, out: Path | None = None) -> subprocess.Popen[str]:
        """Start it, in a group of processes of its own."""
        told = [_HUEMEND, "bake", str(self.setup), "B", "--quiet", "--out", str(out or self.out)]
        told += ["--match", str(self.setup.parent / f"match{size}"), *(["--overwrite"] if self.overwrite else [])]
        return subprocess.Popen(
            told, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
        )

    def finish(self, size: int, out: Path | None = None) -> tuple[int, str]:
        """Run it to its end."""
        running = self.start(size, out)
        said = running.communicate(timeout=_PATIENCE)[1]
        return running.returncode, said

    def clear(self) -> None:
        """Take away what is there."""
        shutil.rmtree(self.out.parent, ignore_errors=True)

    def found(self, out: Path | None = None) -> dict[str, bytes]:
        """Return the results; hidden files are the machinery's."""
        place = (out or self.out).parent
        return {name: data for name, data in files_of(place).items() if not Path(name).name.startswith(".")}

    def left(self) -> list[str]:
        """Return hidden files that are no ledger."""
        names = (Path(name).name for name in files_of(self.out.parent))
        return [name for name in names if name.startswith(".") and not name.startswith(".huemend-written")]


def make_bakes(place: Path, frames: int) -> list[Bake]:
    """Make a setup whose angle is a clip, and one whose angles are numbered pictures, each matched twice."""
    template = made(place / "made")
    bakes = []
    for what in ("clip", "sequence"):
        folder = Path(shutil.copytree(template / "0000", place / what, ignore=shutil.ignore_patterns("baked")))
        setup = folder / "setup.toml"
        for size in _SIZES:
            said = match(setup, folder / f"match{size}", "--lut-size", size)
            if said.code:
                raise RuntimeError(said.stderr)
        text = setup.read_text()
        if what == "clip":
            planes = moving_planes("yuv422p10le", _SIZE)
            write_clip(folder / "B.mov", planes, frames=frames, size=_SIZE, codec="prores_ks")
            text = text.replace('"B.png"', '"B.mov"')
        else:
            codes = read_picture(folder / "B.png").codes.repeat(4, axis=0).repeat(4, axis=1)
            for number in range(frames // 4):
                for name in ("A", "B"):
                    write_picture(folder / f"{name}.{number:04}.png", codes * (1 - 0.004 * number), 16)
            for name in ("A", "B"):
                text = text.replace(f'"{name}.png"', f'"{name}.*.png"')
                (folder / f"{name}.png").unlink()
        setup.write_text(text)
        for overwrite in (False, True):
            where = place / f"out-{what}-{overwrite}"
            out = where / "B.mov" if what == "clip" else where / "pictures"
            bakes.append(Bake(what, setup, out, overwrite))
    return bakes


def kill_one(bake: Bake, usual: dict[int, Path], seconds: float, draw: random.Random, tally: Tally) -> bool:
    """Kill a bake, look at what it leaves, and let the next run mend it; False if it had ended before."""
    old, new = draw.sample(_SIZES, 2)
    bake.clear()
    peace = {size: bake.found(out) for size, out in usual.items()}
    if bake.overwrite:
        shutil.copytree(usual[old].parent, bake.out.parent)
    running = bake.start(new)
    if draw.random() < 0.5:
        time.sleep(draw.uniform(0, seconds))
    else:
        while running.poll() is None and not any(
            ".huemend-part-" in path.name for path in bake.out.parent.rglob("*")
        ):
            time.sleep(0.002)
        time.sleep(draw.uniform(0, seconds / 2))
    killed = running.poll() is None
    if killed:
        running.send_signal(signal.SIGKILL)
    running.communicate()
    tally.seen[f"{bake.name}: {'killed' if killed else 'ended before it was killed'}"] += 1
    found = bake.found()
    for name, data in found.items():
        whole = data == peace[new][name] or (bake.overwrite and data == peace[old][name])
        tally.check(whole, f"{bake.name}: {name} is not whole")
    tally.seen[f"{bake.name}: files looked at"] += len(found)
    tally.seen[f"{bake.name}: left on the way"] += killed and bool(bake.left())
    whole = found == peace[new]
    code, said = bake.finish(new)
    # A clip that is there is never baked again without being told to.
    ended = bake.what == "clip" and not bake.overwrite and whole
    tally.check(code == (3 if ended else 0), f"{bake.name}: the next run ends with {code}: {said}")
    tally.check(bake.found() == peace[new], f"{bake.name}: the next run leaves something else")
    left = bake.left()
    tally.check(not left or ended, f"{bake.name}: the next run leaves {left}")
    return killed


def try_bakes(
    place: Path,
    kills: int,
    *,
    frames: int = 80,
    seed: int = 1,
    kinds: Sequence[str] = (),
    say: Callable[[str], None] = lambda text: None,
) -> Tally:
    """Kill each kind of bake (all, if none are named) so many times, and return what was seen."""
    tally, draw = Tally(), random.Random(seed)
    for bake in make_bakes(place, frames):
        if kinds and bake.name not in kinds:
            continue
        usual = {}
        seconds = 0.0
        for size in _SIZES:
            begun = time.monotonic()
            out = place / f"usual-{bake.what}-{bake.overwrite}-{size}" / bake.out.name
            code, said = bake.finish(size, out)
            if code:
                raise RuntimeError(said)
            seconds = max(seconds, time.monotonic() - begun)
            usual[size] = out
        say(f"{bake.name}: undisturbed {seconds:.1f} s")
        killed = 0
        for _ in range(10 + 3 * kills):
            if killed == kills:
                break
            killed += kill_one(bake, usual, seconds, draw, tally)
            if killed % 10 == 0:
                say(f"{bake.name}: {killed} of {kills}; wrong: {len(tally.wrong)}")
        say(f"{bake.name}: {killed} killed; wrong: {len(tally.wrong)}")
    return tally


def main() -> int:
    """Kill bakes and print what was seen."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.kill_bakes", description=__doc__)
    parser.add_argument("--kills", type=int, default=50, help="of each kind")
    parser.add_argument("--frames", type=int, default=80, help="of the clip; the sequence has a quarter")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", action="append", default=[], help="only this kind, as it is told")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        tally = try_bakes(
            Path(folder).resolve(),
            options.kills,
            frames=options.frames,
            seed=options.seed,
            kinds=options.kind,
            say=lambda text: print(text, file=sys.stderr, flush=True),
        )
    return tally.report()


if __name__ == "__main__":
    raise SystemExit(main())
