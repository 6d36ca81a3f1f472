"""Names from a setup file that become parts of file names."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from huemend.base.text import WINDOWS_DEVICE

# What a file name must not hold on any of the systems that a project travels through (common practice: the
# union of what Windows, macOS and Linux refuse).
_FORBIDDEN = frozenset('/\\:*?"<>|')
_LONGEST = 80  # bytes; two names and a kind must fit into the 255 of common file systems


def normal_name(name: str) -> str:
    """Return the name in Unicode's composed form (NFC), so that two spellings of one name are one name."""
    return unicodedata.normalize("NFC", name)


def unsafe(name: str) -> str | None:
    """Say why a name cannot be part of a file name, or return None where it can.

    >>> unsafe("wide"), unsafe("Kamera 2")
    (None, None)
    >>> unsafe("../wide")
    "holds '/'"
    >>> unsafe("..")
    'begins with a dot'
    """
    if not name:
        return "is empty"
    for character in name:
        if character in _FORBIDDEN:
            return f"holds {character!r}"
        # A space that is not the plain one (no-break, thin ...) is nobody's intention, and cannot be typed again.
        odd = character != " " and unicodedata.category(character) == "Zs"
        if odd or unicodedata.category(character) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"):
            return f"holds the invisible character U+{ord(character):04X}"
    if name[0] == ".":
        return "begins with a dot"
    if name[0] == "-":
        return "begins with a hyphen, which reads as an option"
    if name != name.strip() or name[-1] == ".":
        return "begins or ends with a space, or ends with a dot"
    if WINDOWS_DEVICE.fullmatch(name):
        return "is a name that Windows keeps for a device"
    if len(name.encode()) > _LONGEST:
        return f"is longer than {_LONGEST} bytes"
    return None


def collision(names: Iterable[str]) -> tuple[str, str] | None:
    """Return two names that would be one file on a system that ignores case, or None.

    >>> collision(["wide", "left", "Wide"])
    ('wide', 'Wide')
    """
    seen: dict[str, str] = {}
    for name in names:
        folded = unicodedata.normalize("NFC", name.casefold())
        if folded in seen:
            return seen[folded], name
        seen[folded] = name
    return None


def natural_key(text: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key under which ``take2`` comes before ``take10``.

    >>> sorted(["take10.png", "take2.png"], key=natural_key)
    ['take2.png', 'take10.png']
    """
    parts = re.split(r"([0-9]+)", text)
    return tuple((0, int(part), part) if part.isdecimal() else (1, 0, part.casefold()) for part in parts)
