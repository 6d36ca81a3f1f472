"""Every bad input through the real command: exit code, one clear line, bounds on time and memory, no traces."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from huemend.write.record_reading import is_whole
from tests.day.days import files_of, make_setup
from tests.hardening.corpus import CASES
from tests.hardening.run import Played, play_all, run_limited

pytestmark = [pytest.mark.slow, pytest.mark.corpus]


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Played]:
    """All cases, run at once: a process each."""
    return play_all(CASES, tmp_path_factory.mktemp("corpus"))


@pytest.mark.parametrize("name", CASES)
def test_bad_input_ends_well(name: str, played: dict[str, Played]) -> None:
    assert played[name].faults == []


@pytest.mark.parametrize("name", ["png, cut in half", "clip, cut in half", "no permission: still"])
def test_bad_input_loses_nothing_of_an_earlier_result(name: str, tmp_path: Path) -> None:
    file = make_setup(tmp_path / "setup")
    out = file.parent / "results"
    arguments = ("match", file, "--out", out, "--quiet", "--fail-on", "never")
    assert run_limited(*arguments).code == 0
    before = files_of(out)
    CASES[name].spoil(file.parent)
    assert run_limited(*arguments).code == 3
    assert files_of(out) == before and is_whole(out)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path | None]:
    """A disk of 300 kB, or None where this machine lets nobody mount one."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=300k", "tmpfs", str(place)]
    mounted = subprocess.run(mount, capture_output=True).returncode == 0
    yield place if mounted else None
    if mounted:
        subprocess.run(["umount", str(place)], check=True)


def test_a_full_disk_is_told_and_the_folder_done_again(tmp_path: Path, small_disk: Path | None) -> None:
    """On a real full disk where one can be mounted; a limit on the size of files stands in for it elsewhere."""
    file = make_setup(tmp_path / "setup")
    out = (small_disk or tmp_path) / "results"
    arguments = ("match", file, "--out", out, "--quiet", "--fail-on", "never")
    ended = run_limited(*arguments, file_size=0 if small_disk else 200_000)
    assert ended.code in (1, 3) and len(ended.stderr.splitlines()) == 1
    assert not small_disk or "the disk is full" in ended.stderr
    assert not is_whole(out)
    assert not [name for name in files_of(out) if "-part-" in name]
    if small_disk:
        subprocess.run(["mount", "-o", "remount,size=50m", str(small_disk)], check=True)
    assert run_limited(*arguments).code == 0
    assert is_whole(out)
