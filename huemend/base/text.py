"""Text that comes from outside (names of files, tags of clips, words of a setup file) on its way out.

A name may hold a line break, an escape sequence, a mark that turns the reading direction, or bytes that are no
text at all. Each place that text goes to has one function here that makes it harmless there and changes nothing
else.
"""

from __future__ import annotations

import json
import os
import re
import shlex
from collections.abc import Sequence
from typing import Any

from huemend.errors import visible

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")  # TOML 1.0.0, section Keys
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
# XML 1.0 (fifth edition), 2.2, production Char: what is left out can't stand in a document, nor as a reference.
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
#: A file name that Windows keeps for a device, whatever its ending.
WINDOWS_DEVICE = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
#: How cells begin that spreadsheets calculate; the wide forms are taken for the narrow ones in some countries.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def is_unicode(name: str | os.PathLike[str]) -> bool:
    r"""Say whether a name is text; on a disk it may be any bytes, which Python holds as halves of surrogate pairs.

    >>> is_unicode("caf\u00e9"), is_unicode("caf\udce9")
    (True, False)
    """
    return not any("\ud800" <= character <= "\udfff" for character in os.fspath(name))


def listed(names: Sequence[str]) -> str:
    """Return names as a sentence lists them.

    >>> listed(["left"]), listed(["left", "right", "top"])
    ('left', 'left, right and top')
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def counted(count: int, what: str) -> str:
    """Write a count of things.

    >>> counted(1, "colour"), counted(7, "colour")
    ('1 colour', '7 colours')
    """
    return f"{count} {what}{'s' * (count != 1)}"


def percent(share: float) -> str:
    """Write a share with a decimal where it is small, so that it is never told as none.

    >>> percent(0.0005), percent(0.012), percent(0.25)
    ('0.05%', '1.2%', '25%')
    """
    return f"{share:.2%}" if share < 0.001 else f"{share:.1%}" if share < 0.1 else f"{share:.0%}"


def told_apart(name: str, taken: set[str]) -> str:
    """Return a name, numbered if it is taken, in whatever case, and take it.

    >>> taken = set()
    >>> [told_apart(name, taken) for name in ("left", "Left", "top")]
    ['left', 'Left-2', 'top']
    """
    found, number = name, 2
    while found.casefold() in taken:
        found, number = f"{name}-{number}", number + 1
    taken.add(found.casefold())
    return found


def printable(name: str | os.PathLike[str]) -> str:
    r"""Return a name as one printable line: for messages, pages and records, not to open a file by.

    >>> printable("take 2.png")
    'take 2.png'
    >>> print(printable("\x1b[2Ja\nb\u202e"), printable("caf\udce9"))  # the last is Latin-1 on a disk
    \x1b[2Ja\nb\u202e caf\xe9
    """
    return visible(os.fspath(name))


def shell_word(path: str | os.PathLike[str]) -> str:
    r"""Return a path so that a POSIX shell takes it for one word, and no program for an option.

    What cannot be shown goes into ``$'...'`` (POSIX.1-2024, 2.2.4; older shells have it as an extension).

    >>> print(shell_word("my day/setup.toml"), shell_word("-x"), shell_word("a\x1bb"))
    'my day/setup.toml' ./-x $'a\033b'
    """
    text = os.fspath(path)
    if text.startswith("-"):
        text = os.path.join(os.curdir, text)
    if text.isprintable():
        return shlex.quote(text)
    kept = []
    for character in text:
        if character in "\\'":
            kept.append("\\" + character)
        elif character.isprintable():
            kept.append(character)
        else:
            kept += [f"\\{byte:03o}" for byte in os.fsencode(character)]
    return "$'" + "".join(kept) + "'"


def json_text(value: Any, *, indent: int | None = 2, ascii_only: bool = False) -> str:
    r"""Return JSON in which every character is printable; names that are no text come as their escapes.

    >>> json_text({"a": "é\u202e\x1b"}, indent=None)
    '{"a": "é\\u202e\\u001b"}'
    """
    text = json.dumps(value, indent=indent, ensure_ascii=ascii_only, allow_nan=False)
    return "".join(c if c.isprintable() or c == "\n" else json.dumps(c)[1:-1] for c in text)


def csv_cell(value: str) -> str:
    """Return a cell that no spreadsheet runs as a formula; numbers stay numbers.

    A quote before it makes it text (OWASP, CSV Injection).

    >>> [csv_cell(text) for text in ("=1+1", "-0.25", "@A1", "wide", "-wide")]
    ["'=1+1", '-0.25', "'@A1", 'wide', "'-wide"]
    """
    value = value.encode("utf-8", "backslashreplace").decode("utf-8")
    begins = value.lstrip(" ")[:1]
    return f"'{value}" if begins in _FORMULA and begins and not _NUMBER.fullmatch(value) else value


def xml_text(text: str) -> str:
    r"""Return text that may stand in an XML 1.0 document; what may not is replaced by U+FFFD.

    >>> xml_text("a\x0bb\tc") == "a\ufffdb\tc"
    True
    """
    return _NO_XML.sub("\ufffd", text)


def toml_string(text: str) -> str:
    r"""Return a TOML basic string (TOML 1.0.0, section String) that reads back as exactly this text.

    What cannot be shown is written as its escape, so that what a person reads in the file is what is there.
    Raises ValueError for half a surrogate pair (a file name that is not UTF-8): TOML has no way to say it.

    >>> print(toml_string('a "b"\n\x1b[2J\u202e'), toml_string("C:\\x"))
    "a \"b\"\u000A\u001B[2J\u202E" "C:\\x"
    """
    kept = []
    for character in text:
        code = ord(character)
        if 0xD800 <= code <= 0xDFFF:
            raise ValueError(f"U+{code:04X} cannot be written in TOML")
        if character in '"\\':
            kept.append("\\" + character)
        elif character.isprintable():
            kept.append(character)
        else:
            kept.append(f"\\u{code:04X}" if code <= 0xFFFF else f"\\U{code:08X}")
    return '"' + "".join(kept) + '"'


def toml_key(name: str) -> str:
    """Return a key: bare where TOML allows it, else as a string.

    >>> toml_key("wide"), toml_key("Kamera 2")
    ('wide', '"Kamera 2"')
    """
    return name if _BARE_KEY.fullmatch(name) else toml_string(name)


def toml_comment(text: str) -> str:
    r"""Return a TOML comment of one line, whatever the text holds.

    >>> print(toml_comment("a guess: x\nencoding = 1"))
    # a guess: x\nencoding = 1
    """
    return f"# {printable(text)}"
