"""Run commands in this process, and look at a whole folder before and after: what was there, byte for byte."""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import shutil
import stat
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tests.bench.many import make_many

__all__ = ["Said", "changes", "command", "fresh", "made", "snapshot"]

#: Options with which a match of a tiny marked setup takes half a second.
QUICK = ("--quiet", "--marks-only", "--lut-size", "5", "--threads", "1", "--fail-on", "never")

Seen = Mapping[str, tuple[str, str]]


@dataclass(frozen=True)
class Said:
    """How a command ended, and what it said."""

    code: int
    stdout: str
    stderr: str


def command(*args: object) -> Said:
    """Run a command line in this process."""
    from huemend.cli import huemend
    from huemend.cli.boundary import run

    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = run(huemend, [str(arg) for arg in args])
    return Said(code, out.getvalue(), err.getvalue())


def match(setup: Path, out: Path, *more: object) -> Said:
    """Match a tiny marked setup."""
    return command("match", setup, "--out", out, *QUICK, *more)


def snapshot(root: Path) -> dict[str, tuple[str, str]]:
    """Return everything below a folder: what kind it is, and its content's hash or where it leads."""
    seen = {}
    for place, folders, files in os.walk(root):
        for name in [*folders, *files]:
            path = os.path.join(place, name)
            seen[os.path.relpath(path, root)] = _look(path)
    return seen


def _look(path: str) -> tuple[str, str]:
    mode = os.lstat(path).st_mode
    if stat.S_ISLNK(mode):
        return "link", os.readlink(path)
    if stat.S_ISREG(mode):
        with open(path, "rb") as file:
            return "file", hashlib.file_digest(file, "sha256").hexdigest()
    return ("folder", "") if stat.S_ISDIR(mode) else ("other", str(stat.S_IFMT(mode)))


def changes(before: Seen, after: Seen, own: Iterable[str] = ()) -> list[str]:
    """Return what was there before, is not huemend's own, and is no longer as it was."""
    mine = set(own)
    return [
        f"{name}: {was} is now {after.get(name, 'gone')}"
        for name, was in before.items()
        if name not in mine and after.get(name) != was
    ]


@cache
def _template(place: str) -> Path:
    """Make, once, a setup of two tiny marked pictures with a match of it, a bake of that, and a day's index."""
    folder = make_many(Path(place) / "day", 2, marked=True)
    setup = folder / "0000" / "setup.toml"
    said = match(setup, setup.parent / "match")
    assert said.code == 0, said.stderr
    said = command("bake", setup, "B", "--quiet")
    assert said.code == 0, said.stderr
    return folder


def made(place: Path) -> Path:
    """Return the day that tests copy from."""
    return _template(str(place))


def fresh(place: Path, template: Path, change: Callable[[Path], object] = lambda folder: None) -> Path:
    """Copy the first setup of the day to a place, change it, and return its folder."""
    folder = Path(shutil.copytree(template / "0000", place / "setup", symlinks=True))
    change(folder)
    return folder
