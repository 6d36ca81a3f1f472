"""TOML in, within bounds that keep a hostile file from taking the machine."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from huemend.base.reading import read_input
from huemend.errors import SetupFileError
from huemend.options import SampleOptions

# Strings and comments of TOML 1.0.0; what is left after taking them away is keys, numbers and brackets.
_TEXTS = re.compile(
    r'''"""(?:[^\\]|\\.)*?"{3,5}|'{3}.*?'{3,5}|"(?:[^"\\\n]|\\.)*"|'[^'\n]*'|\#[^\n]*''', re.DOTALL
)
_NUMBERS = re.compile(r"(?<![\w.-])[+-]?\d[\d_]*\.\d[\d_]*(?:[eE][+-]?\d+)?(?![\w.-])")
# 4,300 digits, the bound of Python for turning integers into text, are 14,284 bits.
_MOST_BITS = 14_000
_MOST_DOTS = 32


def read_toml(path: Path, options: SampleOptions) -> dict[str, Any]:
    """Read a TOML file of bounded size and depth; raises SetupFileError for any other."""
    content = read_input(
        path,
        options.largest_setup_file,
        kind=SetupFileError,
        what="setup file",
        todo="`huemend new FOLDER` drafts one",
    )
    return parse_toml(content, path, options)


def parse_toml(content: bytes, path: Path, options: SampleOptions) -> dict[str, Any]:
    """Read TOML of bounded size and depth, which came from ``path``; raises SetupFileError for any other."""
    if len(content) > options.largest_setup_file:
        raise SetupFileError("is too large for a setup file", where=path, todo="name the setup file")
    try:
        text = content.decode("utf-8-sig")
        deep = _deep_line(text)
        if deep is not None:
            raise SetupFileError(f"line {deep} is nested too deeply", where=path, todo="name a setup file")
        data = tomllib.loads(text)
        if _endless_number(data):
            raise SetupFileError("holds a number of too many digits", where=path, todo="correct that number")
        return data
    except UnicodeDecodeError as error:
        raise SetupFileError("is not UTF-8 text", where=path, todo="save it as UTF-8") from error
    except tomllib.TOMLDecodeError as error:
        raise SetupFileError(f"is not valid TOML: {error}", where=path, todo="correct that line") from error
    except ValueError as error:
        # Python refuses to read integers beyond 4,300 digits, and not as an error of the TOML.
        raise SetupFileError(
            "holds a number of too many digits", where=path, todo="correct that number"
        ) from error
    except RecursionError as error:
        raise SetupFileError("is nested too deeply", where=path, todo="name a setup file") from error


def _deep_line(text: str) -> int | None:
    """Return the number of the first line whose key has absurdly many parts, or None.

    ``tomllib`` takes memory in the square of a dotted key's length: 400 kB of ``a.a.a.`` would fill any machine.
    """
    bare = _TEXTS.sub(lambda found: "\n" * found[0].count("\n"), text)
    for number, line in enumerate(bare.split("\n"), start=1):
        if line.count(".") > _MOST_DOTS and _NUMBERS.sub("", line).count(".") > _MOST_DOTS:
            return number
    return None


def _endless_number(data: dict[str, Any]) -> bool:
    """Say whether an integer has more digits than Python turns into text (4,300).

    ``tomllib`` refuses such a one itself, unless it is hexadecimal, octal or binary. Smaller ones that are too
    large all the same are told by the key that they stand at, with the range that it takes.
    """
    waiting: list[Any] = [data]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            waiting.extend(value.values())
        elif isinstance(value, list):
            waiting.extend(value)
        elif isinstance(value, int) and value.bit_length() > _MOST_BITS:
            return True
    return False
