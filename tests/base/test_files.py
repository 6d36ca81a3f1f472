"""Files appear whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from huemend.base.files import creating, hash_regular, read_regular, replacing
from huemend.base.originals import Guard
from huemend.errors import OutputError


def anything(path: Path) -> bool:
    """Take every file for huemend's own."""
    return True


def test_the_file_is_not_there_until_the_block_ends(tmp_path: Path) -> None:
    target = tmp_path / "a.txt"
    with replacing(target, Guard(), anything) as temporary:
        temporary.write_text("new")
        assert not target.exists() and temporary.suffix == ".txt" and temporary.parent == tmp_path
    assert target.read_text() == "new" and os.listdir(tmp_path) == ["a.txt"]


@pytest.mark.parametrize("error", [RuntimeError("ours"), KeyboardInterrupt()])
def test_a_block_that_fails_leaves_what_was_there(tmp_path: Path, error: BaseException) -> None:
    target = tmp_path / "a.txt"
    target.write_text("old")
    with pytest.raises(type(error)), replacing(target, Guard(), anything) as temporary:
        temporary.write_text("half")
        raise error
    assert target.read_text() == "old" and os.listdir(tmp_path) == ["a.txt"]


def test_what_the_system_says_becomes_one_line(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="no such file or directory") as caught, creating(tmp_path / "a" / "b"):
        (tmp_path / "a" / "b").write_text("x")
    assert str(tmp_path / "a" / "b") in str(caught.value)


def test_never_over_a_file_that_is_there(tmp_path: Path) -> None:
    target = tmp_path / "a.txt"
    target.write_text("old")
    with pytest.raises(OutputError, match="never overwritten"), creating(target):
        pytest.fail("the block must not run")
    target.unlink()
    with pytest.raises(OutputError, match="never overwritten"), creating(target) as temporary:
        temporary.write_text("new")
        target.write_text("somebody else's, in the meantime")
    assert target.read_text().startswith("somebody") and os.listdir(tmp_path) == ["a.txt"]


def test_disks_without_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Camera cards are FAT or exFAT: ``link`` fails there with EPERM."""

    def refuse(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    with creating(tmp_path / "a.txt") as temporary:
        temporary.write_text("new")
    assert (tmp_path / "a.txt").read_text() == "new" and os.listdir(tmp_path) == ["a.txt"]
    with pytest.raises(OutputError), creating(tmp_path / "b.txt") as temporary:
        temporary.write_text("new")
        (tmp_path / "b.txt").write_text("theirs")
    assert (tmp_path / "b.txt").read_text() == "theirs"


@pytest.mark.parametrize("kind", ["folder", "pipe", "link", "nothing"])
def test_what_is_no_regular_file_is_neither_read_nor_kept_open(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "x"
    if kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "link":
        (tmp_path / "y").write_bytes(b"y")
        path.symlink_to("y")
    before = len(os.listdir("/proc/self/fd")) if Path("/proc/self/fd").exists() else 0
    assert hash_regular(path) is None and read_regular(path, 100) is None
    assert before == (len(os.listdir("/proc/self/fd")) if before else 0)
