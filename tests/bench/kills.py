"""Runs that are killed: is every file whole, is what is unfinished recognised, and does the next run mend it?

``python -m tests.bench.kills --match 40 --day 10 --at-once 4`` starts the installed command on tiny setups and
kills it (SIGKILL) at random moments: half of them drawn over the whole run, half over the part in which files are
written. The folder always holds the whole result of an earlier run with another size of LUT. The same input gives
the same bytes, so every file that is found must be that of one of two undisturbed runs. (``match`` goes by marked
areas alone, so that its runs are short beside what they write.) It returns 1 if

- a file is neither,
- a folder that is not as one of the two runs left it is taken for complete,
- the next run fails, leaves anything else than its undisturbed result, or leaves a file behind,
- a worker of a killed ``day`` lives on,
- two runs at once in one folder both go on, or leave what neither of them would.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from huemend.base.kept import LEDGER
from huemend.day.state import STATE
from huemend.write.record_reading import JOURNAL, is_whole
from tests.bench.many import make_many
from tests.day.days import files_of
from tests.tally import Tally

Files = Mapping[str, bytes]

_HUEMEND = str(Path(sys.executable).with_name("huemend"))
_SIZES = (9, 17)
_PATIENCE = 300.0


@dataclass(frozen=True)
class Job:
    """A command that writes results into ``out``: ``match`` of one setup, or ``day`` of a folder of them."""

    what: str
    source: Path
    out: Path

    def start(self, size: int, out: Path | None = None) -> subprocess.Popen[str]:
        """Start it, in a group of processes of its own."""
        command = [_HUEMEND, self.what, str(self.source), "--out", str(out or self.out)]
        command += ["--quiet", "--no-pictures", "--lut-size", str(size), "--fail-on", "never"]
        if self.what == "day":
            command += ["--jobs", "2", "--resume"]
        else:
            command += ["--marks-only"]
        return subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
        )

    def finish(self, size: int, out: Path | None = None) -> tuple[int, str]:
        """Run it to its end."""
        running = self.start(size, out)
        _, said = running.communicate(timeout=_PATIENCE)
        return running.returncode, said

    def folders(self, out: Path) -> list[Path]:
        """Return the folders of single setups."""
        return sorted(path for path in out.iterdir() if path.is_dir()) if self.what == "day" else [out]


@dataclass(frozen=True)
class Undisturbed:
    """What a run that nobody disturbs leaves, and when it writes: seconds from its beginning."""

    files: Files
    writes: float
    ends: float


def shown(out: Path) -> dict[str, bytes]:
    """Return the files of a result; hidden ones are the machinery's."""
    return {name: data for name, data in files_of(out).items() if not Path(name).name.startswith(".")}


def hidden(out: Path) -> set[str]:
    """Return the names of hidden files, without what ``day`` keeps: states, and what it wrote."""
    names = {Path(name).name for name in files_of(out)}
    return {name for name in names if name.startswith(".")} - {STATE, LEDGER}


def undisturbed(job: Job, size: int, out: Path) -> Undisturbed:
    """Run a job once in peace."""
    begun = time.monotonic()
    running = job.start(size, out)
    writes = 0.0
    while running.poll() is None:
        if not writes and _writes(out):
            writes = time.monotonic() - begun
        time.sleep(0.01)
    ends = time.monotonic() - begun
    _, said = running.communicate()
    if running.returncode != 0:
        raise RuntimeError(f"{job.what} ends with {running.returncode}: {said}")
    return Undisturbed(files=shown(out), writes=writes, ends=ends)


def _writes(out: Path) -> bool:
    return any(out.rglob(JOURNAL))


def kill_one(job: Job, usual: Mapping[int, Undisturbed], size: int, draw: random.Random, tally: Tally) -> bool:
    """Kill a run at a random moment, look at what it leaves, and let the next run mend it.

    Returns
    -------
    bool
        False if it had ended before.
    """
    running = job.start(size)
    peace = usual[size]
    if draw.random() < 0.5:
        time.sleep(draw.uniform(0, peace.ends))
    else:
        while running.poll() is None and not _writes(job.out):
            time.sleep(0.002)
        time.sleep(draw.uniform(0, peace.ends - peace.writes))
    alone = job.what == "day" and draw.random() < 0.5
    killed = running.poll() is None
    if not killed:
        running.communicate()
        tally.seen[f"{job.what}: ended before it was killed"] += 1
    else:
        (os.kill if alone else os.killpg)(running.pid, signal.SIGKILL)
        # Its end of the pipes closes when its workers are gone, too.
        try:
            running.communicate(timeout=30)
        except subprocess.TimeoutExpired:
            tally.check(False, f"{job.what}: a worker lives on after its parent was killed")
            os.killpg(running.pid, signal.SIGKILL)
            running.communicate()
        tally.seen[f"{job.what}: killed{', its workers left alone' if alone else ''}"] += 1
    done = look_at(job, usual, size, tally)
    code, said = job.finish(size)
    tally.check(code == 0, f"{job.what}: the next run ends with {code}: {said.strip()}")
    tally.check(shown(job.out) == peace.files, f"{job.what}: the next run leaves something else")
    left = hidden(job.out)
    tally.check(not left, f"{job.what}: the next run leaves {sorted(left)}")
    tally.check(
        all(is_whole(folder) for folder in job.folders(job.out)),
        f"{job.what}: the next run leaves an incomplete folder",
    )
    tally.seen[f"{job.what}: mended by the next run"] += not done
    return killed


def look_at(job: Job, usual: Mapping[int, Undisturbed], size: int, tally: Tally) -> bool:
    """Check what a killed run left; say whether it is the whole result of that run."""
    found = shown(job.out)
    for name, data in found.items():
        tally.check(
            any(peace.files.get(name) == data for peace in usual.values()), f"{job.what}: {name} is not whole"
        )
    tally.seen[f"{job.what}: files looked at"] += len(found)
    for folder in job.folders(job.out):
        whole = is_whole(folder)
        results = shown(folder)
        wholes = [_below(peace.files, folder, job.out) for peace in usual.values()]
        tally.seen[f"{job.what}: folders {'whole' if whole else 'unfinished'}"] += 1
        tally.check(
            results in wholes or not whole,
            f"{job.what}: {folder.name} is taken for complete, and is not",
        )
    return found == usual[size].files


def _below(files: Files, folder: Path, out: Path) -> dict[str, bytes]:
    start = "" if folder == out else f"{folder.relative_to(out)}/"
    return {name.removeprefix(start): data for name, data in files.items() if name.startswith(start)}


def both_at_once(job: Job, usual: Mapping[int, Undisturbed], draw: random.Random, tally: Tally) -> None:
    """Start a second run, with other options, while a first one is at work in the same folder."""
    sizes = draw.sample(_SIZES, 2)
    first = job.start(sizes[0])
    time.sleep(draw.uniform(0, usual[sizes[0]].ends / 2))
    second = job.start(sizes[1])
    said = [running.communicate(timeout=_PATIENCE)[1] for running in (first, second)]
    codes = [first.returncode, second.returncode]
    tally.seen[f"{job.what}: two at once, exit codes {' and '.join(map(str, sorted(codes)))}"] += 1
    refused = [text for code, text in zip(codes, said, strict=True) if code == 3]
    tally.check(sorted(codes) in ([0, 3], [0, 0]), f"two at once: exit codes {codes}: {said}")
    tally.check(
        all("another run works in this folder" in text for text in refused),
        f"two at once: told otherwise: {refused}",
    )
    # Where the first had ended before the second took the folder, the second's result is the one that stays.
    winner = sizes[1] if codes == [0, 0] else sizes[codes.index(0)] if 0 in codes else sizes[0]
    results = shown(job.out)
    either = codes == [0, 0] and results == usual[sizes[0]].files
    tally.check(results == usual[winner].files or either, "two at once: the result is neither one's")
    tally.check(not hidden(job.out), f"two at once: leaves {sorted(hidden(job.out))}")


def try_job(
    job: Job, place: Path, draw: random.Random, tally: Tally, say: Callable[[str], None], **times: int
) -> None:
    """Kill a job so many times, and start it twice at once so many times."""
    usual = {size: undisturbed(job, size, place / f"{job.what}-{size}") for size in _SIZES}
    say(f"{job.what}: undisturbed {[f'{p.writes:.1f} {p.ends:.1f} s' for p in usual.values()]}")
    shutil.copytree(place / f"{job.what}-{_SIZES[0]}", job.out)
    killed = 0
    for number in range(10 + 3 * times["kills"]):
        if killed == times["kills"]:
            break
        killed += kill_one(job, usual, _SIZES[(number + 1) % 2], draw, tally)
        say(f"{job.what}: {killed} of {times['kills']}; wrong: {len(tally.wrong)}")
    for _ in range(times["at_once"]):
        both_at_once(job, usual, draw, tally)


def try_all(
    place: Path,
    *,
    match: int,
    day: int,
    at_once: int,
    seed: int = 1,
    say: Callable[[str], None] = lambda text: None,
) -> Tally:
    """Kill ``match`` and ``day`` so many times in a folder, and return what was seen."""
    folder = make_many(place / "setups", 2, marked=True)
    draw, tally = random.Random(seed), Tally()
    jobs = [
        (Job("match", folder / "0000" / "setup.toml", place / "match"), match, at_once),
        (Job("day", folder, place / "day"), day, 0),
    ]
    for job, kills, twice in jobs:
        if kills:
            try_job(job, place, draw, tally, say, kills=kills, at_once=twice)
    return tally


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.kills", description=__doc__)
    parser.add_argument("--match", type=int, default=40, help="kills of `huemend match`")
    parser.add_argument("--day", type=int, default=10, help="kills of `huemend day`")
    parser.add_argument("--at-once", type=int, default=4, help="pairs of runs in one folder")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="work here; a temporary folder if not given")
    options = parser.parse_args()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    place = Path(tempfile.mkdtemp(prefix="kills-", dir=options.folder))
    try:
        tally = try_all(
            place,
            match=options.match,
            day=options.day,
            at_once=options.at_once,
            seed=options.seed,
            say=lambda text: print(text, file=sys.stderr, flush=True),
        )
    finally:
        shutil.rmtree(place, ignore_errors=True)
    return tally.report()


if __name__ == "__main__":
    raise SystemExit(main())
