"""Who may write a file, and over what: the one place where huemend makes, replaces and removes files.

They appear whole or not at all, and never over somebody else's.

A file is written under a name of our own beside its place and moved there in one step. What stands there already
is replaced only if it is no original (`huemend.base.originals`), no link, and as huemend left it. Nothing else
does so but what stands beside this module (folders, kept, ledger, lock), and encoders, which are given the name of
a temporary file; a test reads the whole package for it.
"""

from __future__ import annotations

import errno
import hashlib
import itertools
import os
import re
import stat
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from huemend.base.originals import Guard
from huemend.base.reading import PLAINLY, open_regular
from huemend.errors import OutputError, said_by_system

_PROBLEMS = {
    errno.ENOSPC: ("the disk is full", "free some space or choose another folder"),
    errno.EDQUOT: ("the disk quota is used up", "free some space or choose another folder"),
    errno.EACCES: ("no permission to write here", "choose another folder"),
    errno.EPERM: ("no permission to write here", "choose another folder"),
    errno.EROFS: ("this disk is read-only", "choose another folder"),
    errno.ENOTDIR: ("a file stands where a folder is needed", "choose another folder"),
    errno.EEXIST: ("a file stands where a folder is needed", "choose another folder"),
    errno.EISDIR: ("a folder stands where a file is needed", "move it away or choose another folder"),
    errno.ELOOP: ("a link stands where a file is needed", "move it away or choose another folder"),
    errno.ENAMETOOLONG: ("this name is too long for the disk", "choose a shorter name"),
}

#: How the names of parts begin.
PART = ".huemend-part-"
_A_PART = re.compile(re.escape(PART) + r"([0-9a-f]{8})-\d+-\d+(\.[^./]*)?")
_LONGEST_SUFFIX = 16
_counter = itertools.count()


def writing_problem(error: OSError, path: Path) -> OutputError:
    """Tell in one line why a file or a folder could not be written."""
    other = (f"cannot be written ({said_by_system(error)})", "check the folder, its permissions and the disk")
    what, todo = _PROBLEMS.get(error.errno or 0, other)
    return OutputError(what, where=path, todo=todo)


@contextmanager
def output_errors(where: Path) -> Iterator[None]:
    """Turn what the operating system says into one line of ours."""
    try:
        yield
    except OSError as error:
        raise writing_problem(error, where) from error


# ------------------------------------------------------------------------------------------------ one file


@contextmanager
def creating(path: Path) -> Iterator[Path]:
    """Yield the name of a temporary file beside ``path`` that appears there when the block ends well.

    Raises OutputError if it cannot be written, or is there already, even if it appeared in the meantime.
    """
    if os.path.lexists(path):
        raise _taken(path)
    with _through_part(path) as part:
        yield part
        _sync(part)
        _move_to_free_name(part, path)


@contextmanager
def replacing(path: Path, guard: Guard, own: Callable[[Path], bool]) -> Iterator[Path]:
    """Yield the name of a temporary file beside ``path`` that takes its place when the block ends well.

    The temporary file is there, empty, so that nobody else can take its name; it keeps the suffix, because
    picture libraries choose a format by it, and starts with a dot, so that no glob takes an unfinished file
    for a finished one. ``own`` says of a regular file that stands there whether it is as huemend left it.
    Raises OutputError if the file cannot be written, or what stands there must not be replaced.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     target = Path(folder) / "note.txt"
    ...     with replacing(target, Guard(), own=lambda path: False) as temporary:
    ...         _ = temporary.write_text("whole", encoding="utf-8")
    ...     target.read_text(encoding="utf-8"), len(os.listdir(folder))
    ('whole', 1)
    """
    check_replaceable(path, guard, own)
    with _through_part(path) as part:
        yield part
        put(part, path, guard, own)


def replace_text(path: Path, text: str, guard: Guard, own: Callable[[Path], bool]) -> None:
    """Write UTF-8 text to a place, as `replacing` does."""
    with replacing(path, guard, own) as part:
        part.write_text(text, encoding="utf-8", newline="")


def create_text(path: Path, text: str) -> None:
    """Write UTF-8 text to a name that is free, as `creating` does."""
    with creating(path) as part:
        part.write_text(text, encoding="utf-8", newline="")


def check_replaceable(path: Path, guard: Guard, own: Callable[[Path], bool]) -> None:
    """Refuse a place where something stands that is not huemend's to replace.

    Raises OutputError for a protected file, a link, a folder, or a file that is not as huemend left it.
    """
    guard.check(path)
    try:
        facts = os.lstat(path)
    except FileNotFoundError:
        return
    except OSError as error:
        raise writing_problem(error, path) from error
    if stat.S_ISDIR(facts.st_mode):
        raise writing_problem(IsADirectoryError(errno.EISDIR, ""), path)
    if stat.S_ISLNK(facts.st_mode):
        raise writing_problem(OSError(errno.ELOOP, ""), path)
    if not stat.S_ISREG(facts.st_mode) or not own(path):
        raise OutputError(
            "is there already, and is not as huemend left it",
            where=path,
            todo="move it away or choose another --out",
        )


def new_part(path: Path) -> Path:
    """Make an empty file of our own beside a place that will be written, and return its name; raises OSError."""
    suffix = path.suffix if len(os.fsencode(path.suffix)) <= _LONGEST_SUFFIX else ""
    while True:
        part = path.with_name(f"{PART}{short_tag(path.name)}-{os.getpid()}-{next(_counter)}{suffix}")
        try:
            # Exclusive: a file or a link of this name is never opened. The umask decides who may read.
            os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | PLAINLY, 0o666))
            return part
        except FileExistsError:
            continue


def write_part(path: Path, data: bytes) -> Path:
    """Write bytes into a new part beside a place, flushed to the disk, and return the part's name."""
    part = new_part(path)
    try:
        with open(part, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        _drop(part)
        raise
    return part


def put(part: Path, path: Path, guard: Guard, own: Callable[[Path], bool]) -> None:
    """Move a finished part to its place in one step; raises OutputError where another must stay, or OSError."""
    try:
        _sync(part)
        check_replaceable(path, guard, own)
        os.replace(part, path)
    except BaseException:
        _drop(part)
        raise


def remove(path: Path, guard: Guard) -> None:
    """Remove a regular file that is no source; anything else stays. The caller has made sure that it is ours."""
    if guard.holds(path):
        return
    with suppress(FileNotFoundError):
        if stat.S_ISREG(os.lstat(path).st_mode):
            os.unlink(path)


def clear_parts(folder: Path, names: Iterable[str] | None = None) -> None:
    """Remove parts that a killed run left in a folder: those of these names, or all.

    Only who holds the lock on what they were parts of may ask for this.
    """
    tags = None if names is None else {short_tag(name) for name in names}
    with suppress(FileNotFoundError, NotADirectoryError), os.scandir(folder) as entries:
        for entry in list(entries):
            found = _A_PART.fullmatch(entry.name)
            if found is None or (tags is not None and found[1] not in tags):
                continue
            facts = entry.stat(follow_symlinks=False)
            # A part is a file of one name: what has another is somebody's.
            if stat.S_ISREG(facts.st_mode) and facts.st_nlink == 1:
                _drop(Path(entry.path))


@contextmanager
def _through_part(path: Path) -> Iterator[Path]:
    with output_errors(path):
        part = new_part(path)
        try:
            yield part
        finally:
            _drop(part)


def short_tag(name: str) -> str:
    """Return what files of ours that belong to one file are known by: short, whatever its name."""
    return hashlib.sha256(os.fsencode(name)).hexdigest()[:8]


def _drop(part: Path) -> None:
    with suppress(OSError):
        os.unlink(part)


def _sync(part: Path) -> None:
    # Without this a power cut may leave an empty file under the final name.
    with open(part, "rb") as written:
        os.fsync(written.fileno())


def _move_to_free_name(part: Path, path: Path) -> None:
    """Rename without replacing; a hard link is the one way that cannot race."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise _taken(path) from None
    except OSError:
        # Camera cards (FAT, exFAT) know no hard links: a rename after a look is the best there is.
        if os.path.lexists(path):
            raise _taken(path) from None
        os.replace(part, path)


def _taken(path: Path) -> OutputError:
    return OutputError("is there already, and is never overwritten", where=path, todo="move it away first")


def hash_regular(path: Path) -> str | None:
    """Return the sha256 of a regular file, without following a link; None for anything else."""
    with suppress(OSError), open_regular(path, follow=False) as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
    return None


def read_regular(path: Path, most: int) -> bytes | None:
    """Return at most so many bytes of a regular file, no link followed; None for more, and for anything else."""
    with suppress(OSError), open_regular(path, follow=False) as file:
        data = file.read(most + 1)
        return None if len(data) > most else data
    return None
