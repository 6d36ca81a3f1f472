"""Is a file there, and is it whole? Asked before a picture library sees it."""

from __future__ import annotations

import hashlib
import struct
import zlib
from pathlib import Path

from huemend.errors import MediaError

__all__ = ["AGAIN", "check_png", "hash_file"]

AGAIN = "export or copy it again"


def hash_file(path: Path) -> str:
    """Return the sha256 of a file's bytes, in hexadecimal.

    Raises
    ------
    MediaError
        The file is missing, empty, a folder, or cannot be read.
    """
    try:
        if not path.exists():
            raise MediaError("there is no such file", where=path, todo="correct the path")
        if not path.is_file():
            raise MediaError("is not a file", where=path, todo="name a still or a clip")
        if path.stat().st_size == 0:
            raise MediaError("is an empty file", where=path, todo=AGAIN)
        with open(path, "rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise MediaError(f"cannot be read ({reason})", where=path, todo="check the file") from error


def check_png(path: Path, largest_side: int) -> None:
    """Walk the chunks of a PNG and their checksums (ISO/IEC 15948, clause 5).

    libpng tells of damage on stderr, behind our back; a file that passes here gives it little to tell.

    Parameters
    ----------
    path : Path
        A file that can be read.
    largest_side : int
        Pixels; a header that declares more, or none, is refused here, because libpng tells of that, too.

    Raises
    ------
    MediaError
        The file is a PNG that is cut short or damaged, or declares a size that is not read.
    """
    with open(path, "rb") as file:
        if file.read(8) != b"\x89PNG\r\n\x1a\n":
            return  # another format under a wrong suffix: the readers will say
        while True:
            head = file.read(8)
            if len(head) < 8:
                break
            length, kind = struct.unpack(">I4s", head)
            checksum = zlib.crc32(kind)
            if kind == b"IHDR":
                _check_size(path, file.read(min(length, 8)), largest_side)
                file.seek(16)
            while length > 0:
                block = file.read(min(length, 1 << 20))
                if not block:
                    break
                checksum = zlib.crc32(block, checksum)
                length -= len(block)
            stored = file.read(4)
            if length or len(stored) < 4:
                break
            if stored != struct.pack(">I", checksum):
                raise MediaError("is damaged (a checksum is wrong)", where=path, todo=AGAIN)
            if kind == b"IEND":
                return
    raise MediaError("is cut short (the end of the PNG is missing)", where=path, todo=AGAIN)


def _check_size(path: Path, sides: bytes, largest_side: int) -> None:
    """Refuse a PNG header (ISO/IEC 15948, 11.2.2) of a size beyond reason."""
    if len(sides) < 8:
        return  # cut short: the walk goes on to say so
    width, height = struct.unpack(">II", sides)
    if not (0 < width <= largest_side and 0 < height <= largest_side):
        raise MediaError(
            f"claims to be {width} x {height} pixels",
            where=path,
            todo=f"pictures of 1 to {largest_side} pixels a side are read",
        )
