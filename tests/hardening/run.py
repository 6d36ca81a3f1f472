"""Run a case of the corpus through the real command, in a process of its own, under limits."""

from __future__ import annotations

import atexit
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from queue import Empty, LifoQueue

from huemend.base.tasks import usable_processors
from huemend.write.record_reading import is_whole
from tests.day.days import make_setup
from tests.hardening.corpus import Case

__all__ = ["Ended", "Played", "play_all", "run_limited"]

_LAUNCH = Path(__file__).with_name("launch.py")
#: By the clock: a match of two tiny stills takes about 6 s of a processor, and a busy machine can share it by ten.
SECONDS = 300
#: Address space (RLIMIT_AS), in bytes; libraries reserve much more than they touch.
MEMORY = 6 << 30
#: Peak resident size, twice what a good match of two tiny stills takes.
MEGABYTES = 900


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int
    seconds: float
    megabytes: float
    stdout: str
    stderr: str


class _Server:
    """A process that has huemend loaded and forks a process of its own for every command (see ``launch.py``)."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-P", str(_LAUNCH), "--serve"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=_variables(),
        )
        atexit.register(self.close)

    def ask(self, order: dict[str, object]) -> dict[str, float]:
        """Have a command run, and return what it took."""
        assert self._process.stdin is not None and self._process.stdout is not None
        print(json.dumps(order), file=self._process.stdin, flush=True)
        took: dict[str, float] = json.loads(self._process.stdout.readline())
        return took

    def close(self) -> None:
        """End it; it reads on until nobody writes any more."""
        with self._process:
            pass


#: Those that have nothing to do.
_idle = LifoQueue[_Server]()


def _variables() -> dict[str, str]:
    return {**os.environ, "OPENBLAS_NUM_THREADS": "1"}


def run_limited(*args: object, env: Mapping[str, str] | None = None, file_size: int = 0) -> Ended:
    """Run ``huemend`` with these arguments under limits, in a process of its own; with variables, in a new one."""
    limits: dict[str, object] = {"seconds": SECONDS, "memory": MEMORY, "file_size": file_size}
    with tempfile.TemporaryDirectory() as folder:
        stdout, stderr, report = (Path(folder) / name for name in ("stdout", "stderr", "took.json"))
        arguments = [str(arg) for arg in args]
        if env:
            limits["report"] = str(report)
            launch = [sys.executable, "-I", "-S", str(_LAUNCH), json.dumps(limits)]
            with stdout.open("wb") as out, stderr.open("wb") as err:
                subprocess.run(
                    [*launch, sys.executable, "-m", "huemend", *arguments],
                    stdout=out,
                    stderr=err,
                    env=_variables() | dict(env),
                    timeout=2 * SECONDS,
                )
            took = json.loads(report.read_text())
        else:
            try:
                server = _idle.get_nowait()
            except Empty:
                server = _Server()
            order = {"limits": limits, "arguments": arguments, "stdout": str(stdout), "stderr": str(stderr)}
            took = server.ask(order)
            _idle.put(server)
        out_text, err_text = (path.read_bytes().decode("utf-8", "backslashreplace") for path in (stdout, stderr))
    return Ended(stdout=out_text, stderr=err_text, **took)


@dataclass(frozen=True)
class Played:
    """A case that was run: where, how it ended, and what was wrong with that (nothing, one hopes)."""

    folder: Path
    ended: Ended
    faults: list[str]


def play(case: Case, folder: Path, matched: Path) -> Played:
    """Make the case's setup below a folder, run its command, and look at what is there afterwards."""
    folder.mkdir(parents=True, exist_ok=True)
    if case.command == "bake":
        setup = Path(shutil.copytree(matched, folder / "setup"))
    else:
        setup = make_setup(folder / "setup").parent
    case.spoil(setup)
    out = setup / case.out
    arguments: dict[str, tuple[object, ...]] = {
        "match": (setup / case.setup, "--out", out, "--quiet", "--threads", 1, "--fail-on", "never"),
        "new": (setup, "--encoding", "ACEScct"),
        "bake": (setup / case.setup, "B", "--match", setup / "results", "--quiet"),
    }
    if case.command == "new":
        (setup / "setup.toml").unlink()
    before = _paths(folder)
    ended = run_limited(case.command, *arguments[case.command], env=case.env, file_size=case.file_size)
    return Played(folder, ended, _faults(case, ended, _paths(folder) - before, out))


def _paths(folder: Path) -> set[str]:
    return {
        os.path.relpath(os.path.join(place, name), folder) for place, _, names in os.walk(folder) for name in names
    }


def play_all(cases: Mapping[str, Case], folder: Path) -> dict[str, Played]:
    """Play many cases, as many at a time as there are processors."""
    matched = make_setup(folder / "matched").parent
    if any(case.command == "bake" for case in cases.values()):
        told = ("match", matched / "setup.toml", "--out", matched / "results", "--quiet", "--fail-on", "never")
        assert run_limited(*told).code == 0
    with ThreadPoolExecutor(usable_processors()) as pool:
        places = [folder / str(number) for number in range(len(cases))]
        played = pool.map(partial(play, matched=matched), cases.values(), places)
        return dict(zip(cases, played, strict=True))


def _faults(case: Case, ended: Ended, left: set[str], out: Path) -> list[str]:
    faults = []
    if ended.code != case.code:
        faults.append(f"exit code {ended.code}, not {case.code}: {ended.stderr[-300:]}")
    if ended.seconds > SECONDS or ended.megabytes > MEGABYTES:
        faults.append(f"took {ended.seconds:.0f} s and {ended.megabytes:.0f} MB")
    if any(".huemend-part-" in path for path in left):
        faults.append("left a partial file")
    faults += [f"said {word!r}" for word in ("\x1b", "Traceback", "fault in huemend") if word in ended.stderr]
    if case.said not in ended.stderr:
        faults.append(f"did not say {case.said!r}: {ended.stderr[-300:]}")
    if case.code == 0:
        if case.command == "match" and not is_whole(out):
            faults.append("the result is not complete")
        if case.command == "new" and left != {"setup/setup.toml"}:
            faults.append(f"left {sorted(left)}")
        return faults
    if len(ended.stderr.splitlines()) != 1 or not ended.stderr.startswith("huemend: ") or ended.stdout:
        faults.append(f"is not one line: {ended.stderr[-300:]}")
    # A disk that fills up on the way leaves whole files in a folder that is known as unfinished.
    if any(path.endswith("report.json") for path in left) or (left and not case.file_size):
        faults.append(f"left {len(left)} files")
    return faults
