"""Is a file there, and is it whole? Asked before a picture library sees it."""

from __future__ import annotations

import itertools
import os
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from io import BufferedReader
from pathlib import Path

from huemend.base.reading import NotRegular, open_regular
from huemend.errors import MediaError, said_by_system
from huemend.options import SampleOptions

AGAIN = "export or copy it again"


@contextmanager
def open_medium(path: Path, most: int | None = None) -> Iterator[BufferedReader]:
    """Open a still or a clip, which must be a regular file that holds something, of at most so many bytes.

    Raises MediaError where it is missing, empty, too large, a folder, a pipe or a device, or cannot be read.
    """
    try:
        with open_regular(path) as file:
            size = os.fstat(file.fileno()).st_size
            if size == 0:
                raise MediaError("is an empty file", where=path, todo=AGAIN)
            if most is not None and size > most:
                raise MediaError(
                    f"holds {size / 1e9:.1f} GB, more than any still that is read", where=path, todo=AGAIN
                )
            yield file
    except FileNotFoundError as error:
        raise MediaError("there is no such file", where=path, todo="correct the path") from error
    except (NotRegular, IsADirectoryError) as error:
        raise MediaError(error.strerror or "is not a file", where=path, todo="name a still or a clip") from error
    except OSError as error:
        raise MediaError(f"cannot be read ({said_by_system(error)})", where=path, todo="check the file") from error


def check_png(path: Path, file: BufferedReader, options: SampleOptions) -> None:
    """Walk the chunks of a PNG and their checksums (ISO/IEC 15948, clause 5), from its beginning.

    libpng tells of damage on stderr, behind our back; a file that passes here gives it little to tell. Raises
    MediaError for a PNG that is cut short or damaged, and before the rest is read for a header that declares more
    pixels than the options allow, or none.
    """
    file.seek(0)
    if file.read(8) != b"\x89PNG\r\n\x1a\n":
        return  # another format under a wrong suffix: the readers will say
    for count in itertools.count():
        head = file.read(8)
        if len(head) < 8:
            break
        length, kind = struct.unpack(">I4s", head)
        # 5.6 and 11.2.2: the first chunk and no other, of 13 bytes.
        if (kind == b"IHDR") != (count == 0) or (count == 0 and length != 13):
            raise MediaError("is damaged (it has no header, or two)", where=path, todo=AGAIN)
        if count > options.most_chunks:
            raise MediaError(f"is damaged (it has more than {count - 1} parts)", where=path, todo=AGAIN)
        checksum = zlib.crc32(kind)
        while length > 0:
            block = file.read(min(length, 1 << 20))
            if not block:
                break
            if count == 0:
                _check_size(path, block[:8], options)
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


def _check_size(path: Path, sides: bytes, options: SampleOptions) -> None:
    """Refuse a PNG header (ISO/IEC 15948, 11.2.2) of a size beyond reason."""
    if len(sides) < 8:
        return  # cut short: the walk goes on to say so
    width, height = struct.unpack(">II", sides)
    largest_side = options.largest_side
    if not (0 < width <= largest_side and 0 < height <= largest_side):
        raise MediaError(
            f"claims to be {width} x {height} pixels",
            where=path,
            todo=f"pictures of 1 to {largest_side} pixels a side are read",
        )
