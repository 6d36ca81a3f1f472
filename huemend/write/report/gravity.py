"""Which reason comes first: what speaks most against using a match, before what is only worth knowing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

__all__ = ["by_gravity", "gravity"]

_One = TypeVar("_One")

#: Codes of reasons: what leaves no match or makes it wrong; then, after any that is in neither list, what only
#: limits where it holds.
_WRONG = (
    "nothing-shared",
    "broken-chain",
    "ruled-out",
    "contradictory",
    "divided",
    "implausible",
    "strange-mix",
    "no-gain",
    "too-thin",
    "slope",
    "contrast",
    "drift",
    "loose",
    "area",
)
_LIMITS = (
    "uncovered",
    "uncertain",
    "few-surfaces",
    "saturated-light",
    "unprotected",
    "rendered",
    "clips-early",
    "banding",
    "by-colours",
    "by-hand",
    "carried",
    "cameras-changed",
    "chained",
    "protected",
    "no-chart",
    "proven",
    "holds",
)


def gravity(code: str) -> int:
    """Return the place of a reason's code among all, the gravest first.

    >>> gravity("nothing-shared") < gravity("of-next-year") < gravity("proven")
    True
    """
    if code in _WRONG:
        return _WRONG.index(code)
    return len(_WRONG) + (1 + _LIMITS.index(code) if code in _LIMITS else 0)


def by_gravity(reasons: Sequence[_One], code: Callable[[_One], str] | None = None) -> list[_One]:
    """Return reasons, the gravest first; equals keep their order. ``code`` reads the code of one."""
    read = code or _code
    return sorted(reasons, key=lambda reason: gravity(read(reason)))


def _code(reason: object) -> str:
    return str(getattr(reason, "code", ""))
