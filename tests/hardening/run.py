"""Run a case of the corpus through the real command, in a process of its own, under limits."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from huemend.base.tasks import usable_processors
from huemend.write.folder import FolderState, check_folder
from tests.day.days import make_setup
from tests.hardening.corpus import Case

__all__ = ["Ended", "Played", "play_all", "run_limited"]

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


def run_limited(*args: object, scratch: Path, env: dict[str, str] | None = None, file_size: int = 0) -> Ended:
    """Run ``huemend`` with these arguments under limits; ``scratch`` takes the launcher's report."""
    report = scratch / "took.json"
    limits = {"seconds": SECONDS, "memory": MEMORY, "file_size": file_size, "report": str(report)}
    launch = Path(__file__).with_name("launch.py")
    command = [sys.executable, "-I", "-S", str(launch), json.dumps(limits), sys.executable, "-m", "huemend"]
    variables = {**os.environ, "OPENBLAS_NUM_THREADS": "1", **(env or {})}
    done = subprocess.run([*command, *map(str, args)], capture_output=True, env=variables, timeout=2 * SECONDS)
    took = json.loads(report.read_text())
    out, err = (text.decode("utf-8", "backslashreplace") for text in (done.stdout, done.stderr))
    return Ended(stdout=out, stderr=err, **took)


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
    env = dict(case.env)
    told = (case.command, *arguments[case.command])
    ended = run_limited(*told, scratch=folder, env=env, file_size=case.file_size)
    return Played(folder, ended, _faults(case, ended, _paths(folder) - before - {"took.json"}, out))


def _paths(folder: Path) -> set[str]:
    return {
        os.path.relpath(os.path.join(place, name), folder) for place, _, names in os.walk(folder) for name in names
    }


def play_all(cases: Mapping[str, Case], folder: Path) -> dict[str, Played]:
    """Play many cases, as many at a time as there are processors."""
    matched = make_setup(folder / "matched").parent
    if any(case.command == "bake" for case in cases.values()):
        told = ("match", matched / "setup.toml", "--out", matched / "results", "--quiet", "--fail-on", "never")
        assert run_limited(*told, scratch=folder).code == 0
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
        if case.command == "match" and check_folder(out) is not FolderState.COMPLETE:
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
