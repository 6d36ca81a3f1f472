"""A day of tiny setups that was matched once, for tests to look at and to copy."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.day.days import make_day

HUEMEND = str(Path(sys.executable).with_name("huemend"))


@dataclass(frozen=True)
class Ran:
    """A day, and what the command said of it."""

    folder: Path
    code: int
    stdout: str
    stderr: str


def huemend(*args: object, env: dict[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    """Run the installed command."""
    return subprocess.run([HUEMEND, *map(str, args)], capture_output=True, text=True, timeout=300, env=env)


@pytest.fixture(scope="session")
def matched_day(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    """Three setups matched by two workers; the second cannot be read."""
    folder = make_day(tmp_path_factory.mktemp("days") / "day", 3)
    (folder / "02" / "B.png").write_bytes(b"no picture")
    done = huemend("day", folder, "--jobs", 2)
    return Ran(folder, done.returncode, done.stdout, done.stderr)


@pytest.fixture
def own_day(matched_day: Ran, tmp_path: Path) -> Iterator[Path]:
    """A copy of it to change."""
    folder = tmp_path / "day"
    shutil.copytree(matched_day.folder, folder)
    yield folder
