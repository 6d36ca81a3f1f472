"""One table of a setup file, read key by key; every complaint names the file, the table and the key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from huemend.errors import SetupFileError


def nearest(word: str, known: Sequence[str]) -> str | None:
    """Return the known word that ``word`` is most likely a slip of, or None.

    >>> nearest("encodign", ["media", "encoding"])
    'encoding'
    >>> nearest("Hero", ["hero"]), nearest("gamma", ["media", "encoding"])
    ('hero', None)
    """
    folded = {name.casefold(): name for name in known}
    close = get_close_matches(word.casefold(), list(folded), n=1, cutoff=0.6)
    return folded[close[0]] if close else None


def meant(word: str, known: Sequence[str], otherwise: str) -> str:
    """Say which known word is likely meant; ``otherwise`` where none is near."""
    guess = nearest(word, known)
    return f"did you mean {guess}?" if guess else otherwise


class Table:
    """A TOML table that knows where it stands.

    Parameters
    ----------
    values : mapping
    source : Path
        The setup file, for messages.
    key : str
        Dotted name of the table, empty for the file's top level.
    known : sequence of str, optional
        Keys that the table may have; any other is refused at once, naming the nearest. None where the user
        chooses the keys (names of angles).
    """

    def __init__(self, values: object, source: Path, key: str = "", known: Sequence[str] | None = None) -> None:
        self.source = source
        self.key = key
        if not isinstance(values, Mapping):
            raise self.problem("must be a table", todo=f"write it as [{key}] with its own lines")
        self.values: Mapping[str, Any] = values
        if known is None:
            return
        for name in values:
            if name not in known:
                todo = meant(name, known, f"known here: {', '.join(known)}")
                raise self.problem("is not a known key", name, todo=todo)

    def __contains__(self, name: str) -> bool:
        return name in self.values

    def problem(self, what: str, name: str = "", todo: str | None = None) -> SetupFileError:
        """Return the error about one key (or the table itself), ready to raise."""
        dotted = ".".join(part for part in (self.key, name) if part)
        return SetupFileError(what, where=f"{self.source}: {dotted}" if dotted else self.source, todo=todo)

    def table(self, name: str, known: Sequence[str] | None = None) -> Table:
        """Return the table under ``name``; one that is missing is an error."""
        dotted = ".".join(part for part in (self.key, name) if part)
        if name not in self.values:
            raise self.problem("is missing", name, todo=f"add [{dotted}]")
        return Table(self.values[name], self.source, dotted, known)

    def text(self, name: str, default: str | None = None, *, hint: str = "") -> str:
        """Return a text that is not empty."""
        value = self._get(name, default, hint)
        if not isinstance(value, str) or not value.strip():
            raise self.problem("must be a text", name, todo=f'write it as {name} = "..."')
        return value

    def choice(self, name: str, choices: Mapping[Any, Any], default: Any) -> Any:
        """Return what ``choices`` gives for the value, ``default`` where the key is missing."""
        if name not in self.values:
            return default
        value = self.values[name]
        # In Python True equals 1 and 90.0 equals 90: a setup file must not profit from that.
        for choice, meaning in choices.items():
            if type(value) is type(choice) and value == choice:
                return meaning
        raise self.problem(f"cannot be {_quoted(value)}", name, todo=f"use one of: {_listed(choices)}")

    def number(self, name: str, default: float, bounds: tuple[float, float]) -> float:
        """Return a number between two bounds, both allowed."""
        return self._number(name, self._get(name, default), bounds)

    def whole(self, name: str, default: int, bounds: tuple[int, int]) -> int:
        """Return a whole number between two bounds, both allowed."""
        value = self._get(name, default)
        if not isinstance(value, int):
            raise self.problem("must be a whole number", name, todo=f"for example {name} = {default}")
        return int(self._number(name, value, bounds))

    def numbers(
        self, name: str, default: tuple[float, ...], bounds: tuple[float, float], *, hint: str
    ) -> tuple[float, ...]:
        """Return as many numbers between two bounds as ``default`` holds."""
        if name not in self.values:
            return default
        value, count = self.values[name], len(default)
        if not isinstance(value, list) or len(value) != count:
            raise self.problem(f"must be a list of {count} numbers", name, todo=hint)
        return tuple(self._number(name, item, bounds) for item in value)

    def texts(self, name: str, *, hint: str) -> tuple[str, ...]:
        """Return a text or a list of texts, at least one, as a tuple."""
        value = self._get(name, None, hint)
        items = value if isinstance(value, list) else [value]
        if not items or not all(isinstance(item, str) and item for item in items):
            raise self.problem("must be a text or a list of texts, not empty", name, todo=hint)
        return tuple(items)

    def _get(self, name: str, default: Any, hint: str = "") -> Any:
        value = self.values.get(name, default)
        if value is None:
            raise self.problem("is missing", name, todo=hint or None)
        return value

    def _number(self, name: str, value: object, bounds: tuple[float, float]) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise self.problem(f"cannot be {_quoted(value)}", name, todo="write a number")
        low, high = bounds
        if not low <= value <= high:  # also refuses NaN
            raise self.problem(f"cannot be {_quoted(value)}", name, todo=f"use a number from {low:g} to {high:g}")
        return float(value)


def _quoted(value: object) -> str:
    text = repr(value) if isinstance(value, (str, int, float)) else f"a {type(value).__name__}"
    return text if len(text) <= 60 else text[:57] + "..."


def _listed(choices: Mapping[Any, Any]) -> str:
    # TOML spells true and false in small letters.
    return ", ".join(str(each).lower() if isinstance(each, bool) else str(each) for each in choices)
