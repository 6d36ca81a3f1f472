"""A good setup with its match, made once, to be copied and spoilt; and the command line, in this process."""

from __future__ import annotations

import hashlib
import shutil
import signal
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

import pytest

from tests.conftest import Run
from tests.day.days import make_setup
from tests.hardening.run import run_limited

#: Seconds, by the clock of a busy machine, after which a command is taken to hang.
HANGS = 120


@pytest.fixture(autouse=True)
def _alarm() -> Iterator[None]:
    """End what hangs: a pipe that nobody writes to would hold the tests up for ever."""

    def ring(number: int, frame: FrameType | None) -> None:
        raise TimeoutError("this takes for ever")

    before = signal.signal(signal.SIGALRM, ring)
    signal.alarm(HANGS)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture(scope="session")
def matched(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A setup of A, the hero, and B, matched into ``results``. Never changed."""
    folder = tmp_path_factory.mktemp("good") / "setup"
    file = make_setup(folder)
    told = ("match", file, "--out", folder / "results", "--quiet", "--fail-on", "never")
    assert run_limited(*told).code == 0
    return folder


@pytest.fixture
def setup(matched: Path, tmp_path: Path) -> Path:
    """A copy of it to spoil; results and all."""
    return Path(shutil.copytree(matched, tmp_path / "setup"))


@pytest.fixture
def day(matched: Path, tmp_path: Path) -> Path:
    """A day of that one setup, 01, with its results in ``match/01``; nothing had to be matched for it."""
    shutil.copytree(matched, tmp_path / "day/01")
    (tmp_path / "day/match").mkdir()
    (tmp_path / "day/01/results").rename(tmp_path / "day/match/01")
    return tmp_path / "day"


def hashes(folder: Path) -> dict[str, str]:
    """Return every regular file below a folder with its hash, and every link with where it leads."""
    found = {}
    for path in sorted(folder.rglob("*")):
        name = str(path.relative_to(folder))
        if path.is_symlink():
            found[name] = f"-> {path.readlink()}"
        elif path.is_file():
            # A file of many gigabytes of nothing is known by its size.
            size = path.stat().st_size
            found[name] = f"{size}" if size > 1 << 28 else hashlib.sha256(path.read_bytes()).hexdigest()
    return found


@dataclass(frozen=True)
class Trial:
    """Runs commands below a folder and holds them to what every bad input must come to."""

    run: Run
    folder: Path

    def refused(self, *args: object, said: str, code: int = 3) -> str:
        """Run a command that must end with this code and one line, and change no file; return the line."""
        before = hashes(self.folder)
        ended, out, err = self.run(*args)
        assert (ended, out) == (code, ""), err
        assert err.startswith("huemend: ") and err.count("\n") == 1 and err.endswith("\n"), err
        assert said in err and "Traceback" not in err and "fault in huemend" not in err, err
        assert err.strip("\n").isprintable(), ascii(err)
        assert hashes(self.folder) == before
        return err

    def done(self, *args: object, code: int = 0) -> tuple[str, str]:
        """Run a command that must end with this code and no complaint; return stdout and stderr."""
        ended, out, err = self.run(*args)
        assert ended == code and "Traceback" not in err and "fault in huemend" not in err, err
        return out, err


@pytest.fixture
def trial(run: Callable[..., tuple[int, str, str]], tmp_path: Path) -> Trial:
    """A trial below this test's folder."""
    return Trial(run, tmp_path)
