"""Files that appear whole or not at all."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from huemend.errors import OutputError

__all__ = ["replacing", "writing_problem"]


_TOLD = {
    errno.ENOSPC: ("the disk is full", "free some space or choose another folder"),
    errno.EDQUOT: ("the disk quota is used up", "free some space or choose another folder"),
    errno.EACCES: ("no permission to write here", "choose another folder"),
    errno.EPERM: ("no permission to write here", "choose another folder"),
    errno.EROFS: ("this disk is read-only", "choose another folder"),
    errno.ENOTDIR: ("a file stands where a folder is needed", "choose another folder"),
    errno.EEXIST: ("a file stands where a folder is needed", "choose another folder"),
    errno.EISDIR: ("a folder stands where a file is needed", "move it away or choose another folder"),
    errno.ENAMETOOLONG: ("this name is too long for the disk", "choose a shorter name"),
}


def writing_problem(error: OSError, path: Path) -> OutputError:
    """Tell in one line why a file or a folder could not be written."""
    reason = (error.strerror or str(error)).lower()
    other = (f"cannot be written ({reason})", "check the folder, its permissions and the disk")
    what, todo = _TOLD.get(error.errno or 0, other)
    return OutputError(what, where=path, todo=todo)


@contextmanager
def replacing(path: Path, *, overwrite: bool = True) -> Iterator[Path]:
    """Yield the name of a temporary file beside ``path`` that takes its place when the block ends well.

    The temporary name keeps the suffix, because picture libraries choose a format by it, and starts with a
    dot, so that no glob takes an unfinished file for a finished one.

    Parameters
    ----------
    path : Path
        The final name; its folder must exist.
    overwrite : bool
        False refuses a file that is there already, even one that appeared in the meantime.

    Raises
    ------
    OutputError
        The file cannot be written, or is there already and must not be replaced.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     target = Path(folder) / "note.txt"
    ...     with replacing(target) as temporary:
    ...         _ = temporary.write_text("whole", encoding="utf-8")
    ...     target.read_text(encoding="utf-8"), len(os.listdir(folder))
    ('whole', 1)
    """
    if not overwrite and os.path.lexists(path):
        raise _taken(path)
    temporary = path.with_name(f".{path.stem}.tmp-{os.getpid()}{path.suffix}")
    try:
        yield temporary
        # Without this a power cut may leave an empty file under the final name.
        with open(temporary, "rb") as written:
            os.fsync(written.fileno())
        if overwrite:
            os.replace(temporary, path)
        else:
            _move_to_free_name(temporary, path)
    except OSError as error:
        raise writing_problem(error, path) from error
    finally:
        with suppress(OSError):
            temporary.unlink()


def _move_to_free_name(temporary: Path, path: Path) -> None:
    """Rename without replacing; a hard link is the one way that cannot race."""
    try:
        os.link(temporary, path)
    except FileExistsError:
        raise _taken(path) from None
    except OSError:
        # Camera cards (FAT, exFAT) know no hard links: a rename after a look is the best there is.
        if os.path.lexists(path):
            raise _taken(path) from None
        os.replace(temporary, path)


def _taken(path: Path) -> OutputError:
    return OutputError("is there already, and is never overwritten", where=path, todo="move it away first")
