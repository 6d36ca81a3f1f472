"""Many setups: does a cluster finish a day while its workers are killed, and what does running many cost?

``python -m tests.bench.many --setups 500 --kills 25`` matches that many tiny setups on a local Dask cluster of two
workers, of which one is killed (SIGKILL) at random moments. Afterwards every folder must be whole, the index must
hold every setup once, and setups of the same pictures must have the same bytes. It returns 1 otherwise.

``python -m tests.bench.many --costs`` prints ratios of one run: two processes against one, Dask against processes,
and what it takes to find out that a day of 30 setups is unchanged.

The setups are real matches of invented walls, as small as they still match. Faces are not looked for, and the
report has no pictures; all else is as usual.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import os
import pickle
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from huemend.base.originals import Guard
from huemend.day.cluster import cluster_lanes
from huemend.day.index import INDEX, TABLE
from huemend.day.plan import find_day
from huemend.day.run import held_folder, make_index, run_day, tasks_of
from huemend.day.runner import Lane, run_tasks
from huemend.day.task import SetupTask, Status, run_setup
from huemend.day.workers import process_lanes
from huemend.media.pictures import write_picture
from huemend.options import DayOptions, MatchOptions
from huemend.sample.setupfile import load_setup
from huemend.write.record_reading import is_whole
from tests.day.days import shot

_PICTURES = 4
_EVERY = 2  # of the invented wall's pixels: 90 x 160
_TILE = 16


#: Whoever speaks to a scheduler can run anything: only this machine may.
LOOPBACK = {"host": "127.0.0.1", "dashboard_address": "127.0.0.1:0"}


def tiles(seed: int, camera: int) -> np.ndarray:
    """Invent a picture of 6 x 4 tiles, as the camera records it: ACEScct codes with its noise."""
    linear = np.random.default_rng(seed).uniform(0.03, 0.7, (4, 6, 3)).repeat(_TILE, 0).repeat(_TILE, 1)
    noise = np.random.default_rng([seed, camera]).normal(0, 0.002, linear.shape)
    return (np.log2(np.maximum(linear * 2 ** (-0.5 * camera) + noise, 0.008)) + 9.72) / 17.52


def _marks() -> str:
    """Name every tile on both angles."""
    text = ""
    for column, row in np.ndindex(6, 4):
        area = [round(v, 3) for v in ((column + 0.2) / 6, (row + 0.2) / 4, (column + 0.8) / 6, (row + 0.8) / 4)]
        text += f'[[pair]]\nname = "{column} {row}"\nhero = {area}\nB = {area}\n'
    return text


def make_many(folder: Path, count: int, *, marked: bool = False) -> Path:
    """Write so many tiny setups; every fourth has the same pictures, which are one file on the disk."""
    store = folder.parent / f"{folder.name}-pictures"
    store.mkdir(parents=True)
    for seed in range(min(_PICTURES, count)):
        for camera, name in enumerate("AB"):
            codes = tiles(seed, camera) if marked else shot(seed, 2 ** (-0.5 * camera), camera)[::_EVERY, ::_EVERY]
            write_picture(store / f"{seed}{name}.png", np.ascontiguousarray(codes), 16)
    said = '[setup]\nname = "wall"\nhero = "A"\n'
    said += "".join(f'[angle.{name}]\nmedia = ["{name}.png"]\nencoding = "ACEScct"\n' for name in "AB")
    said += _marks() if marked else ""
    for number in range(count):
        place = folder / f"{number:04}"
        place.mkdir(parents=True)
        (place / "setup.toml").write_text(said)
        for name in "AB":
            os.link(store / f"{number % _PICTURES}{name}.png", place / f"{name}.png")
    return folder


def quick(*, marked: bool = False) -> MatchOptions:
    """Return options with which a tiny setup takes a processor a second, and a marked one half of that."""
    options = MatchOptions()
    return replace(
        options,
        correspond=replace(options.correspond, features=not marked),
        faces=replace(options.faces, look=False),
        report=replace(options.report, pictures=False),
        write=replace(options.write, lut_size=9),
    )


def tasks_in(folder: Path, out: Path, *, marked: bool = False) -> list[SetupTask]:
    """Return a task for every setup of a folder."""
    return tasks_of(find_day(folder, leave_out=out), out, quick(marked=marked), threads=1)


# ------------------------------------------------------------------------------------ a cluster whose workers die


@contextmanager
def local_cluster(workers: int) -> Iterator[Any]:
    """A Dask cluster of this machine that starts anew what dies."""
    import distributed

    with distributed.LocalCluster(
        n_workers=workers,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address="127.0.0.1:0",
        silence_logs=60,
    ) as cluster:
        yield cluster


class Killer:
    """Kills a worker whenever it is told to, unless there is none at the moment."""

    def __init__(self, cluster: Any, workers: int, seed: int) -> None:
        self._cluster = cluster
        self._workers = workers
        self._random = random.Random(seed)
        self.kills = 0

    def kill(self) -> None:
        """Kill a worker process drawn at random, a random moment from now."""
        time.sleep(self._random.uniform(0, 1))
        # Dask gives up a place whose worker dies while it starts; a farm would send another machine.
        self._cluster.scale(self._workers)
        started = (nanny.process for nanny in self._cluster.workers.values() if nanny.process is not None)
        alive = [process.pid for process in started if process.status.name == "running"]
        if alive:
            with suppress(ProcessLookupError):
                os.kill(self._random.choice(alive), signal.SIGKILL)
                self.kills += 1


@dataclass(frozen=True, kw_only=True)
class Survived:
    """What is left of a day whose workers were killed."""

    setups: int
    kills: int
    seconds: float
    statuses: Counter[str]
    verdicts: Counter[str]
    whole: int
    indexed: int
    twice: int
    distinct: int

    @property
    def good(self) -> bool:
        """All done, each once, all whole, the same pictures with the same bytes."""
        once = self.indexed == self.setups and not self.twice
        same = self.distinct == min(_PICTURES, self.setups)
        return self.statuses[Status.DONE] == self.whole == self.setups and once and same

    def __str__(self) -> str:
        return (
            f"{self.setups} setups, {self.kills} workers killed, {self.seconds:.0f} s: {dict(self.statuses)}, "
            f"angles {dict(self.verdicts)}; {self.whole} folders whole; in the index {self.indexed}, "
            f"twice {self.twice}; {self.distinct} results of {min(_PICTURES, self.setups)} pictures"
        )


def survive(
    folder: Path, *, kills: int, marked: bool = False, seed: int = 1, workers: int = 2, say: bool = False
) -> Survived:
    """Match a folder of setups on a local cluster, killing workers all the while, and look at what there is.

    Parameters
    ----------
    folder : Path
        As ``make_many`` wrote it.
    kills : int
        At so many setups that ended, drawn at random, a worker is killed a little later.
    marked : bool
        As ``make_many`` was told.
    """
    out = folder / "match"
    tasks = tasks_in(folder, out, marked=marked)
    # Not after the last ones: there must be something to kill.
    moments = set(random.Random(seed).sample(range(max(kills, len(tasks) - 2)), kills))
    begun = time.monotonic()
    with local_cluster(workers) as cluster:
        killer = Killer(cluster, workers, seed)
        threads = []

        def heard(event: Any) -> None:
            if say and event.done % 20 == 0:
                print(f"{event.done}/{event.total}, {killer.kills} killed", file=sys.stderr, flush=True)
            if event.done in moments:
                threads.append(threading.Thread(target=killer.kill))
                threads[-1].start()

        outcomes = run_day(tasks, cluster_lanes(cluster.scheduler_address), look_first=False, on_event=heard)
        for thread in threads:
            thread.join()
    seconds = time.monotonic() - begun
    with held_folder(out, Guard()) as place:
        make_index(find_day(folder, leave_out=out), place)
    with open(out / TABLE, newline="", encoding="utf-8") as file:
        rows = Counter((row["setup"], row["angle"]) for row in csv.DictReader(file))
    records = {hashlib.sha256((task.out / "report.json").read_bytes()).hexdigest() for task in tasks}
    return Survived(
        setups=len(tasks),
        kills=killer.kills,
        seconds=seconds,
        statuses=Counter(outcome.status for outcome in outcomes),
        verdicts=Counter(verdict for outcome in outcomes for verdict in outcome.verdicts.values()),
        whole=sum(is_whole(task.out) for task in tasks),
        indexed=sum((task.name, "B") in rows for task in tasks),
        twice=sum(count > 1 for count in rows.values()),
        distinct=len(records),
    )


# ------------------------------------------------------------------------------------------------- what it costs


@dataclass(frozen=True)
class Nothing:
    """A task that does nothing, to measure what carrying it about costs."""

    name: str

    def __call__(self) -> str:
        return self.name


def do_nothing(task: Nothing) -> str:
    """Return the task's name."""
    return task()


def timed(tasks: Sequence[Any], call: Callable[[Any], Any], lanes: Sequence[Lane]) -> float:
    """Return the seconds that tasks take in lanes that are warm."""
    begun = time.monotonic()
    run_tasks(tasks, call, lanes, give_up=_give_up, on_done=lambda outcome: None, options=DayOptions(tries=1))
    return time.monotonic() - begun


def _give_up(task: Any, error: BaseException | str) -> Any:
    raise RuntimeError(f"{task.name}: {error}")


def costs(place: Path, *, setups: int, rounds: int, resumed: int) -> Iterator[str]:
    """Yield lines: measure one and two processes and two Dask workers in turn, and how long a resume takes."""
    folder = make_many(place / "costs", setups)
    tasks = tasks_in(folder, place / "out")
    found: dict[str, list[float]] = {"one process": [], "two processes": [], "dask, two": []}
    idle: dict[str, list[float]] = {name: [] for name in found}
    nothing = [Nothing(str(number)) for number in range(300)]
    with local_cluster(2) as cluster:
        lanes = {
            "one process": process_lanes(1),
            "two processes": process_lanes(2),
            "dask, two": cluster_lanes(cluster.scheduler_address),
        }
        for chosen in lanes.values():
            timed(tasks[:4], run_setup, chosen)
        # In turn, so that whatever else the machine does weighs on all alike.
        for _ in range(rounds):
            for name, chosen in lanes.items():
                found[name].append(timed(tasks, run_setup, chosen))
                idle[name].append(timed(nothing, do_nothing, chosen))
        for chosen in lanes.values():
            for lane in chosen:
                lane.close()
    one, two, dask = (float(np.median(found[name])) for name in found)
    _, two_idle, dask_idle = (float(np.median(idle[name])) / len(nothing) * 1e3 for name in idle)
    load = os.getloadavg()[0]
    yield from (
        f"{setups} setups, {rounds} rounds, load of the machine {load:.1f} on {os.cpu_count()} processors",
        *(f"{name}: {', '.join(f'{v:.1f}' for v in values)} s" for name, values in found.items()),
        f"speed-up of two processes over one: {one / two:.2f}",
        f"dask against two processes, setups: {(dask - two) / setups * 1e3:+.0f} ms a setup "
        f"({(dask / two - 1) * 100:+.1f} %)",
        f"dask against two processes, empty tasks: {dask_idle:.2f} against {two_idle:.2f} ms a task",
    )
    yield from resume(place, resumed)


def resume(place: Path, count: int) -> list[str]:
    """Run a day, and measure the command that finds it unchanged; and how fast pictures are hashed."""
    folder = make_many(place / "resume", count)
    command = [str(Path(sys.executable).with_name("huemend")), "day", str(folder)]
    arguments = ["--resume", "--quiet", "--no-pictures", "--lut-size", "9", "--fail-on", "never"]
    subprocess.run([*command, *arguments], check=True, capture_output=True)
    walls, cpus = [], []
    for _ in range(5):
        before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
        done = subprocess.run(
            [*command, *arguments[:1], *arguments[2:]], check=True, capture_output=True, text=True
        )
        walls.append(time.monotonic() - begun)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpus.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        if done.stderr.count("(unchanged)") != count:
            raise RuntimeError(f"not all of the {count} setups were found unchanged:\n{done.stderr}")
    block = bytes(64 * 1024 * 1024)
    begun_cpu = time.process_time()
    hashlib.sha256(block).digest()
    speed = len(block) / (time.process_time() - begun_cpu) / 1e6
    return [
        f"resume of an unchanged day of {count} setups: {', '.join(f'{v:.2f}' for v in walls)} s "
        f"(processor {', '.join(f'{v:.2f}' for v in cpus)} s)",
        f"hashing: {speed:.0f} MB for every second of a processor",
    ]


def measure(setups: Sequence[Path], place: Path) -> str:
    """Match setups, each in a process of its own, and say what that took (Linux only)."""
    command = [str(Path(sys.executable).with_name("huemend")), "match"]
    lines = ["| setup | MB of media | processor, s | of that, to start | peak memory, MB | MB read | MB written |"]
    lines.append("|:--|--:|--:|--:|--:|--:|--:|")
    for number, path in enumerate(setups):
        out = place / f"measured-{number}"
        arguments = [*command, str(path), "--quiet", "--fail-on", "never", "--threads", "1", "--out", str(out)]
        idle, _, _ = _taken([*arguments, "--dry-run"])
        busy, memory, read = _taken(arguments)
        media = sum(file.stat().st_size for angle in load_setup(path).angles for file in angle.media)
        written = sum(p.stat().st_size for p in out.rglob("*") if p.is_file())
        lines.append(
            f"| {path.parent.name} | {media / 1e6:.1f} | {busy:.1f} | {idle:.1f} | {memory / 1e6:.0f} "
            f"| {read / 1e6:.0f} | {written / 1e6:.1f} |"
        )
    return "\n".join(lines)


def bookkeeping(place: Path, count: int) -> str:
    """Say what a day of many setups takes beside the matching: one is matched, all get links to its results."""
    folder, out = make_many(place / "books", count, marked=True), place / "out"
    lines = []

    def note(what: str, begun: float) -> None:
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        lines.append(
            f"{what}: {(time.process_time() - begun) / count * 1e3:.2f} ms a setup; peak memory {peak:.0f} MB"
        )

    first = tasks_in(folder, out, marked=True)[0]
    run_setup(first)
    results = [path for path in first.out.rglob("*") if path.is_file()]
    for number in range(1, count):
        for path in results:
            if path.name.startswith(".") or path.parent == first.out:
                target = out / f"{number:04}" / path.relative_to(first.out)
                target.parent.mkdir(parents=True, exist_ok=True)
                os.link(path, target)
    note("(before)", time.process_time())
    begun = time.process_time()
    found = find_day(folder, leave_out=out)
    tasks = tasks_of(found, out, quick(marked=True), threads=1)
    note(f"finding {len(tasks)} setups", begun)
    begun = time.process_time()
    sizes = sum(len(pickle.dumps(task)) for task in tasks)
    note(f"tasks of {sizes / count / 1e3:.1f} kB", begun)
    begun = time.process_time()
    with held_folder(out, Guard()) as held:
        make_index(found, held)
    note("index and table", begun)
    lines.append(
        f"index {(out / INDEX).stat().st_size / 1e6:.1f} MB, table {(out / TABLE).stat().st_size / 1e6:.1f} MB"
    )
    return "\n".join(lines)


def _taken(command: Sequence[str]) -> tuple[float, float, float]:
    """Return seconds of a processor, peak memory and bytes read of a command."""
    running = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    os.waitid(os.P_PID, running.pid, os.WEXITED | os.WNOWAIT)
    said = dict(line.split(": ") for line in Path(f"/proc/{running.pid}/io").read_text().splitlines())
    _, status, used = os.wait4(running.pid, 0)
    if status != 0:
        raise RuntimeError(f"{' '.join(command)} ends with {os.waitstatus_to_exitcode(status)}")
    return used.ru_utime + used.ru_stime, used.ru_maxrss * 1024, float(said["rchar"])


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.many", description=__doc__)
    parser.add_argument("--setups", type=int, default=500)
    parser.add_argument("--kills", type=int, default=25)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--marked", action="store_true", help="match by marked areas, which takes half the time")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--costs", action="store_true", help="measure ratios instead")
    parser.add_argument("--measure", nargs="+", type=Path, metavar="SETUP", help="say what matching these takes")
    parser.add_argument("--bookkeeping", type=int, metavar="N", help="say what N setups take beside the matching")
    parser.add_argument("--folder", type=Path, help="work here; a temporary folder if not given")
    options = parser.parse_args()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    place = Path(tempfile.mkdtemp(prefix="many-", dir=options.folder))
    try:
        if options.measure:
            print(measure(options.measure, place))
            return 0
        if options.bookkeeping:
            print(bookkeeping(place, options.bookkeeping))
            return 0
        if options.costs:
            for line in costs(place, setups=8, rounds=3, resumed=30):
                print(line, flush=True)
            return 0
        folder = make_many(place / "day", options.setups, marked=options.marked)
        survived = survive(
            folder,
            kills=options.kills,
            marked=options.marked,
            seed=options.seed,
            workers=options.workers,
            say=True,
        )
        print(survived)
        return 0 if survived.good else 1
    finally:
        shutil.rmtree(place, ignore_errors=True)


if __name__ == "__main__":
    raise SystemExit(main())
